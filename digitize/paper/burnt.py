"""Where paper is burnt out white, and whether it is the paper itself that is.

What is burnt out has lost its look: it may be paper, or floor in a patch of sun. Light that fades
slowly has no border, so that paper which burns out by degrees, from where it still shows, goes on
to where a plain border ends it. A patch of sun ends plainly on the paper too.
"""

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import distance_transform_edt

from digitize.floor import Grid, Raster
from digitize.paper.cut import disc, filled
from digitize.paper.thresholds import (
    BURNT,
    BURNT_PIXEL_MM,
    BURNT_RIM_MM,
    BY_DEGREES,
    GLOW_MM,
    JUST_WITHIN_MM,
    LEAST_RIM_MM,
    PENCIL_MM,
    STILL_BRIGHT,
    WITHIN_MM,
)

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]


def burnt_within(fine: Raster, points: Floats, inward: Floats) -> tuple[Flags, Flags]:
    """Where the paper just within an edge is burnt out, and where its own burning takes its look.

    Parameters
    ----------
    points : (N, 2) the edge's ring, mm.
    inward : (N, 2) unit vectors to what it encloses.

    Returns
    -------
    burnt, own : (N,) both; round what burns out by degrees the look is on its way to white.
    """
    shrink = max(round(BURNT_PIXEL_MM / fine.mm_per_px), 1)
    rows, columns = (length // shrink for length in fine.pixels.shape[:2])
    part = fine.pixels[: rows * shrink, : columns * shrink]
    small = cv2.resize(part, (columns, rows), interpolation=cv2.INTER_AREA)
    light = np.median(small, axis=2).astype(np.uint8)
    px = 1 / (fine.mm_per_px * shrink)
    light = cv2.morphologyEx(light, cv2.MORPH_CLOSE, disc(PENCIL_MM / 2 * px))
    middle = (shrink - 1) / 2 * fine.mm_per_px
    grid = Grid(fine.left + middle, fine.top - middle, 1 / px)
    paper = filled([points], grid, light.shape)
    # What lies at the edge, or beyond it, is no part of what is asked about.
    white = (light >= BURNT) & (paper > 0)
    count, part_of = cv2.connectedComponents(white.astype(np.uint8), connectivity=8)
    deep = cv2.erode(paper, disc(WITHIN_MM * px), borderValue=0) > 0
    own = np.zeros(count, bool)
    for index in range(1, count):
        there = np.asarray(part_of != index, np.uint8)
        away = cv2.distanceTransform(there, cv2.DIST_L2, 5) / px
        rim = deep & ~white & (away > BURNT_RIM_MM[0]) & (away < BURNT_RIM_MM[1])
        if rim.sum() > LEAST_RIM_MM * (BURNT_RIM_MM[1] - BURNT_RIM_MM[0]) * px**2:
            own[index] = (light[rim] > STILL_BRIGHT).mean() > BY_DEGREES
    steps = np.arange(*JUST_WITHIN_MM, 1.0)
    at = grid.to_px(points[:, None] + inward[:, None] * steps[None, :, None])
    column, row = np.moveaxis(np.round(at).astype(int), -1, 0)
    column, row = np.clip(column, 0, columns - 1), np.clip(row, 0, rows - 1)
    burnt = (part_of[row, column] > 0).mean(axis=1) > 0.5
    away, nearest = distance_transform_edt(part_of == 0, return_indices=True)
    about = np.where(away <= GLOW_MM * px, part_of[tuple(nearest)], 0)
    parts = about[row, column]
    fading = (parts > 0).mean(axis=1) > 0.5
    return burnt, fading & (own[parts] | (parts == 0)).all(axis=1)
