"""Gaps that a hand left on purpose: between dashes, and where a line breaks at a lap or a fold."""

import itertools
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d
from shapely import LineString, STRtree

from digitize.pencil.mend import (
    SKIP_MM,
    TRACE_OF_PENCIL,
    long_strokes,
    runs_through,
    tones_across,
)
from digitize.pencil.polyline import places_along, running_length, runs_of
from digitize.pencil.ridges import RidgeMap
from digitize.pencil.trace import SHORTEST_MM, End, Stroke, put_together, rows_of

Floats = NDArray[np.float64]
FEWEST_DASHES = 4
LONGEST_DASH_MM = 40.0
DASH_GAP_MM = 8.0
LEAST_DASH_GAP_MM = 0.8
UNEVEN = 0.35  # standard deviation over mean
CLASSES_NOISE = (35.0, 15.0)  # strengths; fainter strokes leak over no gap
LEAST_LAP_MM, BESIDE_LAP_MM = 1.2, 1.5
COVERED_SHARE, COVERED_LEAST = 0.07, 0.02  # of a line's darkness, and darkness, left under tape
SAMPLE_MM = 0.3


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

    for row in rows_of(short, DASH_GAP_MM, np.radians(14.0), alike):
        whole = put_together(short, row)
        step = np.linalg.norm(np.diff(whole.points, axis=0), axis=1)
        seams = np.cumsum([len(short[index].points) for index, _ in row])[:-1] - 1
        if _are_even(np.array([lengths[index] for index, _ in row]), step[seams]):
            result.append(replace(whole, dashed=True))
        else:
            result += [short[index] for index, _ in row]
    return tuple(replace(s, dashed=True) if _is_dashed(s, ridges) else s for s in result)


def _are_even(dashes: Floats, gaps: Floats) -> bool:
    """Whether dashes, and the gaps between them, are alike; the outer dashes may be cut short."""
    if len(dashes) < FEWEST_DASHES:
        return False
    inner = dashes[1:-1]
    if inner.mean() > LONGEST_DASH_MM:
        return False
    return bool(inner.std() < UNEVEN * inner.mean() and gaps.std() < UNEVEN * gaps.mean())


def _is_dashed(stroke: Stroke, ridges: RidgeMap) -> bool:
    if stroke.dashed or len(stroke.points) < 20:
        return stroke.dashed
    along, bare = _bareness(stroke.points, ridges)
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
    pieces: list[Stroke] = []
    for index, stroke in enumerate(strokes):
        whole = stroke.dashed or not least <= np.median(stroke.strength) < most
        cuts = [] if whole else _laps_on(stroke, index, ridges, tree, long)
        if stroke.closed and cuts:
            stroke = _opened(stroke, cuts[0][1])
            cuts = _laps_on(stroke, index, ridges, tree, long)
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
    return [piece for piece in pieces if piece.length > SHORTEST_MM]


def _opened(stroke: Stroke, at_mm: float) -> Stroke:
    """A closed stroke, begun so many mm along it and left open."""
    first = int(np.searchsorted(running_length(stroke.points), at_mm))
    points, strength = (np.roll(each, -first, axis=0) for each in (stroke.points, stroke.strength))
    return replace(stroke, points=points, strength=strength, closed=False)


def _laps_on(
    stroke: Stroke, index: int, ridges: RidgeMap, tree: STRtree, long: Sequence[int]
) -> list[tuple[float, float]]:
    """From and to, mm along the stroke: bare stretches with another stroke across or at an end.

    And those that are longer than any skip, with no trace of pencil.
    """
    along, bare = _bareness(stroke.points, ridges)
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
    tone = tones_across(points, (-1.5, -0.2, 0.0, 0.2, 1.5), ridges)
    return np.asarray(tone[:, 1:4].mean(axis=1) - (tone[:, 0] + tone[:, 4]) / 2)


def _bareness(points: Floats, ridges: RidgeMap) -> tuple[Floats, NDArray[np.bool_]]:
    """Evenly spaced places along the points, mm, and whether the pencil is missing there."""
    along = np.arange(0, running_length(points)[-1], SAMPLE_MM)
    tone = tones_across(places_along(points, along), (-0.2, 0.0, 0.2), ridges)
    dark = gaussian_filter1d(tone.mean(axis=1), 1.0)
    return along, dark < TRACE_OF_PENCIL * np.percentile(dark, 70)
