"""Gaps that a hand left on purpose: between dashes, and where a line breaks at a lap or a fold."""

import itertools
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray
from shapely import LineString, STRtree

from digitize.pencil.repair import long_strokes, runs_through, tones_across
from digitize.pencil.ridges import RidgeMap
from digitize.pencil.runs import Runs
from digitize.pencil.thresholds import (
    BESIDE_LAP_MM,
    CLASSES_NOISE,
    COVERED_LEAST,
    COVERED_SHARE,
    FEWEST_DASHES,
    GAP_DASH_GAP_MM,
    GAP_SAMPLE_MM,
    GAP_UNEVEN,
    LEAST_DASH_GAP_MM,
    LEAST_LAP_MM,
    LONGEST_DASH_MM,
    SKIP_MM,
    TRACE_OF_PENCIL,
    TRACE_SHORTEST_MM,
)
from digitize.pencil.trace import End, Stroke, put_together, rows_of
from digitize.plane import places_along, running_length, runs_of

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]


def join_dashes(strokes: Sequence[Stroke], ridges: RidgeMap) -> tuple[Stroke, ...]:
    """Rows of short strokes, alike in length and evenly spaced, each as one dashed line.

    A line whose dashes lie so close that it was traced in one go is told by its bare stretches.
    """
    short = [s for s in strokes if not s.closed and s.length < LONGEST_DASH_MM]
    result = [s for s in strokes if s.closed or s.length >= LONGEST_DASH_MM]
    lengths = [stroke.length for stroke in short]

    def alike(one: End, two: End, gap: float) -> bool:
        a, b = lengths[one.stroke], lengths[two.stroke]
        return gap < 0.8 * max(a, b) and min(a, b) > 0.3 * max(a, b)

    for row in rows_of(short, GAP_DASH_GAP_MM, np.radians(14.0), alike):
        whole = put_together(short, row)
        step = np.linalg.norm(np.diff(whole.points, axis=0), axis=1)
        seams = np.cumsum([len(short[index].points) for index, _ in row])[:-1] - 1
        if _are_even(np.array([lengths[index] for index, _ in row]), step[seams]):
            result.append(replace(whole, dashed=True))
        else:
            result += [short[index] for index, _ in row]
    ways = _bareness(result, ridges)
    return tuple(
        replace(stroke, dashed=True) if _is_dashed(stroke, *way) else stroke
        for stroke, way in zip(result, ways, strict=True)
    )


def _are_even(dashes: Floats, gaps: Floats) -> bool:
    """Whether dashes, and the gaps between them, are alike; the outer dashes may be cut short."""
    if len(dashes) < FEWEST_DASHES:
        return False
    inner = dashes[1:-1]
    if inner.mean() > LONGEST_DASH_MM:
        return False
    return bool(inner.std() < GAP_UNEVEN * inner.mean() and gaps.std() < GAP_UNEVEN * gaps.mean())


def _is_dashed(stroke: Stroke, along: Floats, bare: Flags) -> bool:
    """Whether a stroke is known to be dashed, or has even bare stretches along it."""
    if stroke.dashed:
        return True
    runs = [(along[a], along[min(b, len(along) - 1)]) for a, b in runs_of(bare)]
    runs = [(a, b) for a, b in runs if b - a > LEAST_DASH_GAP_MM]
    if len(runs) < FEWEST_DASHES - 1:
        return False
    starts = np.array([0.0, *(b for _, b in runs)])
    stops = np.array([*(a for a, _ in runs), along[-1]])
    return _are_even(stops - starts, np.array([b - a for a, b in runs]))


def split_at_laps(strokes: Sequence[Stroke], ridges: RidgeMap) -> tuple[Stroke, ...]:
    """The strokes, cut where they run over bare paper beside a mark that crosses there.

    The ridge filter looks along a line and so bridges what a lap or a fold left bare. A pencil's
    skip has nothing across it, and stays bridged. The strongest go first: cut, they no longer
    cross others.
    """
    for most, least in itertools.pairwise((np.inf, *CLASSES_NOISE)):
        strokes = _split(strokes, ridges, least, most)
    return tuple(strokes)


def _split(strokes: Sequence[Stroke], ridges: RidgeMap, least: float, most: float) -> list[Stroke]:
    """Those whose strength lies between the two, cut; and the others."""
    long, tree = long_strokes(strokes)
    concerned = [
        index
        for index, stroke in enumerate(strokes)
        if not stroke.dashed and least <= np.median(stroke.strength) < most
    ]
    bareness = _bareness([strokes[index] for index in concerned], ridges)
    ways = dict(zip(concerned, bareness, strict=True))
    pieces: list[Stroke] = []
    for index, stroke in enumerate(strokes):
        cuts = _laps_on(stroke, index, *ways[index], ridges, tree, long) if index in ways else []
        if stroke.closed and cuts:
            stroke = _opened(stroke, cuts[0][1])
            (way,) = _bareness([stroke], ridges)
            cuts = _laps_on(stroke, index, *way, ridges, tree, long)
        if not cuts:
            pieces.append(stroke)
            continue
        along = running_length(stroke.points)
        starts, stops = [-1.0, *(b for _, b in cuts)], [*(a for a, _ in cuts), along[-1] + 1]
        for start, stop in zip(starts, stops, strict=True):
            part = (along > start) & (along < stop)
            pieces.append(
                replace(stroke, points=stroke.points[part], strength=stroke.strength[part])
            )
    return [piece for piece in pieces if piece.length > TRACE_SHORTEST_MM]


def _opened(stroke: Stroke, at_mm: float) -> Stroke:
    """A closed stroke, begun so many mm along it and left open."""
    first = int(np.searchsorted(running_length(stroke.points), at_mm))
    points, strength = (np.roll(each, -first, axis=0) for each in (stroke.points, stroke.strength))
    return replace(stroke, points=points, strength=strength, closed=False)


def _laps_on(
    stroke: Stroke,
    index: int,
    along: Floats,
    bare: Flags,
    ridges: RidgeMap,
    tree: STRtree,
    long: Sequence[int],
) -> list[tuple[float, float]]:
    """From and to, mm along the stroke: bare stretches with another stroke across or at an end.

    And those that are longer than any skip, with no trace of pencil.
    """
    found = []
    for a, b in runs_of(bare):
        start, stop = float(along[a]), float(along[min(b, len(along) - 1)])
        if stop - start < LEAST_LAP_MM:
            continue
        way = places_along(stroke.points, np.linspace(start, stop, 12))
        if _is_crossed_at(stroke, index, (start, stop), tree, long) or (
            stop - start > SKIP_MM and not _shows_through(way, stroke, ridges)
        ):
            found.append((start, stop))
    return found


def _is_crossed_at(
    stroke: Stroke, index: int, places: Sequence[float], tree: STRtree, long: Sequence[int]
) -> bool:
    """Whether some other stroke runs through right at one of the places along this one."""
    for place in places:
        reach = np.linspace(place - BESIDE_LAP_MM, place + BESIDE_LAP_MM, 5)
        path = LineString(places_along(stroke.points, reach))
        hits = tree.query(path, predicate="intersects")
        if any(long[int(hit)] != index and runs_through(tree, hit, path) for hit in hits):
            return True
    return False


def _shows_through(way: Floats, stroke: Stroke, ridges: RidgeMap) -> bool:
    """Whether the pencil can be made out along a way, under tape, say."""
    usual = np.percentile(_contrasts(stroke.points, ridges), 70)
    least = max(COVERED_SHARE * float(usual), COVERED_LEAST)
    return bool(np.median(_contrasts(way, ridges)) > least)


def _contrasts(points: Floats, ridges: RidgeMap) -> Floats:
    """(N,) how much darker it is along the points than beside them."""
    tone = tones_across([points], (-1.5, -0.2, 0.0, 0.2, 1.5), ridges)
    return np.asarray(tone[:, 1:4].mean(axis=1) - (tone[:, 0] + tone[:, 4]) / 2)


def _bareness(strokes: Sequence[Stroke], ridges: RidgeMap) -> list[tuple[Floats, Flags]]:
    """For each stroke evenly spaced places along it, mm, and whether pencil is missing there."""
    if not strokes:
        return []
    along = [np.arange(0, stroke.length, GAP_SAMPLE_MM) for stroke in strokes]
    ways = [places_along(s.points, at) for s, at in zip(strokes, along, strict=True)]
    runs = Runs(np.array([len(at) for at in along]), np.zeros(len(along), bool))
    dark = runs.blurred(tones_across(ways, (-0.2, 0.0, 0.2), ridges).mean(axis=1), 1.0)
    bare = dark < TRACE_OF_PENCIL * runs.spread(runs.quantiles(dark, 0.7))
    return list(zip(along, runs.parts(bare), strict=True))
