"""How colours step across a line, and how much of the step along a side goes on further ahead."""

import cv2
import numpy as np
from numpy.typing import NDArray

from digitize.floor import Raster
from digitize.paper.thresholds import BESIDE_LINE_MM, NOISE, PLAIN_STEP, STEP_EVERY_MM

Floats = NDArray[np.float64]


def step_across(fine: Raster, start: Floats, way: Floats, ahead: Floats) -> tuple[Floats, bool]:
    """How L, a, b step (3,) across a line, at places so far ahead (N,), mm; if that is plain.

    From the side that lies clockwise of the way to the other; in grey levels of 8 bits.
    """
    off, normal = np.arange(*BESIDE_LINE_MM, 0.25), np.array([way[1], -way[0]])
    along = start + ahead[:, None, None] * way
    one, two = (
        _lab_at(fine, (along + sign * off[:, None] * normal).reshape(-1, 2)) for sign in (-1, 1)
    )
    step = np.asarray(one.mean(axis=0) - two.mean(axis=0))
    spread = (one.var(axis=0) + two.var(axis=0)) / 2
    return step, bool((step**2 / (spread + NOISE**2)).sum() > PLAIN_STEP)


def step_share(
    fine: Raster, start: Floats, way: Floats, told_mm: float, ahead: Floats
) -> float | None:
    """How much of the step along a line's first part goes on further ahead (N,), mm.

    None where one of the two is not plain.
    """
    usual, plain = step_across(fine, start, way, np.arange(0.0, told_mm, STEP_EVERY_MM))
    here, plain_here = step_across(fine, start, way, ahead)
    if not plain or not plain_here:
        return None
    return float(here @ usual) / max(float(usual @ usual), 1e-9)


def _lab_at(fine: Raster, places: Floats) -> Floats:
    """(N, 3) L, a, b of 8 bits at places (N, 2), mm."""
    colours = fine.colours_at(places)[None]
    return np.asarray(cv2.cvtColor(colours, cv2.COLOR_RGB2LAB)[0], np.float64)
