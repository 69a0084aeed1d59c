"""Grey pencil on brown paper, told by its hue where it drowns in the paper's grain.

Brown paper's fibres are browner here and paler there: all three colours vary together, and blue the
most. Pencil is grey, and takes little of the blue that the paper gives back anyhow. So some blue
taken off the rest leaves less of the grain and more of the pencil. Of all sums of the logarithms of
light by colour this is the one in which pencil is darkest over the grain's scatter (R. A. Fisher,
"The use of multiple measurements in taxonomic problems", Annals of Eugenics 7, 1936).
"""

import cv2
import numpy as np
from numpy.typing import NDArray

from digitize.floor import DARKEST, GAMMA, LOG_LIGHT, Raster
from digitize.pencil.ink import INKS
from digitize.pencil.ridges import BAND_ROWS, paper_mask
from digitize.pencil.thresholds import (
    HUE_ALONE,
    HUE_EDGE_MM,
    HUE_FEWEST,
    HUE_FINE_MM,
    HUE_LEAST_GAIN,
    HUE_LEVEL,
    HUE_QUIET,
    HUE_WIDE_MM,
    HUE_WINDOW_MM,
    HUE_WINDOWS,
    PAPER_LIGHT,
)
from digitize.pencil.visibility import GREY
from digitize.plane import robust_sigma

Floats = NDArray[np.float64]


def by_hue(raster: Raster, outline: Floats) -> Raster | None:
    """The picture in such grey that pencil is darkest over the paper's grain.

    A line that is as dark in all colours is as dark in it. None if pencil gains little.

    Parameters
    ----------
    outline : (N, 2) the paper's edge, mm.
    """
    paper = paper_mask(raster, outline, HUE_EDGE_MM)
    windows = _windows(raster, paper)
    if not windows:
        return None
    usual = np.median([np.median(window, axis=(0, 1)) for window in windows], axis=0)
    light = np.exp(usual)
    pencil = 1.0 - np.array(INKS["black"]) / (light * PAPER_LIGHT / light.max())
    grain = np.concatenate([_grain(window, raster.mm_per_px) for window in windows])
    scatter = np.array([robust_sigma(colour) for colour in grain.T])
    quiet = (np.abs(grain - np.median(grain, axis=0)) < HUE_QUIET * scatter).all(axis=1)
    if quiet.sum() <= HUE_FEWEST:
        return None
    varies = np.cov(grain[quiet].T)
    # In a grey picture all colours are one, and none can be taken off another.
    varies += HUE_ALONE * np.trace(varies) * np.eye(3)
    shares = np.linalg.solve(varies, pencil)
    shares /= shares.sum()
    gain = _shown(shares, pencil, varies) / _shown(GREY, pencil, varies)
    if not gain > HUE_LEAST_GAIN:
        return None
    tables = [(share * LOG_LIGHT).astype(np.float32) for share in shares]
    offset = np.float32(np.log(HUE_LEVEL) - shares @ usual)
    grey = np.empty(raster.pixels.shape[:2], np.uint8)
    for start in range(0, len(grey), BAND_ROWS):
        band = slice(start, start + BAND_ROWS)
        colours = raster.pixels[band]
        log = sum(cv2.LUT(colours[..., k].copy(), table) for k, table in enumerate(tables))
        shown = np.clip(np.exp(log + offset) - DARKEST, 0.0, 1.0) ** (1 / GAMMA)
        grey[band] = np.rint(254 * shown)  # burnt out is none of it
    pixels = cv2.cvtColor(grey, cv2.COLOR_GRAY2RGB)
    return Raster(raster.left, raster.top, raster.mm_per_px, np.asarray(pixels, np.uint8))


def _windows(raster: Raster, paper: NDArray[np.bool_]) -> list[Floats]:
    """(W, W, 3) logarithms of light in windows of bare or drawn paper, all over it."""
    size = max(round(HUE_WINDOW_MM / raster.mm_per_px), 8)
    rows, columns = (length // size for length in paper.shape)
    whole = paper[: rows * size, : columns * size].reshape(rows, size, columns, size)
    found = np.argwhere(whole.all(axis=(1, 3))) * size
    some = found[:: max(len(found) // HUE_WINDOWS, 1)]
    return [
        LOG_LIGHT[raster.pixels[row : row + size, column : column + size]].astype(np.float64)
        for row, column in some.tolist()
    ]


def _grain(window: Floats, mm_per_px: float) -> Floats:
    """(N, 3) by how much each place is darker than around it, seen as finely as pencil is wide."""
    fine, wide = (
        cv2.GaussianBlur(window, (0, 0), size / mm_per_px) for size in (HUE_FINE_MM, HUE_WIDE_MM)
    )
    step = max(round(HUE_FINE_MM / mm_per_px), 1)
    return np.asarray((wide - fine)[::step, ::step].reshape(-1, 3))


def _shown(shares: Floats, pencil: Floats, varies: Floats) -> float:
    """How dark pencil is in a sum of colours, over the grain's scatter in it."""
    return float(shares @ pencil / np.sqrt(shares @ varies @ shares))
