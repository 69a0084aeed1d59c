import numpy as np
import pytest
from shapely import Point, Polygon, box

from digitize.paper import place_edge
from digitize.paper.blurred import blur_along
from tests.paper.floors import BROWN, cut_at, floor_with, out_of_focus

SHEET = box(40, 40, 200, 110)
CLEAR_MM = 20.0  # of the corners


@pytest.fixture(scope="module")
def floor():
    """A small brown sheet on a rough grey floor."""
    return floor_with((np.array(SHEET.exterior.coords[:-1]), BROWN), size_mm=(150, 240))[0]


@pytest.fixture(scope="module")
def even():
    """The same sheet on even grey."""
    grey, sheet = (np.array(each.exterior.coords[:-1]) for each in (box(0, 0, 240, 150), SHEET))
    return floor_with((grey, (80, 80, 80)), (sheet, BROWN), size_mm=(150, 240))[0]


def ring_of(shape):
    return np.array(shape.exterior.segmentize(2.0).coords[:-1])[::-1]


def clear_of_corners(ring):
    corners = np.array(SHEET.exterior.coords)
    return np.hypot(*(ring[:, None] - corners).transpose(2, 0, 1)).min(axis=1) > CLEAR_MM


@pytest.mark.parametrize(("sigma_mm", "inward_mm"), [(2.0, 1.5), (1.4, -1.0), (1.4, 0.5)])
def test_a_blurred_edge_lies_where_half_of_the_step_in_light_is_passed(even, sigma_mm, inward_mm):
    ring = ring_of(SHEET.buffer(-inward_mm, join_style="mitre"))
    assert Polygon(ring).exterior.is_ccw
    width, offset = blur_along(out_of_focus(even, sigma_mm), ring)
    some = clear_of_corners(ring)
    assert np.median(width[some]) == pytest.approx(sigma_mm)
    assert np.abs(offset[some] - inward_mm).max() < 0.2


def test_a_sharp_edge_is_read_as_sharp_and_bare_floor_has_no_edge(floor):
    ring = ring_of(SHEET)
    assert blur_along(floor, ring)[0][clear_of_corners(ring)].max() < 0.5
    assert not blur_along(floor, ring_of(box(10, 10, 230, 25)))[0].any()


@pytest.mark.parametrize("sigma_mm", [1.4, 2.0])
def test_the_edge_and_corners_of_a_sheet_out_of_focus_are_where_it_ends(floor, sigma_mm):
    """Half the light is lost 0.77 standard deviations before the tip of a right angle.

    The edge has a place every 2 mm.
    """
    cut = cut_at(ring_of(SHEET.buffer(-3).buffer(2)), SHEET, (150, 240))
    edge = place_edge(out_of_focus(floor, sigma_mm), cut)
    off = np.array([SHEET.exterior.distance(p) for p in map(Point, edge.points)])
    inside = np.array([SHEET.contains(p) for p in map(Point, edge.points)])
    clear = clear_of_corners(edge.points)
    assert abs(np.where(inside, -off, off)[clear].mean()) < 0.15
    for corner in SHEET.exterior.coords[:-1]:
        assert np.hypot(*(edge.points - corner).T).min() < 0.77 * sigma_mm + 1
