"""A line read again along the pencil, between places that a hand has pointed out near it."""

import itertools

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d
from skimage.graph import MCP_Geometric

from digitize.errors import ToldError
from digitize.lines import line_of
from digitize.mend.picture import Picture, box_round
from digitize.pencil import RidgeMap, Stroke, fit_curves
from digitize.record import Line, Role

Floats = NDArray[np.float64]
POINTED_MM = 4.0  # a hand points no further off the line than this
CORRIDOR_MM = 15.0  # beside the straight way, where the line is looked for
SURE_NOISE = 12.0  # a ridge so many times the noise is as easy to follow as any
BARE_COST = 0.02  # of a mm of pencil over a mm of bare paper
PEAK_NOISE = 4.0  # below, there is no pencil to begin at
SMOOTH_MM = 1.0


def follow_pencil(
    points: Floats, picture: Picture, identifier: str, role: Role, whole: bool = False
) -> Line:
    """The line along the pencil that points (N, 2, mm) lie near, from the first to the last.

    The way costs least where the ridge is strongest (Dijkstra's shortest path over a grid); then
    the same curve is laid through it as through any line that was read.

    Parameters
    ----------
    whole : find the ridges of the whole paper, once, for many lines that will be followed on it.

    Raises
    ------
    ToldError
        If there is no pencil near a point.
    """
    near = picture.outline if whole else points
    wide = box_round(np.concatenate([near - CORRIDOR_MM, near + CORRIDOR_MM]))
    ridges = picture.ridges_in(wide)
    on_line = [_on_pencil(point, ridges) for point in points]
    ways = [_cheapest(a, b, ridges) for a, b in itertools.pairwise(on_line)]
    cells = np.concatenate([ways[0], *(way[1:] for way in ways[1:])])
    places = ridges.grid.to_mm(cells[:, ::-1].astype(float))
    step = ridges.grid.mm_per_px
    smooth = gaussian_filter1d(places, SMOOTH_MM / step, axis=0, mode="nearest")
    smooth[[0, -1]] = places[[0, -1]]
    strength = ridges.strength[cells[:, 0], cells[:, 1]].astype(np.float64)
    curves = fit_curves((Stroke(smooth, strength),), ridges, picture.part(wide))
    if not curves:
        x, y = points[0]
        raise ToldError(
            f"no pencil line can be followed from {x:.0f}, {y:.0f} mm: point closer to it, or "
            "draw it through more points"
        )
    (curve,) = curves
    same_way = np.linalg.norm(curve.points[0] - points[0]) <= np.linalg.norm(
        curve.points[-1] - points[0]
    )
    return line_of(curve if same_way else curve.reversed(), identifier, role, 1.0, "told")


def _on_pencil(point: Floats, ridges: RidgeMap) -> tuple[int, int]:
    """The cell (row, column) of the strongest ridge near a point, the nearer the rather."""
    grid = ridges.grid
    reach = int(np.ceil(POINTED_MM / grid.mm_per_px))
    column, row = np.round(grid.to_px(point[None])[0]).astype(int)
    rows, columns = ridges.strength.shape
    top, left = max(row - reach, 0), max(column - reach, 0)
    part = ridges.strength[top : row + reach + 1, left : column + reach + 1]
    if not part.size or row >= rows or column >= columns:
        raise ToldError(f"{point[0]:.0f}, {point[1]:.0f} mm lies off the picture of the paper")
    y, x = np.mgrid[top : top + part.shape[0], left : left + part.shape[1]]
    off = np.hypot(y - row, x - column) * grid.mm_per_px
    score = np.where(off <= POINTED_MM, np.minimum(part, SURE_NOISE), -np.inf)
    score = score * (1 - 0.5 * off / POINTED_MM)
    best = int(np.argmax(score))
    if part.reshape(-1)[best] < PEAK_NOISE:
        raise ToldError(
            f"no pencil shows within {POINTED_MM:g} mm of {point[0]:.0f}, {point[1]:.0f} mm: "
            "draw the line instead"
        )
    return int(y.reshape(-1)[best]), int(x.reshape(-1)[best])


def _cheapest(start: tuple[int, int], end: tuple[int, int], ridges: RidgeMap) -> NDArray[np.int64]:
    """The cells (N, 2) of the way between two that goes along the pencil."""
    margin = round(CORRIDOR_MM / ridges.grid.mm_per_px)
    low = np.maximum(np.minimum(start, end) - margin, 0)
    high = np.maximum(start, end) + margin + 1
    part = ridges.strength[low[0] : high[0], low[1] : high[1]]
    ease = np.clip(part / SURE_NOISE, BARE_COST, 1.0)
    paths = MCP_Geometric(1.0 / ease)
    first, last = tuple(np.subtract(start, low)), tuple(np.subtract(end, low))
    paths.find_costs([first], [last])
    return np.asarray(np.array(paths.traceback(last)) + low, np.int64)
