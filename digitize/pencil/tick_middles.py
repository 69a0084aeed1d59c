"""Where ticks' middles lie: half way between the ends of what pencil shows along each.

A light hand's tick shows in pieces, on the paper's tooth, and a trace ends with the first of them.
How little pencil still counts as the tick's is told by the paper's own grain beyond ticks' ends,
and so is how well its ends are.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import uniform_filter1d

from digitize.pencil.ridges import DarknessAt
from digitize.pencil.thresholds import (
    BAR_CELL_MM,
    BAR_GROUND_MM,
    BAR_PLAIN,
    MIDDLES_BEYOND_MM,
    MIDDLES_BLOT_MM,
    MIDDLES_BODY,
    MIDDLES_CLEAR_MM,
    MIDDLES_DOUBT_MM,
    MIDDLES_GRAIN,
    MIDDLES_GROUND_ALONG_MM,
    MIDDLES_LEAST_SHARE,
    MIDDLES_MOST_DOUBT_MM,
    MIDDLES_MOST_SHARE,
    MIDDLES_SWAY_MM,
)
from digitize.plane import robust_sigma

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]


@dataclass(frozen=True)
class Middle:
    """A tick's middle.

    Attributes
    ----------
    place : (2,) mm. sigma : mm, to which the tick's pencil tells that.
    length : of what shows of the tick, mm.
    """

    place: Floats
    sigma: float
    length: float


def middles_of(
    ticks: Sequence[Floats],
    width_mm: float,
    darkness_at: DarknessAt,
    taken: Callable[[Floats], Flags],
    grain: float,
) -> tuple[Middle, ...]:
    """The middles of ticks by the ends (2, 2) of what was traced of each.

    A tick ends where the sum of what exceeds a share of its own darkness is highest: the share that
    keeps such a sum on bare paper, of that grain, from running on. The less a tick is darker than
    the grain, the farther off that place may be.

    Parameters
    ----------
    taken : whether places (..., 2) lie on other marks.
    """
    middles = []
    for ends in ticks:
        at, over = _along(ends, width_mm, darkness_at, taken)
        half = float(np.linalg.norm(ends[1] - ends[0])) / 2
        body = float(over[np.abs(at) < MIDDLES_BODY * half].mean())
        share = MIDDLES_GRAIN * grain / max(body, 1e-6)
        share = float(np.clip(share, MIDDLES_LEAST_SHARE, MIDDLES_MOST_SHARE))
        more = np.minimum(over, BAR_PLAIN * body) - share * body
        start = len(at) // 2
        last = at[start + int(np.argmax(np.cumsum(more[start:])))]
        first = at[start - int(np.argmax(np.cumsum(more[start::-1])))]
        way = (ends[1] - ends[0]) / (2 * half)
        sigma = min(MIDDLES_DOUBT_MM * grain / max(body, 1e-6), MIDDLES_MOST_DOUBT_MM)
        place = ends.mean(axis=0) + (first + last) / 2 * way
        middles.append(Middle(place, sigma, float(last - first)))
    return tuple(middles)


def grain_beyond(
    ticks: Sequence[Floats],
    width_mm: float,
    darkness_at: DarknessAt,
    taken: Callable[[Floats], Flags],
) -> float:
    """How far darkness scatters where ticks, by their ends (2, 2), have ended."""
    beyond = []
    for ends in ticks:
        at, over = _along(ends, width_mm, darkness_at, taken)
        half = float(np.linalg.norm(ends[1] - ends[0])) / 2
        beyond.append(over[np.abs(at) > half + MIDDLES_CLEAR_MM])
    return robust_sigma(np.concatenate(beyond))


def _along(
    ends: Floats, width_mm: float, darkness_at: DarknessAt, taken: Callable[[Floats], Flags]
) -> tuple[Floats, Floats]:
    """(U,) mm from a tick's middle along it and beyond, and (U,) how much darker than beside it.

    Of what is within the reach of a hand's sway the darkest counts, less what that makes of bare
    paper. On other marks nothing shows.
    """
    run = ends[1] - ends[0]
    half = float(np.linalg.norm(run)) / 2
    way = run / (2 * half)
    count = int(np.ceil((half + MIDDLES_BEYOND_MM) / BAR_CELL_MM))
    at = np.arange(-count, count + 1, dtype=float) * BAR_CELL_MM
    reach = width_mm / 2 + MIDDLES_SWAY_MM
    far = reach + BAR_GROUND_MM[1]
    side = np.arange(-np.ceil(far / BAR_CELL_MM), np.ceil(far / BAR_CELL_MM) + 1) * BAR_CELL_MM
    left = np.array([-way[1], way[0]])
    places = ends.mean(axis=0) + at[:, None, None] * way + side[:, None] * left
    dark = darkness_at(places)
    dark = np.where(taken(places), np.median(dark), dark)
    wide = max(round(width_mm / BAR_CELL_MM), 1)
    on = np.sort(dark[:, np.abs(side) <= reach], axis=1)[:, -wide:].mean(axis=1)
    grounds = [
        np.median(dark[:, sign * side > reach + BAR_GROUND_MM[0]], axis=1) for sign in (-1, 1)
    ]
    along = round(MIDDLES_GROUND_ALONG_MM / BAR_CELL_MM)
    ground = uniform_filter1d(np.maximum(*grounds), along)
    # A blot is as dark on both sides.
    blot = uniform_filter1d(np.minimum(*grounds), round(MIDDLES_BLOT_MM / BAR_CELL_MM))
    over = on - np.maximum(ground, blot)
    bare = np.median(over[np.abs(at) > half + MIDDLES_CLEAR_MM])
    return at, np.asarray(over - max(float(bare), 0.0))
