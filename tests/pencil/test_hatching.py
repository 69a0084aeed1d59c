"""Strokes that hatch an area are that area, and other marks side by side are none."""

import numpy as np
import pytest
from shapely import Point, Polygon

from digitize.pencil.crossed import set_struck_aside
from digitize.pencil.hatching import set_hatching_aside
from tests.marks import curve_of
from tests.pencil.test_pencil import paper_with, read


def hatching(step, long, count, turn_deg=0.0, at=(75.0, 60.0), seed=None):
    """Strokes side by side, (2, 2) each, uneven as a hand's if a seed is given."""
    rng = np.random.default_rng(seed)
    uneven = 0.0 if seed is None else 1.0
    marks = []
    for k in range(count):
        y = step * (k - (count - 1) / 2) + uneven * rng.normal(0, 0.1 * step)
        ends = np.array([[-long / 2, y], [long / 2, y]])
        marks.append(ends + uneven * rng.normal(0, 0.05 * long, (2, 1)) * [1, 0])
    cos, sin = np.cos(np.radians(turn_deg)), np.sin(np.radians(turn_deg))
    return [each @ np.array([[cos, sin], [-sin, cos]]) + at for each in marks]


@pytest.mark.parametrize(("step", "long"), [(3.0, 15.0), (4.5, 30.0), (6.0, 50.0)])
@pytest.mark.parametrize("turn", [0.0, 65.0, 130.0])
def test_strokes_over_an_area_are_one_area(step, long, turn):
    curves = read(*paper_with(hatching(step, long, 9, turn, seed=1), 0.5, 0.3))
    rest, (area,) = set_hatching_aside(curves)
    assert all(curve.length < 12 for curve in rest)
    # Eight steps and half a step all round.
    assert Polygon(area).area == pytest.approx((long + step) * 9 * step, rel=0.12)
    assert Polygon(area).centroid.distance(Point(75, 60)) < 2
    assert Polygon(area).exterior.is_ccw


def test_a_line_through_hatching_stays_and_hatching_both_ways_is_one_area():
    line = np.array([[10, 52], [140, 66]], float)
    strokes = hatching(4.5, 40.0, 9, 60.0)
    curves = read(*paper_with([line, *strokes], 0.5, 0.3))
    assert set_struck_aside(curves)[1] == ()
    rest, areas = set_hatching_aside(curves)
    assert len(areas) == 1
    assert [round(c.length) for c in rest if c.length > 10] == [131]
    both = [curve_of(each) for each in (*strokes, *hatching(4.5, 40.0, 9, 150.0))]
    assert set_struck_aside(both)[1] == ()
    rest, areas = set_hatching_aside(both)
    assert rest == () and len(areas) == 1


def test_two_areas_apart_are_two():
    strokes = [*hatching(4.0, 20.0, 6, 40.0, (40, 60)), *hatching(4.0, 20.0, 6, 40.0, (110, 60))]
    _, areas = set_hatching_aside([curve_of(each) for each in strokes])
    assert sorted(round(float(area[:, 0].mean())) for area in areas) == pytest.approx(
        [40, 110], abs=2
    )


@pytest.mark.parametrize(
    "marks",
    [
        hatching(12.0, 10.0, 8),  # ticks
        hatching(4.0, 20.0, 4),  # too few
        hatching(9.0, 60.0, 8),  # lines of the panel
        hatching(4.0, 110.0, 8),  # the same
        [each + np.array([1.5 * k * k, 0]) for k, each in enumerate(hatching(4.0, 12.0, 8))],
        [
            hatching(1, 40, 1, at=(75, 40 + y))[0] for y in (0, 2, 8, 9.5, 13, 15, 21.5, 23)
        ],  # unevenly
        [each for k in range(7) for each in hatching(4, 20, 1, 15 * k, (75, 40 + 4 * k))],  # a fan
    ],
)
def test_other_marks_side_by_side_are_no_hatching(marks):
    curves = [curve_of(each) for each in marks]
    rest, areas = set_hatching_aside(curves)
    assert areas == () and rest == tuple(curves)


def test_of_what_is_in_an_area_strokes_are_most():
    strokes = [curve_of(each) for each in hatching(4.0, 22.0, 6)]
    letters = [curve_of([[x, 50], [x + 2, 70]]) for x in np.arange(68.0, 83.0, 3.0)][:4]
    slanted = [curve_of([[66, 50], [84, 62]]), curve_of([[66, 66], [84, 54]])]
    marks = [*strokes, *letters, *slanted]
    assert set_hatching_aside(marks)[1] == ()
    assert len(set_hatching_aside([*strokes, letters[0]])[1]) == 1
