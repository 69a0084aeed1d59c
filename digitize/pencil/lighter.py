"""Marks that are not darker than paper: chalk on dark paper, and cuts through which floor shows.

The rest of the room takes a mark for darker than the paper. So on dark paper all darkness is turned
about, and a cut that lies open is made as dark as one that is closed.
"""

import cv2
import numpy as np
from numpy.typing import NDArray

from digitize.floor import LOG_LIGHT, Raster
from digitize.pencil.thresholds import (
    BLUR_MM,
    CERTAIN,
    FLOOR_MM,
    FLOOR_SHARE,
    GAP_DARKNESS,
    LEAST,
    LEAST_HUE,
    LEAST_REACH_MM,
    LEAST_SHARE,
    LIGHT_CELL_MM,
    LIGHT_EDGE_MM,
    LIGHT_GROUND_MM,
    LIGHT_MOSTLY,
    LIGHT_WIDEST_MM,
    MARK_MM,
)
from digitize.plane import robust_sigma

Floats = NDArray[np.float32]
Flags = NDArray[np.bool_]


def drawn_light(darkness: Floats, lightness: Floats, paper: Flags, mm_per_px: float) -> bool:
    """Whether the marks on a paper are lighter than it, as chalk is.

    Marks that are left in the ground make the paper beside them look like the other kind. So light
    ones are counted by the ground that leaves dark ones out, and dark ones by the other: what shows
    there is no such halo.

    Parameters
    ----------
    darkness : (H, W) log of the paper's brightness around over the brightness here; around without
        what is darker.
    lightness : (H, W) the other way about; around without what is lighter.
    paper : (H, W) where there is paper.
    """
    light, dark = (_marked(-each, paper, mm_per_px) for each in (darkness, lightness))
    return bool(light > LEAST_SHARE and light > LIGHT_MOSTLY * dark)


def _marked(chart: Floats, paper: Flags, mm_per_px: float) -> float:
    """Share of the paper that is in marks where a chart (H, W) is high; specks left out."""
    stride = max(round(BLUR_MM / mm_per_px), 1)
    blurred = np.asarray(cv2.GaussianBlur(chart, (0, 0), BLUR_MM / mm_per_px), np.float32)
    seen, there = blurred[::stride, ::stride], paper[::stride, ::stride]
    if not there.any():
        return 0.0
    least = max(LEAST, CERTAIN * robust_sigma(seen[there]))
    long = _in_long_marks(there & (seen > least), MARK_MM / (stride * mm_per_px))
    return long / float(there.sum())


def _in_long_marks(cells: Flags, least_cells: float) -> int:
    """How many of some cells (H, W) hang together over so many; paper's own specks don't."""
    boxes = cv2.connectedComponentsWithStats(cells.astype(np.uint8))[2]
    extent = np.hypot(boxes[:, cv2.CC_STAT_WIDTH], boxes[:, cv2.CC_STAT_HEIGHT])
    long = extent >= least_cells
    long[0] = False
    return int(boxes[long, cv2.CC_STAT_AREA].sum())


def with_gaps(darkness: Floats, raster: Raster, paper: Flags, light: bool = False) -> Floats:
    """(H, W) darkness of a paper with gaps through it as dark as cuts that are closed.

    Chalk may be of the floor's hue; so with ``light`` marks, all of whose darkness is lightness,
    what is one of these stays as it is.
    """
    gaps = np.float32(GAP_DARKNESS) * _open_gaps(raster, paper)
    if light:
        gaps[darkness > LEAST] = 0.0
    return np.where(gaps > 0, np.maximum(darkness, gaps), darkness)


def _open_gaps(raster: Raster, paper: Flags) -> Floats:
    """(H, W) from 0 to 1, where the floor shows through a long, narrow gap from the paper's edge.

    What shows has the floor's hue, in the shade of the edges or not, and not the paper's.
    """
    rows, columns = paper.shape
    step = LIGHT_CELL_MM / raster.mm_per_px
    size = max(round(columns / step), 1), max(round(rows / step), 1)
    small = np.asarray(cv2.resize(raster.pixels, size, interpolation=cv2.INTER_AREA))
    share = cv2.resize(paper.astype(np.float32), size, interpolation=cv2.INTER_AREA)
    light = np.asarray(cv2.LUT(small, LOG_LIGHT), np.float32)
    hues = light[..., (0, 2)] - light[..., 1:2]
    inside, off = share > 0.99, _depth_mm(share == 0)
    beyond = (off > LIGHT_EDGE_MM) & (off <= FLOOR_MM) & small.any(axis=2)
    nothing = np.zeros(paper.shape, np.float32)
    if not beyond.any() or not inside.any():
        return nothing
    weight = inside.astype(np.float32)
    sigma = LIGHT_GROUND_MM / LIGHT_CELL_MM
    total = cv2.GaussianBlur(hues * weight[..., None], (0, 0), sigma)
    own = total / np.maximum(cv2.GaussianBlur(weight, (0, 0), sigma), 1e-3)[..., None]
    way = np.median(hues[beyond], axis=0) - own
    apart = np.linalg.norm(way, axis=2)
    of_way = ((hues - own) * way).sum(axis=2) / np.maximum(apart, LEAST_HUE) ** 2
    floor = (share > 0) & (apart > LEAST_HUE) & (of_way > FLOOR_SHARE)
    count, labels, boxes, _ = cv2.connectedComponentsWithStats(floor.astype(np.uint8))
    at_edge = np.zeros(count, np.bool_)
    at_edge[labels[(share > 0) & (_depth_mm(inside) <= LIGHT_EDGE_MM)]] = True
    extent = np.hypot(boxes[:, cv2.CC_STAT_WIDTH], boxes[:, cv2.CC_STAT_HEIGHT]) * LIGHT_CELL_MM
    across = boxes[:, cv2.CC_STAT_AREA] * LIGHT_CELL_MM**2 / np.maximum(extent, 1e-9)
    gaps = at_edge & (extent > LEAST_REACH_MM) & (across < LIGHT_WIDEST_MM)
    gaps[0] = False
    if not gaps.any():
        return nothing
    shown = np.where(gaps[labels], np.clip(of_way, 0.0, 1.0), 0.0).astype(np.float32)
    whole = cv2.resize(shown, (columns, rows), interpolation=cv2.INTER_LINEAR)
    return np.asarray(whole * paper, np.float32)


def _depth_mm(cells: Flags) -> Floats:
    """(H, W) how far each of some cells lies from the nearest that is none of them, mm."""
    return np.asarray(cv2.distanceTransform(cells.astype(np.uint8), cv2.DIST_L2, 5)) * LIGHT_CELL_MM
