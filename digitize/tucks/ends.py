"""Where lines end beside a tuck, in the tuck's own directions."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from shapely import LineString, distance, line_locate_point
from shapely import points as points_of

from digitize.pencil import Curve
from digitize.tucks.thresholds import (
    AT_CUT_MM,
    END_SIGMA_MM,
    FIRST_DEPTH_MM,
    HOOK_MM,
    LEAST_TURN,
    LED_POINTS,
    ONWARD_POINTS,
    WIDEST_LAP_MM,
)

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class LineEnd:
    """The end of a crossing line near a tuck.

    Attributes
    ----------
    line : index of the line.
    depth : mm along the tuck from its tip.
    side : +1 if the line lies to the tuck's left, seen from the tip, else -1.
    across : mm from the tuck to the line's end, measured to that side.
    heading : which way the line runs from its end, from the tuck's own way towards that side,
        radians.
    sigma : how well it is known where the line ends, along it, mm.
    doubt : sigma beside that, for the line may have begun unseen, mm.
    """

    line: int
    depth: float
    side: float
    across: float
    heading: float
    point: tuple[float, float]
    sigma: float = END_SIGMA_MM
    doubt: float = 0.0


def line_ends(main: Curve, curves: Sequence[Curve]) -> tuple[LineEnd, ...]:
    """Ends of curves that run up to a tuck across it, with their places relative to it."""
    path = LineString(main.points)
    found = []
    for index, last, depth in _tips_near(path, curves):
        points = curves[index].points[::-1] if last else curves[index].points
        tip, run = points[0], points[min(7, len(points) - 1)] - points[0]
        foot = np.array(path.interpolate(depth).coords[0])
        ahead = _ahead(path, depth, 1.0)
        normal = np.array([-ahead[1], ahead[0]])
        across = math.copysign(float(np.linalg.norm(tip - foot)), float(normal @ (tip - foot)))
        turn = math.atan2(normal @ run, ahead @ run)
        if not LEAST_TURN < abs(turn) < np.pi - LEAST_TURN:
            continue
        # The line must lie beyond its end, seen from the tuck.
        onward = points[min(ONWARD_POINTS, len(points) // 2)]
        side = math.copysign(1.0, float(normal @ (onward - foot)))
        away = side * float(normal @ (onward - tip)) > 0
        if away and (side * across > 0 or abs(across) < AT_CUT_MM):
            aside = side * (points[:LED_POINTS] - foot) @ normal
            deeper, heading = _led_up(aside, (points[:LED_POINTS] - foot) @ ahead)
            place = (float(tip[0]), float(tip[1]))
            found.append(LineEnd(index, depth + deeper, side, side * across, heading, place))
    return tuple(found)


def _tips_near(path: LineString, curves: Sequence[Curve]) -> list[tuple[int, bool, float]]:
    """Ends of curves within a lap's reach of a path: whose, if its last point; depth, mm."""
    if not curves:
        return []
    tips = points_of(np.concatenate([curve.points[[0, -1]] for curve in curves]))
    depths = np.asarray(line_locate_point(path, tips))
    near = distance(path, tips) <= np.minimum(WIDEST_LAP_MM, 0.35 * depths + 2.0)
    near &= (depths >= FIRST_DEPTH_MM) & (depths <= path.length - 0.5)
    return [(int(k) // 2, k % 2 == 1, float(depths[k])) for k in np.flatnonzero(near)]


def _led_up(aside: Floats, along: Floats) -> tuple[float, float]:
    """How deep a line leads up to its end (mm, from the end's own foot), and its heading there.

    Told from a little way off: right at a tuck a thick line's end is drawn towards it.
    """
    away = np.abs(aside - aside[0])
    if away[-1] < 3 * HOOK_MM:
        run = (along[-1] - along[0], aside[-1] - aside[0])
        return 0.0, math.atan2(run[1], run[0])
    clear = away > HOOK_MM
    order = 2 if away[-1] > 5 * HOOK_MM else 1
    *_, slope, depth = np.polyfit(aside[clear] - aside[0], along[clear], order)
    return float(depth), math.atan2(1.0, slope)


def gap_at(main: Curve, second: Curve, depth: float) -> float | None:
    """Distance (mm, positive to the left) from the main curve to the second, square to it."""
    path = LineString(main.points)
    foot = np.array(path.interpolate(depth).coords[0])
    ahead = _ahead(path, depth, 2.0)
    normal = np.array([-ahead[1], ahead[0]])
    ray = LineString([foot - WIDEST_LAP_MM * normal, foot + WIDEST_LAP_MM * normal])
    hit = ray.intersection(LineString(second.points))
    if hit.is_empty:
        return None
    points = [np.array(p.coords[0]) for p in getattr(hit, "geoms", [hit])]
    return float(min(((p - foot) @ normal for p in points), key=abs))


def _ahead(path: LineString, depth: float, reach_mm: float) -> NDArray[np.float64]:
    """(2,) which way a path runs at a depth."""
    before = path.interpolate(max(depth - reach_mm, 0.0)).coords[0]
    run = np.subtract(path.interpolate(depth + reach_mm).coords[0], before)
    return np.asarray(run / (np.linalg.norm(run) + 1e-12))
