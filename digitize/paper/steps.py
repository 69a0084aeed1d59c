"""How colours step across a line, and how much of the step along a side goes on further ahead."""

from collections.abc import Sequence

import cv2
import numpy as np
from numpy.typing import NDArray

from digitize.floor import Raster
from digitize.paper.thresholds import BESIDE_LINE_MM, NOISE, PLAIN_STEP, STEP_EVERY_MM

Floats = NDArray[np.float64]


def step_shares(
    fine: Raster, start: Floats, way: Floats, told_mm: float, parts: Sequence[Floats]
) -> list[float | None]:
    """How much of the step along a line's first part goes on in parts further ahead, each (N,) mm.

    None where one of the two steps is not plain.
    """
    usual, plain = _step_across(fine, start, way, np.arange(0.0, told_mm, STEP_EVERY_MM))
    shares: list[float | None] = []
    for ahead in parts:
        here, plain_here = _step_across(fine, start, way, ahead)
        share = float(here @ usual) / max(float(usual @ usual), 1e-9)
        shares.append(share if plain and plain_here else None)
    return shares


def _step_across(fine: Raster, start: Floats, way: Floats, ahead: Floats) -> tuple[Floats, bool]:
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


def _lab_at(fine: Raster, places: Floats) -> Floats:
    """(N, 3) L, a, b of 8 bits at places (N, 2), mm."""
    colours = fine.colours_at(places)[None]
    return np.asarray(cv2.cvtColor(colours, cv2.COLOR_RGB2LAB)[0], np.float64)
