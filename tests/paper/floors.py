"""Small drawn floors with sheets on them."""

import cv2
import numpy as np

from digitize.floor.raster import COARSE_MM, Raster
from digitize.paper import Cut, Field, LaidCard

FINE_MM = 0.4
SIZE_MM = 700, 900  # rows, columns
BROWN, WHITE = (190, 150, 100), (235, 235, 230)


def floor_with(*sheets, size_mm=SIZE_MM):
    """Fine and coarse rasters: a rough grey floor with sheets, each its corners and its colour."""
    rng = np.random.default_rng(1)
    rough = rng.integers(50, 190, (size_mm[0] // 2, size_mm[1] // 2), np.uint8)
    size = int(size_mm[1] / FINE_MM), int(size_mm[0] / FINE_MM)
    picture = cv2.resize(rough, size)[..., None].repeat(3, axis=2)
    top = size_mm[0] - FINE_MM / 2
    fine = Raster(FINE_MM / 2, top, FINE_MM, picture)
    for shape, colour in sheets:
        # Drawn four times finer: OpenCV's polygons take in half a pixel round about.
        large = np.zeros((4 * size[1], 4 * size[0]), np.uint8)
        at = (fine.to_px(np.array(shape, float)) + 0.5) * 4 - 0.5
        cv2.fillPoly(large, [np.round(at * 16).astype(np.int32)], 255, cv2.LINE_AA, 4)
        cover = cv2.resize(large, size, interpolation=cv2.INTER_AREA)[..., None] / 255.0
        picture[:] = (picture * (1 - cover) + np.array(colour) * cover).astype(np.uint8)
    noisy = picture + rng.normal(0, 3, picture.shape)
    picture[:] = np.clip(noisy, 0, 255).astype(np.uint8)
    coarse_size = int(size_mm[1] / COARSE_MM), int(size_mm[0] / COARSE_MM)
    small = cv2.resize(picture, coarse_size, interpolation=cv2.INTER_AREA)
    return fine, Raster(COARSE_MM / 2, size_mm[0] - COARSE_MM / 2, COARSE_MM, small)


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


def card_at(shape, seen=None):
    """A card whose sheet is a shape, and what is surely seen of it: all, or another shape."""
    sheet, part = (np.array(each.exterior.coords[:-1]) for each in (shape, seen or shape))
    return LaidCard(sheet, part)
