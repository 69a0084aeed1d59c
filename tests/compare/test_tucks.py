"""Pairs of tucks by hand; the other paper lies turned by a right angle and shifted."""

import numpy as np
import pytest

from digitize.compare.tucks import pairs_of
from digitize.plane import Placement
from digitize.record import LapAt, Line, Pattern, Tuck

# (x, y) of the other comes to lie on (10 - y, 20 + x).
TURN = Placement(
    np.array([[0.0, -1.0], [1.0, 0.0]]), np.array([10.0, 20.0]), np.zeros(2), np.zeros((3, 3))
)


def back(x, y):
    """The place in the other that comes to lie on (x, y)."""
    return y - 20, 10 - x


def tucked(*tucks, moved=False):
    """A record with tucks of (tip, degrees of its way outwards, lap, sigma at the trim edge)."""
    lines, records = [], []
    for number, ((x, y), degrees, lap, sigma) in enumerate(tucks, 1):
        turn = np.radians(degrees)
        ends = [(x, y), (x + 80 * np.cos(turn), y + 80 * np.sin(turn))]
        tip, end = [back(*place) for place in ends] if moved else ends
        lines.append(
            Line(
                id=f"L{number}",
                role="slit",
                role_confidence=1.0,
                points=(tip, end),
                width=0.5,
                sigma=0.1,
            )
        )
        sure = LapAt(depth=0.0, lap=0.0, sigma=0.01)
        records.append(
            Tuck(
                id=f"T{number}",
                kind="slit",
                tip=tip,
                slit=f"L{number}",
                lap_line=None,
                stations=(),
                profile=(sure, LapAt(depth=60.0, lap=lap, sigma=sigma)),
                lap_at_trim=lap,
            )
        )
    return Pattern(name="p", outline=((0.0, 0.0),), lines=tuple(lines), tucks=tuple(records))


def test_a_pair_is_the_others_lap_less_ours_at_the_trim_edge():
    ours, theirs = tucked(((200, 50), 0, 6.0, 0.3)), tucked(((203, 54), 0, 4.5, 0.4), moved=True)
    (pair,) = pairs_of(ours, theirs, TURN)
    assert (pair.tuck, pair.other, pair.laps) == ("T1", "T1", (6.0, 4.5))
    assert pair.off == pytest.approx(-1.5) and pair.sigma == pytest.approx(0.5)
    assert pair.tip_mm == pytest.approx(5)


@pytest.mark.parametrize(("degrees", "alike"), [(22, True), (-22, True), (28, False), (180, False)])
def test_a_pair_runs_the_same_way(degrees, alike):
    ours = tucked(((200, 50), 40, 6.0, 0.3))
    pairs = pairs_of(ours, tucked(((200, 50), 40 + degrees, 6.0, 0.3), moved=True), TURN)
    assert len(pairs) == (1 if alike else 2)


def test_tucks_close_together_pair_so_that_their_tips_lie_nearest():
    ours = tucked(((200, 50), 0, 6.0, 0.1), ((210, 50), 0, 7.0, 0.1))
    theirs = tucked(((211, 50), 0, 7.2, 0.1), ((201, 50), 0, 6.2, 0.1), moved=True)
    assert [(pair.tuck, pair.other) for pair in pairs_of(ours, theirs, TURN)] == [
        ("T1", "T2"),
        ("T2", "T1"),
    ]


def test_a_tuck_that_one_has_alone_keeps_its_lap_on_its_side():
    ours = tucked(((200, 50), 0, 6.0, 0.1))
    theirs = tucked(((300, 90), 0, 4.0, 0.1), moved=True)
    mine, yours = pairs_of(ours, theirs, TURN)
    assert (mine.tuck, mine.other, mine.laps[0]) == ("T1", None, 6.0) and np.isnan(mine.laps[1])
    assert (yours.tuck, yours.other, yours.laps[1]) == (None, "T1", 4.0)
    assert np.isnan(yours.laps[0]) and np.isnan(yours.off)
    (alone,) = pairs_of(tucked(), theirs, TURN)
    assert (alone.tuck, alone.other) == (None, "T1")
