"""Two general-purpose ways to turn drawn lines into polylines, as anyone could from packages."""

import cv2
import numpy as np
from numpy.typing import NDArray
from skimage.filters import apply_hysteresis_threshold, sato, threshold_otsu
from skimage.measure import approximate_polygon
from skimage.morphology import remove_small_objects, skeletonize

from digitize.floor.raster import Raster

Floats = NDArray[np.float64]
BLOCK_MM, BELOW = 8.0, 7  # window, and grey levels below its mean
SMALLEST_MM = 8.0
TOLERANCE_PX = 0.7
EDGE_MM = 1.5


def by_threshold(raster: Raster, outline: Floats) -> list[Floats]:
    """Adaptive threshold, skeleton, polylines (N, 2) in mm."""
    grey = cv2.GaussianBlur(cv2.cvtColor(raster.pixels, cv2.COLOR_RGB2GRAY), (0, 0), 1.0)
    block = 2 * round(BLOCK_MM / 2 / raster.mm_per_px) + 1
    dark = cv2.adaptiveThreshold(
        grey, 255, cv2.ADAPTIVE_THRESH_GAUSSIAN_C, cv2.THRESH_BINARY_INV, block, BELOW
    )
    return _polylines((dark > 0) & _inside(raster, outline), raster)


def by_ridge_filter(raster: Raster, outline: Floats) -> list[Floats]:
    """scikit-image's ridge filter (Sato), hysteresis threshold, skeleton, polylines in mm."""
    grey = cv2.cvtColor(raster.pixels, cv2.COLOR_RGB2GRAY).astype(np.float32) / 255
    inside = _inside(raster, outline)
    grey = np.where(inside, grey, np.median(grey[inside]))
    ridges = sato(grey, sigmas=(1.0, 1.75, 2.5), black_ridges=True)
    high = threshold_otsu(ridges[inside])
    return _polylines(apply_hysteresis_threshold(ridges, 0.5 * high, high) & inside, raster)


def _inside(raster: Raster, outline: Floats) -> NDArray[np.bool_]:
    mask = np.zeros(raster.pixels.shape[:2], np.uint8)
    cv2.fillPoly(mask, [np.round(raster.to_px(outline)).astype(np.int32)], 1)
    size = 2 * round(EDGE_MM / raster.mm_per_px) + 1
    return cv2.erode(mask, np.ones((size, size), np.uint8), borderValue=0) > 0


def _polylines(dark: NDArray[np.bool_], raster: Raster) -> list[Floats]:
    """The skeleton's branches from crossing to crossing, those long enough."""
    least = SMALLEST_MM / raster.mm_per_px
    dark = remove_small_objects(dark, max_size=int(least * 0.5 / raster.mm_per_px))
    thin = skeletonize(dark)
    neighbours = cv2.filter2D(thin.astype(np.uint8), -1, np.ones((3, 3), np.uint8)) - 1
    branches = (thin & (neighbours <= 2)).astype(np.uint8)
    _, labels = cv2.connectedComponents(branches, connectivity=8)
    rows, columns = np.nonzero(labels)
    order = np.argsort(labels[rows, columns], kind="stable")
    groups = np.split(order, np.flatnonzero(np.diff(labels[rows, columns][order])) + 1)
    lines = []
    for group in groups:
        if len(group) >= least:
            path = _walked(np.stack([columns[group], rows[group]], axis=1))
            lines.append(raster.to_mm(approximate_polygon(path, TOLERANCE_PX)))
    return lines


def _walked(pixels: NDArray[np.int64]) -> Floats:
    """A branch's pixels in order, from an end of it."""
    left = {(int(x), int(y)) for x, y in pixels}
    steps = [(1, 0), (-1, 0), (0, 1), (0, -1), (1, 1), (1, -1), (-1, 1), (-1, -1)]

    def near(at: tuple[int, int]) -> list[tuple[int, int]]:
        return [(at[0] + x, at[1] + y) for x, y in steps if (at[0] + x, at[1] + y) in left]

    start = next((p for p in left if len(near(p)) == 1), next(iter(left)))
    path = [start]
    left.discard(start)
    while following := near(path[-1]):
        path.append(following[0])
        left.discard(following[0])
    return np.array(path, float)
