"""Marks that are darker than pencil, and tucks in order round the paper."""

import numpy as np
import pytest

from digitize.tucks.look import darker_than_lines, lap_line_of
from digitize.tucks.slits import find_tucks
from tests.marks import blank, curve_of

OUTLINE = np.array([[0, 0], [400, 0], [400, 300], [0, 300]], float)


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


@pytest.mark.parametrize("first", ["cut", "lap line"])
def test_of_a_cut_and_a_lap_line_either_may_have_been_traced_from_the_tip(first):
    begins = {"cut": (0.0, 9.0), "lap line": (9.0, 0.0)}[first]
    slit = curve_of([[0, begins[0]], [0, 100]], 0.6)
    beside = curve_of([[0.08 * begins[1], begins[1]], [7.4, 93]])  # not to the edge
    far = curve_of([[20, begins[1]], [27, 93]])
    found = lap_line_of(slit, [far, beside.reversed()])
    assert found is not None and found[1].points[0] == pytest.approx(beside.points[0])


def test_a_scrap_beside_a_cut_is_not_its_lap_line():
    lines = [curve_of([[x, 60], [x + 120, 60]]) for x in (20, 152)]
    slit = curve_of([[150, 120], [150, 0.5]], 0.6, width=0.4)
    lap_line = curve_of([[150.2, 119], [162.2, 0.5]])
    scrap = curve_of([[151.5, 14], [152.5, 0.5]], 0.9)  # heavier than either
    (marks,), rest = find_tucks([scrap, slit, lap_line, *lines], OUTLINE, blank)
    assert marks.main.width == slit.width
    assert marks.second is not None and marks.second.points[-1, 0] == pytest.approx(162.2, abs=0.1)
    assert any(curve is scrap for curve in rest)
