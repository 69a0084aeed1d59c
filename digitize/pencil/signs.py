"""Signs, which are notes and no lines: numbers in circles, and arrows."""

import itertools
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree
from shapely import LineString, MultiPoint, STRtree

from digitize.pencil.curves import Curve
from digitize.pencil.thresholds import (
    AT_TIP_MM,
    BARB_MM,
    BARB_SHARE,
    BARB_TURN,
    FEWEST_WITHIN,
    LIKE_BARB,
    ONE_WITHIN,
    OPEN,
    RING_MM,
    ROUND,
    SHAFT_MM,
    SIGN_FREE_MM,
    SIGN_LINE_MM,
    SIGN_STRAIGHT,
)

Floats = NDArray[np.float64]


def signs_among(curves: Sequence[Curve]) -> NDArray[np.int64]:
    """Which marks are circles round numbers, what is within these, and arrows."""
    found = {*_circled(curves), *_arrows(curves)}
    return np.array(sorted(found), int)


def _circled(curves: Sequence[Curve]) -> set[int]:
    """Circles with other marks within them, and those marks.

    A round hole has nothing within it, or a cross that marks its middle.
    """
    if not curves:
        return set()
    low = np.array([curve.points.min(axis=0) for curve in curves])
    high = np.array([curve.points.max(axis=0) for curve in curves])
    found: set[int] = set()
    for index, curve in enumerate(curves):
        gap = 0.0 if curve.closed else float(np.linalg.norm(curve.points[0] - curve.points[-1]))
        if gap > OPEN * curve.length:
            continue
        # Of a circle that is drawn in part twice the middle of its box is the truer one.
        middle = (low[index] + high[index]) / 2
        radius = np.linalg.norm(curve.points - middle, axis=1)
        mean = float(radius.mean())
        if not RING_MM[0] <= mean <= RING_MM[1] or radius.std() > ROUND * mean:
            continue
        inside = ((low > middle - mean) & (high < middle + mean)).all(axis=1)
        within = [
            k
            for k in np.flatnonzero(inside).tolist()
            if k != index and np.linalg.norm(curves[k].points - middle, axis=1).max() < mean
        ]
        marks = [curves[k] for k in within]
        away = [np.linalg.norm(other.points - middle, axis=1) for other in curves]
        # A hand that goes on past where it began leaves a piece on the circle.
        again = [k for k, off in enumerate(away) if np.abs(off - mean).max() < ROUND * mean]
        others = [off for k, off in enumerate(away) if k not in (index, *within, *again)]
        # Through a number in a circle runs no line.
        alone = all(off.min() > (1 - ROUND) * mean for off in others)
        number = alone and sum(mark.length for mark in marks) > ONE_WITHIN * mean
        if (len(within) >= FEWEST_WITHIN or number) and not _is_cross(marks, middle):
            found.update((index, *within, *again))
    return found


def _is_cross(marks: Sequence[Curve], middle: Floats) -> bool:
    """Whether two straight marks cross square to each other at the middle."""
    if len(marks) != 2:
        return False
    runs = [mark.points[-1] - mark.points[0] for mark in marks]
    long = [float(np.linalg.norm(run)) for run in runs]
    through = all(
        np.linalg.norm(mark.points - middle, axis=1).min() < 0.2 * mark.length for mark in marks
    )
    return through and abs(float(runs[0] @ runs[1])) < 0.3 * long[0] * long[1]


def _arrows(curves: Sequence[Curve]) -> set[int]:
    """Shafts with a barb on either side of one end, and the barbs, that stand by themselves."""
    some = [k for k, curve in enumerate(curves) if not curve.closed and len(curve.points) > 1]
    if not some:
        return set()
    ends = np.concatenate([curves[k].points[[0, -1]] for k in some])
    tree = cKDTree(ends)
    lines = [LineString(curve.points) for curve in curves if curve.length >= SIGN_LINE_MM]
    own = [k for k, curve in enumerate(curves) if curve.length >= SIGN_LINE_MM]
    around = STRtree(lines)
    found: set[int] = set()
    for index in some:
        shaft = curves[index]
        chord = float(np.linalg.norm(shaft.points[-1] - shaft.points[0]))
        if not SHAFT_MM[0] <= shaft.length <= SHAFT_MM[1] or chord < SIGN_STRAIGHT * shaft.length:
            continue
        near = around.query(
            MultiPoint(shaft.points[[0, -1]]), predicate="dwithin", distance=SIGN_FREE_MM
        )
        if any(own[k] != index for k in near.tolist()):
            continue
        for points in (shaft.points, shaft.points[::-1]):
            tip = points[-1]
            back = points[-1 - min(8, len(points) - 1)] - tip
            barbs = []
            for end in tree.query_ball_point(tip, AT_TIP_MM):
                barb = curves[some[end // 2]]
                away = barb.points[::-1] if end % 2 else barb.points
                run = away[-1] - away[0]
                turn = np.arctan2(back[0] * run[1] - back[1] * run[0], back @ run)
                if (
                    BARB_MM <= barb.length <= BARB_SHARE * shaft.length
                    and BARB_TURN[0] < abs(turn) < BARB_TURN[1]
                ):
                    barbs.append((some[end // 2], float(turn), barb.length))
            for (one, turn, a), (two, other, b) in itertools.combinations(barbs, 2):
                if turn * other < 0 and min(a, b) > LIKE_BARB * max(a, b):
                    found.update((index, one, two))
    return found
