"""Straight sides of an edge, and the corner in which two of them meet."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from digitize.paper.thresholds import (
    LEAST_CORNER_DEG,
    STRAIGHT_LED_MM,
    STRAIGHT_MM,
    STRAIGHT_STEP_MM,
)
from digitize.plane import cross

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Lines:
    """Middles (R, 2) and directions (R, 2) of lines, and which (R,) are too bent to be any."""

    middles: Floats
    ways: Floats
    bent: NDArray[np.bool_]


def meeting(points: Floats, first: int, last: int) -> Floats | None:
    """(2,) where the straight sides before and after a run of a ring meet; None if they do not."""
    count = len(points)
    for led_mm in STRAIGHT_LED_MM:
        led = round(led_mm / STRAIGHT_STEP_MM)
        one = straight(points[np.arange(first - led, first - 2) % count])
        two = straight(points[np.arange(last + 2, last + led) % count])
        if one is None or two is None:
            continue
        (at, way), (there, other) = one, two
        lean = float(cross(way, other))
        if abs(lean) > np.sin(np.radians(LEAST_CORNER_DEG)):
            return np.asarray(at + way * (cross(there - at, other) / lean))
    return None


def straight(points: Floats) -> tuple[Floats, Floats] | None:
    """The middle and direction of points along a straight line; None if they are not."""
    lines = lines_of(points[None])
    return None if lines.bent[0] else (lines.middles[0], lines.ways[0])


def lines_of(runs: Floats) -> Lines:
    """The lines along many runs of as many points (R, N, 2)."""
    middles = runs.mean(axis=1)
    off = runs - middles[:, None]
    # Of two axes the longer has twice the angle that the sums of products have.
    x, y = off[..., 0], off[..., 1]
    lean, skew = (x * x - y * y).sum(axis=1), 2 * (x * y).sum(axis=1)
    turn = np.arctan2(skew, lean) / 2
    ways = np.stack([np.cos(turn), np.sin(turn)], axis=1)
    bent = np.abs(cross(ways[:, None], off)).max(axis=1) > STRAIGHT_MM
    ahead = ((runs[:, -1] - runs[:, 0]) * ways).sum(axis=1) > 0
    ways[~ahead] *= -1
    return Lines(middles, ways, bent)
