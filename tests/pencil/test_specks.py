"""A lone speck of the paper is no mark, though a filter that looks along lines sees it long."""

import numpy as np
import pytest

from digitize.pencil.repair import _shortest_with, without_specks
from digitize.pencil.ridges import find_crests, find_ridges
from digitize.pencil.strokes import find_strokes
from digitize.pencil.trace import believed, trace_strokes
from tests.pencil.test_pencil import paper_with

SPECK = np.array([[75, 60], [75.4, 60.4]], float)


def near(strokes, place, within_mm=4.0):
    return [s for s in strokes if np.linalg.norm(s.points - place, axis=1).min() < within_mm]


def test_a_lone_speck_is_no_stroke_and_a_tick_is_one():
    tick = np.array([[40, 55], [40, 62]], float)
    ridges = find_ridges(*paper_with([SPECK, tick], width=1.6, dark=0.45))
    traced = trace_strokes(find_crests(ridges))
    # The filter's row alone is 7 mm long.
    assert near(believed(traced), (75.2, 60.2))[0].length > 5
    strokes = find_strokes(ridges)
    assert not near(strokes, (75.2, 60.2))
    assert near(strokes, (40.0, 58.5))[0].length > 7


@pytest.mark.parametrize(("long_mm", "stays"), [(0.6, False), (3.0, True)])
def test_a_dash_of_3_mm_is_no_speck(long_mm, stays):
    dash = np.array([[75, 60], [75 + long_mm, 60]], float)
    ridges = find_ridges(*paper_with([dash], dark=0.25))
    kept = without_specks(trace_strokes(find_crests(ridges)), ridges)
    assert bool(near(believed(kept), (75 + long_mm / 2, 60), 2.0)) == stays


def test_what_has_strokes_about_it_may_be_part_of_a_letter():
    stem = np.array([[78, 56], [78, 64]], float)
    for beside_mm, stays in ((3.5, True), (13.0, False)):
        speck = SPECK + np.array([3.0 - beside_mm, 0])
        ridges = find_ridges(*paper_with([speck, stem], width=1.0, dark=0.25))
        kept = without_specks(trace_strokes(find_crests(ridges)), ridges)
        assert bool(near(believed(kept), speck.mean(axis=0), 1.0)) == stays


def test_the_shortest_stretch_with_most_of_a_line_is_sought_in_each_by_itself():
    even = np.column_stack([np.arange(11.0), np.zeros(11)])
    at_once = [0, 0, 0, 0, 0, 9, 0, 0, 0, 0, 1]
    values = [np.ones(11), np.array(at_once, float), np.zeros(11), np.arange(11.0)]
    found = _shortest_with(0.8, np.concatenate(values), [even, even + 50.0, even, even])
    # Nine of eleven alike; one of nine tenths; nothing at all; 5 to 10 of 0 to 10, 45 of 55.
    assert found.tolist() == [8.0, 0.0, 0.0, 5.0]
