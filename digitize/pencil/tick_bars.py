"""Whether a tick stands where one is awaited: bars of its length and breadth, laid on the paper.

In every place and lean of a window a bar is laid, and how much darker it is on the best one than
beside it is the window's score (a matched filter: G. L. Turin, "An introduction to matched
filters", IRE Transactions on Information Theory 6, 1960). Bare paper scores too, by its grain and
specks. As its score is the best of many, it is Gumbel's (E. J. Gumbel, Statistics of Extremes,
1958), which windows of bare paper tell.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import lru_cache

import cv2
import numpy as np
from numpy.typing import NDArray

from digitize.floor import values_at
from digitize.pencil.ridges import DarknessAt
from digitize.pencil.thresholds import (
    BAR_CELL_MM,
    BAR_CLEAR_MM,
    BAR_GROUND_MM,
    BAR_HIDDEN,
    BAR_LEANS,
    BAR_PLAIN,
)

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]
Shares = NDArray[np.float32]


@dataclass(frozen=True)
class Bar:
    """A row's usual tick: its length and width, mm, and by how much it is darker than beside it."""

    length_mm: float
    width_mm: float
    darkness: float


@dataclass(frozen=True)
class Window:
    """Where a tick is awaited: its place (2,) and the way of the row there (2,), of length 1.

    ``ahead_mm``, ``aside_mm`` : how far its middle may lie from there, along the row and across.
    """

    place: Floats
    way: Floats
    ahead_mm: float
    aside_mm: float


@dataclass(frozen=True)
class Best:
    """The best bar of a window.

    Attributes
    ----------
    score : as darkness. ends : (2, 2) mm.
    beside_mark : another mark hides the ground on one of its sides.
    """

    score: float
    ends: Floats
    beside_mark: bool


def best_in(
    window: Window, bar: Bar, darkness_at: DarknessAt, taken: Callable[[Floats], Flags]
) -> Best | None:
    """The best bar that lies in a window, or None where the paper ends or other marks hide it.

    What is darker than the row's own ticks counts as these do, so that a speck makes no tick; what
    other marks hide counts for nothing, and the darker of both sides is the ground, so that no
    edge makes one.

    Parameters
    ----------
    taken : whether places (..., 2) lie on other marks.
    """
    grid = _grid(window.ahead_mm, window.aside_mm, bar.length_mm, bar.width_mm)
    axes = np.array([window.way, [-window.way[1], window.way[0]]])
    places = window.place + grid.off @ axes
    dark = darkness_at(places).astype(np.float32)
    if (dark == 0.0).any():
        return None  # off the paper
    free = (~taken(places)).astype(np.float32)
    hidden = 1 - (free * grid.inside).sum(axis=(0, 1)) / grid.inside.sum(axis=(0, 1))
    if (hidden > BAR_HIDDEN).any():
        return None
    more, both_sides = _darker(dark, free, bar)
    scores = _along_whole(more, bar)
    at = np.unravel_index(np.argmax(np.where(grid.inside, scores, -np.inf)), scores.shape)
    lean = BAR_LEANS[at[2]]
    half = bar.length_mm / 2 * np.array([-np.sin(lean), np.cos(lean)]) @ axes
    middle = window.place + grid.off[at] @ axes
    return Best(float(scores[at]), np.array([middle - half, middle + half]), not both_sides[at])


@dataclass(frozen=True)
class Bars:
    """Where bars lie: their middles in U steps across the row, V along it and L leans.

    ``off`` : (U, V, L, 2) mm from the window's place, along the row and across.
    ``inside`` : (U, V, L) whether that is within the window.
    """

    off: Floats
    inside: Flags


@lru_cache(maxsize=4)
def _grid(ahead_mm: float, aside_mm: float, length_mm: float, width_mm: float) -> Bars:
    """The grid of a window so large, for a bar so long and wide; most windows are alike."""
    along = _cells(ahead_mm + width_mm / 2 + BAR_GROUND_MM[1])
    across = _cells(aside_mm + length_mm / 2)[:, None, None]
    cos, sin = np.cos(BAR_LEANS), np.sin(BAR_LEANS)
    ahead = along[:, None] * cos - across * sin
    aside = along[:, None] * sin + across * cos
    inside = (np.abs(ahead) <= ahead_mm) & (np.abs(aside) <= aside_mm)
    return Bars(np.stack([ahead, aside], axis=-1), inside)


def _cells(reach_mm: float) -> Floats:
    """Places to either side of nothing, mm, BAR_CELL_MM apart."""
    count = int(np.ceil(reach_mm / BAR_CELL_MM))
    return np.arange(-count, count + 1, dtype=float) * BAR_CELL_MM


def _count(long_mm: float) -> int:
    return max(round(long_mm / BAR_CELL_MM), 1)


def _meaned(values: Shares, high: int, wide: int) -> Shares:
    """(U, V, L) means over so many rows and columns about each place."""
    return np.asarray(cv2.blur(values, (wide, high), borderType=cv2.BORDER_REFLECT), np.float32)


def _along_whole(more: Shares, bar: Bar) -> Shares:
    """(U, V, L) means along bars but for the darkest third, in which a speck would be."""
    third = _count(bar.length_mm / 3)
    means = _meaned(more, third, 1)
    thirds = [np.roll(means, by * third, axis=0) for by in (-1, 0, 1)]
    return np.asarray((sum(thirds) - np.maximum.reduce(thirds)) / 2)


def _darker(dark: Shares, free: Shares, bar: Bar) -> tuple[Shares, Flags]:
    """By how much a bar along the first axis is darker than beside, and whether both sides show.

    Both (U, V, L), at each place.
    """
    near, far = (bar.width_mm / 2 + beyond for beyond in BAR_GROUND_MM)
    wide, flank, long = _count(bar.width_mm), _count(far - near), _count(bar.length_mm)
    on = _meaned(dark, 1, wide)
    clear = _meaned(free, 1, wide) > 1 - 1e-3
    shares = _meaned(free, long, flank)
    known = shares > BAR_HIDDEN
    sums = _meaned(dark * free, long, flank)
    ground = np.where(known, sums / np.where(known, shares, 1.0), -np.inf)
    shift = round((near + far) / 2 / BAR_CELL_MM)
    sides = [np.roll(ground, side * shift, axis=1) for side in (1, -1)]
    darker_side = np.maximum(*sides)
    clear &= np.isfinite(darker_side)
    more = np.where(clear, on - darker_side, 0.0)
    more = np.asarray(np.minimum(more, BAR_PLAIN * bar.darkness), np.float32)
    return more, np.isfinite(np.minimum(*sides))


@dataclass(frozen=True)
class Blank:
    """What windows of bare paper score.

    Attributes
    ----------
    scores : (N,) of some of them, in order.
    mode, scale : of Gumbel's distribution, as their median and quartiles have it. A tick among
        them, that no row is known of, counts for little there.
    """

    scores: Floats
    mode: float
    scale: float

    def chance(self, score: float) -> float:
        """The chance that a window of bare paper scores so much, or more."""
        return float(-np.expm1(-np.exp(-(score - self.mode) / self.scale)))

    def share(self, score: float) -> float:
        """The same by how many of the windows did: never less than one in all and this one."""
        more = len(self.scores) - int(np.searchsorted(self.scores, score))
        return (1 + more) / (1 + len(self.scores))


def blank_of(scores: Sequence[float]) -> Blank:
    """What bare paper scores, by some of its windows.

    The share p of Gumbel's distribution, of mode m and scale b, lies below m - b ln(-ln p).
    """
    low, middle, high = np.quantile(scores, [0.25, 0.5, 0.75])
    scale = float(high - low) / float(np.log(np.log(4.0)) - np.log(np.log(4.0 / 3.0)))
    mode = float(middle) + scale * float(np.log(np.log(2.0)))
    return Blank(np.sort(scores), mode, max(scale, 1e-9))


def taken_by(marks: Sequence[Floats]) -> Callable[[Floats], Flags]:
    """Whether places (..., 2), mm, lie within BAR_CLEAR_MM of marks (N, 2)."""
    if not marks:
        return lambda places: np.zeros(places.shape[:-1], bool)
    every = np.concatenate(marks)
    cell = BAR_CELL_MM
    low = every.min(axis=0) - 2 * BAR_CLEAR_MM
    size = np.ceil((every.max(axis=0) + 2 * BAR_CLEAR_MM - low) / cell).astype(int) + 1
    drawn = np.zeros(size[::-1], np.float32)
    for mark in marks:
        at = np.round((mark - low) / cell * 16).astype(np.int32)
        cv2.polylines(drawn, [at], False, 1, round(2 * BAR_CLEAR_MM / cell), cv2.LINE_8, 4)

    def taken(places: Floats) -> Flags:
        at = ((places - low) / cell).astype(np.float32)
        return np.asarray(values_at(drawn, at[..., 0], at[..., 1]) > 0.5)

    return taken
