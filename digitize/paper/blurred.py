"""How blurred the picture is along an edge, and where in the blur the edge runs.

Out of focus, light from both sides mixes by how much of each a pixel sees, so that the edge lies
where half of the step in light is passed. In the picture's own grey levels, or by where the even
paper ends, it would seem to lie further in. A step smoothed by a normal distribution is laid on the
light across the edge by least squares, with several widths at several places.
"""

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import median_filter, uniform_filter1d
from scipy.special import ndtr

from digitize.floor import LOG_LIGHT, Raster
from digitize.paper.band import places_across
from digitize.paper.thresholds import (
    ALONG,
    BLUR_ACROSS_MM,
    BLUR_ALONG_MM,
    BLUR_EXPLAINED,
    BLUR_OFF_WIDTHS,
    BLUR_OFFSETS_MM,
    BLUR_REACH_MM,
    BLUR_WIDTHS_MM,
    STRAIGHT_STEP_MM,
)

Floats = NDArray[np.float64]


def blur_along(fine: Raster, points: Floats) -> tuple[Floats, Floats]:
    """How wide the step in light is at each place of a ring, and how far outward of it, mm.

    Parameters
    ----------
    points : (N, 2) a counter-clockwise ring in even steps, mm.

    Returns
    -------
    width : (N,) standard deviation of the blur; 0 where no one step explains the light there.
    offset : (N,) where the step's middle lies; 0 where its width is.
    """
    across = np.arange(-BLUR_REACH_MM, BLUR_REACH_MM + BLUR_ACROSS_MM / 2, BLUR_ACROSS_MM)
    light = _light_at(fine, places_across(points, across))
    light = uniform_filter1d(light, ALONG, axis=0, mode="wrap")
    light -= light.mean(axis=1, keepdims=True)
    offsets = np.arange(-BLUR_OFFSETS_MM, BLUR_OFFSETS_MM + BLUR_ACROSS_MM / 2, BLUR_ACROSS_MM)
    steps = ndtr((across - offsets[:, None]) / np.array(BLUR_WIDTHS_MM)[:, None, None])
    steps -= steps.mean(axis=2, keepdims=True)
    steps /= np.linalg.norm(steps, axis=2, keepdims=True)
    fitted = (np.tensordot(light, steps, axes=(1, 2)) ** 2).sum(axis=1)
    explained = fitted / ((light**2).sum(axis=(1, 2)) + 1e-12)[:, None, None]
    best = explained.reshape(len(points), -1).argmax(axis=1)
    which, at = np.unravel_index(best, explained.shape[1:])
    width, offset = np.array(BLUR_WIDTHS_MM)[which], offsets[at]
    # What a line drawn near, a tear or a fleck makes of it is not so for long: focus is.
    window = round(BLUR_ALONG_MM / STRAIGHT_STEP_MM) | 1
    sure = explained.max(axis=(1, 2)) > BLUR_EXPLAINED
    sure &= np.abs(offset) <= BLUR_OFF_WIDTHS * width  # else it is another thing's
    width = median_filter(np.where(sure, width, 0.0), window, mode="wrap")
    offset = median_filter(np.where(sure, offset, 0.0), ALONG, mode="wrap")
    offset = uniform_filter1d(offset, ALONG, mode="wrap")
    return width, np.where(width > 0, offset, 0.0)


def _light_at(fine: Raster, places: Floats) -> Floats:
    """(N, M, 3) light, as a share of white's, at places (N, M, 2)."""
    at = fine.to_px(places.reshape(-1, 2)).reshape(places.shape).astype(np.float32)
    colours = cv2.remap(fine.pixels, at[..., 0], at[..., 1], cv2.INTER_LINEAR)
    return np.asarray(np.exp(LOG_LIGHT)[colours], np.float64)
