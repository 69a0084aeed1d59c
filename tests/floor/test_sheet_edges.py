"""The sheet that a card is printed on, measured in its own print."""

import cv2
import numpy as np
import pytest
from scipy.special import erf

from digitize.card import find_cards
from digitize.floor import SheetSide, see_sheet
from digitize.floor import sheet_edges as edges
from digitize.floor.camera import Camera
from digitize.floor.sheet_edges import (
    _Edge,
    _evidence,
    _find_edge,
    _is_central,
    _light,
    _pooled,
    _scaled_alike,
    _side,
    _Strip,
)
from tests.scene import Floor, Shot

SHOT = Shot(eye=(110.0, -250.0, 600.0), focal_px=1250.0, size=(1440, 1080))
HALF = 240.0
WHITE = (250, 250, 250)
# The floor is drawn as light; a photo has it as IEC 61966-2-1 writes it down.
TONES = np.round(255 * (1.055 * np.linspace(0.0031308, 1, 256) ** (1 / 2.4) - 0.055))


def camera_of(shot):
    lens = np.array([shot.focal_px, *shot.offset, *shot.radial, 0.0, 0.0, 0.0])
    turn = cv2.Rodrigues(shot.rotation)[0].ravel()
    return Camera(lens, np.concatenate([turn, -shot.rotation @ shot.eye]), shot.size)


def seen_on(floor, shot=SHOT, exposure=0.9):
    """The sheet of the only card on a floor, in a photo that shows so much of its light."""
    light = np.minimum(floor.photograph(shot) * exposure, 255).astype(np.uint8)
    photo = np.ascontiguousarray(TONES[light][..., ::-1], np.uint8)
    (card,) = find_cards(cv2.cvtColor(photo, cv2.COLOR_RGB2GRAY))
    return see_sheet(photo, camera_of(shot), card)


def laid(paper="a4", turn=25.0, stretch=(1.0, 1.0)):
    floor = Floor(HALF)
    floor.lay_card(3, 15.0, -10.0, turn, paper, stretch)
    return floor


def patch(floor, low, high, colour, turn=25.0):
    """Cover a part of the card, given in its own mm, with something of one colour."""
    (x0, y0), (x1, y1) = low, high
    corners = np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1]], float)
    cos, sin = np.cos(np.radians(turn)), np.sin(np.radians(turn))
    floor.lay_sheet(corners @ np.array([[cos, sin], [-sin, cos]]) + [15.0, -10.0], colour)


# A sheet of 210 mm looks 210 / 0.97 = 216.49 mm wide to a print that came out at 97 %; one of 297
# mm looks 297 / 1.015 = 292.61 mm high at 101.5 %.
def test_a_sheet_looks_as_much_too_large_as_its_print_is_too_small():
    sheet = seen_on(laid(stretch=(0.97, 1.015)))
    assert sheet.number == 3 and sheet.paper == "a4"
    assert sheet.across.length_mm == pytest.approx(216.49, abs=0.2)
    assert sheet.along.length_mm == pytest.approx(292.61, abs=0.2)
    assert 0.05 < sheet.across.sigma_mm < 0.4 and 0.05 < sheet.along.sigma_mm < 0.4


def test_a_letter_sheet_is_measured_as_well():
    sheet = seen_on(laid("letter", turn=190.0, stretch=(0.99, 0.99)))
    assert sheet.across.length_mm == pytest.approx(215.9 / 0.99, abs=0.2)
    assert sheet.along.length_mm == pytest.approx(279.4 / 0.99, abs=0.2)


def test_the_paper_over_one_side_takes_that_way_s_size_and_no_other():
    floor = laid()
    patch(floor, (99.0, -200.0), (170.0, 200.0), (60, 110, 160))  # inside the sheet's right edge
    covered = seen_on(floor)
    assert covered.across is None
    assert covered.along.length_mm == pytest.approx(297, abs=0.3)


def test_the_paper_over_half_an_edge_leaves_the_other_half_to_tell():
    floor = laid()
    patch(floor, (99.0, 40.0), (170.0, 200.0), (60, 110, 160))
    assert seen_on(floor).across.length_mm == pytest.approx(210, abs=0.3)


def test_a_floor_as_white_as_the_sheet_tells_nothing():
    floor = laid()
    rows = np.indices(floor.picture.shape[:2]).sum(axis=0)
    blank = Floor(HALF)
    blank.picture[:] = np.where((rows % 40 < 20)[..., None], WHITE, (244, 244, 244))
    blank.lay_card(3, 15.0, -10.0, 25.0)
    sheet = seen_on(blank)
    assert sheet.across is None and sheet.along is None


def test_a_burnt_sheet_tells_less_surely_where_it_ends():
    # White of 250 / 255 at half a stop too much is cut off at 1.
    plain, burnt = (seen_on(laid(), exposure=exposure) for exposure in (0.9, 1.4))
    for side, true in (("across", 210), ("along", 297)):
        sure, unsure = getattr(plain, side), getattr(burnt, side)
        assert sure.length_mm == pytest.approx(true, abs=0.3)
        assert unsure.sigma_mm > 2 * sure.sigma_mm
        assert abs(unsure.length_mm - true) < 2 * unsure.sigma_mm


def test_a_shadow_across_a_card_does_not_hide_its_edges():
    floor = laid()
    x = np.indices(floor.picture.shape[:2])[1] * 0.25 - HALF
    shade = 1 - 0.5 / (1 + np.exp(-x / 6.0))
    floor.picture = (floor.picture * shade[..., None]).astype(np.uint8)
    sheet = seen_on(floor)
    assert sheet.across.length_mm == pytest.approx(210, abs=0.3)
    assert sheet.along.length_mm == pytest.approx(297, abs=0.3)


def test_a_sheet_cut_to_its_frame_tells_nothing():
    floor = laid()
    for low, high in (
        ((-150, -200), (-96, 200)),
        ((96, -200), (150, 200)),
        ((-150, 138), (150, 200)),
        ((-150, -200), (150, -138)),
    ):
        patch(floor, low, high, (70, 80, 90))
    sheet = seen_on(floor)
    assert sheet.across is None and sheet.along is None


def test_a_sheet_that_runs_out_of_the_picture_is_measured_the_other_way_only():
    # The picture's lower edge cuts the sheet's bottom off, all of its frame still in sight.
    floor = Floor(HALF)
    floor.lay_card(3, 0.0, 0.0, 0.0)
    shot = Shot(
        eye=(0.0, 110.0, 700.0),
        aim=(0.0, 110.0),
        focal_px=1500.0,
        size=(1440, 1080),
        radial=(0.0, 0.0),
    )
    sheet = seen_on(floor, shot)
    assert sheet.along is None
    assert sheet.across.length_mm == pytest.approx(210, abs=0.3)


def strip_of(
    floor=0.2, offset=105.3, slope=0.004, blur_mm=0.9, mm_per_px=0.9, grain=0.004, burnt=False
):
    """A sheet's edge as a lens blurs it, in the sheet's own light; the floor is ``floor`` of it."""
    along, outward = np.arange(-135.0, 136, 3), np.arange(97.2, 121, 0.25)
    away = outward - (offset + slope * along)[:, None]
    light = 1 + (floor - 1) * (1 + erf(away / blur_mm / np.sqrt(2))) / 2
    light = light + grain * np.random.default_rng(2).standard_normal(light.shape)
    return _Strip(along, outward, np.repeat(light[..., None], 3, axis=2), burnt, mm_per_px)


@pytest.mark.parametrize("offset", [101.0, 105.3, 110.0])
def test_an_edge_is_half_way_between_the_sheet_s_light_and_the_floor_s(offset):
    edge = _find_edge(strip_of(offset=offset))
    assert edge.offset == pytest.approx(offset, abs=0.03)
    assert edge.slope == pytest.approx(0.004, abs=0.0005)
    # A quarter of 0.9 mm is what all of its places have in common.
    assert edge.sigma == pytest.approx(0.225, abs=0.02)


def test_an_edge_that_single_places_show_too_faintly_is_told_by_their_averages_less_surely():
    # ln 0.92 = -0.083, ln 0.85 = -0.163, and a grain of 0.03 in the floor's light and the sheet's.
    plain, faint = _find_edge(strip_of(floor=0.85)), _find_edge(strip_of(floor=0.92, grain=0.03))
    assert plain.offset == pytest.approx(105.3, abs=0.1)
    assert plain.sigma < 0.25
    assert faint.offset == pytest.approx(105.3, abs=2 * faint.sigma)
    assert faint.sigma > 0.4
    # ln 0.97 = -0.030, under 0.1 / sqrt(8) = 0.035.
    assert _find_edge(strip_of(floor=0.97)) is None
    assert _find_edge(strip_of(floor=0.94)) is not None
    assert _find_edge(strip_of(floor=0.92, grain=0.03, burnt=True)) is None


def test_the_edge_of_burnt_white_lies_further_in_than_half_way():
    # 0.7 px of 0.9 mm are 0.63 mm; a quarter and three quarters of a pixel together 0.71 mm.
    edge = _find_edge(strip_of(burnt=True))
    assert edge.offset == pytest.approx(105.3 - 0.63, abs=0.03)
    assert edge.sigma == pytest.approx(0.71, abs=0.02)


def test_an_average_needs_half_of_its_places():
    along = np.concatenate([np.arange(0, 30.0, 3), np.arange(60, 66.0, 3)])
    tones = np.repeat(along[:, None, None], 3, axis=2)
    # 8 places of 0 to 21 mm; 2 of 24 to 45; 2 of 48 to 69.
    middles, light = _pooled(along, tones)
    assert middles.tolist() == [10.5]
    assert light[0, 0].tolist() == [10.5] * 3


def test_what_lies_on_the_card_has_no_edge_of_the_sheet():
    # Paper of seven tenths of the sheet's light (ln 0.7 = -0.36) from the frame outwards.
    strip = strip_of()
    covered = _Strip(strip.along, strip.outward, strip.tones * 0.7, False, strip.mm_per_px)
    assert _find_edge(covered) is None


def test_light_is_as_srgb_writes_it_down():
    # IEC 61966-2-1: 188 of 255 is 0.503 of full light, 10 is 0.00304; and none beyond the picture.
    photo = np.full((4, 4, 3), 188, np.uint8)
    photo[0, 0] = 10
    (light,) = _light(photo, np.array([[[2.0, 2.0], [0.0, 0.0], [4.0, 1.0]]]))
    assert light[0] == pytest.approx(0.503 + 0.001, abs=1e-3)
    assert light[1] == pytest.approx(0.00304 + 0.001, abs=1e-4)
    assert np.isnan(light[2]).all()


A4 = type("Card", (), {"paper": "a4"})


def test_a_side_is_the_distance_of_its_edges_square_to_them():
    # Print askew by 0.01: the sheet's width along the print's own direction is more by its cosine.
    side = _side(_Edge(104.0, -0.01, 0.3), _Edge(107.0, 0.01, 0.4), A4, 0, 0.0)
    assert side.length_mm == pytest.approx(211.0 * np.cos(np.arctan(0.01)), abs=1e-6)
    assert side.sigma_mm == pytest.approx(0.5)
    # And what the print's own scale leaves open: 0.005 of 211 mm is 1.055 mm.
    wide = _side(_Edge(104.0, -0.01, 0.3), _Edge(107.0, 0.01, 0.4), A4, 0, 0.005)
    assert wide.sigma_mm == pytest.approx(np.hypot(0.5, 1.055), abs=1e-3)
    assert isinstance(wide, SheetSide)


def test_edges_that_cannot_be_one_sheet_s_make_no_side():
    edge = _Edge(105.0, 0.0, 0.1)
    assert _side(edge, None, A4, 0, 0.0) is None and _side(None, edge, A4, 0, 0.0) is None
    # Out of parallel by 1 mm over 297: slopes that differ by 0.0034.
    assert _side(edge, _Edge(105.0, 0.0036, 0.1), A4, 0, 0.0) is None
    assert _side(edge, _Edge(105.0, 0.0032, 0.1), A4, 0, 0.0) is not None


def test_a_print_off_its_sheet_s_middle_has_to_be_scaled_alike_both_ways():
    # 110.2 to one side and 105 to the other: the print is 2.6 mm off the middle.
    edge = _Edge(105.0, 0.0, 0.1)
    assert not _is_central(edge, _Edge(110.2, 0.0, 0.1)) and not _is_central(edge, None)
    assert _is_central(edge, _Edge(109.8, 0.0, 0.1))
    assert not _is_central(_Edge(110.2, 0.0, 0.1), edge)

    # Scaled to 0.97 from a corner: 216.49 and 306.19 mm. And paper over one side: 203.8 and 297.
    def sides(*lengths):
        return [SheetSide(length, 0.1) for length in lengths]

    assert _scaled_alike(sides(216.49, 306.19), A4) and _scaled_alike(sides(216.49, 308.6), A4)
    assert not _scaled_alike(sides(216.49, 309.5), A4)
    assert not _scaled_alike(sides(203.8, 297.0), A4)
    assert not _scaled_alike([SheetSide(210.0, 0.1), None], A4)


def test_white_speaks_for_the_sheet_and_anything_else_for_the_floor():
    # Even odds where the sheet's normal density equals 1 / 1.5: unlike / 0.02 =
    # sqrt(-2 ln(0.02 sqrt(pi / 2) / 1.5)) = 2.86.
    evidence = _evidence(np.array([[0.0, 0.0568, 0.0576, 0.2]]), 0.02)[0]
    assert evidence[0] == -edges.MOST_EVIDENCE and evidence[3] == edges.MOST_EVIDENCE
    assert evidence[1] < 0 < evidence[2]
