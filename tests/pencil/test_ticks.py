"""Rows of ticks are one line through their middles, and other short marks are none."""

from dataclasses import replace

import numpy as np
import pytest

from digitize.pencil.ticks import between_their_ticks, gather_ticks
from tests.marks import blank, curve_of
from tests.pencil.test_pencil import arc, furthest, paper_with, read


def ticks_along(course, every_mm, long_mm=10.0, off_mm=0.0, seed=0):
    """Short marks square to a course (N, 2), set off it by a normal scatter; (2, 2) each."""
    rng = np.random.default_rng(seed)
    step = np.linalg.norm(np.diff(course, axis=0), axis=1)
    along = np.append(0.0, np.cumsum(step))
    marks = []
    for at in np.arange(3.0, along[-1], every_mm):
        near = [np.interp(at + s, along, course[:, k]) for s in (0, -1, 1) for k in (0, 1)]
        place, ahead = np.array(near[:2]), np.array(near[4:]) - near[2:4]
        across = np.array([-ahead[1], ahead[0]]) / np.linalg.norm(ahead)
        place = place + across * rng.normal(0, off_mm)
        marks.append(np.array([place - across * long_mm / 2, place + across * long_mm / 2]))
    return marks


@pytest.mark.parametrize(("every_mm", "long_mm"), [(12.0, 6.0), (28.0, 12.0)])
def test_ticks_across_a_bend_are_one_line_through_their_middles(every_mm, long_mm):
    course = arc(140, 60, 120, (75, -60))
    marks = read(*paper_with(ticks_along(course, every_mm, long_mm)))
    (line,) = gather_ticks(marks, blank)
    assert line.ticks and furthest(line, course) < 0.5
    assert line.length > 146.6 - every_mm - 6


def test_at_a_tuck_the_line_breaks_and_the_row_goes_on():
    course = np.array([[10, 60], [140, 60]], float)
    cut = curve_of([[60, 110], [60, 10]])
    marks = [curve_of(mark) for mark in ticks_along(course, 20.0)]
    assert [curve.ticks for curve in gather_ticks(marks, blank)] == [True]
    rest, *lines = gather_ticks([*marks, cut], blank)
    assert rest == cut and [round(line.length) for line in lines] == [40, 60]


def test_marks_that_touch_others_lie_end_to_end_or_stand_too_close_are_no_ticks():
    course = np.array([[10, 60], [140, 60]], float)
    marks = [curve_of(mark) for mark in ticks_along(course, 20.0)]
    drawn = curve_of(course)
    assert gather_ticks([*marks, drawn], blank) == (*marks, drawn)
    dashes = tuple(curve_of([[x, 60], [x + 12, 60]]) for x in np.arange(10.0, 130.0, 20.0))
    assert gather_ticks(dashes, blank) == dashes
    hatching = tuple(curve_of(mark) for mark in ticks_along(course, 5.0))
    assert gather_ticks(hatching, blank) == hatching
    assert gather_ticks(marks[:3], blank) == tuple(marks[:3])


@pytest.mark.slow
def test_the_stated_sigma_is_what_the_hand_scatters_by():
    course = np.array([[10, 60], [700, 60]], float)
    marks = [curve_of(m) for k in range(4) for m in ticks_along(course, 25.0, off_mm=0.4, seed=k)]
    up = np.array([0.0, 100.0])
    rows = [curve.points + up * (k // (len(marks) // 4)) for k, curve in enumerate(marks)]
    lines = gather_ticks([curve_of(points) for points in rows], blank)
    assert len(lines) == 4
    assert all(line.sigma == pytest.approx(0.4, rel=0.25) for line in lines)


def test_a_row_does_not_turn_sharply_nor_leap_but_a_tick_or_two_may_be_unseen():
    course = np.array([[10, 60], [240, 60]], float)
    marks = [curve_of(mark) for mark in ticks_along(course, 20.0)]
    (line,) = gather_ticks([marks[k] for k in (0, 1, 2, 4, 7, 8)], blank)
    assert line.length == pytest.approx(160, abs=0.1)
    close = [curve_of(mark) for mark in ticks_along(course, 12.0)]
    assert not any(curve.ticks for curve in gather_ticks([close[k] for k in (0, 1, 2, 6)], blank))
    for turn_deg, in_row in ((15.0, True), (32.0, False)):
        ways = np.radians([0.0, 0.0, turn_deg, turn_deg])
        places = np.cumsum(20.0 * np.stack([np.cos(ways), np.sin(ways)], axis=1), axis=0)
        leans = np.radians(90 + np.array([0.0, turn_deg / 2, turn_deg, turn_deg]))
        halves = 5.0 * np.stack([np.cos(leans), np.sin(leans)], axis=1)
        row = [curve_of([m - h, m + h]) for m, h in zip(places, halves, strict=True)]
        assert any(curve.ticks for curve in gather_ticks(row, blank)) == in_row


def test_crumbs_beside_ticks_spoil_no_row():
    course = np.array([[10, 60], [140, 60]], float)
    marks = [curve_of(mark) for mark in ticks_along(course, 20.0)]
    crumbs = [curve_of(m.points[-1] + [[0.8, 0], [3.8, 0]]) for m in marks]
    (*rest, line) = gather_ticks([*marks, *crumbs], blank)
    assert line.ticks and rest == crumbs


def test_a_tick_read_in_part_bends_no_line():
    course = np.array([[10, 60], [240, 60]], float)
    marks = ticks_along(course, 20.0)
    read_in_part = [mark + np.array([0, 4.0 * (k == 5)]) for k, mark in enumerate(marks)]
    (line,) = gather_ticks([curve_of(mark) for mark in read_in_part], blank)
    assert furthest(line, course) < 0.5


def ticks_at(*places, lean=0.0):
    """The darkness of ticks of 8 mm across the x axis at some places, leaning by so much a mm."""

    def darkness_at(points):
        x, y = points[..., 0], points[..., 1]
        off = np.min([np.abs(x - at - lean * y) for at in places], axis=0)
        return 0.5 * ((off < 0.3) & (np.abs(y) < 4.0))

    return darkness_at


@pytest.mark.parametrize("lean", [0.0, 0.5])
def test_a_row_that_a_tuck_cuts_ends_at_its_last_tick_on_either_side(lean):
    row = replace(curve_of([[0, 0], [100, 0]], 0.3, 0.6), ticks=True)
    parts = [replace(row, points=row.points[:51]), replace(row, points=row.points[50:])]
    seen = ticks_at(0, 20, 40, 60, 80, 100, lean=lean)
    before, after = between_their_ticks(parts, [row], seen)
    near = pytest.approx
    assert before.points[[0, -1], 0] == near([0.0, 40.0], abs=1.2)
    assert after.points[[0, -1], 0] == near([60.0, 100.0], abs=1.2)
    # Its own end stays where it was, though no tick is seen there.
    before, after = between_their_ticks(parts, [row], ticks_at(20, 40, 60, 80))
    assert before.points[0, 0] == 0.0 and after.points[-1, 0] == 100.0


def test_what_a_tuck_leaves_of_one_tick_is_no_row_and_other_lines_stay():
    row = replace(curve_of([[0, 0], [60, 0]], 0.3, 0.6), ticks=True)
    line = curve_of([[0, 30], [60, 30]])
    end = replace(row, points=row.points[50:])
    seen = ticks_at(0, 20, 40, 60)
    assert between_their_ticks([end, line, row], [row, line], seen) == (line, row)
    assert between_their_ticks([line], [line], seen) == (line,)
