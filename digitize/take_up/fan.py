"""Tucks side by side, as one fan: curves of equal depth across them, and the shrink along those.

Along a curve of equal depth the paper measures L and its tucks take up T, so the finished metal
measures L - T. A tuck's lap belongs to the paper half way to its neighbours; beyond the outermost
tucks no shrinking is needed (common practice, no source), so their share ends half a spacing on.
Within that the take-up, summed along the curve, is carried through those half-way places by a
smooth curve that never turns back (F. N. Fritsch and R. E. Carlson, "Monotone piecewise cubic
interpolation", SIAM J. Numer. Anal. 17, 1980). Its slope is the local shrink: it gives back every
lap, and needs no direction but that of the tucks.
"""

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import PchipInterpolator

from digitize.plane import cross, places_along, running_length
from digitize.record import Pattern, Tuck
from digitize.take_up.smooth_laps import LapCurve, lap_of

Floats = NDArray[np.float64]
STEPS = 24  # between two tucks; even
HALF = STEPS // 2
HEADING_MM = 10.0
SHARE_BEYOND = 0.5  # of a spacing, that an outermost tuck's share goes on past it
LONE_SHARE = 0.3  # of a tuck's length, to either side of one that has no neighbour
SHORTEST_ROW_MM = 1.0
MOST_TURN = math.radians(150.0)


@dataclass(frozen=True)
class Fan:
    """Neighbouring tucks.

    Attributes
    ----------
    spines : (N, 2) each, from tip to the paper's edge, mm.
    laps : each tuck's smooth lap.
    tips, trims : (T,) depth of each tip, and of the trim edge there, from the curve that crosses
        all tucks square and touches the innermost tip.
    closed : whether the last tuck is the first one's neighbour too.
    """

    spines: tuple[Floats, ...]
    laps: tuple[LapCurve, ...]
    tips: Floats
    trims: Floats
    closed: bool

    @property
    def seams(self) -> NDArray[np.int64]:
        """Columns of a row at which the tucks lie."""
        return HALF + STEPS * np.arange(len(self.spines))

    @property
    def edges(self) -> NDArray[np.int64]:
        """Columns of a row half way between the tucks, and its two ends."""
        return STEPS * np.arange(len(self.spines) + 1)

    def row(self, depths: Floats) -> Floats:
        """(M, 2) the curve across the tucks at a depth for each (T,)."""
        return np.asarray(self.rows(depths[None])[0])

    def rows(self, depths: Floats, beyond: float = SHARE_BEYOND) -> Floats:
        """(R, M, 2) curves across the tucks at a depth for each (R, T).

        Parameters
        ----------
        beyond : how far they go on past the outermost tucks of an open fan, in spacings.
        """
        own = (depths - self.tips).T
        placed = [_places(spine, depth) for spine, depth in zip(self.spines, own, strict=True)]
        if self.closed and len(placed) == 1:
            return self._round(depths[:, 0])
        gaps = [_arc(one, two) for one, two in itertools.pairwise(placed)]
        if self.closed:
            around = _arc(placed[-1], placed[0])
            first, last = around[:, HALF:], around[:, : HALF + 1]
        else:
            share = np.linspace(0, beyond, HALF + 1)[:, None]
            first = placed[0][0][:, None] - self._reach(placed, gaps, 0)[:, None] * share[::-1]
            last = placed[-1][0][:, None] + self._reach(placed, gaps, -1)[:, None] * share
        return np.concatenate([first[:, :-1], *(gap[:, :-1] for gap in gaps), last], axis=1)

    def _round(self, depths: Floats) -> Floats:
        """(R, M, 2) circles about the only tip, begun and ended across from the tuck."""
        spine = self.spines[0]
        way = math.atan2(*(spine[-1] - spine[0])[::-1])
        turn = way + np.linspace(-math.pi, math.pi, STEPS + 1)
        circle = np.column_stack([np.cos(turn), np.sin(turn)])
        return np.asarray(spine[0] + depths[:, None, None] * circle)

    def _reach(self, placed: list[tuple[Floats, Floats]], gaps: list[Floats], end: int) -> Floats:
        """(R, 2) a spacing on beyond an outermost tuck, square to it."""
        ahead = placed[end][1]
        # To the right of a tuck, seen from its tip, where the tucks run counter-clockwise.
        onward = np.column_stack([-ahead[:, 1], ahead[:, 0]])
        if not gaps:
            return np.asarray(2 * LONE_SHARE * float(self.trims[0] - self.tips[0]) * onward)
        gap = gaps[end]
        along = (onward * (gap[:, -1] - gap[:, 0])).sum(axis=1)
        return np.asarray(np.copysign(running_length(gap)[:, -1], along)[:, None] * onward)

    def take_up(self, depths: Floats) -> Floats:
        """(..., T) each tuck's lap at a depth for each (..., T), mm; none short of its tip."""
        own = np.moveaxis(np.maximum(depths - self.tips, 0.0), -1, 0)
        laps = [lap.at(depth.ravel())[0] for lap, depth in zip(self.laps, own, strict=True)]
        return np.stack(laps, axis=-1).reshape(depths.shape)

    def shrinks(self, depths: Floats) -> Floats:
        """(R, M) the local shrink (a ratio) along rows at a depth for each tuck (R, T)."""
        rows = zip(running_length(self.rows(depths)), self.take_up(depths), strict=True)
        return np.array([self.spread_out(along, laps) for along, laps in rows])

    def spread_out(self, course: Floats, laps: Floats) -> Floats:
        """(M,) how fast the take-up grows with what is gone along a row (M,), so that every lap
        (T,) is given back.
        """
        if course[-1] < SHORTEST_ROW_MM:  # round a lone tip
            return np.zeros(len(course))
        places, total = course[self.edges], np.append(0.0, np.cumsum(laps))
        if self.closed:
            span, whole = places[-1], total[-1]
            places = np.concatenate([places[:-1] - span, places, places[1:] + span])
            total = np.concatenate([total[:-1] - whole, total, total[1:] + whole])
        return np.asarray(PchipInterpolator(places, total)(course, 1))


def fan_of(pattern: Pattern, tucks: Sequence[Tuck], closed: bool) -> Fan:
    """The fan of neighbouring tucks, given in order along the paper's edge."""
    spines = [np.array(pattern.line(tuck.slit).points) for tuck in tucks]
    depths = [tuck.depth_at_trim for tuck in tucks]
    tips = [0.0]
    for one, two, depth in zip(spines[:-1], spines[1:], depths, strict=False):
        tips.append(tips[-1] + depth - _across_at(one, two, depth))
    first = np.array(tips) - min(tips)
    return Fan(
        tuple(spines),
        tuple(lap_of(tuck) for tuck in tucks),
        first,
        first + np.array(depths),
        closed,
    )


def _across_at(one: Floats, two: Floats, depth: float) -> float:
    """Depth on the second spine of the place that an arc square to both meets from the first."""
    place, ahead = _places(one, np.array([depth]))
    depths = np.arange(-0.5 * depth, 2.0 * depth + 1.0, 2.0)
    there, onward = _places(two, depths)
    # The chord of such an arc leans as far forward on one as back on the other.
    lean = ((there - place) * (ahead + onward)).sum(axis=1)
    crossing = np.flatnonzero((lean[:-1] < 0) & (lean[1:] >= 0))
    if not len(crossing):
        return depth
    k = int(crossing[0])
    return float(depths[k] - lean[k] * (depths[k + 1] - depths[k]) / (lean[k + 1] - lean[k]))


def _places(spine: Floats, depths: Floats) -> tuple[Floats, Floats]:
    """(N, 2) places on a spine and the ways on from them; straight on beyond its ends."""
    along = running_length(spine)

    def within(where: Floats) -> Floats:
        return places_along(spine, where, along)

    ends = np.array([0.0, along[-1]])
    out = within(ends) - within(np.clip([HEADING_MM, along[-1] - HEADING_MM], 0.0, along[-1]))
    out /= np.linalg.norm(out, axis=1, keepdims=True) + 1e-12

    def at(where: Floats) -> Floats:
        before, beyond = np.maximum(-where, 0.0), np.maximum(where - along[-1], 0.0)
        return np.asarray(within(where) + before[:, None] * out[0] + beyond[:, None] * out[1])

    run = at(depths + HEADING_MM) - at(depths - HEADING_MM)
    return at(depths), np.asarray(run / (np.linalg.norm(run, axis=1, keepdims=True) + 1e-12))


def _arc(one: tuple[Floats, Floats], two: tuple[Floats, Floats]) -> Floats:
    """(R, STEPS + 1, 2) from one place to the other, square to the ways there; near to an arc.

    A cubic with the tangents that follow a circle best (G. Farin, Curves and Surfaces for CAGD,
    1988).

    Parameters
    ----------
    one, two : places (R, 2) and the ways on from there.
    """
    (a, ahead_a), (b, ahead_b) = one, two
    chord = b - a
    side = np.copysign(1.0, cross(ahead_a, chord))[:, None]
    start = side * np.column_stack([-ahead_a[:, 1], ahead_a[:, 0]])
    end = side * np.column_stack([-ahead_b[:, 1], ahead_b[:, 0]])
    turn = np.abs(np.arctan2(cross(start, end), (start * end).sum(axis=1)))
    turn = np.clip(turn, 1e-6, MOST_TURN)
    length = np.linalg.norm(chord, axis=1)
    reach = (length * 4 * np.tan(turn / 4) / (2 * np.sin(turn / 2)))[:, None]
    t = np.linspace(0, 1, STEPS + 1)[:, None]
    ends = (2 * t**3 - 3 * t**2 + 1) * a[:, None] + (3 * t**2 - 2 * t**3) * b[:, None]
    ways = (t**3 - 2 * t**2 + t) * (reach * start)[:, None] + (t**3 - t**2) * (reach * end)[:, None]
    return np.asarray(ends + ways)
