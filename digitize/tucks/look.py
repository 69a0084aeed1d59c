"""A cut against the line drawn along the flap that lay over it: which is which.

A cut is a narrow, dark gap without a colour of its own. The lap line is a pencil's, which may be
coloured, or wider than any gap.
"""

import numpy as np

from digitize.pencil.curves import Curve

BENT_MM = 1.0
WIDER_MM = 0.2


def cut_first(one: Curve, two: Curve) -> tuple[Curve, Curve]:
    """The two, the one that looks more like a cut first.

    A cut is straight; the lap line leaves it as the lap grows, faster than the depth does.
    """
    bends = _bend(one), _bend(two)
    if max(bends) > BENT_MM and max(bends) > 2 * min(bends):
        return (one, two) if bends[0] < bends[1] else (two, one)
    if (one.ink == "black") != (two.ink == "black"):
        return (one, two) if one.ink == "black" else (two, one)
    wider = one.width - two.width
    if abs(wider) > WIDER_MM:
        return (one, two) if wider < 0 else (two, one)
    return (one, two) if one.weight > two.weight else (two, one)


def _bend(curve: Curve) -> float:
    """How far a curve strays from its chord, mm."""
    chord = curve.points[-1] - curve.points[0]
    away = curve.points - curve.points[0]
    aside = away[:, 0] * chord[1] - away[:, 1] * chord[0]
    return float(np.abs(aside).max() / (np.linalg.norm(chord) + 1e-9))
