"""Where a lap line parts from its cut: two marks so close that they are seen as one.

Further out each is seen alone, and so is its profile. Nearer the tip the darkness across the cut
is the sum of the two profiles, some way apart: the way that leaves the least is the lap there
(least squares, from where the marks stand clear towards the tip, each place near the last).
"""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from shapely import LineString, get_coordinates, line_interpolate_point, line_locate_point
from shapely import points as points_of

from digitize.pencil import Curve, DarknessAt, fair
from digitize.plane import cross, places_beside, square_to
from digitize.tucks.thresholds import (
    ALONE_MM,
    BLOCK_MM,
    CLOSER_MM,
    FEWEST_ALONE,
    FURTHER_MM,
    PARTING_CLEAR_MM,
    PARTING_LEAST_LAP_MM,
    PARTING_REACH_MM,
    PARTING_ROWS,
    PARTING_STEADY,
    PARTING_STEP_MM,
    PLACE_SIGMA_MM,
    SCALES,
    SHIFTS,
    TOGETHER_MM,
)

Floats = NDArray[np.float64]
Whole = NDArray[np.int64]


@dataclass(frozen=True)
class _Blocks:
    """Stretches of the cut from its tip: (N,) depths, (N, PARTING_ROWS, 2) places and normals."""

    depths: Floats
    places: Floats
    normals: Floats

    def profiles(
        self, some: Whole, offsets: Floats, darkness_at: DarknessAt, aside: Floats | float = 0.0
    ) -> Floats:
        """(S, M) darkness across some blocks at offsets from places so far aside (S,), mm."""
        normals = self.normals[some].reshape(-1, 2)
        by = np.broadcast_to(aside, len(some)).repeat(PARTING_ROWS)[:, None]
        places = self.places[some].reshape(-1, 2) + by * normals
        dark = darkness_at(places_beside(places, normals, offsets))
        return np.asarray(dark.reshape(len(some), PARTING_ROWS, len(offsets)).mean(axis=1))


def parted(cut: Curve, lap_line: Curve, darkness_at: DarknessAt) -> Curve:
    """The lap line from where it parts from its cut.

    Parameters
    ----------
    darkness_at : darkness of the paper at points (..., 2), mm.
    """
    path = LineString(cut.points)
    depths = np.asarray(line_locate_point(path, points_of(lap_line.points)))
    feet = get_coordinates(line_interpolate_point(path, depths))
    laps = np.linalg.norm(lap_line.points - feet, axis=1)
    clear = np.flatnonzero(laps > PARTING_CLEAR_MM)
    if len(clear) < 4:
        return lap_line
    first = int(clear[0])
    side = _side(cut, lap_line.points[first] - feet[first])
    blocks = _blocks(cut, side)
    known = np.interp(blocks.depths, depths[first:], laps[first:], right=np.nan)
    rest = lap_line.points[first:]
    found = _followed_in(blocks, known, depths[first], darkness_at)
    if not found:
        together = min(int(np.argmax(laps > TOGETHER_MM)), len(laps) - 2)
        return replace(lap_line, points=lap_line.points[together:])
    index = np.array([block for block, _ in found])
    lap = np.array([lap for _, lap in found])
    places = blocks.places[index].mean(axis=1)
    normals = blocks.normals[index].mean(axis=1)
    near = (places + lap[:, None] * normals)[::-1]
    return replace(lap_line, points=fair(np.concatenate([near, rest]), PLACE_SIGMA_MM).points)


def _side(cut: Curve, offset: Floats) -> float:
    ahead = cut.points[-1] - cut.points[0]
    return 1.0 if cross(ahead, offset) > 0 else -1.0


def _blocks(cut: Curve, side: float) -> _Blocks:
    """Blocks along the cut, with normals to the lap line's side."""
    starts = np.arange(0.0, cut.length - BLOCK_MM, BLOCK_MM)
    at = starts[:, None] + (np.arange(PARTING_ROWS) + 0.5) / PARTING_ROWS * BLOCK_MM
    places, normals = square_to(cut.points, at.ravel(), 3.0)
    shape = (len(starts), PARTING_ROWS, 2)
    return _Blocks(at.mean(axis=1), places.reshape(shape), side * normals.reshape(shape))


def _followed_in(
    blocks: _Blocks, known: Floats, clear_depth: float, darkness_at: DarknessAt
) -> list[tuple[int, float]]:
    """Block and lap, mm, from the first clear depth inwards."""
    alone = np.flatnonzero((known > ALONE_MM) & (blocks.depths > clear_depth))
    if len(alone) < FEWEST_ALONE:
        return []
    window = np.arange(-PARTING_REACH_MM, PARTING_REACH_MM + PARTING_STEP_MM / 2, PARTING_STEP_MM)
    cut_profile = np.median(blocks.profiles(alone, window, darkness_at), axis=0)
    lap_profile = np.median(blocks.profiles(alone, window, darkness_at, known[alone]), axis=0)
    inside = np.flatnonzero(blocks.depths < clear_depth)[::-1]
    if not len(inside):
        return []
    offsets = np.arange(-PARTING_REACH_MM, _most_lap(1.0) + PARTING_REACH_MM, PARTING_STEP_MM)
    profiles = blocks.profiles(inside, offsets, darkness_at)
    found: list[tuple[int, float]] = []
    before, depth = PARTING_CLEAR_MM, clear_depth
    slope = _slope(known, blocks.depths, clear_depth)
    for index, profile in zip(inside, profiles, strict=True):
        expected = before - slope * (depth - blocks.depths[index])
        highest = min(before + FURTHER_MM, _most_lap(float(blocks.depths[index]) / clear_depth))
        if highest < PARTING_LEAST_LAP_MM:
            break
        laps = np.arange(max(min(before, highest) - CLOSER_MM, 0.3), highest, 0.05)
        near = offsets < before + PARTING_REACH_MM
        parts = window, cut_profile, lap_profile
        lap = _best_lap(profile[near], offsets[near], parts, laps, float(expected))
        if lap < PARTING_LEAST_LAP_MM:
            break
        found.append((int(index), lap))
        slope = 0.7 * slope + 0.3 * max((before - lap) / (depth - blocks.depths[index]), 0.0)
        before, depth = lap, float(blocks.depths[index])
    return found


def _most_lap(share: float) -> float:
    """The most a lap may be, mm, at such a share of the depth where it is first clear.

    It grows with the depth at least as fast as on a cone, where it is in proportion.
    """
    return 1.1 * PARTING_CLEAR_MM * share + 0.1


def _slope(known: Floats, depths: Floats, clear_depth: float) -> float:
    """How fast the lap grows with the depth where it is first clear."""
    near = (depths > clear_depth) & (depths < clear_depth + 15.0) & np.isfinite(known)
    if near.sum() < 3:
        return 0.05
    return float(np.clip(np.polyfit(depths[near], known[near], 1)[0], 0.01, 0.5))


def _best_lap(
    seen: Floats,
    offsets: Floats,
    profiles: tuple[Floats, Floats, Floats],
    laps: Floats,
    expected: float,
) -> float:
    """The lap at which the two profiles, each scaled, sum up best to what is seen.

    The cut may lie a little aside of its line.
    """
    window, cut_profile, lap_profile = profiles
    ones = _shifted(offsets, SHIFTS, window, cut_profile)
    twos = _shifted(offsets, laps, window, lap_profile)
    # Least squares for the two scales, for every pair at once.
    aa, bb = (ones**2).sum(axis=1)[:, None], (twos**2).sum(axis=1)[None]
    ab, a, b = ones @ twos.T, (ones @ seen)[:, None], (twos @ seen)[None]
    share = np.maximum(aa * bb - ab**2, 1e-9)
    one = np.clip((a * bb - b * ab) / share, *SCALES)
    two = np.clip((b * aa - a * ab) / share, *SCALES)
    total = float((seen**2).sum()) + 1e-9
    residual = total - 2 * (one * a + two * b) + one**2 * aa + two**2 * bb + 2 * one * two * ab
    away = (laps[None] - expected) ** 2 + SHIFTS[:, None] ** 2
    best = np.unravel_index(np.argmin(residual / total + PARTING_STEADY * away), residual.shape)
    return float(laps[best[1]])


def _shifted(offsets: Floats, shifts: Floats, window: Floats, profile: Floats) -> Floats:
    """(S, M) a profile at each of some shifts."""
    return np.array(
        [np.interp(offsets - shift, window, profile, left=0.0, right=0.0) for shift in shifts]
    )
