"""A cut against the line drawn along the flap that lay over it: which is which.

A cut is a narrow, dark gap without a colour of its own. The lap line is a pencil's, which may be
coloured, or wider than any gap.
"""

from collections.abc import Callable, Sequence

import numpy as np
from shapely import LineString, Point

from digitize.pencil import Curve
from digitize.plane import cross, signed_angle
from digitize.tucks.creases import direction

BENT_MM, STRAYED_MM = 1.0, 1.5
TOUCH_MM = 4.0  # of marks that start at one tip
CONVERGING_TURN = np.radians(35.0)
LEAST_LAP_LINE, LEAST_LAP_REACH = 0.3, 0.6  # of the cut's length
COMMON_POINTS = 15
WIDER_MM = 0.2
DARKER = 1.5


def darker_than_lines(curves: Sequence[Curve]) -> Callable[[Curve], bool]:
    """What tells a mark that is darker than this paper's lines, and no wider, as a cut is."""
    usual = float(np.median([c.weight / c.width for c in curves])) if curves else 0.0
    width = float(np.median([c.width for c in curves])) if curves else 0.0

    def stands_out(curve: Curve) -> bool:
        dark = curve.weight / curve.width > DARKER * usual
        return dark and curve.width < width + WIDER_MM and curve.ink == "black"

    return stands_out


def cut_first(one: Curve, two: Curve) -> tuple[Curve, Curve]:
    """The two, the one that looks more like a cut first.

    A cut is straight; the lap line leaves it as the lap grows, faster than the depth does.
    """
    for strays, least in ((_strays(one, two), STRAYED_MM), ((_bend(one), _bend(two)), BENT_MM)):
        if max(strays) > least and max(strays) > 2 * min(strays):
            return (one, two) if strays[0] < strays[1] else (two, one)
    if (one.ink == "black") != (two.ink == "black"):
        return (one, two) if one.ink == "black" else (two, one)
    wider = one.width - two.width
    if abs(wider) > WIDER_MM:
        return (one, two) if wider < 0 else (two, one)
    return (one, two) if one.weight > two.weight else (two, one)


def lap_line_of(cut: Curve, curves: Sequence[Curve]) -> tuple[Curve, Curve] | None:
    """A mark that leaves a cut near its tip and runs on beside it, though not to the edge.

    As it is among the curves, and turned to run the cut's way.
    """
    path = LineString(cut.points)
    for curve in curves:
        if curve.closed or curve.length < LEAST_LAP_LINE * cut.length:
            continue
        for turned in (curve, curve.reversed()):
            tip, end = Point(*turned.points[0]), Point(*turned.points[-1])
            if (
                path.distance(tip) < TOUCH_MM
                and path.project(tip) < 0.6 * path.length
                and path.project(end) > LEAST_LAP_REACH * path.length
                and abs(signed_angle(direction(turned), direction(cut))) < CONVERGING_TURN
            ):
                return curve, turned
    return None


def _strays(one: Curve, two: Curve) -> tuple[float, float]:
    """How far the ends of the two lie off the straight way on from their common first stretch."""
    longer, shorter = (one, two) if one.length > two.length else (two, one)
    start = shorter.points[0]
    common = longer.points[: int(np.linalg.norm(longer.points - start, axis=1).argmin())]
    if len(common) < COMMON_POINTS:
        return 0.0, 0.0
    centre = common.mean(axis=0)
    ahead = np.linalg.svd(common - centre)[2][0]
    off = [abs(float(cross(ahead, p))) for p in (one.points[-1] - centre, two.points[-1] - centre)]
    return off[0], off[1]


def _bend(curve: Curve) -> float:
    """How far a curve strays from its chord, mm."""
    chord = curve.points[-1] - curve.points[0]
    away = curve.points - curve.points[0]
    return float(np.abs(cross(away, chord)).max() / (np.linalg.norm(chord) + 1e-9))
