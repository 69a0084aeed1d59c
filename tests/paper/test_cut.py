from itertools import cycle

import cv2
import numpy as np
import pytest
from shapely import LineString, Polygon, box

from digitize.errors import NoPaper
from digitize.floor import Grid
from digitize.floor.raster import COARSE_MM, Raster
from digitize.paper import cut, cut_paper, told_paper
from digitize.paper.cut import filled
from tests.paper.floors import BROWN, SIZE_MM, WHITE, card_at, floor_with

GREY = (150, 148, 146)


def differ(found, shape):
    """Area by which a ring and a shape differ, as a share of the shape."""
    return Polygon(found).buffer(0).symmetric_difference(shape).area / shape.area


def ring_of(shape):
    return np.array(shape.exterior.coords[:-1])


@pytest.mark.parametrize(
    "shape",
    [
        box(80, 70, 230, 230),  # 240 cm2, of 100 that are the least
        box(60, 100, 350, 175),  # a strip of 75 mm, of 40 that are the least
    ],
)
def test_a_small_sheet_and_a_narrow_one_are_paper(shape):
    _, coarse = floor_with((ring_of(shape), BROWN), size_mm=(300, 420))
    assert differ(cut_paper(coarse, []).ring, shape) < 0.06


def test_a_sheet_far_from_the_middle_is_found_too():
    shape = box(40, 40, 200, 180)
    _, coarse = floor_with((ring_of(shape), BROWN), size_mm=(600, 800))
    assert differ(cut_paper(coarse, []).ring, shape) < 0.06


def test_a_white_sheet_far_from_the_middle_is_told_from_a_pale_floor_by_its_light():
    """Of the floor's own hue; the floor's light varies by 25 grey levels, standard deviation."""
    rng = np.random.default_rng(3)
    cloudy = cv2.GaussianBlur(rng.normal(0, 1, (350, 450)), (0, 0), 2)
    grey, x = 150 + 25 * cloudy / cloudy.std(), np.arange(450)
    sheet = box(60, 380, 340, 660)
    coarse = Raster(1.0, 699.0, COARSE_MM, np.zeros((350, 450, 3), np.uint8))
    over = filled([ring_of(sheet)], coarse, grey.shape) > 0
    grey[over] = (215 + rng.normal(0, 3, grey.shape) + 6 * np.sin(x / 15))[over]
    coarse.pixels[:] = np.clip(grey[..., None] * [1, 0.97, 0.9], 0, 255).astype(np.uint8)
    assert differ(cut_paper(coarse, []).ring, sheet) < 0.06


def test_a_card_larger_than_the_paper_is_not_taken_for_it():
    card, paper = box(300, 60, 510, 357), box(60, 100, 240, 300)
    _, coarse = floor_with((ring_of(card), WHITE), (ring_of(paper), BROWN), size_mm=(420, 580))
    cut = cut_paper(coarse, [card_at(card)])
    assert differ(cut.ring, paper) < 0.06
    # All of a card is as unlike paper as can be.
    assert (cut.floor_like.at(np.array([[[405.0, 200.0], [320.0, 80.0]]])) > 2).all()


def test_the_cut_lies_where_the_paper_does():
    shape = box(203, 121, 601, 422)
    _, coarse = floor_with((ring_of(shape), BROWN), size_mm=(540, 800))
    assert Polygon(cut_paper(coarse, []).ring).centroid.distance(shape.centroid) < 1


def test_a_scrap_is_no_sheet():
    scrap = box(102, 102, 198, 198)  # 92 cm2, of 100 that are the least
    _, coarse = floor_with((ring_of(scrap), BROWN), size_mm=(300, 300))
    with pytest.raises(NoPaper, match="stands out"):
        cut_paper(coarse, [])


@pytest.mark.parametrize("brighter", [0.45, 1.7])
def test_light_is_not_paper(brighter):
    """A patch of sun, or a shadow, with a hard border over the paper's edge changes nothing."""
    shape = box(200, 120, 600, 420)
    _, coarse = floor_with((ring_of(shape), (130, 100, 70)), size_mm=(540, 800))
    lit = coarse.pixels.astype(float)
    at = np.round(coarse.to_px(np.array([[450, 60], [760, 200], [640, 380], [380, 300]], float)))
    mask = np.zeros(lit.shape[:2], np.uint8)
    cv2.fillPoly(mask, [at.astype(np.int32)], 1)
    lit[mask > 0] *= brighter ** (1 / 2.2)
    coarse.pixels[:] = np.clip(lit, 0, 255).astype(np.uint8)
    assert differ(cut_paper(coarse, []).ring, shape) < 0.03


def test_what_is_neither_is_known_as_such():
    """Shears of a look of their own beside the paper: no paper, and named as no floor."""
    shape = box(200, 120, 600, 420)
    _, coarse = floor_with((ring_of(shape), BROWN), size_mm=(540, 800))
    red = np.round(coarse.to_px(np.array([[600, 200], [680, 200], [680, 260], [600, 260]], float)))
    cv2.fillPoly(coarse.pixels, [red.astype(np.int32)], (170, 20, 20))
    cut = cut_paper(coarse, [])
    assert differ(cut.ring, shape) < 0.03
    places = np.array([[[640.0, 230.0], [400.0, 300.0], [100.0, 100.0]]])
    assert np.round(cut.other.at(places)).tolist() == [[1, 0, 0]]
    paper, floor = cut.floor_like.at(places)[0, 1:]
    assert paper < -1 < 1 < floor


def test_no_paper_is_named():
    with pytest.raises(NoPaper):
        cut_paper(floor_with(size_mm=(400, 520))[1], [])


def test_paper_out_of_the_picture_is_named():
    shape = [[-60, 70], [300, 90], [300, 300], [-60, 320]]
    with pytest.raises(NoPaper, match="runs out of the picture"):
        cut_paper(floor_with((shape, BROWN), size_mm=(400, 520))[1], [])


def grown(rounds, monkeypatch, colour=BROWN):
    """The cut of a floor with a sheet, where rounds of dividing it come to the shapes given."""
    shape = box(150, 120, 700, 520)
    _, coarse = floor_with((np.array(shape.exterior.coords[:-1]), colour))
    shapes = cycle(rounds)

    def divided(floor_like, costs, never):
        grid = Grid(COARSE_MM, SIZE_MM[0] - COARSE_MM, 2 * COARSE_MM)
        ring = np.array(next(shapes).exterior.coords[:-1])
        return (filled([ring], grid, floor_like.shape) > 0) & ~never

    monkeypatch.setattr(cut, "divided", divided)
    return cut_paper(coarse, [])


SHEET, OUTSIDE = box(150, 120, 700, 520), box(150, 120, 700, 720)


def test_a_sheet_that_runs_out_of_the_picture_only_once_it_has_grown_is_as_it_was(monkeypatch):
    larger = box(150, 120, 700, 640)
    # Each round's a little larger: one as the round before is the last.
    found = grown([SHEET, box(150, 120, 700, 530), larger, OUTSIDE], monkeypatch)
    assert Polygon(found.ring).symmetric_difference(SHEET).area < 0.02 * SHEET.area
    # The last round is believed where it is whole, as it has learned the most.
    found = grown([OUTSIDE, SHEET, larger, larger], monkeypatch)
    assert Polygon(found.ring).symmetric_difference(larger).area < 0.02 * larger.area


def test_a_sheet_that_runs_out_of_the_picture_is_refused_if_it_never_was_a_sheet(monkeypatch):
    with pytest.raises(NoPaper, match="runs out of the picture"):
        grown([OUTSIDE], monkeypatch)
    # A part of a sheet has no floor beyond its border.
    parts = [box(250, 200, 600, high) for high in (440, 450, 460)]
    with pytest.raises(NoPaper, match="runs out of the picture"):
        grown([*parts, OUTSIDE], monkeypatch)


def burnt(shape, bright=255):
    """A coarse raster of a floor, and a sheet on it without anything but white."""
    _, coarse = floor_with((ring_of(shape), WHITE), size_mm=(400, 520))
    coarse.pixels[coarse.pixels.min(axis=2) > 200] = bright
    return coarse


def test_a_sheet_that_is_burnt_out_all_over_is_where_the_white_ends():
    shape = box(120, 80, 420, 320)
    found = cut_paper(burnt(shape), [])
    assert found.burnt_out
    assert differ(found.ring, shape) < 0.06
    inside, outside = found.floor_like.at(np.array([[[300.0, 200.0], [60.0, 60.0]]]))[0]
    assert inside < 0 < outside
    assert not found.burnt_beyond
    assert not cut_paper(burnt(shape, bright=240), []).burnt_out


def test_paper_of_which_a_part_is_burnt_out_goes_on_to_where_the_white_ends():
    """Grey at its right, and ever lighter to white over its left half."""
    shape = box(120, 80, 420, 320)
    _, coarse = floor_with((ring_of(shape), (160, 158, 150)), size_mm=(400, 520))
    columns = np.arange(coarse.pixels.shape[1]) * COARSE_MM
    light = 1 + np.clip(360 - columns, 0, 150) / 150
    on_paper = filled([ring_of(shape)], coarse, coarse.pixels.shape[:2]) > 0
    lit = np.where(on_paper[..., None], coarse.pixels * light[None, :, None], coarse.pixels)
    coarse.pixels[:] = np.clip(lit, 0, 255)
    found = cut_paper(coarse, [])
    assert found.burnt_out and not found.burnt_beyond
    assert differ(found.ring, shape) < 0.06


def test_floor_that_is_burnt_out_too_is_told_of():
    shape, beside = box(120, 80, 420, 320), box(438, 190, 456, 220)
    coarse = burnt(shape)
    coarse.pixels[filled([ring_of(beside)], coarse, coarse.pixels.shape[:2]) > 0] = 255
    found = cut_paper(coarse, [])
    assert found.burnt_out and found.burnt_beyond
    assert differ(found.ring, shape) < 0.06


def test_white_that_runs_out_of_the_picture_is_a_matter_of_light():
    with pytest.raises(NoPaper, match="burnt out white"):
        cut_paper(burnt(box(180, -80, 400, 240)), [])


def test_paper_that_is_burnt_out_may_be_told():
    shape = box(120, 80, 420, 320)
    found = told_paper(burnt(shape), [], ring_of(shape))
    inside, outside = found.floor_like.at(np.array([[[300.0, 200.0], [60.0, 60.0]]]))[0]
    assert inside < 0 < outside
    assert not found.burnt_out


def test_a_told_paper_is_where_it_is_told():
    shape = box(200, 120, 600, 420)
    _, coarse = floor_with((ring_of(shape), GREY), size_mm=(540, 800))
    corners = ring_of(shape) + np.array([3, -2])
    cut = told_paper(coarse, [], corners)
    assert np.array_equal(cut.ring, corners)
    inside, outside = cut.floor_like.at(np.array([[[400.0, 300.0], [100.0, 100.0]]]))[0]
    assert inside < 0 < outside
    with pytest.raises(NoPaper, match="enclose nothing"):
        told_paper(coarse, [], corners + 5000)


def test_a_felt_line_along_the_edge_cuts_no_margin_off():
    shape = box(200, 120, 600, 420)
    _, coarse = floor_with((ring_of(shape), BROWN), size_mm=(540, 800))
    line = np.round(coarse.to_px(ring_of(box(218, 138, 582, 402)))).astype(np.int32)
    cv2.polylines(coarse.pixels, [line], True, (40, 40, 60), 4)
    assert differ(cut_paper(coarse, []).ring, shape) < 0.06


def test_the_ring_runs_once_round():
    shape = box(200, 120, 600, 420)
    _, coarse = floor_with((ring_of(shape), BROWN), size_mm=(540, 800))
    ring = cut_paper(coarse, []).ring
    assert LineString([*ring, ring[0]]).length == pytest.approx(1400, rel=0.08)


def test_a_border_that_stands_as_the_round_before_left_it_is_the_last(monkeypatch):
    # Were there a third round, OUTSIDE would show that it was.
    found = grown([SHEET, SHEET, OUTSIDE, OUTSIDE], monkeypatch)
    assert Polygon(found.ring).symmetric_difference(SHEET).area < 0.02 * SHEET.area
    found = grown([box(150, 120, 700, 500), SHEET, SHEET], monkeypatch)
    assert Polygon(found.ring).symmetric_difference(SHEET).area < 0.02 * SHEET.area
