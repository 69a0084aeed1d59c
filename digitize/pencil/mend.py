"""Mending strokes: longer where they fade, whole where the pencil skipped."""

from collections.abc import Sequence

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d
from scipy.spatial import cKDTree
from shapely import LineString, Point, STRtree

from digitize.pencil.ridges import ALONG_SIGMA_MM, RidgeMap
from digitize.pencil.trace import SHORTEST_MM, TURN_LIMIT, Stroke

Floats = NDArray[np.float64]
JOIN_GAP_MM = 9.0
PLAIN_GAP_MM = 2.6
TRACE_OF_PENCIL = 0.25  # darkness left in a gap, over the stroke's own
CROSSING_MM = 15.0
STEM_MM = 2.5
JOIN_TURN = np.radians(16.0)
WINDOW_MM = 6.0
LEAK_MM = 2 * ALONG_SIGMA_MM  # how far the ridge filter sees a stroke past its end
AIM_MM = 18.0  # how much of a stroke's end says where it is heading
FAN = np.radians(np.linspace(-5, 5, 11))
FADED_NOISE = 2.4  # mean strength over a window, in units of the noise on blank paper
STRONG_NOISE = 15.0
LEAST_AIM_MM = 12.0
OWNED_MM = 0.6
MOST_OWNED = 0.4
TOUCHING_MM = 1.5


def extend_strokes(
    strokes: Sequence[Stroke], ridges: RidgeMap, mm_per_px: float
) -> tuple[Stroke, ...]:
    """Follow each stroke on where it is too faint to see point by point.

    A faint line still stands out from the grain when some millimetres of it are looked at
    together, straight on from what is plain: creases and a hard pencil often fade like that. A
    stroke that is strong to its end does not fade: there it ends.
    """
    owner = np.zeros(ridges.strength.shape, np.int32)
    claim = max(round(2 * OWNED_MM / mm_per_px), 1)

    def own(points: Floats, index: int) -> None:
        cv2.polylines(owner, [np.round(points).astype(np.int32)], False, index, claim)

    for index, stroke in enumerate(strokes, start=1):
        own(stroke.points, index)
    extended = []
    for index, stroke in enumerate(strokes, start=1):
        if not stroke.closed:
            stroke = Stroke(_extended(stroke.points, ridges, owner, index, mm_per_px))
            own(stroke.points, index)
        extended.append(stroke)
    return tuple(extended)


def _extended(
    points: Floats, ridges: RidgeMap, owner: NDArray[np.int32], index: int, mm_per_px: float
) -> Floats:
    if len(points) * mm_per_px < LEAST_AIM_MM:
        return points
    for _ in range(2):
        while True:
            more = _window(points, ridges, mm_per_px)
            if more is None:
                break
            free = _free(owner, index, more)
            points = np.concatenate([points, more[:free]])
            if free < len(more):
                break
        points = points[::-1]
    return points


def _free(owner: NDArray[np.int32], index: int, points: Floats) -> int:
    """How many of the points come before the way runs along some other stroke."""
    at = np.round(points).astype(int)
    held = owner[at[:, 1], at[:, 0]]
    other = (held > 0) & (held != index)
    return int(np.argmax(other)) if other.mean() > MOST_OWNED else len(points)


def _window(points: Floats, ridges: RidgeMap, mm_per_px: float) -> Floats | None:
    """The next few millimetres of a stroke, or None where nothing goes on."""
    reach = min(int(AIM_MM / mm_per_px), len(points) - 1)
    tail = np.round(points[-1 - reach :]).astype(int)
    own = float(np.median(ridges.strength[tail[:, 1], tail[:, 0]]))
    if own > _strong(ridges):
        return None
    aim = points[-1] - points[-1 - reach]
    heading = np.arctan2(aim[1], aim[0]) + FAN
    count, beyond = int(WINDOW_MM / mm_per_px), int(LEAK_MM / mm_per_px)
    steps = np.arange(1, count + beyond + 1)
    ahead = np.stack([np.cos(heading), np.sin(heading)], axis=1)
    at = points[-1] + steps[None, :, None] * ahead[:, None]
    pixel = np.round(at).astype(int)
    rows, columns = ridges.strength.shape
    if (pixel < 2).any() or (pixel >= [columns - 2, rows - 2]).any():
        return None
    strength = ridges.strength[pixel[..., 1], pixel[..., 0]]
    turn = ridges.direction[pixel[..., 1], pixel[..., 0]] - heading[:, None]
    turn = np.abs((turn + np.pi / 2) % np.pi - np.pi / 2)
    means = np.where(turn < TURN_LIMIT, strength, 0.0)[:, beyond:].mean(axis=1)
    best = int(np.argmax(means))
    if means[best] < ridges.blank + FADED_NOISE * ridges.noise:
        return None
    return np.asarray(at[best, :count])


def join_strokes(
    strokes: Sequence[Stroke], ridges: RidgeMap, mm_per_px: float
) -> tuple[Stroke, ...]:
    """Bridge the gaps that a skipping pencil left.

    Two ends are joined when they point at each other along one smooth curve, no other stroke runs
    through between them, and a trace of pencil is left in any gap that is not short: a line that
    breaks at a slit, a lap or a fold must stay broken.
    """
    open_strokes = [stroke.points for stroke in strokes if not stroke.closed]
    done = [stroke for stroke in strokes if stroke.closed]
    while True:
        pair = _best_join(open_strokes, [stroke.points for stroke in done], ridges, mm_per_px)
        if pair is None:
            return (*done, *(Stroke(points) for points in open_strokes))
        first, second = pair
        a = open_strokes[first[0]] if first[1] else open_strokes[first[0]][::-1]
        b = open_strokes[second[0]][::-1] if second[1] else open_strokes[second[0]]
        gap = int(np.linalg.norm(b[0] - a[-1]))
        bridge = a[-1] + (b[0] - a[-1]) * (np.arange(1, gap)[:, None] / max(gap, 1))
        joined = np.concatenate([a, bridge, b])
        open_strokes = [
            points
            for index, points in enumerate(open_strokes)
            if index not in (first[0], second[0])
        ]
        open_strokes.append(joined)


def _best_join(
    strokes: list[Floats], others: list[Floats], ridges: RidgeMap, mm_per_px: float
) -> tuple[tuple[int, bool], tuple[int, bool]] | None:
    """The pair of ends (stroke, at its end?) that is most plainly one line, or None."""
    ends = []
    for index, points in enumerate(strokes):
        reach = min(int(6.0 / mm_per_px), len(points) - 1)
        for last in (False, True):
            tip, inner = (points[-1], points[-1 - reach]) if last else (points[0], points[reach])
            out = (tip - inner) / (np.linalg.norm(tip - inner) + 1e-9)
            ends.append((index, last, tip, out, len(points) * mm_per_px))
    tips = cKDTree(np.array([end[2] for end in ends]).reshape(-1, 2))
    neighbours = tips.query_ball_tree(tips, JOIN_GAP_MM / mm_per_px)
    # Specks in the gap are part of the skipping line, not something that crosses it.
    everything = [*strokes, *others]
    long = [i for i, points in enumerate(everything) if len(points) * mm_per_px > CROSSING_MM]
    tree = STRtree([LineString(everything[i]) for i in long])
    best, best_cost = None, np.inf
    for i, near in enumerate(neighbours):
        index, last, tip, out, length = ends[i]
        for j in near:
            other, other_last, other_tip, other_out, other_length = ends[j]
            if j <= i or other == index:
                continue
            step = other_tip - tip
            gap = float(np.linalg.norm(step)) * mm_per_px
            if gap > min(JOIN_GAP_MM, 0.6 * min(length, other_length) + 1.0):
                continue
            if gap > TOUCHING_MM:
                along = step / np.linalg.norm(step)
                turns = np.arccos(np.clip([out @ along, -(other_out @ along)], -1, 1))
            else:
                turns = np.arccos(np.clip([-(out @ other_out)], -1, 1))
            if max(turns) > JOIN_TURN * (1.5 if gap < 2 else 1.0):
                continue
            if gap > PLAIN_GAP_MM and not _has_pencil(ridges, tip, other_tip, out, mm_per_px):
                continue
            cost = gap + 10 * float(sum(turns))
            own = {long.index(k) for k in (index, other) if k in long}
            if cost < best_cost and not _crossed(tree, tip, other_tip, own, STEM_MM / mm_per_px):
                best, best_cost = ((index, last), (other, other_last)), cost
    return best


def _crossed(tree: STRtree, a: Floats, b: Floats, own: set[int], stem_px: float) -> bool:
    """Whether some other stroke runs through between a and b; one that ends there is a stem."""
    bridge = LineString([a, b])
    for hit in tree.query(bridge.buffer(1.5), predicate="intersects"):
        line = tree.geometries[hit]
        ends = [Point(*line.coords[0]), Point(*line.coords[-1])]
        if int(hit) not in own and min(bridge.distance(end) for end in ends) > stem_px:
            return True
    return False


def split_strokes(
    strokes: Sequence[Stroke], ridges: RidgeMap, mm_per_px: float
) -> tuple[Stroke, ...]:
    """Strokes cut where they run over bare paper for longer than a pencil skips.

    The tracer coasts over crossings, and now and then a speck of grain carries it over a gap that
    the shaper left on purpose. Faint strokes are left alone: grain hides their gaps.
    """
    pieces = []
    for stroke in strokes:
        at = np.round(stroke.points).astype(int)
        plain = np.median(ridges.strength[at[:, 1], at[:, 0]]) > _strong(ridges)
        bare = _bare_runs(stroke.points, ridges, mm_per_px) if plain and not stroke.closed else []
        start = 0
        for begin, end in bare:
            pieces.append(Stroke(stroke.points[start:begin]))
            start = end
        pieces.append(Stroke(stroke.points[start:], stroke.closed))
    return tuple(piece for piece in pieces if len(piece.points) * mm_per_px > SHORTEST_MM)


def _bare_runs(points: Floats, ridges: RidgeMap, mm_per_px: float) -> list[tuple[int, int]]:
    """Runs of points, from and to, where the pencil's darkness is missing."""
    across = np.gradient(points, axis=0)[:, ::-1] * [-1, 1]
    across /= np.linalg.norm(across, axis=1, keepdims=True) + 1e-9

    def tone(offset_mm: float) -> Floats:
        at = (points + across * offset_mm / mm_per_px).astype(np.float32)
        seen = cv2.remap(ridges.darkness, at[:, None, 0], at[:, None, 1], cv2.INTER_LINEAR)
        return np.asarray(seen[:, 0], np.float64)

    contrast = (tone(-0.2) + tone(0.0) + tone(0.2)) / 3 - (tone(-1.5) + tone(1.5)) / 2
    contrast = gaussian_filter1d(contrast, 0.4 / mm_per_px)
    bare = contrast < TRACE_OF_PENCIL * np.median(contrast)
    edges = np.flatnonzero(np.diff(np.concatenate([[False], bare, [False]]).astype(int)))
    runs = edges.reshape(-1, 2)
    return [(int(a), int(b)) for a, b in runs if (b - a) * mm_per_px > PLAIN_GAP_MM]


def _strong(ridges: RidgeMap) -> float:
    """The strength above which a stroke does not fade into the grain."""
    return ridges.blank + STRONG_NOISE * ridges.noise


def _has_pencil(
    ridges: RidgeMap, tip: Floats, other: Floats, out: Floats, mm_per_px: float
) -> bool:
    """Whether the gap from ``tip`` to ``other`` is darker along the line than beside it."""
    count = max(int(np.linalg.norm(other - tip)), 2)
    gap = tip + (other - tip) * np.linspace(0.2, 0.8, count)[:, None]
    own = tip - out * np.linspace(1.0, 6.0, 20)[:, None] / mm_per_px

    def contrast(points: Floats) -> float:
        across = np.array([-out[1], out[0]])

        def tone(offset_mm: float) -> float:
            at = np.round(points + across * offset_mm / mm_per_px).astype(int)
            at = np.clip(at, 0, [ridges.darkness.shape[1] - 1, ridges.darkness.shape[0] - 1])
            return float(ridges.darkness[at[:, 1], at[:, 0]].mean())

        return max(tone(-0.3), tone(0.0), tone(0.3)) - (tone(-1.5) + tone(1.5)) / 2

    return contrast(gap) > TRACE_OF_PENCIL * contrast(own)
