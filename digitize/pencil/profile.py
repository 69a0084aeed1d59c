"""Marks' profiles: where across each the line lies, and how wide it is.

A drawn line lies at the middle of its mark. Rubbing the side of the lead over the panel's edge
leaves a band that is sharp at the edge and fades away from it: there the line lies on the sharp
side (common practice, no source).
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d

from digitize.pencil.ridges import RidgeMap
from digitize.pencil.runs import Runs
from digitize.pencil.thresholds import (
    BARE_MM,
    BLOCK_MM,
    BLUR_SIGMA_PX,
    CREASE_SHEEN,
    EDGE_BLOCKS,
    END_BLOCKS,
    FAR_FLANK_MM,
    FLANK_MM,
    GROUND_BLOCKS,
    LEAN_SCATTER,
    LEAST_LEAN,
    LEAST_WIDE_MM,
    OFFSET_STEP_MM,
    PROFILE_LEAST_STEP,
    PROFILE_REACH_MM,
    ROWS,
    SEARCH_MM,
    SHEEN_REACH_MM,
    SOME_LEAN,
    STILL_DARK,
    WANDER_BLOCKS,
    WIDE_MM,
)
from digitize.plane import places_along, places_beside, running_length
from digitize.workers import side_by_side

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]
BLOCKS_AT_ONCE = 128  # whose profiles fit the processor's cache


@dataclass(frozen=True)
class Profiles:
    """Marks' darkness across them, block by block along each, mark after mark.

    Attributes
    ----------
    runs : which of the N blocks are whose.
    points, normals : (N, 2) mm, where the profiles cross the curve, and to its left.
    offsets : (M,) mm to the left.
    darkness : (N, M).
    """

    runs: Runs
    points: Floats
    normals: Floats
    offsets: Floats
    darkness: Floats


def profiles_along(
    curves: Sequence[Floats],
    closed: Sequence[bool],
    ridges: RidgeMap,
    reach_mm: float = PROFILE_REACH_MM,
) -> Profiles:
    """Profiles so far to either side along curves (N, 2) of closely spaced points."""
    lengths = [float(running_length(points)[-1]) for points in curves]
    blocks = np.array([max(int(length / BLOCK_MM), 1) for length in lengths])
    # Half a block short of either end, so that each block lies on the mark.
    ways = [
        places_along(points, np.linspace(0, length, count * ROWS * 2 + 1)[1::2])
        for points, length, count in zip(curves, lengths, blocks.tolist(), strict=True)
    ]
    at = np.concatenate(ways)
    tangent = np.concatenate([np.gradient(way, axis=0) for way in ways])
    runs = Runs(blocks, np.array(closed, bool))
    tangent = Runs(blocks * ROWS, runs.closed).blurred(tangent, 2.0)
    tangent /= np.linalg.norm(tangent, axis=1, keepdims=True) + 1e-12
    normals = np.stack([-tangent[:, 1], tangent[:, 0]], axis=1)
    offsets = np.arange(-reach_mm, reach_mm + OFFSET_STEP_MM / 2, OFFSET_STEP_MM)

    def blocked(values: Floats) -> Floats:
        return np.asarray(values.reshape(len(values) // ROWS, ROWS, -1).mean(axis=1))

    def seen(first: int) -> Floats:
        some = slice(first, first + ROWS * BLOCKS_AT_ONCE)
        return blocked(ridges.darkness_at(places_beside(at[some], normals[some], offsets)))

    darkness = side_by_side(seen, range(0, len(at), ROWS * BLOCKS_AT_ONCE))
    normals = blocked(normals)
    normals /= np.linalg.norm(normals, axis=1, keepdims=True) + 1e-12
    return Profiles(runs, blocked(at), normals, offsets, np.concatenate(darkness))


def widths_of(profiles: Profiles, mm_per_px: float, light: bool) -> tuple[Floats, Floats]:
    """(K,) width of each mark (mm) with the picture's own blur taken off, (N,) raw ones by block.

    The width is that at half of the darkness. A mark that is ``light``, many times as bright as its
    paper, is half as light far out in its blur by the logarithm: there it is half of the light.
    """
    smooth = profiles.runs.blurred(profiles.darkness, 1.5)
    base = np.minimum(np.median(smooth[:, :8], axis=1), np.median(smooth[:, -8:], axis=1))
    near = np.abs(profiles.offsets) < SEARCH_MM
    peak = smooth[:, near].max(axis=1)
    rise = peak - base
    half = np.log1p(np.expm1(rise) / 2) if light else rise / 2
    above = smooth > (base + half)[:, None]
    top = np.flatnonzero(near)[0] + smooth[:, near].argmax(axis=1)
    # From the top outward to the first place on either side that is not above.
    column = np.arange(above.shape[1])
    right = np.where(above | (column < top[:, None]), above.shape[1], column).min(axis=1)
    left = np.where(above | (column > top[:, None]), -1, column).max(axis=1)
    full = np.maximum(right - left - 1, 0) * OFFSET_STEP_MM
    blur = 2.355 * BLUR_SIGMA_PX * mm_per_px
    return np.sqrt(np.maximum(profiles.runs.quantiles(full) ** 2 - blur**2, 0.25**2)), full


def edge_wander(profiles: Profiles, full: Floats) -> Floats:
    """(K,) standard deviation, mm, by which each mark's middle strays as its edges do.

    Edges that wander by themselves, each by e, make the width vary by e times the root of two and
    the middle by e over it: by half of what the width does. Single blocks' noise is left out, as
    the middle's own scatter along the mark has it.

    Parameters
    ----------
    full : (N,) raw widths by block, mm.
    """
    width = profiles.runs.blurred(full, WANDER_BLOCKS)
    off = width - profiles.runs.spread(profiles.runs.means(width))
    return np.asarray(np.sqrt(profiles.runs.means(off**2)) / 2)


def middle_of(profiles: Profiles, full: Floats) -> Floats:
    """(N,) offset of the mark's middle, mm to the left: the best match of a bar of its width.

    For a symmetric mark in even noise the best match is the most likely place.

    Parameters
    ----------
    full : (N,) raw widths by block, mm.
    """
    offsets = profiles.offsets
    half = profiles.runs.quantiles(full) / 2 + 0.3
    shifts = np.arange(-SEARCH_MM, SEARCH_MM + OFFSET_STEP_MM / 2, OFFSET_STEP_MM)
    # For each mark a smooth bar less its mean over the window that is looked at.
    away = np.abs(offsets[None] - shifts[:, None])[None]
    window = away < half[:, None, None] + 0.7
    bar = np.clip((half[:, None, None] - away) / 0.6 + 0.5, 0, 1)
    mean = (bar * window).sum(axis=2, keepdims=True) / window.sum(axis=2, keepdims=True)
    bar = np.where(window, bar - mean, 0.0)
    rows_of_each = profiles.runs.parts(profiles.darkness)
    match = np.concatenate([own @ b.T for own, b in zip(rows_of_each, bar, strict=True)])
    # Nearer is likelier: a neighbour's match must not win by a little.
    far = match.max(axis=1, keepdims=True).clip(0) * 0.35 * (shifts / SEARCH_MM) ** 2
    best = (match - far).argmax(axis=1).clip(1, len(shifts) - 2)
    rows = np.arange(len(best))
    low, mid, high = match[rows, best - 1], match[rows, best], match[rows, best + 1]
    bend = low - 2 * mid + high
    part = np.where(bend < -1e-12, 0.5 * (low - high) / np.where(bend < -1e-12, bend, 1), 0.0)
    middle = shifts[best] + np.clip(part, -0.5, 0.5) * OFFSET_STEP_MM
    return np.asarray(middle + _pull_of_the_ground(profiles, middle, profiles.runs.spread(half)))


def _pull_of_the_ground(profiles: Profiles, middle: Floats, half: Floats) -> Floats:
    """(N,) what to add to a bar's middle where the ground is darker on one side.

    There the best match is drawn to the darker side. Either edge lies where the darkness is half
    way from that side's ground, whatever the other side's is; edges are less sure, and so are
    averaged along the mark.
    """
    dark = profiles.runs.blurred(profiles.darkness, GROUND_BLOCKS)
    place = profiles.runs.blurred(middle, GROUND_BLOCKS)
    rows = np.arange(len(dark))
    away = profiles.offsets[None] - place[:, None]
    beyond = half[:, None]
    left, right = (
        _median_where(
            dark, (side * away > beyond + BARE_MM[0]) & (side * away < beyond + BARE_MM[1])
        )
        for side in (-1, 1)
    )
    top = np.where(np.abs(away) < beyond, dark, -np.inf).argmax(axis=1)
    peak = dark[rows, top]
    # Beside so broad a mark the profile ends in its foot, on one side sooner than on the other.
    seen = half + BARE_MM[1] + np.abs(place) <= profiles.offsets[-1] + OFFSET_STEP_MM
    left, right = np.where(seen, left, 0.0), np.where(seen, right, 0.0)
    uneven = np.abs(right - left) > PROFILE_LEAST_STEP * (peak - np.minimum(left, right))
    edges = [
        _crossing(profiles.offsets, dark, top, (peak + ground) / 2, side)
        for side, ground in ((-1, left), (1, right))
    ]
    pull = np.clip((edges[0] + edges[1]) / 2 - place, -SEARCH_MM / 2, SEARCH_MM / 2)
    # A mark that only meets this one is no ground.
    return profiles.runs.typical(np.where(uneven, pull, 0.0), EDGE_BLOCKS, 0.0)


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


def sharp_side(profiles: Profiles, full: Floats) -> tuple[Floats, Flags]:
    """(N,) offset of the sharp side of a rubbed band, and where the mark is one.

    Parameters
    ----------
    full : (N,) raw widths by block, mm.
    """
    runs = profiles.runs
    wide = runs.typical(full, END_BLOCKS) > WIDE_MM
    wide &= (full < 2 * profiles.offsets[-1] - 1) & runs.spread(sheens_of(profiles) < CREASE_SHEEN)
    if not wide.any():
        return np.zeros(len(full)), wide
    smooth = runs.blurred(profiles.darkness, 1.0)
    slope = np.gradient(gaussian_filter1d(smooth, 1.5, axis=1), OFFSET_STEP_MM, axis=1)
    rise, fall = slope.max(axis=1), -slope.min(axis=1)
    lean = (rise - fall) / (rise + fall + 1e-6)
    asymmetry = runs.blurred(lean, 3.0)
    rubbed = _as_wholes(runs, np.sign(asymmetry) * (wide & (np.abs(asymmetry) > SOME_LEAN)), lean)
    steep = np.where(asymmetry[:, None] > 0, slope, -slope)
    best = steep.argmax(axis=1).clip(1, slope.shape[1] - 2)
    rows = np.arange(len(best))
    low, mid, high = steep[rows, best - 1], steep[rows, best], steep[rows, best + 1]
    bend = np.minimum(low - 2 * mid + high, -1e-12)
    edge = profiles.offsets[best] + 0.5 * (low - high) / bend * OFFSET_STEP_MM
    # A hand's edge has no steps of a millimetre: single blocks don't decide.
    typical = runs.typical(edge, EDGE_BLOCKS)
    return np.where(np.abs(edge - typical) < 0.6, edge, typical), rubbed


def _as_wholes(runs: Runs, side: Floats, lean: Floats) -> Flags:
    """(N,) which blocks belong to a rubbed band, each judged as a whole: one block says little.

    A lap line close beside its cut leans as far, though for less of a length.

    Parameters
    ----------
    side : (N,) to which side the mark leans there, -1 or 1; 0 where it is no band.
    lean : (N,) how far each block's profile leans.
    """
    new = np.append(True, side[1:] != side[:-1])
    new[runs.starts] = True
    number = np.cumsum(new) - 1
    for start, size in zip(runs.starts[runs.closed], runs.sizes[runs.closed], strict=True):
        if side[start] == side[start + size - 1]:
            number[number == number[start + size - 1]] = number[start]
    count = np.bincount(number)
    mean = np.bincount(number, side * lean) / np.maximum(count, 1)
    bands = mean > LEAST_LEAN + 3 * LEAN_SCATTER / np.sqrt(np.maximum(count, 1))
    return np.asarray((bands & (count * BLOCK_MM >= LEAST_WIDE_MM))[number])


def sides_of(profiles: Profiles) -> tuple[Floats, Floats, Floats]:
    """(N,) darkness at its highest, and on the lighter and the darker side of the mark.

    On either side the lightest place counts: a neighbouring line must not pass for darker paper.
    Where it is dark on both sides the mark is broad, and paper lies further off.
    """
    smooth = profiles.runs.blurred(profiles.darkness, 2.0)

    def lightest(sign: int, flank: tuple[float, float]) -> Floats:
        away = profiles.offsets * sign
        return np.asarray(smooth[:, (away > flank[0]) & (away < flank[1])].min(axis=1))

    near, far = ([lightest(sign, flank) for sign in (-1, 1)] for flank in (FLANK_MM, FAR_FLANK_MM))
    peak = smooth[:, np.abs(profiles.offsets) < 0.6].max(axis=1)
    broad = np.minimum(*near) > STILL_DARK * peak
    left, right = (np.where(broad, f, n) for n, f in zip(near, far, strict=True))
    return peak, np.minimum(left, right), np.maximum(left, right)


def sheens_of(profiles: Profiles) -> Floats:
    """(K,) how much lighter than the paper it is beside each mark, over how much darker on it.

    A crease throws light to one side and shade to the other; pencil has no light beside it.
    """
    mean = gaussian_filter1d(profiles.runs.means(profiles.darkness), 1.0, axis=1)
    near = mean[:, np.abs(profiles.offsets) < SHEEN_REACH_MM]
    return np.asarray(np.maximum(-near.min(axis=1), 0.0) / np.maximum(near.max(axis=1), 1e-6))
