"""Short and faint dashes are one dashed line by the even row that they lie in."""

import numpy as np
import pytest

from digitize.pencil.dash_rows import join_rows_of_dashes
from digitize.pencil.even_rows import DASHES, even_rows
from digitize.pencil.ridges import find_ridges
from digitize.pencil.trace import Stroke
from tests.pencil.test_pencil import furthest, paper_with, read

ON_MM, OFF_MM = 5.0, 5.0


def dashes_along(start, stop, y, seed=0, on_mm=ON_MM, off_mm=OFF_MM):
    """Uneven dashes, (2, 2) each, from one x to another."""
    rng = np.random.default_rng(seed)
    dashes, at = [], start
    while at < stop - 2:
        end = at + on_mm * rng.uniform(0.75, 1.25)
        dashes.append(np.array([[at, y], [min(end, stop), y]]))
        at = end + off_mm * rng.uniform(0.75, 1.25)
    return dashes


def test_dashes_in_a_row_are_beyond_chance_as_their_windows_have_it():
    # Five marks of 5 mm every 10 mm: of the ten pairs within 45 mm none but the four next to each
    # other have no mark between. Windows of 4 times 0.35 times 0.12 times 10 by 10, 16.8 mm2:
    # 4 (5 times 16.8 / A)^3 is 1e-4 at A = 2873 mm2.
    marks = [np.array([[10.0 * k, 0.0], [10.0 * k + 5.0, 0.0]]) for k in range(5)]
    assert even_rows(marks, np.ones(5), 2_780.0, DASHES) == []
    (row,) = even_rows(marks, np.ones(5), 2_960.0, DASHES)
    assert sorted(row.tolist()) == [0, 1, 2, 3, 4]
    assert even_rows(marks, np.ones(5), 1e6) == []  # they lie as no ticks do


@pytest.mark.parametrize("on_mm", [5.0, 9.0])
def test_faint_uneven_dashes_are_one_dashed_line(on_mm):
    dashes = dashes_along(10.0, 140.0, 60.0, on_mm=on_mm, off_mm=8.0)
    off, dashed = [], []
    for seed in range(5):  # of the paper's grain, in which they nearly drown
        lines = read(*paper_with(dashes, 0.5, 0.08, seed=seed))
        line, *rest = sorted(lines, key=lambda c: -c.length)
        assert line.length > 120
        dashed.append(line.dashed)
        assert not any(other.dashed or other.length > 15 for other in rest)
        off.append(furthest(line, np.array([[5, 60], [145, 60]])))
    assert sum(dashed) >= 4
    assert np.median(off) < 0.7 and max(off) < 1.0


def test_a_dashed_line_breaks_where_a_long_mark_runs_through_and_a_solid_one_is_none():
    dashes = dashes_along(10.0, 140.0, 60.0)
    across = np.array([[(dashes[6][1, 0] + dashes[7][0, 0]) / 2, y] for y in (20, 100)])
    ways = [*dashes[:3], *(dash[::-1] for dash in dashes[3:]), across]
    strokes = [Stroke(np.linspace(*way, 20), np.full(20, 15.0)) for way in ways]
    ridges = find_ridges(*paper_with([*dashes, across], 0.5, 0.2))
    rest, *lines = join_rows_of_dashes(strokes, ridges)
    assert rest is strokes[-1] and all(line.dashed for line in lines)
    ends = sorted(x for line in lines for x in line.points[[0, -1], 0])
    assert ends == pytest.approx(
        [dashes[0][0, 0], dashes[6][1, 0], dashes[7][0, 0], dashes[-1][1, 0]]
    )
    solid = find_ridges(*paper_with([np.array([[8, 60], [142, 60]])], 0.5, 0.2))
    assert join_rows_of_dashes(strokes[:-1], solid) == tuple(strokes[:-1])


def test_a_line_that_fades_is_no_row_of_dashes():
    for seed in range(4):
        marks = read(*paper_with([np.array([[10, 60], [140, 60]])], 0.4, 0.05, seed=seed))
        assert not any(mark.dashed for mark in marks)
