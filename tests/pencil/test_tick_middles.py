"""A tick's middle is half way between its ends, though little of it was traced."""

import numpy as np
import pytest

from digitize.pencil.tick_bars import taken_by
from digitize.pencil.tick_middles import grain_beyond, middles_of

NOTHING = taken_by([])


def pencil(*pieces, grain=0.0, seed=0):
    """Darkness at places: pencil upright at x 0, 0.8 mm wide, from y to y by a level, on grain."""
    rng = np.random.default_rng(seed)
    tooth = rng.normal(0.0, grain, (400, 400))

    def darkness_at(places):
        column, row = np.moveaxis(np.round(places / 0.25).astype(int) + 200, -1, 0)
        dark = tooth[row, column]
        for low, high, level in pieces:
            y = places[..., 1]
            dark = dark + level * ((np.abs(places[..., 0]) < 0.4) & (y > low) & (y < high))
        return dark

    return darkness_at


def middle(darkness_at, low, high, taken=NOTHING, grain=0.0):
    (found,) = middles_of([np.array([[0.0, low], [0.0, high]])], 0.7, darkness_at, taken, grain)
    return found.place


def test_what_lies_beyond_a_gap_belongs_to_a_tick_as_far_as_grain_lets_it_be_told():
    # From -4 to 4 mm, traced from -4 to 1: from there it shows in one piece, pale.
    pale = pencil((-4.0, 1.0, 0.3), (2.0, 4.0, 0.15))
    assert middle(pale, -4.0, 1.0) == pytest.approx([0.0, 0.0], abs=0.2)
    # On coarse paper as little is no pencil: it is as much as was traced, from -4 to 1.
    assert middle(pale, -4.0, 1.0, grain=0.08) == pytest.approx([0.0, -1.5], abs=0.2)


def test_a_trace_that_ran_on_over_bare_paper_is_as_long_as_its_pencil():
    assert middle(pencil((-4.0, 2.0, 0.3)), -4.0, 3.0) == pytest.approx([0.0, -1.0], abs=0.2)


def test_a_speck_counts_for_no_more_than_the_tick_and_another_mark_for_nothing():
    speck = pencil((-4.0, 4.0, 0.3), (6.5, 7.0, 3.0))
    assert middle(speck, -4.0, 4.0)[1] == pytest.approx(0.0, abs=0.2)
    line = pencil((-4.0, 4.0, 0.3), (4.5, 30.0, 0.3))
    crossing = taken_by([np.array([[0.0, 5.0], [0.0, 40.0]])])
    assert middle(line, -4.0, 4.0, crossing)[1] == pytest.approx(0.0, abs=0.3)


def test_a_blot_at_a_ticks_end_is_none_of_it():
    tick = pencil((-4.0, 4.0, 0.3))

    def darkness_at(places):
        blot = (np.abs(places[..., 0]) < 2.5) & (np.abs(places[..., 1] - 5.5) < 1.5)
        return np.maximum(tick(places), 0.3 * blot)

    assert middle(darkness_at, -4.0, 4.5)[1] == pytest.approx(0.0, abs=0.3)


def test_grain_is_told_beyond_the_ends():
    ends = [np.array([[0.0, -4.0], [0.0, 4.0]])] * 4
    even = grain_beyond(ends, 0.7, pencil((-4.0, 4.0, 0.3)), NOTHING)
    rough = grain_beyond(ends, 0.7, pencil((-4.0, 4.0, 0.3), grain=0.03), NOTHING)
    assert even < 1e-6 and 0.005 < rough < 0.06


def test_a_pale_ticks_middle_is_in_more_doubt():
    ends = [np.array([[0.0, -4.0], [0.0, 4.0]])]
    (plain,) = middles_of(ends, 0.7, pencil((-4.0, 4.0, 0.3)), NOTHING, 0.03)
    (pale,) = middles_of(ends, 0.7, pencil((-4.0, 4.0, 0.06)), NOTHING, 0.03)
    assert plain.sigma == pytest.approx(0.25, rel=0.1)
    assert pale.sigma == pytest.approx(1.25, rel=0.1)
