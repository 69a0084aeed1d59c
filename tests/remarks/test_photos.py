"""What is said of the photos: cards, taped distances, accuracy, slits that lie open."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from digitize.floor import (
    Accuracy,
    CardFault,
    Comparison,
    Photo,
    PrintScale,
    PrintSeen,
    Repeat,
    ScaleSeen,
    Surface,
    View,
)
from digitize.record import Tuck, Unseen
from digitize.remarks import (
    about_accuracy,
    about_checks,
    about_coarseness,
    about_cuts,
    about_damage,
    about_faults,
    about_gapes,
    about_height,
    about_outline,
    about_print,
    about_repeats,
    about_unseen,
    photos,
)
from digitize.tucks import LapReading

OUTLINE = np.array([(0.0, 0.0), (400.0, 10.0), (380.0, 290.5), (5.0, 300.0)])


def test_a_card_is_told_by_number_with_what_is_wrong_and_what_was_done():
    faults = [
        CardFault((3,), "stretch", 0.021, left_out=True),
        CardFault((4,), "stretch", -0.013, left_out=False),
        CardFault((5,), "lift", 6.4, left_out=True),
        CardFault((7,), "moved", 12.0, left_out=True),
    ]
    larger, smaller, lifted, moved = about_faults(faults)
    assert "card 3 is 2.1% larger" in larger.words and "left out: measure its print" in larger.words
    assert "card 4 is 1.3% smaller" in smaller.words and "still used" in smaller.words
    assert "card 5 is not flat" in lifted.words and "about 6 mm up" in lifted.words
    assert "card 7 is 12 mm away" in moved.words and "leave the cards" in moved.words
    assert [each.about for each in (larger, smaller, lifted, moved)] == [
        ("3",),
        ("4",),
        ("5",),
        ("7",),
    ]
    assert {each.severity for each in (larger, smaller, lifted, moved)} == {"warning"}


def test_cropped_photos_are_noted_once_with_how_sure_that_is():
    whole, odd = View((), (4032, 3024)), View((), (4032, 2500))
    cut = View((), (3024, 3024), taken_px=(4032, 3024))
    (remark,) = about_cuts([whole, odd, cut], lens_kept=False)
    assert remark.severity == "note" and remark.kind == "picture-cropped"
    assert remark.words.startswith("photo 2 may have been cropped and photo 3 was cropped, by its")
    assert not about_cuts([whole], lens_kept=False)
    # A kept lens that goes with this shape knows better.
    assert not about_cuts([odd], lens_kept=True)


def test_two_cards_of_which_either_may_be_wrong_stop_the_job():
    (remark,) = about_faults([CardFault((2, 6), "stretch", 0.021, left_out=False)])
    assert remark.severity == "stop" and remark.about == ("2", "6")
    assert "cards 2 and 6 contradict each other" in remark.words


@pytest.mark.parametrize(("read", "count"), [(802.4, 0), (797.6, 0), (802.6, 1), (797.4, 1)])
def test_a_taped_distance_is_told_if_it_is_off_either_way_by_more_than_its_limit(read, count):
    check = Comparison(("card 1", "card 4"), 800.0, read, 2.5, used=False)
    found = about_checks([check])
    assert len(found) == count
    for remark in found:
        assert remark.severity == "stop"
        assert f"card 1 to card 4: taped 800.0 mm, read {read} mm" in remark.words
        assert "agree to 2.5 mm" in remark.words


def said_of_accuracy(
    parts,
    monkeypatch,
    tolerance=1.0,
    photo_count=1,
    measured=True,
    radius=0.5,
    held_flat=True,
    card_count=4,
    kept=False,
):
    """The remarks on accuracy whose parts at the outline's points are these."""
    monkeypatch.setattr(photos, "best_card_place", lambda *_: ("left of the paper", radius))
    floor = SimpleNamespace(cameras=(None,) * photo_count, cards=(None,) * card_count)
    accuracy = Accuracy(*np.array(parts, float).T)
    return about_accuracy(
        accuracy, tolerance, floor, None, OUTLINE, None, measured, held_flat, kept
    )


# The third point is the worst, by its cards: sqrt(1.2^2 + 0.3^2 + 0.4^2) = 1.3 mm. The first two
# have more of other parts.
BY_CARDS = [(0.2, 0.5, 0.1), (0.1, 0.2, 0.9), (1.2, 0.3, 0.4), (0.3, 0.3, 0.3)]
BY_PRINT = [(0.9, 0.1, 0.1), (0.3, 1.2, 0.4), (0.2, 0.2, 0.2), (0.1, 0.1, 1.0)]
BY_FLATNESS = [(1.1, 0.1, 0.1), (0.2, 0.3, 0.4), (0.1, 0.9, 0.1), (0.3, 0.4, 1.2)]


def test_accuracy_is_told_at_the_outlines_worst_point_if_it_is_beyond_the_tolerance(monkeypatch):
    (remark,) = said_of_accuracy(BY_CARDS, monkeypatch, tolerance=1.29)
    assert remark.at == (380.0, 290.5)
    assert "off by 1.3 mm; most of it (1.2 mm) comes from the cards:" in remark.words
    assert not said_of_accuracy(BY_CARDS, monkeypatch, tolerance=1.31)


def test_what_would_be_told_as_the_tolerance_itself_is_not_beyond_it(monkeypatch):
    """1.342 and 1.360 mm, told as 1.3 and 1.4."""
    for cards_mm, warned in ((1.2, False), (1.22, True)):
        parts = [(cards_mm, 0.6, 0.0)] * 4
        assert bool(said_of_accuracy(parts, monkeypatch, tolerance=1.3)) == warned
        of_one = said_of_accuracy(parts, monkeypatch, tolerance=1.3, held_flat=False)
        assert ("accuracy" in [remark.kind for remark in of_one]) == warned


# A card more is worth its while if it brings the cards' 1.2 mm down to 0.8 of that, 0.96 mm.
@pytest.mark.parametrize(
    ("radius", "advice"),
    [
        (0.94, "lay a card left of the paper; that part would then be 0.9 mm"),
        (0.98, "take a second photo"),
    ],
)
def test_another_card_is_advised_where_it_brings_enough(radius, advice, monkeypatch):
    (remark,) = said_of_accuracy(BY_CARDS, monkeypatch, radius=radius)
    assert advice in remark.words


def test_where_one_card_is_all_there_is_a_kept_camera_is_advised_too(monkeypatch):
    keep = "0.5 mm, or keep the camera with digitize camera"
    (remark,) = said_of_accuracy(BY_CARDS, monkeypatch, card_count=1)
    assert remark.words.count(keep) == 1
    for more in ({"card_count": 2}, {"card_count": 1, "kept": True}):
        (remark,) = said_of_accuracy(BY_CARDS, monkeypatch, **more)
        assert "lay a card left" in remark.words and "keep the camera" not in remark.words
    (remark,) = said_of_accuracy(BY_CARDS, monkeypatch, card_count=1, radius=0.98)
    assert remark.words.endswith("from another side, or keep the camera with digitize camera")


def test_a_print_that_was_measured_is_to_be_taped(monkeypatch):
    (remark,) = said_of_accuracy(BY_PRINT, monkeypatch)
    assert "(1.2 mm) comes from the cards' print:" in remark.words
    assert "a taped check" in remark.words and "beside" not in remark.words
    assert remark.at == (400.0, 10.0)


def test_a_print_that_nobody_measured_does_not_hide_what_else_is_wrong(monkeypatch):
    # Without the print, the last point is the worst: sqrt(0.1^2 + 1.0^2) = 1.005 mm.
    (remark,) = said_of_accuracy(BY_PRINT, monkeypatch, measured=False, tolerance=0.99)
    assert remark.words.startswith("beside the print, points at the paper's edge may be off by 1.0")
    assert "(1.0 mm) comes from paper that may not lie flat" in remark.words
    assert remark.at == (5.0, 300.0) and remark.severity == "warning"
    assert not said_of_accuracy(BY_PRINT, monkeypatch, measured=False, tolerance=1.01)
    # Of the print's own 3 mm nothing is said here.
    assert not said_of_accuracy([(0.3, 3.0, 0.4)] * 4, monkeypatch, measured=False)


NO_SHEET, FITS = PrintSeen(None, None), PrintSeen(ScaleSeen(1.001, 0.003), ScaleSeen(0.998, 0.002))
TRUE = PrintScale()


def said_of_print(seen, used=TRUE, measured=False, tolerance=1.0):
    """What is said of a print that leaves 1.2 mm open at the worst of the outline's points."""
    accuracy = Accuracy(*np.array(BY_PRINT, float).T)
    return about_print(seen, used, measured, accuracy, tolerance)


@pytest.mark.parametrize("seen", [NO_SHEET, FITS])
def test_a_print_that_nobody_measured_is_noted_with_what_it_leaves_open(seen):
    (remark,) = said_of_print(seen)
    assert remark.kind == "print-not-measured" and remark.severity == "note"
    assert "leaves 1.2 mm open" in remark.words and "--measured-x" in remark.words
    assert not said_of_print(seen, tolerance=1.21)
    assert not said_of_print(seen, measured=True)


def test_a_print_that_its_sheets_contradict_stops_the_job_with_the_figures_to_give():
    # 0.97 and 0.971 of 150 mm are 145.5 and 145.65 mm.
    (remark,) = said_of_print(PrintSeen(ScaleSeen(0.97, 0.0036), ScaleSeen(0.971, 0.0025)))
    assert remark.kind == "print-scale" and remark.severity == "stop"
    assert "printed at 97.0% across and 97.1% along" in remark.words
    assert "--measured-x 145.5 --measured-y 145.7" in remark.words


def test_what_the_sheets_do_not_show_is_left_to_fill_in():
    (remark,) = said_of_print(PrintSeen(None, ScaleSeen(0.97, 0.0025)))
    assert "printed at 97.0% along:" in remark.words
    assert "--measured-x … --measured-y 145.5" in remark.words


@pytest.mark.parametrize(
    ("scale", "severity"),
    [(0.9890, "stop"), (0.9915, "warning"), (1.0085, "warning"), (0.9935, None)],
)
def test_a_print_is_doubted_beyond_0_7_percent_and_stops_the_job_beyond_1(scale, severity):
    (remark,) = said_of_print(PrintSeen(ScaleSeen(scale, 0.0036), ScaleSeen(scale, 0.0025)))
    if severity:
        assert remark.kind == "print-scale" and remark.severity == severity
    else:
        assert remark.kind == "print-not-measured"


def test_a_rule_that_the_sheets_contradict_is_to_be_measured_again():
    # 6 in typed for 150 mm: 152.4 / 150 = 1.016.
    typed = PrintScale(1.016, 1.0)
    (remark,) = said_of_print(FITS, typed, measured=True)
    assert remark.kind == "print-scale" and remark.severity == "stop"
    assert "as measured, 101.6% across and 100.0% along" in remark.words
    assert "edges show, 100.1% across and 99.8% along" in remark.words
    # What a rule says is believed up to 1.2 %.
    assert not said_of_print(FITS, PrintScale(1.012, 1.0), measured=True)


@pytest.mark.parametrize(
    ("count", "advice"), [(1, "a second and a third photo"), (2, "the part that only one shows")]
)
def test_paper_that_stands_up_is_to_be_photographed_again(count, advice, monkeypatch):
    (remark,) = said_of_accuracy(BY_FLATNESS, monkeypatch, photo_count=count)
    assert "comes from paper that may not lie flat:" in remark.words and advice in remark.words
    assert remark.at == (5.0, 300.0)


def test_one_photo_of_paper_that_nobody_holds_flat_is_a_note_with_what_would_help(monkeypatch):
    # Held flat, 3 mm become 0.5 mm: a sixth of the last parts. The first point is then off by
    # sqrt(0.3^2 + 0.4^2 + 0.2^2) = 0.539 mm, the second by sqrt(0.2^2 + 0.6^2 + 0.05^2) = 0.634 mm.
    parts = [(0.3, 0.4, 1.2), (0.2, 0.6, 0.3), (0.1, 0.1, 0.9), (0.1, 0.1, 0.1)]
    (note,) = said_of_accuracy(parts, monkeypatch, held_flat=False)
    assert note.severity == "note" and note.kind == "flatness-unseen" and note.at is None
    assert "within 1.3 mm, as one photo cannot show" in note.words
    assert "by --held-flat, and it is 0.6 mm" in note.words
    assert "two more photos" in note.words
    assert not said_of_accuracy(parts, monkeypatch, held_flat=False, tolerance=1.4)
    (measured,) = said_of_accuracy(parts, monkeypatch, held_flat=False, photo_count=3)
    assert measured.severity == "warning"


def test_what_can_be_mended_however_the_paper_lies_is_warned_of_beside_the_note(monkeypatch):
    # The cards' point is off by sqrt(1.2^2 + 0.3^2) = 1.237 mm if it lies flat.
    for tolerance, count in ((1.19, 2), (1.21, 1)):
        said = said_of_accuracy(BY_CARDS, monkeypatch, tolerance=tolerance, held_flat=False)
        assert [remark.severity for remark in said] == ["note", "warning"][:count]
    _, warning = said_of_accuracy(BY_CARDS, monkeypatch, held_flat=False)
    assert "off by 1.2 mm even if it lies flat; most of it (1.2 mm) comes from the cards" in (
        warning.words
    )
    assert warning.at == (380.0, 290.5)
    # What weights leave, a sixth of 2.4 mm, is no part of that: sqrt(0.7^2 + 0.4^2) = 0.81 mm.
    (note,) = said_of_accuracy([(0.7, 0.0, 2.4)] * 4, monkeypatch, tolerance=0.75, held_flat=False)
    assert note.severity == "note" and "by --held-flat, and it is 0.8 mm" in note.words


def test_slits_that_lie_open_are_named_with_the_widest_ones_tip():
    laps = [LapReading((), (), gape) for gape in (0.0, 1.4, 3.2, 0.0, 2.1)]
    tips = [(10, 1), (20, 2), (30, 3), (40, 4), (50, 5)]
    (remark,) = about_gapes(laps, tips)
    assert remark.about == ("T2", "T3", "T5") and remark.at == (30, 3)
    assert "up to 3.2 mm" in remark.words and "(T2, T3, T5)" in remark.words
    assert not about_gapes(laps[:1], tips[:1])


def test_a_photo_that_looks_damaged_is_named_and_how_it_shows():
    plain = Photo("a", np.zeros((9, 9, 3), np.uint8), "", None, None, None)
    assert not about_damage([plain])
    photos = [plain, replace(plain, light_jumps=True), replace(plain, unlike_copy=True)]
    row, copy = about_damage(photos)
    for remark in (row, copy):
        assert remark.kind == "photo-damaged" and remark.severity == "warning"
        assert "copy it from the phone again" in remark.words
    assert "along a row" in row.words and "small copy" in copy.words


def test_a_photo_given_twice_is_named_with_the_one_it_repeats():
    (remark,) = about_repeats([Repeat("copy.jpg", "easy.jpg")])
    assert remark.severity == "note"
    assert remark.words.startswith("copy.jpg is the same photo as easy.jpg and was left out")
    assert not about_repeats([])


def standing(x_slope, y_slope, up=0.0):
    """A surface over the outline that rises from its lower left corner, so much a mm."""
    y, x = np.mgrid[320.0:-21.0:-20.0, -20.0:421.0:20.0]
    height = up + x_slope * x + y_slope * y
    return Surface(height, np.zeros((*x.shape, 2)), np.ones(x.shape), -20.0, 320.0, 20.0)


MIDDLES = np.array([(200.0, 0.0), (400.0, 150.0), (200.0, 300.0), (0.0, 150.0)])


@pytest.mark.parametrize(
    ("surface", "edge", "at", "mm"),
    [
        (standing(0.04, 0.0), "right", (400.0, 150.0), 16),
        (standing(-0.04, 0.0, 18.0), "left", (0.0, 150.0), 18),
        (standing(0.0, 0.05), "upper", (200.0, 300.0), 15),
        (standing(0.0, -0.05, 17.0), "lower", (200.0, 0.0), 17),
    ],
)
def test_paper_that_stands_high_is_told_by_its_edge(surface, edge, at, mm):
    (remark,) = about_height(surface, MIDDLES, held_flat=False)
    assert remark.severity == "warning" and remark.at == at
    assert f"stands {mm} mm off the floor at its {edge} edge: weigh it down" in remark.words


def test_paper_that_stands_no_higher_than_is_read_well_is_not_told():
    assert not about_height(standing(0.0, 0.0, 7.9), OUTLINE, held_flat=False)
    assert about_height(standing(0.0, 0.0, 8.1), OUTLINE, held_flat=False)
    assert not about_height(None, OUTLINE, held_flat=True)


def test_paper_said_to_be_held_flat_that_is_not_is_told():
    assert not about_height(standing(0.0, 0.0, 1.9), OUTLINE, held_flat=True)
    (remark,) = about_height(standing(0.01, 0.0), OUTLINE, held_flat=True)
    assert "said to be held flat, but stands 4 mm off the floor at its right edge" in remark.words


def test_a_coarse_picture_is_named_with_what_it_lacks():
    assert about_coarseness(2.0, 2.0) == ()
    (almost,) = about_coarseness(1.998, 2.0)
    assert "with 1.99 pixels per mm; under 2 " in almost.words
    (remark,) = about_coarseness(1.34, 2.0)
    assert "1.3 pixels per mm; under 2 " in remark.words
    assert remark.severity == "warning"


def test_an_edge_that_is_not_borne_out_is_named_by_length_and_side():
    outline = np.array([[0, 0], [400, 0], [400, 300], [0, 300]], float)
    upper_left = np.array([[10, 300], [60, 300]], float)
    right = np.array([[400, 130], [400, 150], [400, 160]], float)
    assert about_outline(outline, [], burnt_out=False) == ()
    (remark,) = about_outline(outline, [right, upper_left], burnt_out=False)
    assert "50 mm at the upper left corner" in remark.words
    assert "30 mm on the right side" in remark.words
    assert remark.at in ((10.0, 300.0), (60.0, 300.0))


def test_of_paper_that_is_burnt_out_white_all_of_the_edge_is_doubted_and_less_light_asked_for():
    outline = np.array([[0, 0], [400, 0], [400, 300], [0, 300]], float)
    (remark,) = about_outline(outline, [outline], burnt_out=True)
    assert remark.kind == "outline-unsure" and remark.severity == "warning"
    assert "burnt out white" in remark.words and "patch of sun" in remark.words
    assert "lower its exposure" in remark.words and "--paper" in remark.words


PAPER = np.array([(0.0, 0.0), (800.0, 0.0), (800.0, 600.0), (0.0, 600.0)])


def unseen(x0, y0, x1, y1, reason="bright"):
    return Unseen(boundary=((x0, y0), (x1, y0), (x1, y1), (x0, y1)), reason=reason)


def test_what_is_not_seen_is_named_by_its_part_of_the_paper_with_what_to_do():
    for place, words in {
        (0, 0, 200, 600): "burnt out white on the left quarter:",
        (420, 0, 800, 600): "burnt out white on the right half:",
        (0, 0, 800, 60): "burnt out white along the lower edge:",
        (760, 150, 800, 600): "burnt out white along the right edge:",
        (0, 450, 800, 600): "burnt out white on the upper quarter:",
        (650, 480, 800, 600): "burnt out white at the upper right corner:",
        (350, 250, 450, 350): "burnt out white in the middle:",
        (0, 250, 800, 350): "burnt out white across the middle:",
        (350, 0, 450, 600): "burnt out white down the middle:",
        (10, 10, 790, 590): "burnt out white on most of the paper:",
    }.items():
        (remark,) = about_unseen(PAPER, [unseen(*place)], (), ())
        assert words in remark.words, remark.words
        assert "keep sun and flash off" in remark.words
        assert (remark.kind, remark.severity) == ("unseen", "warning")
        assert remark.at == ((place[0] + place[2]) / 2, (place[1] + place[3]) / 2)


def test_each_thing_that_hides_pencil_has_its_own_remark_with_the_largest_place_first():
    areas = [
        unseen(0, 0, 100, 100, "dark"),
        unseen(500, 0, 800, 100, "dark"),
        unseen(0, 500, 100, 600, "blurred"),
    ]
    dark, blurred = about_unseen(PAPER, areas, (), ())
    assert "too dark at the lower right corner and at the lower left corner" in dark.words
    assert "bring more light" in dark.words and dark.at == (650.0, 50.0)
    assert "blurred at the upper left corner" in blurred.words and "focus" in blurred.words
    assert about_unseen(PAPER, [], (), ()) == ()


def test_tucks_and_lines_that_lie_where_pencil_is_not_seen_are_named():
    tucks = [
        Tuck(id="T1", kind="slit", tip=(0, 0), slit="L4", lap_line="L5", stations=()),
        Tuck(id="T2", kind="slit", tip=(0, 0), slit="L6", lap_line=None, stations=()),
    ]
    (remark,) = about_unseen(PAPER, [unseen(0, 0, 200, 600)], ("L1", "L5"), tucks)
    assert remark.about == ("T1", "L1")
    assert "what was read there is not sure: T1, L1;" in remark.words
