"""How a place on the floor looks: its hue, its texture and its brightness, as far as light allows.

Hue is what a shadow hardly moves, and texture is taken of ratios, so that both say what a thing is
and not how it is lit. Which looks are the paper's and which the floor's is told by how often each
look occurs in places known to be the one or the other. A look that neither has is no paper.
"""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter

from digitize.floor import LOG_LIGHT, Raster
from digitize.paper.thresholds import (
    APART,
    BY_LIGHT,
    LEAST,
    LIT_CELLS,
    LIT_SHARE,
    LOOKS_MOST_LIKELY,
    LOOKS_STEPS,
    MOST_CELLS,
    SCATTER_CELLS,
    STRANGE,
    TEXTURE_MM,
)

Floats = NDArray[np.float64]
Colours = NDArray[np.float32]
Flags = NDArray[np.bool_]
Cells = tuple[NDArray[np.int64], ...]


@dataclass(frozen=True)
class Looks:
    """The cell of looks of each place (H, W), and how many cells there are each way."""

    cells: Cells
    counts: tuple[int, ...]


def looks_of(coarse: Raster, size: tuple[int, int], seen: Flags) -> Looks:
    """Looks of a raster's places, at another size (width, height), of which some are seen."""
    values = _values(coarse, size, coarse.mm_per_px * coarse.pixels.shape[1] / size[0])
    low, high = np.percentile(values[seen][::7], (0.2, 99.8), axis=0)
    counts = np.minimum(np.ceil((high - low) / LOOKS_STEPS).astype(int) + 3, MOST_CELLS)
    cells = np.round((values - low) / LOOKS_STEPS).astype(np.int64) + 1
    # What has a hue beyond nearly all others' must not come to look like the outermost of them.
    cells = np.where(cells < 0, -APART, np.where(cells >= counts, counts - 1 + APART, cells))
    return Looks(tuple(np.moveaxis(cells + APART, -1, 0)), tuple((counts + 2 * APART).tolist()))


def _values(coarse: Raster, size: tuple[int, int], mm_per_px: float) -> Floats:
    """(H, W, 4) two hues, texture and brightness, in log units."""
    linear = np.asarray(cv2.LUT(coarse.pixels, np.exp(LOG_LIGHT)), np.float32)
    light = np.log(np.asarray(cv2.transform(linear, np.full((1, 3), 1 / 3))))
    # The median takes pencil lines out, which are no part of how the paper looks.
    small = cv2.resize(linear, size, interpolation=cv2.INTER_AREA)
    small = cv2.medianBlur(small, 5)
    red, green, blue = (np.log(small[..., channel]) for channel in range(3))
    detail = np.abs(light - cv2.medianBlur(light, 5))
    detail = cv2.resize(detail, size, interpolation=cv2.INTER_AREA)
    window = 2 * round(TEXTURE_MM / mm_per_px / 2) + 1
    # A median over the window ignores thin lines and the edge of one cast shadow.
    grades = np.clip(np.log(detail + 1e-3) * 20 + 150, 0, 255).astype(np.uint8)
    texture = cv2.medianBlur(grades, window).astype(np.float32) / 20
    brightness = np.log(np.asarray(cv2.transform(small, np.full((1, 3), 1 / 3))))
    return np.dstack([red - green, blue - green, texture, brightness]).astype(float)


@dataclass(frozen=True)
class Often:
    """(H, W) share of some places that look as each place does: by hue and texture, by all."""

    as_thing: Colours
    as_lit: Colours


def how_often(looks: Looks, places: Flags) -> Often:
    """How often the places given (H, W) look as each place does.

    A share of them is taken to be lit otherwise elsewhere.
    """
    flat = np.ravel_multi_index(tuple(cell[places] for cell in looks.cells), looks.counts)
    counted = np.bincount(flat, minlength=int(np.prod(looks.counts))).astype(np.float32)
    lit = gaussian_filter(counted.reshape(looks.counts), SCATTER_CELLS, truncate=3)
    lit /= max(len(flat), 1)
    thing = lit.sum(axis=3)
    otherwise = gaussian_filter(thing, LIT_CELLS, truncate=2)
    thing = (1 - LIT_SHARE) * thing + LIT_SHARE * otherwise
    return Often(thing[looks.cells[:3]], lit[looks.cells])


def of_one_colour(looks: Looks, places: Flags, reach_cells: int = 4) -> Flags:
    """Those of some places (H, W) whose hue and texture are near the commonest: one sheet's."""
    kept = places.copy()
    for axes in ((0, 1), (2,)):
        counts = tuple(looks.counts[axis] for axis in axes)
        flat = np.ravel_multi_index(tuple(looks.cells[axis][kept] for axis in axes), counts)
        counted = np.bincount(flat, minlength=int(np.prod(counts))).astype(float)
        mode = np.unravel_index(gaussian_filter(counted.reshape(counts), 1.0).argmax(), counts)
        for axis, cell in zip(axes, mode, strict=True):
            kept &= np.abs(looks.cells[axis] - cell) <= reach_cells
    return kept


def likelier_floor(floor: Often, paper: Often, burnt: Flags) -> Colours:
    """(H, W) log of how much likelier each look is the floor's than the paper's.

    Light alone says little: a place in the sun or in a shadow is the same thing still. What is
    burnt out says nothing.
    """
    thing = np.log((0.9 * floor.as_thing + STRANGE) / (paper.as_thing + LEAST))
    lit = np.log((0.9 * floor.as_lit + LEAST) / (paper.as_lit + LEAST)) - thing
    both = np.clip(thing, -LOOKS_MOST_LIKELY, LOOKS_MOST_LIKELY) + np.clip(lit, -BY_LIGHT, BY_LIGHT)
    return np.asarray(np.where(burnt, 0, both), np.float32)
