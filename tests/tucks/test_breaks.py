"""Ends of lines at a tuck: where they are, which two are one line, how far it jumps."""

import math
from dataclasses import replace

import numpy as np
import pytest

from digitize.tucks.breaks import matched
from digitize.tucks.ends import LineEnd, gap_at, line_ends
from digitize.tucks.slits import TuckMarks
from tests.marks import curve_of

FAR = 1e7  # a pivot so far behind that what lies together is as deep
MAIN = replace(curve_of([[0, 0], [0, 120]]), sigma=0.09)
SLIT, FOLD = TuckMarks("slit", MAIN, None), TuckMarks("fold", MAIN, None)
LINES = [replace(curve_of([[0, 0], [50, 0]]), sigma=s) for s in (0.5, 0.12, 0.5)]
SQUARE = math.pi / 2


def closed(depths):
    """The gape of a slit that lies closed."""
    return np.zeros_like(depths)


def stop(depth, across=0.0, heading=SQUARE):
    return LineEnd(0, depth, 1.0, across, heading, (-across, depth))


def onward(depth, across, heading=SQUARE, side=-1.0, line=1):
    return LineEnd(line, depth, side, across, heading, (across, depth))


def test_a_line_jumps_by_the_lap_and_its_sigma_is_made_of_all_that_is_unsure():
    (found,) = matched([stop(50)], [onward(50, 8)], LINES, SLIT, FAR, closed)
    assert found.lines == (0, 1)
    # Turned about the tip it would lie at 50.636 mm, its chord 8.0252 mm: at 50 mm 7.9244 mm.
    turning = (8 - 7.9244) / 2
    assert (found.depth, found.lap, found.along) == pytest.approx((50, 8, 0), abs=1e-4)
    # Where a pencil line ends, 0.22, at an edge, 0.25; the cut; the line that goes on; 0.03.
    assert found.sigma == pytest.approx(math.hypot(0.22, 0.25, 0.09, 0.12, 0.03, turning), abs=1e-5)


def test_a_line_aslant_is_slid_along_itself_as_far_as_its_end_is_unsure():
    (found,) = matched(
        [stop(50, heading=math.radians(120))],
        [onward(51, 8, math.radians(60))],
        LINES,
        SLIT,
        FAR,
        closed,
    )
    # Cosine 0.5, so a sigma of 0.2 mm in depth is one of 0.4 along the line: it weighs 6.25,
    # where the line ends 1 / 0.22^2 = 20.66. To agree in depth it would go back 2 mm.
    slide = -2 * 6.25 / (6.25 + 20.661)
    assert found.lap == pytest.approx(8 + slide * math.sqrt(0.75), abs=1e-3)
    assert found.depth == pytest.approx(51 + slide / 2, abs=1e-3)
    assert found.along == pytest.approx(1.0, abs=1e-3)
    end = math.sqrt(0.75 / (6.25 + 20.661))
    assert found.sigma == pytest.approx(math.hypot(end, 0.25, 0.09, 0.12, 0.03), abs=2e-3)


def test_a_folds_take_up_is_what_is_bare_on_both_sides_of_its_crease():
    (found,) = matched([stop(50, 3)], [onward(50, 5)], LINES, FOLD, FAR, closed)
    assert found.lap == pytest.approx(8, abs=1e-4)
    # Both ends count, and both edges; 8 mm at 50 mm of depth may turn by 0.038 mm.
    parts = (0.22, 0.22, 0.25, 0.25, 0.09, 0.12, 0.03, 0.038)
    assert found.sigma == pytest.approx(math.hypot(*parts), abs=1e-3)


def test_of_a_slit_that_gapes_half_is_taken_off():
    def gape(depths):
        return 0.04 * depths

    (found,) = matched([stop(50)], [onward(50, 8)], LINES, SLIT, FAR, gape)
    assert found.lap == pytest.approx(8 - 0.04 * 50 / 2, abs=1e-4)


def test_no_line_goes_on_on_the_side_it_came_from():
    assert not matched([stop(50)], [onward(50, 8, side=1.0)], LINES, SLIT, FAR, closed)


def test_a_line_that_turns_by_half_a_right_angle_at_the_tuck_is_another():
    turned = onward(50, 8, SQUARE + math.radians(55))
    assert not matched([stop(50)], [turned], LINES, SLIT, FAR, closed)


@pytest.mark.parametrize("order", [1, -1])
def test_of_two_ends_as_deep_the_nearer_is_where_the_line_goes_on(order):
    # Turned back with their places, both head as the line that stops.
    near, far = (SQUARE + math.atan2(across, 50) for across in (8, 13))
    two = [onward(50, 8, near), onward(50, 13, far, line=2)][::order]
    (found,) = matched([stop(50)], two, LINES, SLIT, FAR, closed)
    assert found.lap == pytest.approx(8, abs=1e-4)


@pytest.mark.parametrize("order", [1, -1])
def test_each_end_is_matched_with_the_one_that_is_as_deep(order):
    stops = [stop(50), stop(54)]
    two = [onward(50.5, 8), onward(54.5, 9, line=2)][::order]
    found = matched(stops, two, LINES, SLIT, FAR, closed)
    assert [each.along for each in found] == pytest.approx([0.5, 0.5], abs=1e-3)
    assert [each.lap for each in found] == pytest.approx([8, 9], abs=1e-3)


def test_an_end_is_told_by_its_depth_from_the_tip_its_side_and_its_heading():
    """The tuck runs up the y axis, so its left is where x is negative."""
    slope = math.tan(math.radians(30))
    left = curve_of([[-60, 80], [0, 80]])
    right = curve_of([[8, 40], [68, 40 + 60 * slope]])  # the further off, the deeper
    one, two = sorted(line_ends(MAIN, [left, right]), key=lambda end: end.depth)
    assert (one.line, one.side, two.line, two.side) == (1, -1.0, 0, 1.0)
    assert (one.depth, one.across) == pytest.approx((40, 8), abs=0.01)
    assert math.degrees(one.heading) == pytest.approx(60, abs=0.1)
    assert (two.depth, two.across) == pytest.approx((80, 0), abs=0.01)
    assert math.degrees(two.heading) == pytest.approx(90, abs=0.1)


def test_an_end_that_is_drawn_towards_the_tip_is_where_the_line_leads():
    x = np.arange(0.0, 40.0, 0.5)
    hooked = curve_of(np.column_stack([x, 60 - 1.5 * np.clip(1 - x / 2, 0, 1)]))
    (end,) = line_ends(MAIN, [hooked])
    assert end.point == pytest.approx((0.0, 58.5), abs=0.01)
    assert end.depth == pytest.approx(60.0, abs=0.1)


def test_a_gap_is_positive_to_the_left():
    left, right = curve_of([[-6, 20], [-6, 100]]), curve_of([[9, 20], [9, 100]])
    assert gap_at(MAIN, left, 60.0) == pytest.approx(6.0)
    assert gap_at(MAIN, right, 60.0) == pytest.approx(-9.0)
    assert gap_at(MAIN, right, 110.0) is None
