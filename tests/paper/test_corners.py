from dataclasses import replace

import cv2
import numpy as np
import pytest
from shapely import LinearRing, Point, Polygon, box, contains_xy

from digitize.paper import Field
from digitize.paper.corners import (
    _colours_round,
    _log_density,
    _sharpened,
    _tip_seen,
    with_corners,
)
from digitize.paper.thresholds import LEAST_TURN_DEG, TURN_OVER_MM
from digitize.plane import sharp_turns
from tests.paper.floors import BROWN, WHITE, card_at, floor_with

# A sheet with its upper right corner torn off, so that a point of 40 degrees stands out there.
TORN = Polygon([(60, 60), (340, 60), (340, 200), (318, 182), (280, 250), (60, 250)])


UNTOLD = Field(0.0, 400.0, 400.0, np.zeros((1, 1), np.float32))


def ring_of(shape, step=2.0):
    return np.array(shape.exterior.segmentize(step).coords[:-1])


def looks_of(shape):
    """Paper within a shape, and floor beyond."""
    across, down = np.meshgrid(np.arange(400), np.arange(400))
    there = contains_xy(shape, across, 400.0 - down)
    return Field(0.0, 400.0, 1.0, np.where(there, -3, 3).astype(np.float32))


def rounded(shape, radius_mm):
    return shape.buffer(-radius_mm).buffer(2 * radius_mm).buffer(-radius_mm)


def test_rounded_corners_and_a_narrow_point_become_sharp():
    fine, _ = floor_with((ring_of(TORN), BROWN), size_mm=(310, 400))
    rough = ring_of(rounded(TORN, 5))
    tip = Point(340, 200)
    assert Polygon(rough).exterior.distance(tip) > 4
    found = Polygon(with_corners(fine, rough, (), UNTOLD))
    for corner in TORN.exterior.coords:
        # A bay of 80 degrees, closed by a radius of 3 mm: 3 (1 / sin 40 - 1) = 1.67 mm.
        bay = corner == (318, 182)
        assert found.exterior.distance(Point(corner)) < (1.9 if bay else 1.2)
    assert found.symmetric_difference(TORN).area < 60


@pytest.mark.parametrize(("broad", "often", "tell"), [(3, 0.008, True), (3, 0.03, False)])
def test_colours_tell_if_with_those_round_about_they_do(broad, often, tell):
    """Fibres of the paper's colour on the floor: of single places one in twenty looks like it."""
    sheet = box(60, 60, 340, 250)
    fine, _ = floor_with((ring_of(sheet), BROWN), size_mm=(310, 400))
    rows, columns = np.indices(fine.pixels.shape[:2])
    x, y = np.moveaxis(fine.to_mm(np.stack([columns, rows], axis=-1).astype(float)), -1, 0)
    floor = ~contains_xy(sheet.buffer(0.5), x, y)
    fibres = (np.random.default_rng(4).random(floor.shape) < often).astype(np.uint8)
    fibres = cv2.dilate(fibres, np.ones((broad, broad), np.uint8)) > 0
    fine.pixels[floor] = 60 + fine.pixels[floor] // 8
    fine.pixels[floor & fibres] = BROWN
    found = _colours_round(fine, sheet, np.array([340.0, 250.0]), [])
    assert found is not None and found.tell == tell


def test_a_fleck_at_the_edge_is_no_bay():
    fine, _ = floor_with((ring_of(TORN), BROWN), size_mm=(310, 400))
    at = fine.to_px(np.array([[60.0, 160.0]]))[0].round().astype(int)
    cv2.circle(fine.pixels, at.tolist(), round(1.2 / fine.mm_per_px), (60, 30, 30), -1)
    dented = TORN.difference(Point(58, 160).buffer(6))
    found = Polygon(with_corners(fine, ring_of(dented), (), UNTOLD))
    assert found.exterior.distance(Point(60, 160)) < 1


def test_a_fleck_of_the_papers_colour_beyond_the_edge_is_no_point_of_it():
    """Gravel near a corner: it stands out 5 mm from the side, and is 1.8 mm wide there."""
    sheet = box(60, 60, 340, 250)
    fleck = [(333.7, 250), (335.5, 250), (334.6, 255)]
    fine, _ = floor_with((ring_of(sheet), BROWN), (fleck, BROWN), size_mm=(310, 400))
    found = with_corners(fine, ring_of(rounded(sheet, 5)), (), UNTOLD)
    assert max(sheet.exterior.distance(Point(*place)) for place in found) < 2
    assert np.hypot(*(found - [340, 250]).T).min() < 1.2


def test_beside_a_card_nothing_is_changed():
    fine, _ = floor_with((ring_of(TORN), BROWN), size_mm=(310, 400))
    rough = ring_of(rounded(TORN, 5))
    all_over = card_at(box(0, 0, 400, 310))
    assert Polygon(with_corners(fine, rough, (all_over,), UNTOLD)).equals(Polygon(rough))


def test_turns_are_found_where_they_are():
    by = TURN_OVER_MM, LEAST_TURN_DEG, 2
    ring = ring_of(box(0, 0, 200, 100))
    places = ring[sharp_turns(ring, *by)]
    assert sorted(map(tuple, places.tolist())) == [(0, 0), (0, 100), (200, 0), (200, 100)]
    assert len(sharp_turns(ring_of(Point(0, 0).buffer(80, quad_segs=64)), *by)) == 0


def test_a_colours_density_is_what_the_normal_distribution_says():
    """Worked by hand: variances 4, 1 and 1, and 1.96 more of each; a step of 3 in the first."""
    steps = np.array([[i, j, k] for i in (-1, 1) for j in (-1, 1) for k in (-1, 1)])
    known = 100 + steps * [2, 1, 1] * np.sqrt(7 / 8)  # so that the sample's variances are these
    learned = np.ones((2, 4), bool)
    centre = np.full((2, 4, 3), 100.0)
    colours = np.concatenate([known.reshape(2, 4, 3), centre, centre + np.array([3, 0, 0])])
    found = _log_density(colours, np.concatenate([learned, ~learned, ~learned]))
    usual = -0.5 * np.log(5.96 * 2.96 * 2.96)
    assert found[2, 0] == np.float32(usual)
    assert found[4, 0] == np.float32(usual - 9 / 5.96 / 2)


def test_straight_sides_meet_in_a_corner_where_it_looks_like_paper():
    """Worked by hand: a radius of 8 mm takes 64 (1 - pi / 4) = 13.7 mm2 off a square corner."""
    sheet = box(100, 100, 300, 300)
    coords = np.array(sheet.buffer(-8).buffer(8, quad_segs=32).exterior.coords[:-1])[::-1]
    line = LinearRing(coords)
    ring = np.array([line.interpolate(at).coords[0] for at in np.arange(0, line.length - 1, 2.0)])
    index = int(np.hypot(*(ring - [300, 300]).T).argmin())
    gained = _sharpened(ring, index, looks_of(sheet))
    assert abs(gained.area - 64 * (1 - np.pi / 4)) < 0.6
    assert gained.exterior.distance(Point(300, 300)) < 0.1
    assert _sharpened(ring, index, looks_of(Polygon(ring))).is_empty
    assert _sharpened(ring, index + 50, looks_of(sheet)).is_empty


def test_a_corner_is_sharpened_by_the_settled_looks_where_colours_do_not_tell():
    """White on white: the picture shows nothing, and what settled it is believed."""
    sheet = box(60, 60, 340, 250)
    fine, _ = floor_with((ring_of(box(0, 0, 400, 310)), WHITE), size_mm=(310, 400))
    rough = ring_of(sheet.buffer(-6).buffer(6))
    found = Polygon(with_corners(fine, rough, (), looks_of(sheet)))
    assert found.symmetric_difference(sheet).area < 6


def test_a_card_close_by_teaches_nothing_about_a_corner():
    """It lies 14 mm off a torn point, and is as white as the paper."""
    card = box(354, 100, 396, 300)
    fine, _ = floor_with((ring_of(TORN), WHITE), (ring_of(card), WHITE), size_mm=(310, 400))
    floor = replace(UNTOLD, values=np.ones((1, 1), np.float32))  # so that only colours tell
    found = with_corners(fine, ring_of(rounded(TORN, 5)), (card_at(card),), floor)
    assert np.hypot(*(found - [340, 200]).T).min() < 1.5


def mottled(paper, spread, seed=3):
    """Even grey paper on a floor as grey on the average, whose light strays by ``spread``."""
    fine, _ = floor_with((ring_of(paper), WHITE), size_mm=(310, 400))
    rng = np.random.default_rng(seed)
    rows, columns = fine.pixels.shape[:2]
    light = cv2.GaussianBlur(rng.standard_normal((rows, columns)).astype(np.float32), (0, 0), 2)
    column, row = np.meshgrid(np.arange(columns), np.arange(rows))
    places = fine.to_mm(np.stack([column.ravel(), row.ravel()], axis=1))
    there = contains_xy(paper, *places.T).reshape(rows, columns)
    grain = rng.normal(0, 2, (rows, columns))
    grey = 140 + grain + np.where(there, 0, spread * light / light.std())
    fine.pixels[...] = np.clip(grey, 1, 255).astype(np.uint8)[..., None]
    return fine


def test_a_corner_on_a_floor_as_grey_is_sharp_where_its_colours_as_a_whole_are_the_papers():
    """Of single places a third of the floor looks like the paper."""
    sheet, floor = box(60, 60, 340, 250), replace(UNTOLD, values=np.ones((1, 1), np.float32))
    rough = ring_of(sheet.buffer(-8).buffer(8))
    found = Polygon(with_corners(mottled(sheet, 20), rough, (), floor))
    for corner in sheet.exterior.coords:
        assert found.exterior.distance(Point(corner)) < 0.8
    # A corner that was cut round stays so, and where nothing tells paper from floor so does any.
    cut_round = sheet.buffer(-8).buffer(8)
    for fine in (mottled(cut_round, 20), mottled(sheet, 0)):
        found = Polygon(with_corners(fine, rough, (), floor))
        for corner in sheet.exterior.coords:
            assert found.exterior.distance(Point(corner)) > 2.5


def test_a_corner_in_shade_goes_on_to_where_its_sides_are_seen_to_meet():
    """As grey as the floor within 7 mm of it; where it is cut off round there it stays so."""
    sheet, corner = box(60, 60, 340, 250), Point(340, 250)
    fine, _ = floor_with((ring_of(sheet), WHITE), size_mm=(310, 400))
    white = fine.pixels.min(axis=2, keepdims=True) > 215
    fine.pixels[:] = np.where(white, fine.pixels, 30 + fine.pixels // 2)
    rows, columns = np.indices(fine.pixels.shape[:2])
    x, y = np.moveaxis(fine.to_mm(np.stack([columns, rows], axis=-1).astype(float)), -1, 0)
    shaded = contains_xy(sheet, x, y) & (np.hypot(x - 340, y - 250) < 7)
    fine.pixels[shaded] = 205
    blurred = cv2.GaussianBlur(fine.pixels, (0, 0), 1.0)
    fine.pixels[:] = np.clip(blurred + np.random.default_rng(2).normal(0, 3, blurred.shape), 0, 255)
    rough = ring_of(sheet.difference(box(332, 242, 341, 251).difference(Point(332, 242).buffer(8))))
    found = Polygon(with_corners(fine, rough, (), UNTOLD))
    assert found.exterior.distance(corner) < 1
    fine.pixels[shaded & (np.hypot(x - 332, y - 242) > 8)] = 90
    found = Polygon(with_corners(fine, rough, (), UNTOLD))
    assert found.exterior.distance(corner) > 2.5


def evenly(shape):
    """A ring in even steps of 2 mm."""
    around = shape.exterior
    at = np.linspace(0, around.length, round(around.length / 2), endpoint=False)
    return np.array([around.interpolate(each).coords[0] for each in at])


def test_a_bay_gains_nothing_where_its_sides_meet():
    """Read too far in by 4 mm, floor from one side of the bay to the other is the floor still."""
    sheet = box(60, 60, 340, 250).difference(box(250, 160, 341, 251))
    fine, _ = floor_with((ring_of(sheet), WHITE), size_mm=(310, 400))
    for shape, near, gains in (
        (sheet.difference(Point(250, 160).buffer(4)), (247, 157), False),
        (sheet.buffer(-8).buffer(8), (60, 60), True),
    ):
        for ring in (evenly(shape), evenly(shape)[::-1]):
            index = int(np.argmin(np.hypot(*(ring - near).T)))
            assert _tip_seen(fine, ring, index).is_empty != gains
