"""Whether marks look like lines of this paper's pencil, or like a cut or a lap line beside it."""

from collections.abc import Callable, Sequence

import numpy as np
from shapely import LineString, Point

from digitize.pencil import Curve
from digitize.plane import signed_angle
from digitize.tucks.creases import direction
from digitize.tucks.thresholds import (
    CONVERGING_TURN,
    DARKER,
    LEAST_LAP_LINE,
    LEAST_LAP_REACH,
    TOUCH_MM,
    WIDER_MM,
)


def darker_than_lines(curves: Sequence[Curve]) -> Callable[[Curve], bool]:
    """What tells a mark that is darker than this paper's lines, and no wider, as a cut is."""
    usual = float(np.median([c.weight / c.width for c in curves])) if curves else 0.0
    width = float(np.median([c.width for c in curves])) if curves else 0.0

    def stands_out(curve: Curve) -> bool:
        dark = curve.weight / curve.width > DARKER * usual
        return dark and curve.width < width + WIDER_MM and curve.ink == "black"

    return stands_out


def lap_line_of(cut: Curve, curves: Sequence[Curve]) -> tuple[Curve, Curve] | None:
    """A mark that leaves a cut near its tip and runs on beside it, though not to the edge.

    As it is among the curves, and turned to run the cut's way.
    """
    path, begin = LineString(cut.points), Point(*cut.points[0])
    for curve in curves:
        if curve.closed or curve.length < LEAST_LAP_LINE * cut.length:
            continue
        course = LineString(curve.points)
        for turned in (curve, curve.reversed()):
            tip, end = Point(*turned.points[0]), Point(*turned.points[-1])
            # Near the tip the two look like one, and either may have been traced as that.
            if (
                min(path.distance(tip), course.distance(begin)) < TOUCH_MM
                and path.project(tip) < 0.6 * path.length
                and path.project(end) > LEAST_LAP_REACH * path.length
                and abs(signed_angle(direction(turned), direction(cut))) < CONVERGING_TURN
            ):
                return curve, turned
    return None
