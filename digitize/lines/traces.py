"""Traces of work that are no lines: creases that mean nothing, and what an eraser left."""

from collections.abc import Sequence

import numpy as np

from digitize.pencil import CREASE_SHEEN, Curve

GHOST_SHARE = 0.3  # of the usual weight of marks on this paper
GHOST_WEIGHT_MM = 0.12


def without_traces(curves: Sequence[Curve]) -> tuple[Curve, ...]:
    """The curves that a pencil drew and no eraser took off."""
    drawn = [curve for curve in curves if curve.sheen < CREASE_SHEEN]
    if not drawn:
        return ()
    order = np.argsort([curve.weight for curve in drawn])
    lengths = np.array([drawn[i].length for i in order])
    half = int(np.searchsorted(np.cumsum(lengths), lengths.sum() / 2, side="right"))
    usual = drawn[order[min(half, len(drawn) - 1)]].weight
    ghost = min(GHOST_SHARE * usual, GHOST_WEIGHT_MM)
    return tuple(curve for curve in drawn if curve.weight >= ghost)
