"""Places where an edge leaves its straight line and comes back to it.

Paper off a roll has straight edges. Where something dark lies over one on a dark floor, a cable
say, the edge seems to run round it, and looks like an edge.
"""

import numpy as np
from numpy.typing import NDArray

from digitize.paper.straight import STEP_MM, STRAIGHT_MM, straight
from digitize.plane import cross

Floats = NDArray[np.float64]
LED_MM = 30.0  # of straight edge on either side
DEEP_MM, SOON_MM, LONGEST_MM = 3.0, 16.0, 200.0
ASIDE = 0.02  # of its length, beside what a straight side's points may lie off


def dents_of(points: Floats) -> list[tuple[int, int]]:
    """First and one past the last place of each dent or bulge of a ring in even steps.

    The last may lie past the ring's end.
    """
    count, led = len(points), round(LED_MM / STEP_MM)
    soon, longest = round(SOON_MM / STEP_MM), round(LONGEST_MM / STEP_MM)
    ring = np.concatenate([points[count - led :], points, points, points[: led + soon]])
    lines = [straight(ring[first : first + led]) for first in range(count + led + longest)]
    found: list[tuple[int, int]] = []
    for first in range(count):
        # One that begins with the next place as well begins there.
        line = lines[first]
        if line is None or not _leaves(ring[first + led : first + led + soon], line):
            continue
        after = lines[first + 1]
        if after is not None and _leaves(ring[first + 1 + led : first + 1 + led + soon], after):
            continue
        for last in range(first + soon // 2, first + longest):
            back = lines[last + led] if last + led < len(lines) else None
            if back is not None and _on(back, line):
                found.append((first, last))
                break
    return found


def _leaves(points: Floats, line: tuple[Floats, Floats]) -> bool:
    at, way = line
    return bool(np.abs(cross(points - at, way)).max() > DEEP_MM)


def _on(other: tuple[Floats, Floats], line: tuple[Floats, Floats]) -> bool:
    """Whether a straight side lies on a line, both ways, and goes on as it does."""
    (at, way), (there, along) = line, other
    allowed = STRAIGHT_MM + ASIDE * float(np.hypot(*(there - at)))
    aside = abs(cross(there - at, way)), abs(cross(there - at, along))
    return bool(way @ along > 0 and max(aside) < allowed)
