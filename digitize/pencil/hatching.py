"""Areas that were hatched: by strokes side by side, alike, close together and evenly apart."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components
from shapely import LineString, MultiPoint, Polygon, STRtree
from shapely.geometry.polygon import orient
from shapely.ops import unary_union

from digitize.pencil.curves import Curve
from digitize.pencil.thresholds import (
    CLOSE,
    FILLS,
    HATCH_ALIKE_TURN,
    HATCH_BESIDE_MM,
    HATCH_FEWEST,
    HATCH_MOST,
    HATCH_ROUND_MM,
    HATCH_STRAIGHT,
    HATCH_UNEVEN,
    HATCH_WIDEST_MM,
    OVERLAP,
    REST,
    REST_TURN,
    STROKE_MM,
)
from digitize.plane import MEDIAN_TO_SIGMA, turn_between

Floats = NDArray[np.float64]
Whole = NDArray[np.int64]


def set_hatching_aside(curves: Sequence[Curve]) -> tuple[tuple[Curve, ...], tuple[Floats, ...]]:
    """The marks that hatch nothing, and the areas, (N, 2) mm each, that the others hatch.

    Where two sets of strokes cross, they hatch one area.
    """
    chosen = [k for k, curve in enumerate(curves) if _may_hatch(curve)]
    if len(chosen) < HATCH_FEWEST:
        return tuple(curves), ()
    strokes = [curves[k].points[[0, -1]] for k in chosen]
    paths = [LineString(stroke) for stroke in strokes]
    one, two = STRtree(paths).query(paths, predicate="dwithin", distance=HATCH_BESIDE_MM[1])
    one, two = one[one < two], two[one < two]
    gaps = np.array([_apart(strokes[a], strokes[b]) for a, b in zip(one, two, strict=True)])
    kept = np.isfinite(gaps)
    one, two, gaps = one[kept], two[kept], gaps[kept]
    shape = (len(chosen), len(chosen))
    links = coo_array((np.ones(len(one)), (one, two)), shape=shape)
    count, group = connected_components(links, directed=False)
    sets: list[tuple[Polygon, list[int]]] = []
    for index in range(count):
        members = np.flatnonzero(group == index)
        if len(members) < HATCH_FEWEST:
            continue
        own = group[one] == index
        ring = _filled(members, one[own], two[own], gaps[own], strokes)
        if ring is not None:
            sets.append((ring, [chosen[k] for k in members.tolist()]))
    areas: list[Floats] = []
    used: set[int] = set()
    whole = unary_union([ring for ring, _ in sets])
    for part in getattr(whole, "geoms", [whole]):
        if part.is_empty:
            continue
        inside = [marks for ring, marks in sets if part.intersects(ring)]
        marks = {k for some in inside for k in some}
        marks |= _left_of_strokes(part, curves, marks)
        if not _are_most(part, curves, marks):
            continue
        used |= marks
        ring = orient(part.simplify(HATCH_ROUND_MM)).exterior
        areas.append(np.asarray(ring.coords)[:-1])
    rest = [curve for k, curve in enumerate(curves) if k not in used]
    return tuple(rest), tuple(areas)


def _may_hatch(curve: Curve) -> bool:
    chord = float(np.linalg.norm(curve.points[-1] - curve.points[0]))
    right = STROKE_MM[0] <= curve.length <= STROKE_MM[1]
    return right and not curve.closed and chord > HATCH_STRAIGHT * curve.length


def _apart(one: Floats, two: Floats) -> float:
    """How far apart, mm, two strokes lie side by side, by their ends (2, 2); else not finite."""
    if _length(one) < _length(two):
        one, two = two, one
    run, other = one[1] - one[0], two[1] - two[0]
    if turn_between(np.arctan2(run[1], run[0]), np.arctan2(other[1], other[0])) > HATCH_ALIKE_TURN:
        return np.inf
    ahead = run / np.linalg.norm(run)
    left = np.array([-ahead[1], ahead[0]])
    along, aside = (two - one[0]) @ ahead, (two - one[0]) @ left
    beside = min(float(along.max()), _length(one)) - max(float(along.min()), 0.0)
    gap = abs(float(aside.mean()))
    fits = HATCH_BESIDE_MM[0] <= gap <= min(HATCH_BESIDE_MM[1], CLOSE * _length(one))
    return gap if fits and beside > OVERLAP * _length(two) else np.inf


def _length(stroke: Floats) -> float:
    """Length, mm, of a straight stroke by its ends (2, 2)."""
    return float(np.linalg.norm(stroke[1] - stroke[0]))


def _filled(
    members: Whole, one: Whole, two: Whole, gaps: Floats, strokes: Sequence[Floats]
) -> Polygon | None:
    """The area that strokes fill, if they stand evenly; links join those that lie side by side."""
    runs = np.array([strokes[k][1] - strokes[k][0] for k in members])
    # Twice the angle: a stroke drawn the other way is the same.
    twice = 2 * np.arctan2(runs[:, 1], runs[:, 0])
    heading = np.arctan2(np.sin(twice).sum(), np.cos(twice).sum()) / 2
    left = np.array([-np.sin(heading), np.cos(heading)])
    middles = np.array([strokes[k].mean(axis=0) for k in members])
    place = dict(zip(members.tolist(), (middles @ left).tolist(), strict=True))
    order = sorted(place, key=lambda k: place[k])
    steps = np.diff([place[k] for k in order])
    # What a trace broke in two lies at the same step.
    steps = steps[steps > HATCH_BESIDE_MM[0] / 2]
    if len(steps) < HATCH_FEWEST - 1:
        return None
    usual = float(np.median(steps))
    if usual > HATCH_WIDEST_MM:
        return None
    off = np.minimum(np.abs(steps - usual), np.abs(steps / 2 - usual))
    if MEDIAN_TO_SIGMA * float(np.median(off)) > HATCH_UNEVEN * usual:
        return None
    if float(np.median(np.linalg.norm(runs, axis=1))) < usual / FILLS:
        return None
    near = gaps < 2.5 * usual
    between = [
        MultiPoint([*strokes[a], *strokes[b]]).convex_hull
        for a, b in zip(one[near], two[near], strict=True)
    ]
    lines = [LineString(strokes[k]) for k in members]
    whole = unary_union([*between, *lines]).buffer(usual / 2)
    return max(getattr(whole, "geoms", [whole]), key=lambda part: part.area)


def _are_most(area: Polygon, curves: Sequence[Curve], marks: set[int]) -> bool:
    """Whether an area's strokes are most of what lies in it: of a word's they are few."""
    longest = max(curves[k].length for k in marks)
    beside = sum(
        LineString(curve.points).intersection(area).length
        for k, curve in enumerate(curves)
        if k not in marks and curve.length < longest
    )
    return bool(beside < (1 / HATCH_MOST - 1) * sum(curves[k].length for k in marks))


def _left_of_strokes(area: Polygon, curves: Sequence[Curve], marks: set[int]) -> set[int]:
    """What lies in an area the way that its strokes do: pieces of some that were read in part."""
    ways = [curves[k].points[-1] - curves[k].points[0] for k in marks]
    headings = np.arctan2([way[1] for way in ways], [way[0] for way in ways])
    longest = max(curves[k].length for k in marks)
    found = set()
    for index, curve in enumerate(curves):
        if index in marks or curve.length > longest:
            continue
        way = curve.points[-1] - curve.points[0]
        turn = turn_between(headings, np.arctan2(way[1], way[0]))
        path = LineString(curve.points)
        if turn.min() < REST_TURN and path.intersection(area).length > REST * path.length:
            found.add(index)
    return found
