"""How far a slit gapes: its edges lie apart, and the floor shows between them.

A slit that lies open in the photo has turned about its tip, so its gap grows with the depth. What
was drawn on either flap then stands half the gap further off the slit's middle than it is.

Narrow as it is, the gap is seen through the camera's blur: a bar as wide as the gap, smoothed by a
bell as wide as a closed slit looks. Blur and gap are found together, from the widths all along.
"""

import math
from collections.abc import Callable
from functools import cache

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import uniform_filter1d
from scipy.special import ndtr
from shapely import LineString, distance
from shapely import points as points_of

from digitize.pencil import Curve, DarknessAt
from digitize.plane import places_beside, square_to
from digitize.tucks.thresholds import (
    BLUR_MM,
    DEPTH_STEP_MM,
    FEWEST,
    GAPE_APART,
    GAPE_CLEAR_MM,
    GAPE_NEAR_MM,
    GAPE_PLAIN,
    GAPE_REACH_MM,
    GAPE_ROWS,
    GAPE_STEP_MM,
    LEAST_DEPTH_MM,
    MOST_OFF_MM,
)

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]
Gape = Callable[[Floats], Floats]  # mm, at depths, mm
AT_EDGE_MM = np.arange(0.0, 2 * GAPE_REACH_MM, 0.05)  # gapes at the paper's edge


def gape_of(cut: Curve, other: Curve | None, darkness_at: DarknessAt) -> Gape:
    """How wide a slit gapes at a depth, mm: 0 for one that may be closed.

    Its width is that over which it is half as dark as in its middle. The gap that grows in
    proportion to the depth is the one whose widths are the least off (by their mean, as lines
    beside the slit are far off here and there), if it is plainly likelier than none.

    Parameters
    ----------
    other : its lap line; where that is near, the width is not the slit's alone.
    darkness_at : darkness of the paper at points (..., 2), mm.
    """
    slope, _ = _opening_of(cut, other, darkness_at)
    return (lambda at: slope * at) if slope > 0.0 else np.zeros_like


def width_at_tip(mark: Curve, other: Curve | None, darkness_at: DarknessAt) -> float:
    """How wide a mark looks where it begins, mm, told from all of it; NaN if it is not seen enough.

    A cut comes to nothing there, however far it gapes, and looks as wide as the camera blurs a
    hair; what a pen drew is as wide as the pen all along.

    Parameters
    ----------
    other : the mark beside it; where that is near, the width is not this one's alone.
    darkness_at : darkness of the paper at points (..., 2), mm.
    """
    return _opening_of(mark, other, darkness_at)[1]


def _opening_of(cut: Curve, other: Curve | None, darkness_at: DarknessAt) -> tuple[float, float]:
    """By how much a slit's gape grows with the depth, and how wide it would look closed, mm."""
    depths, widths = _widths(cut, other, darkness_at)
    if len(depths) < FEWEST:
        return 0.0, math.nan
    slopes = AT_EDGE_MM / cut.length
    off = _how_far_off(slopes, depths, widths)
    least = off.min(axis=0) + 1e-6
    best = int(np.argmin(least))
    # Widths closer together than they were smoothed over say the same.
    likelier = len(depths) / GAPE_ROWS * math.log(least[0] / least[best])
    best = best if likelier > GAPE_PLAIN else 0
    return float(slopes[best]), float(BLUR_MM[int(np.argmin(off[:, best]))])


def _how_far_off(slopes: Floats, depths: Floats, widths: Floats) -> Floats:
    """(B, S) how far widths (N,) are off what slopes (S,) give at depths (N,), by each of BLUR_MM.

    Of slopes between two of every GAPE_APART it is worked out only where it may be the least of
    all: a gap cannot look wider by more than ``steepest`` times what it is wider. Elsewhere it is
    infinite.
    """
    off = np.full((len(BLUR_MM), len(slopes)), np.inf)

    def look(some: Flags) -> None:
        rows, columns = np.nonzero(some & np.isinf(off))
        seen = _as_seen(slopes[columns, None] * depths, BLUR_MM[rows, None])
        off[rows, columns] = np.abs(widths - seen).clip(max=MOST_OFF_MM).mean(axis=1)

    every, (gaps, wide) = np.arange(len(slopes)), _seen_through_one()
    look(np.broadcast_to(every % GAPE_APART == 0, off.shape))
    last = (len(every) - 1) // GAPE_APART
    nearest = GAPE_APART * np.minimum(np.rint(every / GAPE_APART).astype(int), last)
    steepest = float((np.diff(wide) / np.diff(gaps)).max())
    spare = steepest * np.abs(slopes - slopes[nearest]) * float(depths.mean()) + 1e-9
    look(off[:, nearest] - spare <= off.min())
    look(np.broadcast_to(every == off.min(axis=0).argmin(), off.shape))
    return off


def _widths(cut: Curve, other: Curve | None, darkness_at: DarknessAt) -> tuple[Floats, Floats]:
    """(N,) depths and (N,) how wide the slit looks there, mm, where it is seen by itself."""
    depths = np.arange(LEAST_DEPTH_MM, cut.length - DEPTH_STEP_MM * GAPE_ROWS, DEPTH_STEP_MM)
    if not len(depths):
        return depths, depths
    offsets = np.arange(-GAPE_REACH_MM, GAPE_REACH_MM + GAPE_STEP_MM / 2, GAPE_STEP_MM)
    places, normals = square_to(cut.points, depths, 2.0)
    seen = darkness_at(places_beside(places, normals, offsets))
    # On dark paper, darkness is lightness, and a cut that shows as a dark line has none.
    dark = uniform_filter1d(math.copysign(1.0, cut.weight) * seen, GAPE_ROWS, axis=0)
    near = np.where(np.abs(offsets) < GAPE_NEAR_MM, dark, -np.inf)
    middle, half = near.argmax(axis=1)[:, None], near.max(axis=1, keepdims=True) / 2
    index = np.arange(len(offsets))
    # The last pale place before the middle, and the first after it; between it and the next lies
    # where it is half as dark.
    before = np.where((dark < half) & (index < middle), index, -1).max(axis=1)
    after = np.where((dark < half) & (index > middle), index, len(offsets)).min(axis=1)
    clear = (half[:, 0] > 0) & (before >= 0) & (after < len(offsets))
    if other is not None:
        clear &= distance(LineString(other.points), points_of(places)) > GAPE_CLEAR_MM
    rows = np.flatnonzero(clear)
    sides = [
        to - step * _share(dark[rows, to], dark[rows, to - step], half[rows, 0])
        for to, step in ((before[rows], -1), (after[rows], 1))
    ]
    return depths[rows], (sides[1] - sides[0]) * GAPE_STEP_MM


def _share(pale: Floats, dark: Floats, half: Floats) -> Floats:
    """(N,) how far it is from pale places to where it is half as dark, of the way to dark ones."""
    return np.asarray((half - pale) / np.maximum(dark - pale, 1e-9))


def _as_seen(gaps_mm: Floats, blur_mm: Floats) -> Floats:
    """(K, N) how wide gaps (K, N) look through blurs (K, 1), mm."""
    gaps, seen = _seen_through_one()
    return np.asarray(blur_mm * np.interp(gaps_mm / blur_mm, gaps, seen))


@cache
def _seen_through_one() -> tuple[Floats, Floats]:
    """(N,) gaps, and (N,) how wide each looks through a blur that is 1 wide at half its height."""
    gaps = np.append(np.arange(0.01, 4.0, 0.05), 2 * GAPE_REACH_MM / BLUR_MM[0])
    sigma = 1 / (2 * math.sqrt(2 * math.log(2)))
    aside = np.arange(0.0, gaps[-1], 0.002)
    one, two = (ndtr((aside + side * gaps[:, None] / 2) / sigma) for side in (1, -1))
    tone = one - two
    return gaps, 2 * aside[(tone < tone[:, :1] / 2).argmax(axis=1)]
