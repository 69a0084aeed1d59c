"""Folds told by one line that they part and a crease that runs through where it stops.

A short fold may be crossed by the trim edge alone. Its one break is like any that a pencil leaves;
but from where the line stops, a crease runs on to the paper's edge, and inwards to its tip.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d
from scipy.special import expit
from shapely import LineString, Point, Polygon

from digitize.pencil import Curve, DarknessAt
from digitize.plane import robust_sigma
from digitize.tucks.pressed import crease_through, quiet
from digitize.tucks.thresholds import (
    APART_MM,
    BLOCK_ROWS,
    FURTHEST_EDGE_MM,
    INWARDS_MM,
    LINE_MM,
    LONE_BREAKS_ASIDE_MM,
    LONE_BREAKS_BESIDE_MM,
    LONE_BREAKS_LEAST_GAP_MM,
    LONE_BREAKS_OTHER_MM,
    LONE_BREAKS_STEADY,
    MOST_BEND,
    MOST_SLANT,
    MOST_SURE,
    NARROWEST,
    NEAREST_EDGE_MM,
    NEAREST_TIP_MM,
    PENCIL_MM,
    PLACES,
    PRESSED_STEP_MM,
    ROW_MM,
    SHORT_MM,
    SIGNATURE_MM,
    SLOPE_STEP_MM,
    SPREAD_MM,
    TENTH,
    WEDGES_WIDEST,
)
from digitize.tucks.wedges import Gap

Floats = NDArray[np.float64]
Whole = NDArray[np.intp]


@dataclass(frozen=True, eq=False)
class LoneFold:
    """A fold at one break: its crease in sight, and how likely it is that and not another."""

    gap: Gap
    crease: Curve
    sure: float


def lone_folds(
    gaps: Sequence[Gap],
    curves: Sequence[Curve],
    taken: Sequence[Curve],
    paper: Polygon,
    darkness_at: DarknessAt,
    longest_mm: float,
) -> list[LoneFold]:
    """Folds at breaks of single lines, the plainest first.

    Parameters
    ----------
    gaps : breaks that nothing else explains.
    curves : what is drawn, which no crease is.
    taken : marks of tucks that were found, close to which there is no other.
    darkness_at : darkness of the paper at points (..., 2), mm.
    longest_mm : of a fold.
    """
    wide = [
        gap for gap in gaps if gap.width_mm > LONE_BREAKS_LEAST_GAP_MM and not _by_chance(gap, gaps)
    ]
    plain = math.sqrt(2 * math.log(1000 * 2 * PLACES * max(len(wide), 1)))
    paths = [LineString(curve.points) for curve in curves]
    found: list[tuple[float, LoneFold]] = []
    for gap in wide:
        seen = _fold_at(gap, paths, paper, darkness_at, longest_mm, plain)
        if seen is not None:
            found.append(seen)
    found.sort(key=lambda each: -each[0])
    kept: list[LoneFold] = []
    others = [LineString(mark.points) for mark in taken]
    for _, fold in found:
        path = LineString(fold.crease.points)
        if all(path.distance(other) > APART_MM for other in others):
            kept.append(fold)
            others.append(path)
    return kept


def _by_chance(gap: Gap, gaps: Sequence[Gap]) -> bool:
    """Whether so many other breaks are as wide, which nothing explains, that it is one of those."""
    return sum(other.width_mm > gap.width_mm for other in gaps) > 1


def _fold_at(
    gap: Gap,
    paths: Sequence[LineString],
    paper: Polygon,
    darkness_at: DarknessAt,
    longest_mm: float,
    plain: float,
) -> tuple[float, LoneFold] | None:
    """How plainly a crease runs through a break, and the fold; None if none plainly does."""
    middle = gap.ends.mean(axis=0)
    across = (gap.ends[1] - gap.ends[0]) / gap.width_mm
    ahead = np.array([-across[1], across[0]])
    reaches = [_to_edge(middle, way, paper) for way in (ahead, -ahead)]
    if reaches[1] < reaches[0]:
        ahead = -ahead
    reach, inwards = min(reaches), min(longest_mm - min(reaches), max(reaches) - LINE_MM)
    if not NEAREST_EDGE_MM < reach < FURTHEST_EDGE_MM or inwards < INWARDS_MM:
        return None
    depths = np.arange(-inwards, reach - 2.0, ROW_MM)
    asides = np.arange(
        -LONE_BREAKS_ASIDE_MM, LONE_BREAKS_ASIDE_MM + PRESSED_STEP_MM / 2, PRESSED_STEP_MM
    )
    places = middle + depths[:, None, None] * ahead + asides[:, None] * across
    chart = quiet(darkness_at(places))
    outer = (depths > -INWARDS_MM) & (np.abs(depths) > LINE_MM)
    slopes = np.linspace(
        -MOST_SLANT, MOST_SLANT, 2 * math.ceil(MOST_SLANT * reach / SLOPE_STEP_MM) + 1
    )
    shows = _shows(chart[outer], depths[outer], slopes)
    best = shows.max(axis=0)
    aside = np.abs(asides) - gap.width_mm / 2
    other = best[aside > LONE_BREAKS_OTHER_MM]
    chance = float(np.quantile(other, 0.9)) if len(other) else 0.0
    if chance <= 0.0:  # no paper is seen there, or the break is as wide as what is looked at
        return None
    shows *= TENTH / chance
    sides = []
    for side in (-1, 1):
        short = gap.width_mm / 2 - side * asides
        near = np.where((short > SHORT_MM[0]) & (short < SHORT_MM[1]), shows, -1.0)
        row, at = np.unravel_index(int(np.argmax(near)), near.shape)
        sides.append((float(near[row, at]), float(slopes[row]), int(at)))
    (other, *_), (shown, slope, column) = sorted(sides)
    if shown < plain:
        return None
    index = column + np.rint(slope * depths / PRESSED_STEP_MM).astype(np.intp)
    begin = _followed_in(chart, index, outer, slope * ROW_MM / PRESSED_STEP_MM)
    if begin is None or depths[begin[0]] > -NEAREST_TIP_MM:
        return None
    if not NARROWEST < gap.width_mm / -depths[begin[0]] < WEDGES_WIDEST:
        return None
    place, way = middle + asides[column] * across, ahead + slope * across
    tip = middle + depths[begin[0]] * ahead + asides[np.clip(begin[1], 0, len(asides) - 1)] * across
    end = place + _to_edge(place, way, paper) * way
    if np.linalg.norm(end - tip) > longest_mm:
        return None
    beside = LineString([tip, place, end]).buffer(LONE_BREAKS_BESIDE_MM)
    if any(path.intersection(beside).length > PENCIL_MM for path in paths):
        return None
    odds = (shown**2 - max(other, TENTH) ** 2) / 2
    if abs(asides[column]) < gap.width_mm / 4:
        odds = 0.0  # it may be the other crease, which lies half way
    sure = min(float(expit(max(odds, 0.0))), MOST_SURE)
    return shown, LoneFold(gap, crease_through(tip, place, end), sure)


def _shows(chart: Floats, depths: Floats, slopes: Floats) -> Floats:
    """(S, M) how unlike others a way looks, by its slope and where it crosses the line."""
    width = chart.shape[1]
    columns = np.arange(width)
    shift = np.rint(np.outer(slopes, depths) / PRESSED_STEP_MM).astype(np.intp)
    rows = np.arange(len(depths))[:, None]
    shows = np.zeros((len(slopes), width))
    for order in (1, 2):
        seen = gaussian_filter1d(chart, SPREAD_MM / PRESSED_STEP_MM, axis=1, order=order)
        means = np.array(
            [seen[rows, np.clip(columns + by[:, None], 0, width - 1)].mean(axis=0) for by in shift]
        )
        shows += (means / (robust_sigma(means, 0.0) + 1e-12)) ** 2
    return np.asarray(np.sqrt(shows))


def _followed_in(
    chart: Floats, index: Whole, outer: NDArray[np.bool_], slope: float
) -> tuple[int, int] | None:
    """Row and column of a crease's tip; None if it does not show as further out anywhere.

    It bends a little, so it is followed by blocks of rows, each to where it looks most as further
    out; and it ends where least squares would have it begin.

    Parameters
    ----------
    chart : (N, M) the paper from within to the edge.
    index : (N,) the crease's column, if it were straight.
    outer : (N,) the rows where it was found.
    slope : columns to a row.
    """
    half = round(SIGNATURE_MM / PRESSED_STEP_MM)
    window = np.arange(-half, half + 1)

    def rows_at(rows: Whole, columns: Whole) -> Floats:
        """(..., R, W) the chart about columns (..., R) of rows (R,), less each row's mean."""
        seen = chart[rows[:, None], np.clip(columns[..., None] + window, 0, chart.shape[1] - 1)]
        return np.asarray(seen - seen.mean(axis=-1, keepdims=True))

    found = np.flatnonzero(outer)
    seen = rows_at(found, index[found])
    signature = seen.mean(axis=0)
    usual = float(np.mean(seen @ signature))
    if usual <= 0:
        return None
    at, best, gained = float(index[found[0]]), None, 0.0
    most = 0.0
    for last in range(int(found[0]), BLOCK_ROWS, -BLOCK_ROWS):
        rows = np.arange(last - BLOCK_ROWS, last)
        ways = at + (rows - last) * slope + np.arange(-MOST_BEND, MOST_BEND + 1)[:, None]
        like = (rows_at(rows, np.rint(ways).astype(np.intp)) @ signature).mean(axis=1)
        nearest = int(np.argmax(like))
        bend = nearest - MOST_BEND
        slope -= LONE_BREAKS_STEADY * bend / BLOCK_ROWS
        at = float(ways[nearest, 0])
        gained += min(max(float(like[nearest]), -usual), 2 * usual) - usual / 2
        if gained > most:
            most, best = gained, (int(rows[0]), round(at))
    return best


def _to_edge(place: Floats, way: Floats, paper: Polygon) -> float:
    """How often a way leads to the paper's edge, in its own lengths; not finite if it does not."""
    hit = paper.exterior.intersection(LineString([place, place + 400.0 * way]))
    if hit.is_empty:
        return math.inf
    parts = getattr(hit, "geoms", [hit])
    nearest = min(float(Point(*place).distance(part)) for part in parts)
    return nearest / float(np.linalg.norm(way))
