"""Strokes made whole: longer where they fade, one where drawn twice, whole where they skip."""

from collections.abc import Sequence
from dataclasses import replace

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d
from scipy.spatial import cKDTree
from shapely import LineString, Point, STRtree

from digitize.pencil.ridges import RidgeMap
from digitize.pencil.runs import Runs
from digitize.pencil.thresholds import (
    AIMS_MM,
    ALONGSIDE_MM,
    BROAD_LONG_MM,
    COMPANY_MM,
    COVERED_MM,
    DOUBLE_MM,
    EDGE_SHARE,
    FADED_NOISE,
    FAN,
    HIDDEN_MM,
    LEAK_MM,
    LEAST_AIM_MM,
    MOST_OWNED,
    MOSTLY_ALONGSIDE,
    OWNED_MM,
    REPAIR_AIM_MM,
    REPAIR_LONG_MM,
    REPAIR_MOSTLY,
    REPAIR_NEIGHBOURS,
    REPAIR_SPECK_MM,
    REPAIR_TWO_SIDED,
    SKIP_MM,
    SKIP_TURN,
    STEM_MM,
    STILL_DARK,
    STRONG_NOISE,
    TRACE_OF_PENCIL,
    TRACE_SHORTEST_MM,
    TURN_LIMIT,
    WINDOW_MM,
)
from digitize.pencil.trace import End, Stroke, believed, joined, lengths_of
from digitize.plane import (
    headings_along,
    lines_through,
    places_beside,
    runs_of,
    turn_between,
)

Floats = NDArray[np.float64]


def without_specks(strokes: Sequence[Stroke], ridges: RidgeMap) -> tuple[Stroke, ...]:
    """The strokes less those that the filter makes of a lone speck, which it sees as its rows long.

    REPAIR_MOSTLY of a speck's darkness lies within less than that share of REPAIR_SPECK_MM. What
    has other strokes about it may be part of a letter.
    """
    short = [k for k, length in enumerate(lengths_of(strokes)) if length < REPAIR_LONG_MM]
    if not short:
        return tuple(strokes)
    lines = [strokes[k].points for k in short]
    dark = np.clip(tones_across(lines, (-0.2, 0.0, 0.2), ridges).mean(axis=1), 0, None)
    brief = _shortest_with(REPAIR_MOSTLY, dark, lines) < REPAIR_MOSTLY * REPAIR_SPECK_MM
    specks = np.array(short)[brief].tolist()
    rest = [strokes[k] for k in np.setdiff1d(np.arange(len(strokes)), specks).tolist()]
    around = STRtree(lines_through([stroke.points for stroke in believed(rest)]))
    paths = lines_through([strokes[k].points for k in specks])
    company = around.query(paths, predicate="dwithin", distance=COMPANY_MM)[0]
    lone = set(np.delete(specks, np.unique(company)).tolist())
    return tuple(stroke for k, stroke in enumerate(strokes) if k not in lone)


def _shortest_with(share: float, values: Floats, lines: Sequence[Floats]) -> Floats:
    """(K,) how long, mm, the shortest stretch of each line is that has such a share of its sum.

    Of thousands of short lines, one by one takes ten times as long.

    Parameters
    ----------
    values : (N,) at the points of one line after another, none under 0.
    """
    sizes = np.array([len(line) for line in lines])
    ends = np.cumsum(sizes)
    begins = ends - sizes
    x, y = np.concatenate(lines).T
    step = np.hypot(np.diff(x, prepend=0.0), np.diff(y, prepend=0.0))
    step[begins] = 0.0
    along, sums = np.cumsum(step), np.append(0.0, np.cumsum(values))
    wanted = np.repeat(share * (sums[ends] - sums[begins]) * (1 - 1e-9), sizes)
    last = np.maximum(np.searchsorted(sums, sums[:-1] + wanted) - 1, np.arange(len(values)))
    within = last < np.repeat(ends, sizes)
    length = along[np.minimum(last, len(along) - 1)] - along
    return np.asarray(np.minimum.reduceat(np.where(within, length, np.inf), begins))


def without_edges(strokes: Sequence[Stroke], ridges: RidgeMap) -> tuple[Stroke, ...]:
    """The strokes that have lighter paper on both sides: the edge of tape or shadow has not."""
    if not strokes:
        return ()
    lines = [stroke.points for stroke in strokes]
    runs = Runs(np.array([len(line) for line in lines]), np.zeros(len(lines), bool))
    tone = tones_across(lines, (-3.1, -2.7, -1.8, -1.4, -0.2, 0.0, 0.2, 1.4, 1.8, 2.7, 3.1), ridges)
    tone = runs.blurred(tone, 5.0)
    peak = tone[:, 4:7].mean(axis=1)
    left, right = tone[:, 2:4].min(axis=1), tone[:, 7:9].min(axis=1)
    # A broad mark is dark on both sides yet, and paper lies further off. Short ones are writing.
    long = np.array([stroke.length >= BROAD_LONG_MM for stroke in strokes])
    broad = runs.spread(long) & (np.minimum(left, right) > STILL_DARK * peak)
    left = np.where(broad, tone[:, :2].min(axis=1), left)
    right = np.where(broad, tone[:, 9:].min(axis=1), right)
    two_sided = peak - np.maximum(left, right) > REPAIR_TWO_SIDED * (peak - np.minimum(left, right))
    shares = runs.means(two_sided.astype(float))
    return tuple(s for s, share in zip(strokes, shares, strict=True) if share > EDGE_SHARE)


def tones_across(lines: Sequence[Floats], offsets_mm: Sequence[float], ridges: RidgeMap) -> Floats:
    """(N, M) darkness at so many mm to the left of each point of lines, one after another."""
    heading = np.concatenate([headings_along(line) for line in lines])
    across = np.stack([-np.sin(heading), np.cos(heading)], axis=1)
    return ridges.darkness_at(places_beside(np.concatenate(lines), across, np.array(offsets_mm)))


def without_doubles(strokes: Sequence[Stroke]) -> tuple[Stroke, ...]:
    """The strokes less what only goes over a longer one again, or is the other edge of its mark."""
    ordered = sorted(strokes, key=lambda stroke: -stroke.length)
    if not ordered:
        return ()
    points = np.concatenate([stroke.points for stroke in ordered])
    headings = np.concatenate([headings_along(stroke.points) for stroke in ordered])
    bounds = np.cumsum([0, *(len(stroke.points) for stroke in ordered)])
    tree = cKDTree(points)
    near = min(REPAIR_NEIGHBOURS, len(points))
    distance, nearest = tree.query(points, k=near, distance_upper_bound=ALONGSIDE_MM, workers=2)
    distance, nearest = distance.reshape(-1, near), nearest.reshape(-1, near)
    standing = np.zeros(len(points) + 1, bool)  # the last stands for no neighbour
    kept: list[Stroke] = []
    for stroke, begin, end in zip(ordered, bounds[:-1], bounds[1:], strict=True):
        other = nearest[begin:end]
        theirs = headings[np.minimum(other, len(points) - 1)]
        along = turn_between(theirs, headings[begin:end, None]) < TURN_LIMIT
        longer = (other < begin) & standing[other] & along
        beside = np.where(longer, distance[begin:end], np.inf).min(axis=1)
        if np.isfinite(beside).mean() > MOSTLY_ALONGSIDE:
            continue
        for a, b in runs_of(beside > DOUBLE_MM):
            whole = b - a == end - begin
            piece = replace(
                stroke,
                points=stroke.points[a:b],
                strength=stroke.strength[a:b],
                closed=stroke.closed and whole,
            )
            if whole or piece.length > TRACE_SHORTEST_MM:
                kept.append(piece)
                standing[begin + a : begin + b] = True
    return tuple(kept)


def extend_strokes(strokes: Sequence[Stroke], ridges: RidgeMap) -> tuple[Stroke, ...]:
    """Follow each stroke on where it is too faint to see point by point.

    A faint line still stands out from the grain when some millimetres of it are looked at
    together, straight on from what is plain: creases and a hard pencil often fade like that. A
    stroke that is strong to its end does not fade: there it ends.
    """
    owner = np.zeros(ridges.strength.shape, np.int32)
    claim = max(round(2 * OWNED_MM / ridges.grid.mm_per_px), 1)

    def own(stroke: Stroke, index: int) -> None:
        some = np.append(np.arange(0, len(stroke.points) - 1, 3), len(stroke.points) - 1)
        at = np.round(ridges.grid.to_px(stroke.points[some])).astype(np.int32)
        cv2.polylines(owner, [at], False, index, claim)

    for index, stroke in enumerate(strokes, start=1):
        own(stroke, index)
    extended = []
    for index, stroke in enumerate(strokes, start=1):
        if not (stroke.closed or stroke.dashed) and stroke.length >= LEAST_AIM_MM:
            for _ in range(2):
                stroke = _extended(stroke, ridges, owner, index)
                stroke = Stroke(stroke.points[::-1], stroke.strength[::-1])
            own(stroke, index)
        extended.append(stroke)
    return tuple(extended)


def _extended(stroke: Stroke, ridges: RidgeMap, owner: NDArray[np.int32], index: int) -> Stroke:
    """The stroke, carried on past its last point."""
    while (more := _window(stroke, ridges)) is not None:
        at = np.round(ridges.grid.to_px(more.points)).astype(int)
        held = owner[at[:, 1], at[:, 0]]
        other = (held > 0) & (held != index)
        # As far as the way does not run along some other stroke.
        free = int(np.argmax(other)) if other.mean() > MOST_OWNED else len(at)
        stroke = Stroke(
            np.concatenate([stroke.points, more.points[:free]]),
            np.concatenate([stroke.strength, more.strength[:free]]),
        )
        if free < len(at):
            break
    return stroke


def _window(stroke: Stroke, ridges: RidgeMap) -> Stroke | None:
    """The next few millimetres of a stroke, or None where nothing goes on."""
    step = ridges.grid.mm_per_px
    reach = min(int(REPAIR_AIM_MM / step), len(stroke.points) - 1)
    if np.median(stroke.strength[-1 - reach :]) > STRONG_NOISE:
        return None
    tip = stroke.points[-1]
    aim = tip - stroke.points[-1 - reach]
    heading = np.arctan2(aim[1], aim[0]) + FAN
    count, beyond = int(WINDOW_MM / step), int(LEAK_MM / step)
    along = step * np.arange(1, count + beyond + 1)
    ahead = np.stack([np.cos(heading), np.sin(heading)], axis=1)
    at = tip + along[None, :, None] * ahead[:, None]
    pixel = ridges.grid.to_px(at)
    rows, columns = ridges.strength.shape
    if (pixel < 2).any() or (pixel >= [columns - 2, rows - 2]).any():
        return None
    strength = ridges.strength_at(at)
    turn = turn_between(ridges.heading_at(at), heading[:, None])
    means = np.where(turn < TURN_LIMIT, strength, 0.0)[:, beyond:].mean(axis=1)
    best = int(np.argmax(means))
    if means[best] < FADED_NOISE:
        return None
    return Stroke(at[best, :count], strength[best, :count])


def bridge_skips(strokes: Sequence[Stroke], ridges: RidgeMap) -> tuple[Stroke, ...]:
    """Bridge the gaps that a skipping pencil left.

    Two ends are joined when they point at each other along one smooth curve and no other stroke
    runs through between them: a line that breaks at a slit, a lap or a fold must stay broken. Over
    a gap that is not short the two must be long, or a trace of pencil left in it.
    """
    for aim_mm in AIMS_MM:
        strokes = _bridged(strokes, ridges, aim_mm)
    return tuple(strokes)


def _bridged(strokes: Sequence[Stroke], ridges: RidgeMap, aim_mm: float) -> tuple[Stroke, ...]:
    # Specks in the gap are part of the skipping line, not something that crosses it.
    long, tree = long_strokes(strokes)
    place = {stroke: index for index, stroke in enumerate(long)}
    lengths = [stroke.length for stroke in strokes]

    def may_join(one: End, two: End, gap: float) -> bool:
        shorter = min(lengths[one.stroke], lengths[two.stroke])
        if gap > 0.6 * shorter + 1.0:
            return False
        own = {place[k] for k in (one.stroke, two.stroke) if k in place}
        if _crossed(tree, one.tip, two.tip, own):
            return gap < HIDDEN_MM and _is_hidden(ridges, one, two)
        plain = gap < min(0.35 * shorter, SKIP_MM)
        return plain or _has_pencil(ridges, one, two)

    return joined(strokes, COVERED_MM, SKIP_TURN, may_join, aim_mm, DOUBLE_MM)


def long_strokes(strokes: Sequence[Stroke]) -> tuple[list[int], STRtree]:
    """Which strokes are long enough to cross others, and a tree of their lines."""
    long = [i for i, stroke in enumerate(strokes) if stroke.length > REPAIR_LONG_MM]
    return long, STRtree([LineString(strokes[i].points) for i in long])


def _crossed(tree: STRtree, a: Floats, b: Floats, own: set[int]) -> bool:
    """Whether some other stroke runs through between a and b; one that ends there is a stem."""
    bridge = LineString([a, b])
    hits = tree.query(bridge.buffer(0.5), predicate="intersects")
    return any(int(hit) not in own and runs_through(tree, hit, bridge) for hit in hits)


def runs_through(tree: STRtree, hit: np.int64, way: LineString) -> bool:
    """Whether a line of the tree runs on past both sides of a way that it meets."""
    line = tree.geometries[hit]
    ends = [Point(*line.coords[0]), Point(*line.coords[-1])]
    return bool(min(way.distance(end) for end in ends) > STEM_MM)


def _is_hidden(ridges: RidgeMap, one: End, two: End) -> bool:
    """Whether no bare paper shows between two ends: a crossing line lies over the gap."""
    gap = one.tip + (two.tip - one.tip) * np.linspace(0, 1, 20)[:, None]
    own = one.tip - one.out * np.linspace(0.5, 4.0, 20)[:, None]
    dark = gaussian_filter1d(ridges.darkness_at(gap), 1.5)
    return bool(dark.min() > 0.5 * np.median(ridges.darkness_at(own)))


def _has_pencil(ridges: RidgeMap, one: End, two: End) -> bool:
    """Whether the gap between two ends is darker along the line than beside it."""
    gap = one.tip + (two.tip - one.tip) * np.linspace(0.1, 0.9, 30)[:, None]
    own = one.tip - one.out * np.linspace(0.5, 4.0, 20)[:, None]
    across = np.array([-one.out[1], one.out[0]])

    def contrast(points: Floats) -> float:
        offsets = np.array([-1.5, -0.3, 0.0, 0.3, 1.5])
        tone = ridges.darkness_at(places_beside(points, across, offsets))
        # The median: most of the gap has to show it, not one dark place.
        middle = np.median(tone, axis=0)
        return float(middle[1:4].max() - (middle[0] + middle[4]) / 2)

    return contrast(gap) > TRACE_OF_PENCIL * contrast(own)
