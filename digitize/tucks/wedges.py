"""Folds told by the lines they part: bare paper that widens from a tip to the paper's edge.

A fold pressed flat again may leave creases that hardly show. What it took up shows all the same:
every line drawn across it while it was pinned stops at one crease, and goes on a lap's width
further. Such breaks of several lines lie between two ways that meet at the fold's tip, with no
pencil between them.
"""

import itertools
import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import cache

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d
from shapely import LineString, Point, Polygon, get_coordinates
from shapely.ops import substring

from digitize.pencil import Curve, DarknessAt
from digitize.plane import cross, places_along
from digitize.tucks.onsets import darkness_along, inked_level
from digitize.tucks.thresholds import (
    ACROSS,
    AT_EDGE_MM,
    AT_EDGE_SHARE,
    FACING,
    FEWEST_SKIPS,
    LED_MM,
    LONGER_THAN_SKIPS,
    MOST_PENCIL_MM,
    NARROWEST,
    NEAREST_TIP_MM,
    ONSETS_STEP_MM,
    SHORTEST_LINE_MM,
    SMOOTH_MM,
    WEDGES_FURTHEST_MM,
    WEDGES_INNER,
    WEDGES_LEAST_GAP_MM,
    WEDGES_WIDEST,
    WIDEST_LAP_MM,
)

Floats = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Gap:
    """Where a line is broken: between two curves' ends, or bare within one that was traced across.

    Attributes
    ----------
    ends : (2, 2) where it stops and goes on, mm.
    curves : on either side.
    """

    ends: Floats
    curves: tuple[Curve, Curve]

    @property
    def width_mm(self) -> float:
        """From end to end."""
        return float(np.linalg.norm(self.ends[1] - self.ends[0]))


@dataclass(frozen=True)
class Wedge:
    """Bare paper that widens from a tip.

    Attributes
    ----------
    tip : (2,) mm.
    edges : (2, 2) where its two sides meet the paper's edge, mm.
    gaps : the breaks that lie between its sides.
    off_mm : RMS of how far the lines end from its sides.
    by_chance : so many other breaks are as wide that its own may lie so by chance.
    """

    tip: Floats
    edges: Floats
    gaps: tuple[Gap, ...]
    off_mm: float
    by_chance: bool = False


def gaps_of(curves: Sequence[Curve], darkness_at: DarknessAt) -> list[Gap]:
    """Where lines are broken for longer than their pencil skips.

    Parameters
    ----------
    darkness_at : darkness of the paper at points (..., 2), mm.
    """
    found = []
    for curve in curves:
        if not curve.ticks and not curve.dashed and curve.length > SHORTEST_LINE_MM:
            found += [Gap(ends, (curve, curve)) for ends in _bare_within(curve, darkness_at)]
    return found + _between_ends(curves)


def _bare_within(curve: Curve, darkness_at: DarknessAt) -> list[Floats]:
    path = LineString(curve.points)
    at = np.arange(0.0, path.length, ONSETS_STEP_MM)
    tone = darkness_along(path, at, darkness_at)
    level = inked_level(path, at, tone, darkness_at)
    if level <= 0.0:
        return []
    dark = gaussian_filter1d(tone, SMOOTH_MM / ONSETS_STEP_MM) > level / 2
    changes = np.flatnonzero(np.diff(dark.astype(int)))
    starts = [int(c) for c in changes if dark[c]]
    runs = [(s, int(changes[changes > s][0])) for s in starts if (changes > s).any()]
    lengths = np.array([b - a for a, b in runs]) * ONSETS_STEP_MM
    least = WEDGES_LEAST_GAP_MM
    if len(lengths) >= FEWEST_SKIPS:
        least = max(least, LONGER_THAN_SKIPS * float(np.quantile(lengths, 0.75)))
    return [
        np.array([path.interpolate(at[k]).coords[0] for k in run])
        for run, length in zip(runs, lengths, strict=True)
        if length > least
    ]


def _between_ends(curves: Sequence[Curve]) -> list[Gap]:
    """Pairs of ends that face each other, each the other's nearest."""
    tips, ways, whose = [], [], []
    for curve in curves:
        if curve.closed or curve.length < SHORTEST_LINE_MM or curve.ticks:
            continue
        for points in (curve.points, curve.points[::-1]):
            run = points[0] - points[min(round(LED_MM), len(points) - 1)]
            tips.append(points[0])
            ways.append(run / (np.linalg.norm(run) + 1e-9))
            whose.append(curve)
    if len(tips) < 2:
        return []
    tip, way = np.array(tips), np.array(ways)
    step = tip[None] - tip[:, None]
    apart = np.linalg.norm(step, axis=2) + 1e-9
    ahead = np.einsum("ijk,ik->ij", step, way) / apart
    faces = (ahead > FACING) & (ahead.T > FACING) & (apart > WEDGES_LEAST_GAP_MM)
    faces &= apart < WIDEST_LAP_MM
    cost = np.where(faces, apart, np.inf)
    nearest = cost.argmin(axis=1)
    return [
        Gap(tip[[i, j]], (whose[i], whose[j]))
        for i, j in enumerate(nearest.tolist())
        if i < j and np.isfinite(cost[i, j]) and nearest[j] == i
    ]


def untold(gaps: Sequence[Gap], taken: Sequence[Curve]) -> list[Gap]:
    """The breaks that are at none of some tucks' marks."""
    marks = [LineString(mark.points) for mark in taken]
    return [
        gap
        for gap in gaps
        if all(LineString(_longer(gap.ends)).distance(mark) > 0 for mark in marks)
    ]


def wedges_of(
    curves: Sequence[Curve],
    gaps: Sequence[Gap],
    outline: Floats,
    darkness_at: DarknessAt,
    taken: Sequence[Curve],
    longest_mm: float,
) -> list[Wedge]:
    """The wedges of bare paper that part two lines or more, those that part most first.

    Parameters
    ----------
    gaps : where they are broken.
    outline : (N, 2) the paper's edge.
    darkness_at : darkness of the paper at points (..., 2), mm.
    taken : marks of tucks that were found; a line that breaks at one tells nothing more.
    longest_mm : of a wedge.
    """
    marks = [LineString(mark.points) for mark in taken]
    gaps = untold(gaps, taken)
    paper = Polygon(outline)
    found: list[Wedge] = []

    @cache  # few breaks span what may be a wedge, mostly none
    def pencil() -> Floats:
        return _pencil_of(curves, darkness_at)

    for inner, outer in itertools.permutations(gaps, 2):
        wedge = _wedge_of(inner, outer, gaps, paper, pencil)
        if wedge is None or np.linalg.norm(wedge.edges[0] - wedge.tip) > longest_mm:
            continue
        if not any(mark.intersects(Polygon([wedge.tip, *wedge.edges])) for mark in marks):
            found.append(wedge)
    found.sort(key=lambda wedge: (-len(wedge.gaps), wedge.off_mm))
    kept: list[Wedge] = []
    for wedge in found:
        area = Polygon([wedge.tip, *wedge.edges])
        if not any(area.intersects(Polygon([k.tip, *k.edges])) for k in kept):
            kept.append(wedge)
    told = {gap for wedge in kept for gap in wedge.gaps}
    others = [gap.width_mm for gap in gaps if gap not in told]
    # Among many breaks that nothing explains, some lie so by chance.
    return [
        replace(
            wedge,
            by_chance=sum(width > min(gap.width_mm for gap in wedge.gaps) for width in others)
            > len(wedge.gaps),
        )
        for wedge in kept
    ]


def parted_by(gaps: Sequence[Gap], curve: Curve) -> list[Curve]:
    """A curve that was traced across breaks, as its parts between them; else as it is."""
    path = LineString(curve.points)
    bare = sorted(
        tuple(sorted(path.project(Point(*end)) for end in gap.ends))
        for gap in gaps
        if gap.curves[0] is curve and gap.curves[1] is curve and not _is_opening(gap, curve)
    )
    if not bare:
        return [curve]
    starts = [0.0, *(stop for _, stop in bare)]
    stops = [*(start for start, _ in bare), path.length]
    parts = [
        get_coordinates(substring(path, start, stop))
        for start, stop in zip(starts, stops, strict=True)
        if stop - start > ONSETS_STEP_MM
    ]
    if curve.closed and len(parts) > 1:
        parts = [np.concatenate([parts[-1], parts[0]]), *parts[1:-1]]
    return [replace(curve, points=part, closed=False) for part in parts]


def _is_opening(gap: Gap, curve: Curve) -> bool:
    """Whether a break is the one between a curve's own two ends, within which nothing parts it."""
    ends = curve.points[[0, -1]]
    return not curve.closed and any(np.array_equal(gap.ends, e) for e in (ends, ends[::-1]))


def _longer(ends: Floats) -> Floats:
    """A break with a mm more at either end."""
    ahead = (ends[1] - ends[0]) / np.linalg.norm(ends[1] - ends[0])
    return np.asarray([ends[0] - 1.0 * ahead, ends[1] + 1.0 * ahead])


def _pencil_of(curves: Sequence[Curve], darkness_at: DarknessAt) -> Floats:
    """(N, 2) places every 0.5 mm where curves are dark."""
    places = []
    for curve in curves:
        path = LineString(curve.points)
        at = np.arange(0.25, path.length, 0.5)
        if len(at) < 2:
            continue
        tone = darkness_along(path, at, darkness_at)
        level = inked_level(path, at, tone, darkness_at)
        dark = at[tone > level / 2] if level > 0.0 else at  # what can't be told is pencil
        places.append(places_along(curve.points, dark))
    return np.concatenate([np.zeros((0, 2)), *places])


def _wedge_of(
    inner: Gap,
    outer: Gap,
    gaps: Sequence[Gap],
    paper: Polygon,
    pencil: Callable[[], Floats],
) -> Wedge | None:
    """The wedge that two breaks span, the first nearer to its tip; None if they span none."""
    if any(one is two for one in inner.curves for two in outer.curves):
        return None
    near, far = inner.ends, outer.ends
    if (near[1] - near[0]) @ (far[1] - far[0]) < 0:
        far = far[::-1]
    ahead = far.mean(axis=0) - near.mean(axis=0)
    apart = float(np.linalg.norm(ahead))
    if apart > WEDGES_FURTHEST_MM:
        return None
    across = [(ends[1] - ends[0]) / np.linalg.norm(ends[1] - ends[0]) for ends in (near, far)]
    if min(abs(cross(ahead / apart, way)) for way in across) < ACROSS:
        return None
    sides = far - near
    turn = cross(sides[0], sides[1])
    opening = abs(math.asin(np.clip(turn / np.prod(np.linalg.norm(sides, axis=1)), -1, 1)))
    if not NARROWEST < opening < WEDGES_WIDEST:
        return None
    # How far before the inner break the two sides meet, over how far apart the breaks are.
    before = cross(sides[1], near[1] - near[0]) / turn
    tip = near[0] - before * sides[0]
    if before * np.linalg.norm(sides[0]) < NEAREST_TIP_MM or not paper.contains(Point(tip)):
        return None
    gone = _to_edge(tip, far, paper)
    if gone is None:
        return None
    own, off = [], []
    axis = gone.mean(axis=0) - tip
    axis /= np.linalg.norm(axis)
    for gap in gaps:
        away = _from_sides(gap.ends, tip, gone)
        depth = float((gap.ends.mean(axis=0) - tip) @ axis)
        tolerance = AT_EDGE_MM + AT_EDGE_SHARE * opening * depth
        if depth > NEAREST_TIP_MM and away is not None and np.abs(away).max() < tolerance:
            own.append(gap)
            off.append(float(np.abs(away).max()))
    if inner not in own or outer not in own:
        return None
    first = float((near.mean(axis=0) - tip) @ axis)
    if 0.5 * _pencil_within(pencil(), tip, gone, 0.9 * first) > MOST_PENCIL_MM:
        return None
    return Wedge(tip, gone, tuple(own), float(np.sqrt(np.mean(np.square(off)))))


def _to_edge(tip: Floats, far: Floats, paper: Polygon) -> Floats | None:
    """(2, 2) where both sides meet the paper's edge beyond the outer break; None if they do not."""
    gone = []
    for end in far:
        ahead = (end - tip) / np.linalg.norm(end - tip)
        way = LineString([end, end + 400.0 * ahead])
        hit = paper.exterior.intersection(way)
        if hit.is_empty:
            return None
        reach = min(Point(*end).distance(p) for p in getattr(hit, "geoms", [hit]))
        gone.append(end + reach * ahead)
    return np.array(gone)


def _from_sides(ends: Floats, tip: Floats, gone: Floats) -> Floats | None:
    """(2,) how far a break's ends lie from a wedge's sides, mm, each from its own."""
    ways = gone - tip
    ways = ways / np.linalg.norm(ways, axis=1, keepdims=True)
    if (ends[1] - ends[0]) @ (gone[1] - gone[0]) < 0:
        ends = ends[::-1]
    return np.array([float(cross(way, end - tip)) for way, end in zip(ways, ends, strict=True)])


def _pencil_within(pencil: Floats, tip: Floats, gone: Floats, from_mm: float) -> int:
    """How many of some places lie well within a wedge, so far from its tip and further."""
    if not len(pencil):
        return 0
    sides = gone - tip
    away = pencil - tip
    # As shares of its two sides, affine.
    shares = np.linalg.solve(sides.T, away.T).T
    total = shares.sum(axis=1)
    aside = shares[:, 0] / np.where(total > 0, total, 1.0)
    depth = total * float(np.linalg.norm(gone.mean(axis=0) - tip))
    inside = (total > 0) & (total < 0.99) & (depth > from_mm)
    return int((inside & (aside > WEDGES_INNER) & (aside < 1 - WEDGES_INNER)).sum())
