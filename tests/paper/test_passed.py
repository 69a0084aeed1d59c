import cv2
import numpy as np
import pytest
from shapely import LineString, Point, Polygon, box

from digitize.paper import stretches_passed
from tests.paper.floors import BROWN, floor_with

PAPER = box(60, 60, 340, 250)
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
    (stretch,) = stretches_passed(drawn, ring_of(narrow), [LINE])
    middle = LineString(stretch).interpolate(0.5, normalized=True)
    assert middle.distance(Point(100, 150)) < 2
    assert LineString(stretch).length == pytest.approx(40, abs=3)


def test_a_line_that_ends_at_the_edge_or_before_it_contradicts_nothing(drawn):
    at_end = np.column_stack([np.arange(300.0, 79.0, -1), np.full(221, 150.0)])
    assert stretches_passed(drawn, ring_of(box(78, 60, 340, 250)), [at_end]) == ()
    assert stretches_passed(drawn, ring_of(PAPER), [at_end]) == ()


def test_a_joint_of_the_floor_is_no_line_of_the_papers():
    """A line drawn to the edge, and a dark joint beyond it, on a floor of another colour."""
    fine, _ = floor_with((ring_of(PAPER), BROWN), size_mm=(310, 400))
    ends = np.round(fine.to_px(np.array([[300.0, 150.0], [10.0, 150.0]])) * 16).astype(int)
    cv2.line(fine.pixels, *ends.tolist(), (40, 40, 40), 2, cv2.LINE_AA, 4)
    whole = np.column_stack([np.arange(300.0, 60.0, -1), np.full(240, 150.0)])
    assert stretches_passed(fine, ring_of(PAPER), [whole]) == ()


def test_a_line_across_a_notch_goes_on_on_the_paper(drawn):
    """One of 6 mm is read out of the sheet round the line, 20 mm before its end."""
    notch = box(94, 145, 100, 251)
    notched = ring_of(PAPER.difference(notch))
    assert stretches_passed(drawn, notched, [LINE]) == ()
    assert (
        len(stretches_passed(drawn, ring_of(PAPER.difference(box(59, 145, 100, 251))), [LINE])) == 1
    )


def test_a_line_that_runs_along_the_edge_goes_nowhere_beyond_it(drawn):
    """Three mm within an edge that was read too far in, towards which it leans by 8 degrees."""
    leaning = Polygon([(80, 145), (340, 180), (340, 250), (80, 250)])
    low = np.argmin(np.abs(LINE[:, 0] - 140))
    assert leaning.exterior.distance(Point(*LINE[low])) < 4
    assert stretches_passed(drawn, ring_of(leaning), [LINE[: low + 1]]) == ()
