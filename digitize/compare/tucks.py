"""Two patterns' tucks, one against the other."""

import math
from dataclasses import dataclass

import numpy as np
from scipy.optimize import linear_sum_assignment

from digitize.plane import Placement
from digitize.record import Pattern, Tuck

SAME_TIP_MM = 15.0  # slits are cut by eye: a tip so near is that of the same one
SAME_WAY_DEG = 25.0


@dataclass(frozen=True)
class TuckPair:
    """A tuck and its counterpart by their ids, None where there is none.

    ``laps`` are both at the trim edge, ``off`` the other's less ours with its standard deviation,
    all mm; ``tip_mm`` is how far apart their tips are.
    """

    tuck: str | None
    other: str | None
    laps: tuple[float, float]
    off: float
    sigma: float
    tip_mm: float


def pairs_of(pattern: Pattern, other: Pattern, placement: Placement) -> tuple[TuckPair, ...]:
    """Tucks that lie alike, in the pattern's order, then those that only the other has."""
    ours, theirs = pattern.tucks, other.tucks
    if not ours or not theirs:
        found: dict[int, int] = {}
        apart = np.zeros((len(ours), len(theirs)))
    else:
        tips = placement(np.array([tuck.tip for tuck in theirs]))
        apart = np.linalg.norm(np.array([t.tip for t in ours])[:, None] - tips, axis=2)
        ways = np.array([_way(pattern, tuck, None) for tuck in ours])
        other_ways = np.array([_way(other, tuck, placement) for tuck in theirs])
        alike = (apart < SAME_TIP_MM) & (ways @ other_ways.T > np.cos(np.radians(SAME_WAY_DEG)))
        rows, columns = linear_sum_assignment(np.where(alike, apart, 1e6))
        found = {int(r): int(c) for r, c in zip(rows, columns, strict=True) if alike[r, c]}
    pairs = [
        _pair(tuck, theirs[found[index]], float(apart[index, found[index]]))
        if index in found
        else TuckPair(tuck.id, None, (tuck.lap_at_trim, np.nan), np.nan, np.nan, np.nan)
        for index, tuck in enumerate(ours)
    ]
    pairs += [
        TuckPair(None, tuck.id, (np.nan, tuck.lap_at_trim), np.nan, np.nan, np.nan)
        for index, tuck in enumerate(theirs)
        if index not in found.values()
    ]
    return tuple(pairs)


def _way(pattern: Pattern, tuck: Tuck, placement: Placement | None) -> tuple[float, float]:
    """The unit vector from a tuck's tip outwards, laid on the other pattern if asked."""
    ends = np.array([tuck.tip, pattern.line(tuck.slit).points[-1]])
    if placement is not None:
        ends = placement(ends)
    way = ends[1] - ends[0]
    way /= np.linalg.norm(way) + 1e-12
    return float(way[0]), float(way[1])


def _pair(tuck: Tuck, other: Tuck, tip_mm: float) -> TuckPair:
    sigmas = [each.profile[-1].sigma if each.profile else 0.0 for each in (tuck, other)]
    laps = tuck.lap_at_trim, other.lap_at_trim
    return TuckPair(tuck.id, other.id, laps, laps[1] - laps[0], math.hypot(*sigmas), tip_mm)
