"""Where the overlay draws what was found, in pixels."""

import itertools

import numpy as np
import pytest
from reportlab.pdfbase.pdfmetrics import stringWidth
from shapely import LineString, box

from digitize.draw.lettering import width_px, write_on
from digitize.draw.overlay import TEXT_MM, WIDER, overlay_names, overlay_picture
from digitize.draw.placing import ASCENT
from digitize.record import Pattern, PrintCorrection, Scale, Tuck, Unseen, mirrored
from tests.draw.lopsided import line

PATTERN = Pattern(
    name="p",
    outline=((0, 0), (90, 0), (90, 60)),
    lines=(line("L1", "trim-edge", [(20, 12), (70, 12)]),),
)


def orange_line(picture):
    """The longest line of the trim edge's colour: its first and last column, and its middle row."""
    r, g, b = (picture[..., band].astype(int) for band in range(3))
    orange = (r > 150) & (g < 130) & (b < 60)
    long = orange.sum(axis=1)
    rows = np.flatnonzero(long > long.max() / 2)
    columns = np.flatnonzero(orange[rows].any(axis=0))
    return columns[0], columns[-1], (rows[0] + rows[-1]) / 2


def drawn(pattern, width, height, mm_per_px):
    """The overlay over white paper whose first pixel is at (-10, 70) mm, without its key."""
    raster = np.full((height, width, 3), 255, np.uint8)
    return overlay_picture(pattern, raster, -10.0, 70.0, mm_per_px)


def test_a_line_is_drawn_where_it_is_on_the_paper():
    # From 20 to 70 mm, 30 to 80 right of the first pixel, and 70 - 12 = 58 below it: at 0.5 mm.
    picture = drawn(PATTERN, 240, 160, 0.5)[:160]
    assert orange_line(picture) == pytest.approx((60, 160, 116), abs=2)


def test_a_lines_name_is_written_beside_its_middle_in_its_colour():
    picture = drawn(PATTERN, 480, 320, 0.25)[:320].astype(int)
    r, g, b = (picture[..., band] for band in range(3))
    rows, columns = np.nonzero((r > 150) & (g < 130) & (b < 60))
    # The line, 58 mm down, is between rows 230 and 234; its middle is in column 220.
    letters = (rows < 226) | (rows > 238)
    assert letters.sum() > 100
    assert abs(np.median(columns[letters]) - 220) < 60 and abs(np.median(rows[letters]) - 232) < 60


def test_an_unsure_tucks_cut_is_drawn_with_gaps():
    cut = line("L2", "slit", [(20, 12), (100, 12)])
    tuck = Tuck(id="T1", kind="slit", tip=(20, 12), slit="L2", lap_line=None, stations=())
    shares = []
    for unsure in (False, True):
        tucks = (tuck.model_copy(update={"unsure": unsure}),)
        record = PATTERN.model_copy(update={"lines": (cut,), "tucks": tucks})
        # Between its label and its end, 58 mm down.
        stretch = drawn(record, 240, 160, 0.5)[114:119, 130:215]
        shares.append((stretch.min(axis=2) < 200).any(axis=0).mean())
    assert shares[0] == 1.0 and 0.2 < shares[1] < 0.6


def test_a_large_raster_is_made_smaller_and_the_drawing_with_it():
    # 4800 pixels become 3200, so 0.02 mm become 0.03.
    picture = drawn(PATTERN, 4800, 3600, 0.02)
    assert picture.shape[1] == 3200
    # From 30 to 80 mm, 58 mm down.
    assert orange_line(picture[:2400]) == pytest.approx((1000, 2667, 1933), abs=30)


def test_the_accuracy_that_is_written_is_the_stated_one():
    parts = {"reprojection_px": 0.2, "print_correction": PrintCorrection(), "cards": ()}
    scale = Scale(
        accuracy_mm=0.47,
        accuracy_cards_mm=0.11,
        accuracy_print_mm=0.35,
        accuracy_flatness_mm=0.29,
        **parts,
    )

    def picture(**changed):
        pattern = PATTERN.model_copy(update={"scale": scale.model_copy(update=changed)})
        return drawn(pattern, 1200, 40, 0.5)

    assert (picture(accuracy_mm=0.74) != picture()).any()
    others = {"accuracy_cards_mm": 0.9, "accuracy_print_mm": 0.8, "accuracy_flatness_mm": 0.7}
    assert (picture(**others) == picture()).all()


def test_where_pencil_is_not_seen_is_hatched_and_only_there():
    area = Unseen(boundary=((20, 30), (60, 30), (60, 50), (20, 50)), reason="dark")
    plain = drawn(PATTERN, 240, 160, 0.5)[:160]
    hatched = drawn(PATTERN.model_copy(update={"unseen": (area,)}), 240, 160, 0.5)[:160]
    changed = (plain != hatched).any(axis=2)
    rows, columns = np.nonzero(changed)
    # From 20 to 60 mm, 30 to 70 right of the first pixel, and 20 to 40 below it: at 0.5 mm.
    assert (columns.min(), columns.max()) == pytest.approx((60, 140), abs=1)
    assert (rows.min(), rows.max()) == pytest.approx((40, 80), abs=1)
    # Lines of 1 mm every 8 mm.
    assert changed[41:80, 61:140].mean() == pytest.approx(1 / 8, abs=0.02)


@pytest.mark.parametrize("side", ["this", "other"])
def test_names_stand_clear_of_lines_and_of_each_other_and_in_the_picture(corner, side):
    pattern = mirrored(corner) if side == "other" else corner
    xs, ys = zip(*pattern.outline, strict=True)
    seen = (min(xs) - 60, -max(ys) - 60, max(xs) + 60, 60 - min(ys))
    labels = overlay_names(pattern, seen, 1.0)
    words = " ".join(label.callout.words for label in labels)
    assert all(tuck.id in words for tuck in pattern.tucks)
    assert all(line.label in words for line in pattern.lines if not line.is_tuck_mark)
    boxes = [box(*label.box) for label in labels]
    for one, two in itertools.combinations(boxes, 2):
        assert not one.intersects(two)
    drawn_lines = [LineString([(x, -y) for x, y in line.path]) for line in pattern.lines]
    for name in boxes:
        assert not any(name.intersects(path) for path in drawn_lines)
        assert box(*seen).contains(name)


def test_the_pictures_letters_are_no_wider_than_the_room_that_is_kept_for_them():
    # Placed by Helvetica's widths, written in another face.
    for words in ("L18 R1-start", "T12 12.7 (1/2) ?", "E1", "A-3 hatched on the paper"):
        kept = stringWidth(words, "Helvetica", TEXT_MM / ASCENT * WIDER)
        assert 0.8 * kept < width_px(words, TEXT_MM) < kept


def test_letters_stand_on_their_line_and_have_accents():
    picture = np.full((60, 200, 3), 128, np.uint8)
    write_on(picture, "H", (20, 40), 20, "#000000")
    rows, columns = np.nonzero((picture < 60).all(axis=2))
    assert (rows.min(), rows.max()) == pytest.approx((20, 39), abs=1)
    assert columns.min() >= 20
    rim = (picture > 200).all(axis=2)
    assert rim[:, columns.min() - 2].any() and rim[40:42].any()
    plain, accented = (np.full((60, 200, 3), 128, np.uint8) for _ in range(2))
    write_on(plain, "e", (20, 40), 20, "#000000")
    write_on(accented, "é", (20, 40), 20, "#000000")
    assert (plain[:22] == 128).all() and (accented[:22] < 60).any()
    write_on(picture, "off it", (-500, -500), 20, "#000000")
