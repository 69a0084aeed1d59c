"""Lines that are seen to be there but are too faint to be followed from place to place.

Along a line of a few millimetres the ridge filter's strength is averaged, of what runs that way
alone: noise goes down with the root of the length, and a line does not. What stands out so for some
way is no chance; what it is, and where it ends, is too little sure to be read as a line.
"""

from collections.abc import Sequence
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from digitize.floor import Grid
from digitize.pencil.ridges import ANGLES, RidgeMap
from digitize.pencil.thresholds import (
    UNFOLLOWED_APART_MM,
    UNFOLLOWED_FEWEST_MM,
    UNFOLLOWED_LEAST_MM,
    UNFOLLOWED_MOST,
    UNFOLLOWED_NOISE,
    UNFOLLOWED_OVER_MM,
    UNFOLLOWED_SHRINK,
    UNFOLLOWED_TURN,
    UNFOLLOWED_TURNS,
)

Doubles = NDArray[np.float64]
Floats = NDArray[np.float32]


def unfollowed_places(
    ridges: RidgeMap, rim: Sequence[Doubles], followed: Sequence[Doubles]
) -> Doubles:
    """(M, 2) places, mm, along lines that are there and were not followed.

    Parameters
    ----------
    rim : rings round the paper that is looked at.
    followed : (N, 2) the lines that were, mm; near to these nothing is looked for.
    """
    strength, direction, grid = _strongest(ridges)
    looked_at = np.zeros(strength.shape, np.uint8)
    cv2.fillPoly(looked_at, [_pixels(ring, grid) for ring in rim], 1)
    thick = max(round(2 * UNFOLLOWED_APART_MM / grid.mm_per_px), 1)
    cv2.polylines(looked_at, [_pixels(line, grid) for line in followed], False, 0, thick)
    # One dark speck is no line.
    told = np.clip(strength, -UNFOLLOWED_MOST, UNFOLLOWED_MOST) * looked_at
    best = np.zeros(strength.shape, np.float32)
    for turn in np.pi * np.arange(UNFOLLOWED_TURNS) / UNFOLLOWED_TURNS:
        apart = np.abs((direction - turn + np.pi / 2) % np.pi - np.pi / 2)
        along = np.where(apart < UNFOLLOWED_TURN, told, 0).astype(np.float32)
        np.maximum(best, cv2.filter2D(along, -1, _bar(turn, grid.mm_per_px)), out=best)
    seen = ((best > UNFOLLOWED_NOISE) & (looked_at > 0)).astype(np.uint8)
    count, label, boxes, _ = cv2.connectedComponentsWithStats(seen, connectivity=8)
    length = np.hypot(boxes[:, 2], boxes[:, 3]) * grid.mm_per_px
    long_enough = (length >= UNFOLLOWED_LEAST_MM) & (np.arange(count) > 0)
    if length[long_enough].sum() < UNFOLLOWED_FEWEST_MM:
        return np.zeros((0, 2))
    rows, columns = np.nonzero(long_enough[label])
    return grid.to_mm(np.stack([columns, rows], axis=1))


def _strongest(ridges: RidgeMap) -> tuple[Floats, Floats, Grid]:
    """The ridge map at fewer pixels: strength and direction of the strongest of each block."""
    rows, columns = (length // UNFOLLOWED_SHRINK for length in ridges.strength.shape)

    def blocks(values: NDArray[Any]) -> NDArray[Any]:
        kept = values[: rows * UNFOLLOWED_SHRINK, : columns * UNFOLLOWED_SHRINK]
        parts = kept.reshape(rows, UNFOLLOWED_SHRINK, columns, UNFOLLOWED_SHRINK).swapaxes(1, 2)
        return parts.reshape(rows, columns, UNFOLLOWED_SHRINK**2)

    strength, direction = blocks(ridges.strength), ANGLES[blocks(ridges.direction)]
    best = strength.argmax(axis=2)[..., None]
    step = ridges.grid.mm_per_px
    grid = Grid(
        ridges.grid.left + (UNFOLLOWED_SHRINK - 1) / 2 * step,
        ridges.grid.top - (UNFOLLOWED_SHRINK - 1) / 2 * step,
        UNFOLLOWED_SHRINK * step,
    )
    one, other = (np.take_along_axis(each, best, axis=2)[..., 0] for each in (strength, direction))
    return one, other, grid


def _bar(turn: float, mm_per_px: float) -> Floats:
    """(n, n) an average along a line; rows go down as angles go up."""
    half = max(round(UNFOLLOWED_OVER_MM / mm_per_px / 2), 1)
    bar = np.zeros((2 * half + 1, 2 * half + 1), np.float32)
    reach = np.round(half * np.array([np.cos(turn), -np.sin(turn)])).astype(int)
    cv2.line(bar, (half - reach).tolist(), (half + reach).tolist(), 1.0)
    return np.asarray(bar / bar.sum(), np.float32)


def _pixels(points: Doubles, grid: Grid) -> NDArray[np.int32]:
    return np.round(grid.to_px(points)).astype(np.int32)
