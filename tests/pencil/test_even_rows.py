"""Even rows are told from what chance makes, by how many marks there are and how plain they are."""

import numpy as np
import pytest

from digitize.pencil.even_rows import by_chance, even_rows, may_be_tick
from digitize.pencil.faint_ticks import faint_ticks
from digitize.pencil.trace import Stroke
from tests.pencil.test_ticks import ticks_along

COURSE = np.array([[10, 60], [200, 60]], float)
PAPER_MM2 = 300.0 * 400.0


def stroke(mark, strength):
    points = np.linspace(*mark, 25)
    return Stroke(points, np.full(len(points), strength))


def grain(count, seed, long_mm=8.0, size_mm=(300.0, 400.0)):
    """Short marks strewn at random, (2, 2) each."""
    rng = np.random.default_rng(seed)
    places = rng.uniform(0, size_mm, (count, 2))
    ways = rng.uniform(0, np.pi, count)
    half = long_mm / 2 * np.stack([np.cos(ways), np.sin(ways)], axis=1)
    return [np.array([p - h, p + h]) for p, h in zip(places, half, strict=True)]


def test_the_chance_of_marks_so_plain_together():
    # Of two shares of a tenth the product is 0.01; 0.01 (1 - ln 0.01) = 0.01 (1 + 4.6052).
    assert by_chance(np.array([0.1, 0.1])) == pytest.approx(0.056052, rel=1e-4)
    assert by_chance(np.ones(5)) == pytest.approx(1.0)


def test_a_row_is_believed_where_chance_would_make_one_on_no_paper_in_ten_thousand():
    # Five ticks every 20 mm, from any of four pairs: three more, each in a window of 4 times 0.35
    # times 0.22 times 20 by 20 mm, 123.2 mm2. 4 (5 times 123.2 / A)^3 is 1e-4 at A = 21067 mm2.
    marks = ticks_along(np.array([[0, 0], [90, 0]], float), 20.0)
    assert len(marks) == 5
    plain = np.ones(5)
    assert even_rows(marks, plain, 20_500.0) == []
    (row,) = even_rows(marks, plain, 21_700.0)
    assert sorted(row.tolist()) == [0, 1, 2, 3, 4]


@pytest.mark.parametrize("count", [50, 150, 400])
def test_grain_makes_no_rows(count):
    for seed in range(3000 // count):
        marks = grain(count, seed)
        strengths = np.random.default_rng(seed).exponential(1.0, count) + 5.0
        assert even_rows(marks, strengths, PAPER_MM2) == []


def test_a_row_is_found_in_grain_and_each_of_its_ticks():
    ticks = ticks_along(COURSE, 25.0, off_mm=0.3)
    marks = [*grain(120, 3), *ticks]
    strengths = np.concatenate([np.random.default_rng(3).exponential(1.0, 120) + 5.0])
    (row,) = even_rows(marks, np.append(strengths, np.full(len(ticks), 8.0)), PAPER_MM2)
    assert set(range(120, 120 + len(ticks))) <= set(row.tolist())


def test_a_tick_may_be_unseen_and_hatching_is_no_row():
    marks = [mark for k, mark in enumerate(ticks_along(COURSE, 20.0)) if k not in (3, 6)]
    (row,) = even_rows(marks, np.ones(len(marks)), PAPER_MM2)
    assert len(row) == len(marks)
    assert even_rows(ticks_along(COURSE, 6.0), np.ones(32), PAPER_MM2) == []


def test_a_mark_that_bends_or_is_long_is_no_tick():
    along = np.linspace(0, 10, 21)
    for sagitta, straight in ((1.1, True), (1.5, False)):
        points = np.stack([along, sagitta * (1 - (along / 5 - 1) ** 2)], axis=1)
        assert may_be_tick(points) == straight
    assert not may_be_tick(np.array([[0, 0], [26.0, 0]]))


def test_faint_ticks_are_believed_in_an_even_row_and_touching_no_line():
    marks = ticks_along(COURSE, 20.0)
    faint = [stroke(mark, 6.0) for mark in marks[::2]]
    plain = [stroke(mark, 20.0) for mark in marks[1::2]]
    assert set(map(id, faint_ticks(faint, plain, PAPER_MM2))) == set(map(id, faint))
    assert faint_ticks(faint[:3], [], PAPER_MM2) == ()
    assert faint_ticks([stroke(mark, 3.8) for mark in marks[::2]], plain, PAPER_MM2) == ()
    line = stroke(COURSE, 20.0)
    assert faint_ticks(faint, [*plain, line], PAPER_MM2) == ()
