import cv2
import numpy as np
import pytest
from shapely import LineString, Point, Polygon, box, contains_xy

from digitize.floor import Raster
from digitize.paper import stretches_passed
from digitize.paper.passed import Passed
from tests.paper.floors import BROWN, floor_with

PAPER = box(60, 60, 340, 250)
NOTHING = Passed((), 0)
LINE = np.column_stack([np.arange(300.0, 99.0, -1), np.full(201, 150.0)])


def ring_of(shape):
    return np.array(shape.exterior.coords[:-1])


@pytest.fixture(scope="module")
def drawn():
    """A sheet with a line along it to 20 mm from its left edge."""
    fine, _ = floor_with((ring_of(PAPER), BROWN), size_mm=(310, 400))
    ends = np.round(fine.to_px(np.array([[300.0, 150.0], [80.0, 150.0]])) * 16).astype(int)
    cv2.line(fine.pixels, *ends.tolist(), (90, 70, 50), 2, cv2.LINE_AA, 4)
    return fine


def test_an_edge_that_a_line_goes_on_past_is_named(drawn):
    """The edge was read at x = 100, and the line goes on to 80."""
    narrow = box(100, 60, 340, 250)
    passed = stretches_passed(drawn, ring_of(narrow), [LINE])
    (stretch,) = passed.stretches
    assert not passed.lit
    middle = LineString(stretch).interpolate(0.5, normalized=True)
    assert middle.distance(Point(100, 150)) < 2
    assert LineString(stretch).length == pytest.approx(40, abs=3)


def test_a_line_that_ends_at_the_edge_or_before_it_contradicts_nothing(drawn):
    at_end = np.column_stack([np.arange(300.0, 79.0, -1), np.full(221, 150.0)])
    assert stretches_passed(drawn, ring_of(box(78, 60, 340, 250)), [at_end]) == NOTHING
    assert stretches_passed(drawn, ring_of(PAPER), [at_end]) == NOTHING


def test_a_joint_of_the_floor_is_no_line_of_the_papers():
    """A line drawn to the edge, and a dark joint beyond it, on a floor of another colour."""
    fine, _ = floor_with((ring_of(PAPER), BROWN), size_mm=(310, 400))
    ends = np.round(fine.to_px(np.array([[300.0, 150.0], [10.0, 150.0]])) * 16).astype(int)
    cv2.line(fine.pixels, *ends.tolist(), (40, 40, 40), 2, cv2.LINE_AA, 4)
    whole = np.column_stack([np.arange(300.0, 60.0, -1), np.full(240, 150.0)])
    assert stretches_passed(fine, ring_of(PAPER), [whole]) == NOTHING


def test_a_line_across_a_notch_goes_on_on_the_paper(drawn):
    """One of 6 mm is read out of the sheet round the line, 20 mm before its end."""
    notch = box(94, 145, 100, 251)
    notched = ring_of(PAPER.difference(notch))
    assert stretches_passed(drawn, notched, [LINE]) == NOTHING
    whole = ring_of(PAPER.difference(box(59, 145, 100, 251)))
    assert len(stretches_passed(drawn, whole, [LINE]).stretches) == 1


def test_a_line_that_runs_along_the_edge_goes_nowhere_beyond_it(drawn):
    """Three mm within an edge that was read too far in, towards which it leans by 8 degrees."""
    leaning = Polygon([(80, 145), (340, 180), (340, 250), (80, 250)])
    low = np.argmin(np.abs(LINE[:, 0] - 140))
    assert leaning.exterior.distance(Point(*LINE[low])) < 4
    assert stretches_passed(drawn, ring_of(leaning), [LINE[: low + 1]]) == NOTHING


@pytest.mark.parametrize(
    ("brighter", "hue", "lit"), [(1.9, (1, 1, 1), 3), (0.5, (1, 1, 1), 3), (1.4, (1, 0.9, 0.7), 0)]
)
def test_lines_that_go_on_where_only_the_light_changes_are_a_patch_of_lights(brighter, hue, lit):
    """A patch in other light on grey paper; or, of another hue, a paper of its own.

    Two lines cross it, of which one ends on it.
    """
    rng = np.random.default_rng(3)
    pixels = np.full((775, 1000, 3), 120.0)
    for row, left in ((300, 200), (450, 500)):
        pixels[row - 1 : row + 2, left:900] = 60
    patch = box(120, 60, 280, 250)
    fine = Raster(0.2, 309.8, 0.4, np.zeros(pixels.shape, np.uint8))
    x, y = np.meshgrid(0.2 + 0.4 * np.arange(1000), 309.8 - 0.4 * np.arange(775))
    pixels[contains_xy(patch, x, y)] *= brighter * np.array(hue)
    fine.pixels[:] = np.clip(pixels + rng.normal(0, 2, pixels.shape), 0, 255)
    lines = [
        np.column_stack([np.arange(281.0, 119.0, -1), np.full(162, 189.8)]),
        np.column_stack([np.arange(281.0, 204.0, -1), np.full(77, 129.8)]),
    ]
    passed = stretches_passed(fine, ring_of(patch), lines)
    assert not passed.stretches
    assert passed.lit == lit
    assert passed.of_light == (lit == 3)
    assert not stretches_passed(fine, ring_of(patch), lines[:1]).of_light
