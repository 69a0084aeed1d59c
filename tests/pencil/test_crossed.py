"""Lines that were struck out are set aside with what strikes them out, and no others are."""

import numpy as np
import pytest

from digitize.pencil.crossed import set_struck_aside
from digitize.pencil.hatching import set_hatching_aside
from tests.bench.marks_letters import written
from tests.marks import curve_of
from tests.pencil.test_pencil import paper_with, read

LINE = np.array([[15, 60], [135, 62]], float)


def strokes(every, long, lean_deg, count=6, start=45.0, over=0.5):
    """Short strokes across LINE, leaning so far from square; a share of each above it."""
    way = np.array([np.sin(np.radians(lean_deg)), np.cos(np.radians(lean_deg))]) * long
    at = [np.array([start + every * k, 60.5 + every * k / 60]) for k in range(count)]
    return [np.array([place - (1 - over) * way, place + over * way]) for place in at]


def lengths(curves):
    return sorted(round(curve.length) for curve in curves)


def test_a_line_with_strokes_across_it_is_struck_out():
    other = np.array([[15, 95], [135, 90]], float)
    curves = read(*paper_with([LINE, other, *strokes(9.0, 10.0, 30.0)]))
    assert len(curves) == 8
    rest, struck = set_struck_aside(curves)
    assert lengths(struck) == pytest.approx([121], abs=1)
    assert lengths(rest) == pytest.approx([120], abs=1)


@pytest.mark.parametrize(("step", "high"), [(5.0, 5.0), (3.0, 6.0), (9.0, 7.0)])
def test_a_line_with_a_zigzag_over_it_is_struck_out(step, high):
    turns = np.arange(11)
    zigzag = np.column_stack([35 + step * turns, 61 + high * (-1.0) ** turns])
    rest, struck = set_struck_aside(read(*paper_with([LINE, zigzag])))
    assert lengths(struck) == pytest.approx([121], abs=1)
    assert sum(curve.length for curve in rest) < 12


@pytest.mark.parametrize(
    ("every", "long", "lean", "count", "over"),
    [
        (12.0, 10.0, 3.0, 7, 0.5),  # ticks, square to the line
        (24.0, 10.0, 30.0, 4, 0.5),  # too far apart
        (3.0, 14.0, 30.0, 9, 0.5),  # hatching over it
        (9.0, 10.0, 30.0, 3, 0.5),  # too few
        (9.0, 10.0, 30.0, 6, 0.95),  # from the line, not across it
    ],
)
def test_other_strokes_at_a_line_strike_nothing_out(every, long, lean, count, over):
    marks = [curve_of(each) for each in (LINE, *strokes(every, long, lean, count, over=over))]
    assert set_struck_aside(marks) == (tuple(marks), ())


def test_of_strokes_that_cross_two_lines_or_a_short_one_none_strikes_out():
    across = [curve_of(each) for each in strokes(9.0, 10.0, 30.0)]
    two = [curve_of(LINE), curve_of(LINE + np.array([0, 2.0])), *across]
    assert set_struck_aside(two) == (tuple(two), ())
    short = [curve_of([[66, 60.9], [84, 61.2]])]
    short += [curve_of(each) for each in strokes(4.5, 10.0, 30.0, 4, 68.0)]
    assert set_struck_aside(short) == (tuple(short), ())


def test_what_stands_among_much_else_strikes_nothing_out():
    marks = [curve_of(each) for each in (LINE, *strokes(9.0, 10.0, 30.0))]
    others = [curve_of([[x, 63], [x - 4, 66]]) for x in np.arange(46.0, 92.0, 4.5)]
    assert set_struck_aside([*marks, *others[:2]])[1] == (marks[0],)
    assert set_struck_aside([*marks, *others])[1] == ()


def test_a_stroke_read_in_part_goes_with_the_others():
    part = curve_of([[98.3, 61.8], [100.5, 65.6]])
    marks = [curve_of(each) for each in (LINE, *strokes(9.0, 10.0, 30.0))]
    rest, struck = set_struck_aside([*marks, part])
    assert (rest, struck) == ((), (marks[0],))


@pytest.mark.parametrize("seed", [0, 2, 11, 35])
def test_a_word_on_a_line_strikes_nothing_out(seed):
    rng = np.random.default_rng(seed)
    word = written("word", float(rng.uniform(6, 16)), rng)
    corners = np.concatenate(word)
    middle = (corners.min(axis=0) + corners.max(axis=0)) / 2
    curves = read(*paper_with([LINE, *(each - middle + [75, 61] for each in word)], 0.5, 0.3))
    assert set_struck_aside(curves)[1] == ()
    assert set_hatching_aside(curves)[1] == ()
