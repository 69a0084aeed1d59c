"""A mark's profile: where across it the line lies, and how wide it is.

A drawn line lies at the middle of its mark. Rubbing the side of the lead over the panel's edge
leaves a band that is sharp at the edge and fades away from it: there the line lies on the sharp
side (common practice, no source).
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d, median_filter

from digitize.pencil.polyline import places_along, places_beside, running_length
from digitize.pencil.ridges import RidgeMap

Floats = NDArray[np.float64]
BLOCK_MM = 2.0  # a place is measured on so much of a line
ROWS = 5  # profiles to a block
REACH_MM, OFFSET_STEP_MM = 3.2, 0.1
BLUR_SIGMA_PX = 0.9  # of raster and lens together
SEARCH_MM = 0.8
WIDE_MM = 1.2
LEAST_WIDE_MM = 10.0
LEAST_ASYMMETRY = 0.2
GROUND_BLOCKS, LEAST_STEP = 4.0, 0.15
EDGE_BLOCKS = 9
FLANK_MM = (0.6, 2.2)
SHEEN_REACH_MM = 2.4
CREASE_SHEEN = 0.35


@dataclass(frozen=True)
class Profiles:
    """A mark's darkness across it, block by block along it.

    Attributes
    ----------
    points, normals : (N, 2) mm, where the profiles cross the curve, and to its left.
    offsets : (M,) mm to the left.
    darkness : (N, M).
    """

    points: Floats
    normals: Floats
    offsets: Floats
    darkness: Floats


def profiles_along(points: Floats, ridges: RidgeMap, closed: bool = False) -> Profiles:
    """Profiles along a curve (N, 2) of closely spaced points."""
    length = running_length(points)[-1]
    blocks = max(int(length / BLOCK_MM), 1)
    # Half a block short of either end, so that each block lies on the mark.
    at = places_along(points, np.linspace(0, length, blocks * ROWS * 2 + 1)[1::2])
    tangent = np.gradient(at, axis=0) if len(at) > 1 else np.diff(points[[0, -1]], axis=0)
    tangent = gaussian_filter1d(tangent, 2.0, axis=0, mode="wrap" if closed else "nearest")
    tangent /= np.linalg.norm(tangent, axis=1, keepdims=True) + 1e-12
    normals = np.stack([-tangent[:, 1], tangent[:, 0]], axis=1)
    offsets = np.arange(-REACH_MM, REACH_MM + OFFSET_STEP_MM / 2, OFFSET_STEP_MM)
    darkness = ridges.darkness_at(places_beside(at, normals, offsets))

    def blocked(values: Floats) -> Floats:
        return np.asarray(values.reshape(blocks, ROWS, -1).mean(axis=1))

    normals = blocked(normals)
    normals /= np.linalg.norm(normals, axis=1, keepdims=True) + 1e-12
    return Profiles(blocked(at), normals, offsets, blocked(darkness))


def width_of(profiles: Profiles, mm_per_px: float) -> tuple[float, Floats]:
    """Width of the mark (mm) with the picture's own blur taken off, and (N,) raw widths by block.

    The width is that at half of the darkness.
    """
    smooth = gaussian_filter1d(profiles.darkness, 1.5, axis=0, mode="nearest")
    base = np.minimum(np.median(smooth[:, :8], axis=1), np.median(smooth[:, -8:], axis=1))
    near = np.abs(profiles.offsets) < SEARCH_MM
    peak = smooth[:, near].max(axis=1)
    above = smooth > (base + (peak - base) / 2)[:, None]
    top = np.flatnonzero(near)[0] + smooth[:, near].argmax(axis=1)
    # From the top outward to the first place on either side that is not above.
    column = np.arange(above.shape[1])
    right = np.where(above | (column < top[:, None]), above.shape[1], column).min(axis=1)
    left = np.where(above | (column > top[:, None]), -1, column).max(axis=1)
    full = np.maximum(right - left - 1, 0) * OFFSET_STEP_MM
    blur = 2.355 * BLUR_SIGMA_PX * mm_per_px
    return float(np.sqrt(max(np.median(full) ** 2 - blur**2, 0.25**2))), full


def middle_of(profiles: Profiles, full_width: float) -> Floats:
    """(N,) offset of the mark's middle, mm to the left: the best match of a bar of its width.

    For a symmetric mark in even noise the best match is the most likely place.
    """
    offsets = profiles.offsets
    half = full_width / 2 + 0.3
    shifts = np.arange(-SEARCH_MM, SEARCH_MM + OFFSET_STEP_MM / 2, OFFSET_STEP_MM)
    # A smooth bar less its mean over the window that is looked at.
    away = np.abs(offsets[None] - shifts[:, None])
    window = away < half + 0.7
    bar = np.clip((half - away) / 0.6 + 0.5, 0, 1)
    mean = (bar * window).sum(axis=1, keepdims=True) / window.sum(axis=1, keepdims=True)
    bar = np.where(window, bar - mean, 0.0)
    match = profiles.darkness @ bar.T
    # Nearer is likelier: a neighbour's match must not win by a little.
    far = match.max(axis=1, keepdims=True).clip(0) * 0.35 * (shifts / SEARCH_MM) ** 2
    best = (match - far).argmax(axis=1).clip(1, len(shifts) - 2)
    rows = np.arange(len(best))
    low, mid, high = match[rows, best - 1], match[rows, best], match[rows, best + 1]
    bend = low - 2 * mid + high
    part = np.where(bend < -1e-12, 0.5 * (low - high) / np.where(bend < -1e-12, bend, 1), 0.0)
    middle = shifts[best] + np.clip(part, -0.5, 0.5) * OFFSET_STEP_MM
    return np.asarray(middle + _pull_of_the_ground(profiles, middle, half))


def _pull_of_the_ground(profiles: Profiles, middle: Floats, half: float) -> Floats:
    """(N,) what to add to a bar's middle where the ground is darker on one side.

    There the best match is drawn to the darker side. Either edge lies where the darkness is half
    way from that side's ground, whatever the other side's is; edges are less sure, and so are
    averaged along the mark.
    """
    dark = gaussian_filter1d(profiles.darkness, GROUND_BLOCKS, axis=0, mode="nearest")
    place = gaussian_filter1d(middle, GROUND_BLOCKS, mode="nearest")
    rows = np.arange(len(dark))
    away = profiles.offsets[None] - place[:, None]
    left, right = (
        _median_where(dark, (side * away > half + 0.3) & (side * away < half + 1.1))
        for side in (-1, 1)
    )
    top = np.where(np.abs(away) < half, dark, -np.inf).argmax(axis=1)
    peak = dark[rows, top]
    uneven = np.abs(right - left) > LEAST_STEP * (peak - np.minimum(left, right))
    edges = [
        _crossing(profiles.offsets, dark, top, (peak + ground) / 2, side)
        for side, ground in ((-1, left), (1, right))
    ]
    pull = np.clip((edges[0] + edges[1]) / 2 - place, -SEARCH_MM / 2, SEARCH_MM / 2)
    # A mark that only meets this one is no ground.
    return np.asarray(median_filter(np.where(uneven, pull, 0.0), EDGE_BLOCKS, mode="constant"))


def _median_where(values: Floats, mask: NDArray[np.bool_]) -> Floats:
    """(N,) median of each row's values where the mask is True."""
    ordered = np.sort(np.where(mask, values, np.inf), axis=1)
    count = np.maximum(mask.sum(axis=1), 1)
    return np.asarray(ordered[np.arange(len(values)), (count - 1) // 2])


def _crossing(
    offsets: Floats, dark: Floats, top: NDArray[np.int64], level: Floats, side: int
) -> Floats:
    """(N,) where each row first falls below its level, going outward from its top."""
    column = np.arange(len(offsets))
    outward = side * (column[None] - top[:, None])
    below = (dark < level[:, None]) & (outward > 0)
    reach = np.where(below, outward, len(offsets)).min(axis=1)
    last = np.clip(top + side * reach, 1, len(offsets) - 2)
    rows = np.arange(len(dark))
    low, high = dark[rows, last], dark[rows, last - side]
    share = np.clip((high - level) / (high - low + 1e-12), 0.0, 1.0)
    return np.asarray(offsets[last - side] + share * side * OFFSET_STEP_MM)


def sharp_side(profiles: Profiles, full: Floats) -> tuple[Floats, NDArray[np.bool_]]:
    """(N,) offset of the sharp side of a rubbed band, and where the mark is one.

    Parameters
    ----------
    full : (N,) raw widths by block, mm.
    """
    wide = (gaussian_filter1d(full, 2.0) > WIDE_MM) & (full < 2 * REACH_MM - 1)
    none = np.zeros(len(full))
    if wide.sum() * BLOCK_MM < LEAST_WIDE_MM:
        return none, np.zeros(len(full), bool)
    smooth = gaussian_filter1d(profiles.darkness, 1.0, axis=0, mode="nearest")
    slope = np.gradient(gaussian_filter1d(smooth, 1.5, axis=1), OFFSET_STEP_MM, axis=1)
    rise, fall = slope.max(axis=1), -slope.min(axis=1)
    asymmetry = gaussian_filter1d((rise - fall) / (rise + fall + 1e-6), 3.0)
    rubbed = wide & (np.abs(asymmetry) > LEAST_ASYMMETRY) & (sheen_of(profiles) < CREASE_SHEEN)
    steep = np.where(asymmetry[:, None] > 0, slope, -slope)
    best = steep.argmax(axis=1).clip(1, slope.shape[1] - 2)
    rows = np.arange(len(best))
    low, mid, high = steep[rows, best - 1], steep[rows, best], steep[rows, best + 1]
    bend = np.minimum(low - 2 * mid + high, -1e-12)
    edge = profiles.offsets[best] + 0.5 * (low - high) / bend * OFFSET_STEP_MM
    # A hand's edge has no steps of a millimetre: single blocks don't decide.
    typical = median_filter(edge, EDGE_BLOCKS, mode="nearest")
    return np.where(np.abs(edge - typical) < 0.6, edge, typical), rubbed


def sides_of(profiles: Profiles) -> tuple[Floats, Floats, Floats]:
    """(N,) darkness at its highest, and on the lighter and the darker side of the mark.

    On either side the lightest place counts: a neighbouring line must not pass for darker paper.
    """
    smooth = gaussian_filter1d(profiles.darkness, 2.0, axis=0, mode="nearest")
    sides = []
    for sign in (-1, 1):
        flank = (profiles.offsets * sign > FLANK_MM[0]) & (profiles.offsets * sign < FLANK_MM[1])
        sides.append(smooth[:, flank].min(axis=1))
    peak = smooth[:, np.abs(profiles.offsets) < 0.6].max(axis=1)
    return peak, np.minimum(*sides), np.maximum(*sides)


def sheen_of(profiles: Profiles) -> float:
    """How much lighter than the paper it is beside the mark, over how much darker on it.

    A crease throws light to one side and shade to the other; pencil has no light beside it.
    """
    mean = gaussian_filter1d(profiles.darkness.mean(axis=0), 1.0)
    near = mean[np.abs(profiles.offsets) < SHEEN_REACH_MM]
    return float(max(-near.min(), 0.0) / max(near.max(), 1e-6))
