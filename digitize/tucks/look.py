"""A cut against the line drawn along the flap that lay over it: which is which.

A cut is a narrow, dark gap without a colour of its own. The lap line is a pencil's, which may be
coloured, or wider than any gap.
"""

from collections.abc import Callable, Sequence

import numpy as np

from digitize.pencil.curves import Curve

BENT_MM, STRAYED_MM = 1.0, 1.5
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


def _strays(one: Curve, two: Curve) -> tuple[float, float]:
    """How far the ends of the two lie off the straight way on from their common first stretch."""
    longer, shorter = (one, two) if one.length > two.length else (two, one)
    start = shorter.points[0]
    common = longer.points[: int(np.linalg.norm(longer.points - start, axis=1).argmin())]
    if len(common) < COMMON_POINTS:
        return 0.0, 0.0
    centre = common.mean(axis=0)
    ahead = np.linalg.svd(common - centre)[2][0]
    off = [
        abs(float(ahead[0] * p[1] - ahead[1] * p[0]))
        for p in (one.points[-1] - centre, two.points[-1] - centre)
    ]
    return off[0], off[1]


def _bend(curve: Curve) -> float:
    """How far a curve strays from its chord, mm."""
    chord = curve.points[-1] - curve.points[0]
    away = curve.points - curve.points[0]
    aside = away[:, 0] * chord[1] - away[:, 1] * chord[0]
    return float(np.abs(aside).max() / (np.linalg.norm(chord) + 1e-9))
