"""Small drawn floors with sheets on them."""

from functools import cache

import cv2
import numpy as np

from digitize.floor.raster import COARSE_MM, Raster
from digitize.paper import Cut, Field, LaidCard

FINE_MM = 0.4
SIZE_MM = 700, 900  # rows, columns
BROWN, WHITE = (190, 150, 100), (235, 235, 230)


def floor_with(*sheets, size_mm=SIZE_MM):
    """Fine and coarse rasters: a rough grey floor with sheets, each its corners and its colour."""
    bare, noise = bare_floor(size_mm)
    picture = bare.copy()
    top = size_mm[0] - FINE_MM / 2
    fine = Raster(FINE_MM / 2, top, FINE_MM, picture)
    for shape, colour in sheets:
        lay(picture, fine.to_px(np.array(shape, float)), np.array(colour))
    cv2.add(picture, noise, dst=picture, dtype=cv2.CV_8U)
    coarse_size = int(size_mm[1] / COARSE_MM), int(size_mm[0] / COARSE_MM)
    small = cv2.resize(picture, coarse_size, interpolation=cv2.INTER_AREA)
    return fine, Raster(COARSE_MM / 2, size_mm[0] - COARSE_MM / 2, COARSE_MM, small)


@cache
def bare_floor(size_mm):
    """A rough grey floor, and the noise of a picture of it, in whole greys."""
    rng = np.random.default_rng(1)
    rough = rng.integers(50, 190, (size_mm[0] // 2, size_mm[1] // 2), np.uint8)
    size = int(size_mm[1] / FINE_MM), int(size_mm[0] / FINE_MM)
    noise = np.floor(rng.normal(0, 3, (*size[::-1], 3))).astype(np.int8)
    return cv2.resize(rough, size)[..., None].repeat(3, axis=2), noise


def lay(picture, corners_px, colour):
    """Draw a sheet over a picture (H, W, 3)."""
    low = np.clip(np.floor(corners_px.min(axis=0)).astype(int) - 2, 0, picture.shape[1::-1])
    high = np.clip(np.ceil(corners_px.max(axis=0)).astype(int) + 3, 0, picture.shape[1::-1])
    own = picture[low[1] : high[1], low[0] : high[0]]
    if not own.size:
        return
    # Drawn four times finer: OpenCV's polygons take in half a pixel round about.
    large = np.zeros((4 * own.shape[0], 4 * own.shape[1]), np.uint8)
    at = (corners_px - low + 0.5) * 4 - 0.5
    cv2.fillPoly(large, [np.round(at * 16).astype(np.int32)], 255, cv2.LINE_AA, 4)
    cover = cv2.resize(large, own.shape[1::-1], interpolation=cv2.INTER_AREA)
    own[cover == 255] = colour.astype(np.uint8)
    partly = (cover > 0) & (cover < 255)
    share = cover[partly][:, None] / 255.0
    own[partly] = (own[partly] * (1 - share) + colour * share).astype(np.uint8)


def cut_at(ring, paper, size_mm=SIZE_MM, corner=(0.0, 0.0), cards=()):
    """A cut at a ring, by somebody who knows where the paper (a shape) is.

    It reaches over so many mm (rows, columns) from its lower left corner.
    """
    rows, columns = size_mm[0] // 4, size_mm[1] // 4
    left, top = corner[0] + 2.0, corner[1] + size_mm[0] - 2.0
    like = np.full((rows, columns), 3, np.float32)
    at = (np.array(paper.exterior.coords) - [left, top]) / [4, -4]
    cv2.fillPoly(like, [np.round(at).astype(np.int32)], -3)
    nothing = Field(left, top, 4.0, np.zeros_like(like))
    return Cut(np.asarray(ring), Field(left, top, 4.0, like), nothing, nothing, cards)


def card_at(shape, seen=None, surely=None):
    """A card whose sheet is a shape, and what is seen of it, and surely: all, or other shapes."""
    seen = seen or shape
    rings = (np.array(each.exterior.coords[:-1]) for each in (shape, seen, surely or seen))
    return LaidCard(*rings)
