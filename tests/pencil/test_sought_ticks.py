"""Ticks that were not traced are found where their row awaits them, and none where nothing is."""

import numpy as np
import pytest
from shapely import STRtree

from digitize.pencil.curves import fit_curves
from digitize.pencil.ridges import find_ridges
from digitize.pencil.sought_ticks import Paper, Row, Sought, without_pale
from digitize.pencil.strokes import find_strokes
from digitize.pencil.tick_bars import Bar, Blank, Window, best_in, blank_of, taken_by
from digitize.pencil.tick_middles import Middle
from digitize.pencil.ticks import gather_ticks
from tests.marks import curve_of
from tests.pencil.test_pencil import paper_with
from tests.pencil.test_ticks import ticks_along

COURSE = np.array([[15, 60], [280, 60]], float)
SIZE_MM = (300, 120)


def read_less(marks, untraced, seed=0, **paper):
    """What is read of marks of which some, by number, were not traced: marks and darkness."""
    raster, outline = paper_with(marks, size_mm=SIZE_MM, seed=seed, **paper)
    ridges = find_ridges(raster, outline)
    curves = fit_curves(find_strokes(ridges), ridges, raster)
    lost = [np.mean(marks[k], axis=0) for k in untraced]
    near = [any(np.hypot(*(c.points.mean(axis=0) - at)) < 4 for at in lost) for c in curves]
    return [c for c, yes in zip(curves, near, strict=True) if not yes], ridges.darkness_at


def ends_of(line):
    return np.sort(line.points[[0, -1], 0])


def test_a_row_is_carried_on_to_ticks_that_were_not_traced():
    marks = ticks_along(COURSE, 20.0)
    first, last = marks[0][0, 0], marks[-1][0, 0]
    curves, darkness_at = read_less(marks, (0, 9, 12, 13))
    (line,) = gather_ticks(curves, darkness_at)
    assert line.ticks and ends_of(line) == pytest.approx([first, last], abs=0.6)
    assert np.abs(line.points[:, 1] - 60).max() < 0.5


@pytest.mark.slow  # twelve papers
def test_a_row_ends_where_nothing_stands():
    marks = ticks_along(COURSE, 20.0)[3:9]
    beyond = 0
    for seed in range(12):
        curves, darkness_at = read_less(marks, (), seed, grain=4.0)
        lines = [curve for curve in gather_ticks(curves, darkness_at) if curve.ticks]
        assert len(lines) == 1
        away = ends_of(lines[0]) - [marks[0][0, 0], marks[-1][0, 0]]
        beyond += np.count_nonzero(np.abs(away) > 3.0)
    assert beyond == 0


def test_no_tick_is_sought_through_a_cut():
    marks = ticks_along(COURSE, 20.0)
    curves, darkness_at = read_less(marks, (12, 13))
    at = marks[12][0, 0] - 6.0
    cut = curve_of([[at, 20], [at + 0.5, 118]])
    *_, line = gather_ticks([*curves, cut], darkness_at)
    assert ends_of(line)[1] == pytest.approx(marks[11][0, 0], abs=0.6)


def test_what_was_traced_at_an_end_of_bare_paper_is_no_tick():
    marks = ticks_along(COURSE, 20.0)
    curves, darkness_at = read_less(marks[:9], ())
    false = [curve_of(mark, weight=0.02) for mark in marks[9:11]]
    *_, line = gather_ticks([*curves, *false], darkness_at)
    assert ends_of(line)[1] == pytest.approx(marks[8][0, 0], abs=0.6)


@pytest.mark.parametrize(("last_mm", "kept"), [(60.0, 4), (80.0, 3), (100.0, 3)])
def test_a_pale_tick_ends_a_row_only_where_it_is_the_next(last_mm, kept):
    """Beyond a missing one it would have to be plain, as any that is sought."""
    at = [0.0, 20.0, 40.0, last_mm]
    nothing = taken_by([])
    paper = Paper(BAR, 20.0, 0.0, drawn(), nothing, nothing, STRtree([]))
    # Of paper that scores 0.05 at best in half of its windows a tick of 0.1 is not plain.
    sought = Sought(paper, Blank(np.linspace(0.0, 0.1, 99), 0.05, 0.02), 1e-3, 0.2 / 3)
    ticks = tuple(curve_of([[x, -5.0], [x, 5.0]]) for x in at)
    row = Row(tuple(Middle(np.array([x, 0.0]), 0.0, 10.0) for x in at), np.array([1.0, 0.0]), ticks)
    scores = [0.2, 0.2, 0.2, 0.1]
    for either, of_row in ((row, scores), (row.reversed(), scores[::-1])):
        (less,) = without_pale([either], [of_row], sought)
        assert np.sort(less.places[:, 0]).tolist() == at[:kept]


def test_pale_ticks_are_told_together():
    """Such as bare paper has in three windows of a hundred, but not four times in a row."""
    blank = Blank(np.linspace(0.0, 1.0, 99), 0.5, 0.1)
    sought = Sought(None, blank, 1e-3, 0.3)
    assert blank.share(0.98) == pytest.approx(0.03)
    assert sought.may_be_tick(0.98) and not sought.may_be_tick(0.8)
    # One window alone has to be beyond all that were seen, and so far that the tail has no such:
    # exp(-(1.1 - 0.5) / 0.1) is 2.5e-3, of 1.3 3.4e-4.
    assert not sought.is_plain(1.1) and sought.is_plain(1.3)
    # Of three the product of shares p is 2.7e-5, and Q(3, -ln p) = 1.8e-3; of four 4.7e-4.
    assert not sought.is_enough([0.98] * 3) and sought.is_enough([0.98] * 4)


def test_a_row_may_not_run_past_a_tucks_tip():
    marks = ticks_along(COURSE, 20.0)
    curves, darkness_at = read_less(marks, ())
    at = (marks[5][0, 0] + marks[6][0, 0]) / 2
    for tip, count in ((61.5, 2), (63.5, 1)):
        cut = curve_of([[at, tip], [at + 0.5, 118]])
        lines = [line for line in gather_ticks([*curves, cut], darkness_at) if line.ticks]
        assert len(lines) == count


def test_two_rows_that_lead_to_each_other_are_one():
    marks = ticks_along(COURSE, 20.0)
    curves, darkness_at = read_less(marks, (5, 6, 7, 8))
    (line,) = gather_ticks(curves, darkness_at)
    assert ends_of(line) == pytest.approx([marks[0][0, 0], marks[-1][0, 0]], abs=0.6)


def test_what_blank_windows_score_by_chance():
    # Of Gumbel's distribution with its mode at 2 and scale 0.5 the share p lies below
    # 2 - 0.5 ln(-ln p): quartiles at 1.8367, 2.1833, 2.6229; 0.999 at 5.4536.
    shares = (np.arange(4001) + 0.5) / 4001
    scores = 2 - 0.5 * np.log(-np.log(shares))
    assert np.quantile(scores, [0.25, 0.5, 0.75]) == pytest.approx(
        [1.8367, 2.1833, 2.6229], abs=1e-3
    )
    blank = blank_of(scores)
    assert (blank.mode, blank.scale) == pytest.approx((2.0, 0.5), abs=2e-3)
    assert Blank(shares, 2.0, 0.5).chance(5.4536) == pytest.approx(1e-3, rel=1e-3)
    assert Blank(shares, 2.0, 0.5).chance(2.1833) == pytest.approx(0.5, abs=1e-4)
    # Two of four scored as much, and this one does.
    some = Blank(np.array([1.0, 2.0, 3.0, 4.0]), 2.0, 0.5)
    assert some.share(2.5) == pytest.approx(3 / 5) and some.share(9.0) == pytest.approx(1 / 5)


def drawn(*strips, paper=0.001):
    """Darkness at places: of a level within strips (x, y, half-width, half-height, darkness)."""

    def darkness_at(places):
        dark = np.full(places.shape[:-1], paper)
        for x, y, wide, high, level in strips:
            off = np.abs(places - [x, y])
            dark[(off[..., 0] <= wide) & (off[..., 1] <= high)] = level
        return dark

    return darkness_at


BAR = Bar(8.0, 0.75, 0.2)
WINDOW = Window(np.zeros(2), np.array([1.0, 0.0]), 7.0, 3.0)
NOTHING = taken_by([])


def scored(*strips, marks=()):
    """What a window scores where such strips are drawn, and some marks are known."""
    taken = taken_by(list(marks))
    paper = Paper(BAR, 20.0, 0.01, drawn(*strips), taken, taken, STRtree([]))
    blank = Blank(np.linspace(0.0, 0.02, 99), 0.01, 0.002)
    return Sought(paper, blank, 1e-3, 0.08).found(WINDOW)[0]


def test_a_tick_is_found_and_a_specks_darkness_in_place_of_one_is_not():
    assert scored((3.0, 0.0, 0.4, 4.0, 0.2)) == pytest.approx(0.2, abs=0.02)
    # Of 8 mm that are sought a blot of 3.5 fills more than the third that is left out.
    speck = drawn((3.0, 0.0, 0.4, 1.75, 2.0))
    assert best_in(WINDOW, BAR, speck, NOTHING).score > 0.03
    assert scored((3.0, 0.0, 0.4, 1.75, 2.0)) == 0.0


def test_the_end_of_a_line_that_runs_out_of_the_row_is_no_tick():
    assert scored((3.0, 2.0, 0.4, 4.5, 0.2)) > 0.1
    assert scored((3.0, 10.5, 0.4, 9.0, 0.2)) == 0.0


def test_the_shade_beside_a_mark_is_no_tick_and_a_plain_one_there_is():
    cut = np.array([[5.0, -30.0], [5.0, 30.0]])
    beside = (3.2, 0.0, 0.4, 4.0)
    assert scored((*beside, 0.05)) > 0.03
    assert scored((*beside, 0.05), marks=[cut]) == 0.0
    assert scored((*beside, 0.2), marks=[cut]) > 0.08


def test_a_bar_scores_by_how_much_darker_it_is_and_lies_on_the_strokes_middle():
    nothing = taken_by([])
    best = best_in(WINDOW, BAR, drawn((3.0, 1.5, 0.6, 5.0, 0.201)), nothing)
    assert best.score == pytest.approx(0.2, abs=0.01)
    assert best.ends.mean(axis=0) == pytest.approx([3.0, 1.5], abs=1.1)
    assert np.abs(best.ends[:, 1] - best.ends[:, 1].mean()) == pytest.approx(4.0, abs=0.1)
    # A speck, however dark, counts as 1.5 times a tick, and but for what lies in the darkest third
    # of a bar: at best 0.6 of two thirds of 5.33 mm. An edge is none.
    speck = best_in(WINDOW, BAR, drawn((3.0, 1.5, 0.6, 0.6, 2.0)), nothing)
    assert speck.score < 1.5 * 0.2 * 0.6 / 5.33 + 0.01
    # Half a tick lies best in two thirds, 2 mm in each, of which one counts: 2 of 5.33 mm.
    half = best_in(WINDOW, BAR, drawn((3.0, 0.0, 0.6, 2.0, 0.201)), nothing)
    assert half.score == pytest.approx(0.2 * 2 / 5.33, abs=0.01)
    edge = best_in(WINDOW, BAR, drawn((9.0, 0.0, 6.0, 30.0, 0.3)), nothing)
    assert edge.score < 0.02


def test_a_mark_that_is_known_is_no_tick_and_off_the_paper_nothing_is_known():
    stroke = drawn((3.0, 0.0, 0.6, 5.0, 0.2))
    known = taken_by([np.array([[3.0, -20.0], [3.0, 20.0]])])
    assert best_in(WINDOW, BAR, stroke, known).score < 0.02
    assert best_in(WINDOW, BAR, drawn((8.0, 0.0, 2.0, 30.0, 0.0)), known) is None
