"""Turning what lies beside a tuck back onto it.

While the paper was pinned, a tuck's one side lay on the other; flat again it is turned away. What
lay together is still as deep in the bend: a curve of equal depth, square to the tucks, leads from
one to the other. Near a tuck that is a circle about its pivot, where the tucks beside it meet its
line; of a lone tuck, a cone's, the pivot is its tip. The lap is the chord of that circle.
"""

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from digitize.tucks.slits import TuckMarks
from digitize.tucks.thresholds import NEIGHBOUR, PIVOTS_FURTHEST_MM

Floats = NDArray[np.float64]


def pivots_of(tucks: Sequence[TuckMarks]) -> list[float]:
    """How far (mm) each tuck's pivot lies behind its tip; the tucks in order along the edge."""
    tips = np.array([marks.main.points[0] for marks in tucks]).reshape(-1, 2)
    ways = np.array([marks.main.points[-1] for marks in tucks]).reshape(-1, 2) - tips
    reach = np.linalg.norm(ways, axis=1)
    ways /= reach[:, None] + 1e-9
    found = []
    for k in range(len(tucks)):
        curvatures = []
        for j in {(k - 1) % len(tucks), (k + 1) % len(tucks)} - {k}:
            chord = tips[j] - tips[k]
            apart = float(np.linalg.norm(chord))
            if apart < NEIGHBOUR * max(reach[j], reach[k]):
                turn = math.acos(float(np.clip(ways[j] @ ways[k], -1, 1)))
                opens = float((ways[j] - ways[k]) @ chord) > 0
                curvatures.append(2 * math.sin(turn / 2) / max(apart, 1e-6) if opens else 0.0)
        level = float(np.mean(curvatures)) if curvatures else math.inf
        found.append(min(1 / level, PIVOTS_FURTHEST_MM) if level > 0 else PIVOTS_FURTHEST_MM)
    return found


def turned_back(depth: Floats, across: Floats, pivot_mm: float) -> tuple[Floats, Floats]:
    """Depths (mm) of places beside a tuck once they are turned back onto it, and their laps.

    Parameters
    ----------
    depth, across : of the places now, along the tuck from its tip and square to it, mm.
    pivot_mm : how far the pivot lies behind the tip.
    """
    radius = np.hypot(pivot_mm + depth, across)
    turn = np.abs(np.arctan2(across, pivot_mm + depth))
    return np.asarray(radius - pivot_mm), np.asarray(2 * radius * np.sin(turn / 2))


def pivot_sigma(depth: Floats, across: Floats, pivot_mm: float) -> Floats:
    """(N,) sigma of laps for what is not known of the pivot, mm.

    A flap that lies by itself turns about its own tip; one held by its neighbours, about theirs.
    Half of what is between the two is taken for the sigma, at one depth: laps are about in
    proportion to it.
    """
    found, tip = turned_back(depth, across, pivot_mm), turned_back(depth, across, 0.0)
    return np.asarray(np.abs(found[1] - tip[1] * found[0] / np.maximum(tip[0], 1e-9)) / 2)
