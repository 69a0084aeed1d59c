"""Marks that are not darker than paper: chalk on dark paper, and cuts through which floor shows.

The rest of the room takes a mark for darker than the paper. So on dark paper all darkness is turned
about, and a cut that lies open is made as dark as one that is closed.
"""

from collections.abc import Callable

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
    LIGHT_ALL_PAPER,
    LIGHT_CELL_MM,
    LIGHT_EDGE_MM,
    LIGHT_GROUND_CELLS,
    LIGHT_GROUND_MM,
    LIGHT_MOSTLY,
    LIGHT_WIDEST_MM,
    MARK_MM,
)
from digitize.plane import robust_sigma

Floats = NDArray[np.float32]
Flags = NDArray[np.bool_]
Picture = NDArray[np.uint8]


def drawn_light(
    darkness: Floats, lightness: Callable[[], Floats], paper: Flags, mm_per_px: float
) -> bool:
    """Whether the marks on a paper are lighter than it, as chalk is.

    Marks that are left in the ground make the paper beside them look like the other kind. So light
    ones are counted by the ground that leaves dark ones out, and dark ones by the other: what shows
    there is no such halo.

    Parameters
    ----------
    darkness : (H, W) log of the paper's brightness around over the brightness here; around without
        what is darker.
    lightness : gives (H, W) the other way about; around without what is lighter. It is asked only
        where there are light marks, as on few papers.
    paper : (H, W) where there is paper.
    """
    light = _marked(-darkness, paper, mm_per_px)
    return light > LEAST_SHARE and light > LIGHT_MOSTLY * _marked(-lightness(), paper, mm_per_px)


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
    """(H, W) darkness of a paper, changed in place: gaps through it as dark as closed cuts.

    Chalk may be of the floor's hue; so with ``light`` marks, all of whose darkness is lightness,
    what is one of these stays as it is.
    """
    shown = _open_gaps(raster, paper)
    if shown is None:
        return darkness
    gaps = np.multiply(shown, np.float32(GAP_DARKNESS), out=shown)
    if light:
        gaps[darkness > LEAST] = 0.0
    return np.maximum(darkness, gaps, out=darkness, where=gaps > 0)


def _open_gaps(raster: Raster, paper: Flags) -> Floats | None:
    """(H, W) from 0 to 1, where the floor shows through a long, narrow gap from the paper's edge.

    None if there is no such gap.

    What shows has the floor's hue, in the shade of the edges or not, and not the paper's.
    """
    shrink = max(round(LIGHT_CELL_MM / raster.mm_per_px), 1)
    small, share = (
        shrunk_whole(raster.pixels, shrink),
        shrunk_whole(255 * paper.view(np.uint8), shrink),
    )
    cell_mm = raster.mm_per_px * shrink
    inside, off = share > LIGHT_ALL_PAPER, cell_mm * _depth(share == 0)
    beyond = (off > LIGHT_EDGE_MM) & (off <= FLOOR_MM)
    del off  # a large sheet's are some of the largest arrays there are
    beyond[beyond] = small[beyond].any(axis=1)
    if not beyond.any() or not inside.any():
        return None
    way, apart = _way_to_floor(small, inside, beyond, cell_mm)
    of_way = np.divide(way, np.maximum(apart, LEAST_HUE) ** 2, out=way)
    floor = (share > 0) & (apart > LEAST_HUE) & (of_way > FLOOR_SHARE)
    count, labels, boxes, _ = cv2.connectedComponentsWithStats(floor.astype(np.uint8))
    at_edge = np.zeros(count, np.bool_)
    at_edge[labels[(share > 0) & (cell_mm * _depth(inside) <= LIGHT_EDGE_MM)]] = True
    extent = np.hypot(boxes[:, cv2.CC_STAT_WIDTH], boxes[:, cv2.CC_STAT_HEIGHT]) * cell_mm
    across = boxes[:, cv2.CC_STAT_AREA] * cell_mm**2 / np.maximum(extent, 1e-9)
    gaps = at_edge & (extent > LEAST_REACH_MM) & (across < LIGHT_WIDEST_MM)
    gaps[0] = False
    if not gaps.any():
        return None
    shown = np.where(gaps[labels], np.clip(of_way, 0.0, 1.0), 0.0).astype(np.float32)
    rows, columns = (shrink * length for length in shown.shape)
    whole = np.zeros(paper.shape, np.float32)
    cv2.resize(shown, (columns, rows), dst=whole[:rows, :columns], interpolation=cv2.INTER_LINEAR)
    return np.multiply(whole, paper, out=whole)


def _way_to_floor(
    picture: Picture, paper: Flags, floor: Flags, cell_mm: float
) -> tuple[Floats, Floats]:
    """(H, W) how far each hue lies from the paper's round about towards the floor's, times how far
    those lie apart; and (H, W) this.

    Parameters
    ----------
    paper : (H, W) where there is paper alone.
    floor : (H, W) where there is floor.
    """
    along: list[Floats] = []
    towards: list[Floats] = []
    for channel in (0, 2):
        hue = np.asarray(cv2.LUT(picture[..., channel], LOG_LIGHT), np.float32)
        hue -= cv2.LUT(picture[..., 1], LOG_LIGHT)
        about = _round_about(hue, paper, cell_mm)
        middle = np.median(hue[floor])
        hue -= about
        towards.append(np.subtract(middle, about, out=about))
        hue *= towards[-1]
        along.append(hue)
    along[0] += along[1]
    return along[0], np.asarray(cv2.magnitude(*towards), np.float32)


def shrunk_whole(picture: Picture, shrink: int) -> Picture:
    """(h, w, ...) means of so many pixels each way; what fills no whole pixel is left off."""
    rows, columns = (length // shrink for length in picture.shape[:2])
    kept = picture[: rows * shrink, : columns * shrink]
    return np.asarray(cv2.resize(kept, (columns, rows), interpolation=cv2.INTER_AREA), np.uint8)


def _round_about(hue: Floats, some: Flags, cell_mm: float) -> Floats:
    """(H, W) the mean of some cells' hue about each cell, on a grid as coarse as it is wide."""
    rows, columns = hue.shape
    size = max(columns // LIGHT_GROUND_CELLS, 1), max(rows // LIGHT_GROUND_CELLS, 1)
    total, share = (
        cv2.GaussianBlur(
            cv2.resize(np.asarray(each, np.float32), size, interpolation=cv2.INTER_AREA),
            (0, 0),
            LIGHT_GROUND_MM / cell_mm / LIGHT_GROUND_CELLS,
        )
        for each in (hue * some, some)
    )
    mean = total / np.maximum(share, 1e-3)
    return np.asarray(cv2.resize(mean, (columns, rows), interpolation=cv2.INTER_LINEAR))


def _depth(cells: Flags) -> Floats:
    """(H, W) how many cells each of some lies from the nearest that is none of them."""
    return np.asarray(cv2.distanceTransform(cells.view(np.uint8), cv2.DIST_L2, 5), np.float32)
