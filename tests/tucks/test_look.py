"""Which of two marks from one tip is the cut, and tucks in order round the paper."""

from dataclasses import replace

import numpy as np
import pytest

from digitize.tucks.look import cut_first, darker_than_lines
from digitize.tucks.slits import find_tucks
from tests.marks import blank, curve_of

OUTLINE = np.array([[0, 0], [400, 0], [400, 300], [0, 300]], float)
STRAIGHT = curve_of([[0, 0], [0, 100]], 0.3)
OTHER = curve_of([[0, 0], [7, 100]], 0.3)


@pytest.mark.parametrize(
    "cut",
    [
        replace(STRAIGHT, weight=0.5),  # the darker
        replace(STRAIGHT, width=0.3, weight=0.2),  # the narrower
    ],
)
def test_a_cut_is_narrow_and_dark(cut):
    assert cut_first(cut, OTHER)[0] is cut
    assert cut_first(OTHER, cut)[0] is cut


def test_a_cut_has_no_colour_of_its_own():
    coloured = replace(OTHER, ink="red", width=0.3, weight=0.9)
    assert cut_first(STRAIGHT, coloured)[0] is STRAIGHT
    assert cut_first(coloured, STRAIGHT)[0] is STRAIGHT


def test_of_two_that_begin_as_one_the_cut_goes_straight_on():
    """Both are straight enough beyond 30 mm; the lap line leaves the way of the first stretch."""
    y = np.arange(0.0, 101.0)
    leaves = curve_of(np.column_stack([0.08 * np.clip(y - 30, 0, None), y]), 2.0)
    goes_on = curve_of([[0, 30], [0, 100]], 0.3)
    assert cut_first(leaves, goes_on)[0] is goes_on
    assert cut_first(goes_on, leaves)[0] is goes_on


def test_a_mark_is_darker_than_lines_by_its_darkness_and_not_by_its_width():
    stands_out = darker_than_lines([curve_of([[0, y], [90, y]], 0.3, 0.6) for y in (0, 9, 18)])
    assert stands_out(curve_of([[0, 0], [0, 50]], 0.35, 0.4))  # 0.875 to 0.5 of a line
    assert not stands_out(curve_of([[0, 0], [0, 50]], 0.46, 0.7))  # 0.66
    assert not stands_out(curve_of([[0, 0], [0, 50]], 0.9, 0.9))  # 1.0, but a band


def cut(*ends):
    return curve_of(ends, 0.7, width=0.4)


@pytest.mark.parametrize(
    ("cuts", "places"),
    [
        ([(100, 0), (150, 0), (300, 0)], [(100, 0), (150, 0), (300, 0)]),
        # The outline begins at the origin, among them; the longest stretch without one does not.
        ([(50, 0), (120, 0), (0, 60)], [(0, 60), (50, 0), (120, 0)]),
        ([(400, 100), (340, 300), (400, 240)], [(400, 100), (400, 240), (340, 300)]),
    ],
)
def test_tucks_come_counter_clockwise_after_the_longest_stretch_without_one(cuts, places):
    inwards = {0: (0, 40), 300: (0, -40)}
    marks = [curve_of([[120, y], [280, y]], 0.3) for y in (140, 160)]
    for x, y in cuts:
        way = inwards.get(y, (40 if x == 0 else -40, 0))
        edge = np.array([x, y]) + 0.01 * np.array(way)
        marks.append(cut(np.array([x, y]) + np.array(way), edge))
    found, _ = find_tucks(marks, OUTLINE, blank)
    ends = [tuck.main.points[-1] for tuck in found]
    assert np.array(ends) == pytest.approx(np.array(places, float), abs=1.0)
