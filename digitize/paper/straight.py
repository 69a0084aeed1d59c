"""Straight sides of an edge, and the corner in which two of them meet."""

import numpy as np
from numpy.typing import NDArray

from digitize.plane import cross

Floats = NDArray[np.float64]
STEP_MM = 2.0  # from point to point of an edge
LED_MM = 60.0, 30.0, 16.0  # of edge on either side, by which it is carried on
STRAIGHT_MM = 1.2  # so far off a straight line a side's points may lie
LEAST_CORNER_DEG = 25.0


def meeting(points: Floats, first: int, last: int) -> Floats | None:
    """(2,) where the straight sides before and after a run of a ring meet; None if they do not."""
    count = len(points)
    for led_mm in LED_MM:
        led = round(led_mm / STEP_MM)
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
    middle = points.mean(axis=0)
    _, _, axes = np.linalg.svd(points - middle)
    if np.abs((points - middle) @ axes[1]).max() > STRAIGHT_MM:
        return None
    way = axes[0] if axes[0] @ (points[-1] - points[0]) > 0 else -axes[0]
    return middle, way
