"""Crests to strokes: points linked into chains, and chains into the strokes a hand drew.

Each crest point is linked with the neighbour that best continues it ahead and behind, where the
two agree (after C. Steger, "An unbiased detector of curvilinear structures", IEEE PAMI 20, 1998,
section 4). What the links leave apart is joined where two ends go on in each other: over the
millimetre or two by which a crossing line hides another, and over the gaps of a skipping pencil.
"""

import itertools
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from digitize.pencil.ridges import Crests
from digitize.pencil.thresholds import (
    ASIDE_MM,
    DASH_MM,
    DASH_NOISE,
    DETAIL_MM,
    FAINT_LENGTH_MM,
    FAINT_NOISE,
    FEWEST_IN_ROW,
    KINK_MM,
    KINK_POINTS,
    KINK_TURN,
    LINK_MM,
    LINK_TURN,
    OWN_TURN,
    PLAIN_NOISE,
    ROW_AIM_MM,
    ROW_GAP_MM,
    ROW_MM,
    ROW_TURN,
    TRACE_AIM_MM,
    TRACE_CROSSING_MM,
    TRACE_DASH_GAP_MM,
    TRACE_SHORTEST_MM,
    TRACE_SPECK_MM,
)
from digitize.plane import cross, length_of, running_length, turn_between

Floats = NDArray[np.float64]
Whole = NDArray[np.int64]


@dataclass(frozen=True)
class Stroke:
    """A traced line.

    Attributes
    ----------
    points : (N, 2) mm, in order along it.
    strength : (N,) of the ridge, in units of the noise on blank paper.
    closed : the last point goes on to the first.
    dashed : drawn as a row of dashes.
    """

    points: Floats
    strength: Floats
    closed: bool = False
    dashed: bool = False

    @cached_property
    def length(self) -> float:
        """Length in mm."""
        return length_of(self.points)


@dataclass(frozen=True)
class End:
    """An end of a stroke: which, the last point or the first, its place and where it heads."""

    stroke: int
    last: bool
    tip: Floats
    out: Floats


def lengths_of(strokes: Sequence[Stroke]) -> Floats:
    """(K,) lengths in mm; of thousands of specks, one by one takes ten times as long."""
    if not strokes:
        return np.zeros(0)
    sizes = np.array([len(stroke.points) for stroke in strokes])
    x, y = np.concatenate([stroke.points for stroke in strokes]).T
    step = np.hypot(np.diff(x, append=0.0), np.diff(y, append=0.0))
    step[np.cumsum(sizes) - 1] = 0.0  # on to the next one's first point
    return np.asarray(np.add.reduceat(step, np.cumsum(sizes) - sizes))


def link_crests(crests: Crests) -> tuple[Stroke, ...]:
    """Chains of crest points that follow one another."""
    count = len(crests.places)
    if count < 2:
        return ()
    near = cKDTree(crests.places, balanced_tree=False).query_pairs(LINK_MM, output_type="ndarray")
    here, there = np.concatenate([near, near[:, ::-1]]).T
    x, y = (np.take(values, there) - np.take(values, here) for values in crests.places.T)
    ahead, left = (np.take(way(crests.headings), here) for way in (np.cos, np.sin))
    forward, aside = x * ahead + y * left, np.abs(x * left - y * ahead)
    turn = turn_between(crests.headings[there], crests.headings[here])
    cost = np.hypot(forward, aside) + 1.5 * aside + 0.6 * turn
    cost[(turn > LINK_TURN) | (np.abs(forward) < 0.15) | (aside > np.abs(forward) + 0.1)] = np.inf
    # Each point's best ahead and, in the next place, behind.
    side = 2 * here + (forward < 0)
    least = np.full(2 * count, np.inf)
    np.minimum.at(least, side, cost)
    won = np.isfinite(cost) & (cost == least[side])
    best = np.full(2 * count, -1)
    best[side[won]] = there[won]
    chosen = best.reshape(count, 2)
    # A link holds where each is the other's choice on the side that faces it.
    mutual = np.full_like(chosen, -1)
    for side in (0, 1):
        to = chosen[:, side]
        back = (chosen[np.maximum(to, 0)] == np.arange(count)[:, None]).any(axis=1)
        mutual[:, side] = np.where((to >= 0) & back, to, -1)
    return _walked(crests, mutual)


def _walked(crests: Crests, links: Whole) -> tuple[Stroke, ...]:
    """Each chain's points in order, open ones from an end of theirs."""
    one, two = links[:, 0].tolist(), links[:, 1].tolist()
    degree = (links >= 0).sum(axis=1)
    seen = bytearray(len(one))
    order: list[int] = []
    sizes: list[int] = []
    closed: list[bool] = []
    for start in (*np.flatnonzero(degree == 1).tolist(), *np.flatnonzero(degree == 2).tolist()):
        if seen[start]:
            continue
        before, at, last = len(order), start, start
        while at >= 0:
            seen[at] = True
            order.append(at)
            last, at = at, one[at]
            if at < 0 or seen[at]:
                at = two[last]
                if at >= 0 and seen[at]:
                    at = -1
        sizes.append(len(order) - before)
        closed.append(sizes[-1] > 8 and degree[start] == 2 and last in (one[start], two[start]))
    return _along_their_ridges(crests, np.array(order, int), np.array(sizes, int), closed)


def _along_their_ridges(
    crests: Crests, order: Whole, sizes: Whole, closed: Sequence[bool]
) -> tuple[Stroke, ...]:
    """The parts of chains that run the way the ridge does.

    Beside a strong line the filter sees slanting ghosts of it, whose crests run along the line.

    Parameters
    ----------
    order, sizes : the crests of one chain after another, and how many each chain has.
    """
    places, strengths = crests.places[order], crests.strengths[order]
    chain = np.repeat(np.arange(len(sizes)), sizes)
    index = np.arange(len(order))
    last = np.cumsum(sizes)[chain] - 1
    first = last + 1 - sizes[chain]
    run = places[np.minimum(index + 4, last)] - places[np.maximum(index - 4, first)]
    true = turn_between(np.arctan2(run[:, 1], run[:, 0]), crests.headings[order]) < OWN_TURN
    # By the majority of five, and a chain of fewer as a whole: single crests decide nothing.
    votes = sum(true[np.clip(index + step, first, last)].astype(int) for step in range(-2, 3))
    true = (votes > 2) | (sizes[chain] < 5)
    begins = np.flatnonzero(true & ((index == first) | ~np.roll(true, 1)))
    ends = np.flatnonzero(true & ((index == last) | ~np.roll(true, -1))) + 1
    return tuple(
        Stroke(places[a:b], strengths[a:b], closed[chain[a]] and b - a == sizes[chain[a]])
        for a, b in zip(begins.tolist(), ends.tolist(), strict=True)
        if b - a > 1
    )


def without_kinks(strokes: Sequence[Stroke]) -> tuple[Stroke, ...]:
    """The strokes, cut where they turn sharply: at a corner, or from one line into another.

    Where two lines cross at a slant the crests lead from one into the other; cut there, each can
    go straight on.
    """
    pieces = []
    for stroke, length in zip(strokes, lengths_of(strokes).tolist(), strict=True):
        cuts = _kinks(stroke.points) if length > 2 * KINK_MM else []
        if not cuts:
            pieces.append(stroke)
            continue
        for a, b in itertools.pairwise([0, *cuts, len(stroke.points)]):
            # Right at the kink the crest belongs to neither line.
            begin, end = a + KINK_POINTS * (a > 0), b - KINK_POINTS * (b < len(stroke.points))
            if end - begin > 1:
                pieces.append(Stroke(stroke.points[begin:end], stroke.strength[begin:end]))
    return tuple(pieces)


def _kinks(points: Floats) -> list[int]:
    """Where the way ahead turns off the way come by, each over KINK_MM, at its sharpest."""
    along = running_length(points)
    index = np.arange(len(points))
    before = np.searchsorted(along, along - KINK_MM)
    after = np.minimum(np.searchsorted(along, along + KINK_MM), len(points) - 1)
    come, go = points - points[before], points[after] - points
    turn = np.abs(np.arctan2(cross(come, go), (come * go).sum(axis=1)))
    turn[(along < KINK_MM) | (along > along[-1] - KINK_MM)] = 0.0
    cuts: list[int] = []
    for k in index[turn > KINK_TURN][np.argsort(-turn[turn > KINK_TURN], kind="stable")]:
        if all(abs(along[k] - along[c]) > KINK_MM for c in cuts):
            cuts.append(int(k))
    return sorted(cuts)


@dataclass(frozen=True)
class Ends:
    """Both ends of each open stroke, its first point's before its last's.

    Attributes
    ----------
    strokes : (E,) whose ends they are.
    tips : (E, 2) mm.
    out : (E, 2) the way they head, of length 1.
    """

    strokes: Whole
    tips: Floats
    out: Floats

    def __getitem__(self, index: int) -> End:
        return End(int(self.strokes[index]), index % 2 == 1, self.tips[index], self.out[index])


def ends_of(strokes: Sequence[Stroke], aim_mm: float) -> Ends:
    """Both ends of each open stroke."""
    open_ones = [i for i, s in enumerate(strokes) if not s.closed and len(s.points) > 1]
    if not open_ones:
        return Ends(np.zeros(0, int), np.zeros((0, 2)), np.zeros((0, 2)))
    points = np.concatenate([strokes[index].points for index in open_ones])
    size = np.array([len(strokes[index].points) for index in open_ones])
    sums = np.concatenate([np.zeros((1, 2)), np.cumsum(points, axis=0)])
    stop = np.cumsum(size)
    start = stop - size
    reach = np.minimum(max(int(aim_mm / DETAIL_MM) + 1, 2), size)
    half = reach // 2
    # An end heads away from the middle of the farther half of what says where it is heading.
    far_first = (sums[start + reach] - sums[start + half]) / (reach - half)[:, None]
    far_last = (sums[stop - half] - sums[stop - reach]) / (reach - half)[:, None]
    tips = np.stack([points[start], points[stop - 1]], axis=1)
    out = tips - np.stack([far_first, far_last], axis=1)
    out /= np.hypot(out[..., 0], out[..., 1])[..., None] + 1e-12
    return Ends(np.repeat(open_ones, 2), tips.reshape(-1, 2), out.reshape(-1, 2))


Row = list[tuple[int, bool]]  # strokes in order, and whether each runs backwards


def joined(
    strokes: Sequence[Stroke],
    gap_mm: float,
    turn: float,
    may_join: Callable[[End, End, float], bool] = lambda one, two, gap: True,
    aim_mm: float = TRACE_AIM_MM,
    aside_mm: float = ASIDE_MM,
) -> tuple[Stroke, ...]:
    """The strokes, with ends that go on in each other joined; see rows_of."""
    rows = rows_of(strokes, gap_mm, turn, may_join, aim_mm, aside_mm)
    # Most are specks that go on in none.
    return tuple(
        strokes[row[0][0]] if len(row) == 1 and not row[0][1] else put_together(strokes, row)
        for row in rows
    )


def rows_of(
    strokes: Sequence[Stroke],
    gap_mm: float,
    turn: float,
    may_join: Callable[[End, End, float], bool],
    aim_mm: float = TRACE_AIM_MM,
    aside_mm: float = ASIDE_MM,
) -> list[Row]:
    """Rows of strokes whose ends go on in each other, the plainest pair joined first.

    Parameters
    ----------
    gap_mm, turn : the widest gap, and the most (radians) that the way over it may turn at either
        end.
    may_join : what else a pair has to meet, given its ends and the gap in mm.
    aim_mm : how much of a stroke's end says where it is heading.
    aside_mm : how far beside the way ahead the other end may lie over no gap at all.
    """
    ends = ends_of(strokes, aim_mm)
    tips, out, owner = ends.tips, ends.out, ends.strokes
    if not len(tips):
        return [[(index, False)] for index in range(len(strokes))]
    i, j = cKDTree(tips).query_pairs(gap_mm, output_type="ndarray").T
    step = tips[j] - tips[i]
    gap = np.linalg.norm(step, axis=1)
    # Points overlap by a little where one chain was followed past the other's end.
    facing = -(out[i] * out[j]).sum(axis=1)
    aside = np.abs(cross(out[i], step))
    aside_back = np.abs(cross(out[j], step))
    ahead, back = (out[i] * step).sum(axis=1), -(out[j] * step).sum(axis=1)
    allowed = aside_mm + np.tan(turn) * gap
    fits = (facing > np.cos(2 * turn)) & (aside < allowed) & (aside_back < allowed)
    fits &= (ahead > -aside_mm - 0.25) & (back > -aside_mm - 0.25) & (owner[i] != owner[j])
    cost = gap + 3 * (aside + aside_back) + 4 * (1 - facing)
    links: dict[int, int] = {}
    for k in np.flatnonzero(fits)[np.argsort(cost[fits], kind="stable")]:
        a, b = int(i[k]), int(j[k])
        if a not in links and b not in links and may_join(ends[a], ends[b], float(gap[k])):
            links[a], links[b] = b, a
    return _rows(len(strokes), owner.tolist(), links)


def _rows(count: int, owner: Sequence[int], links: dict[int, int]) -> list[Row]:
    """Rows of so many strokes by which of their ends are linked; an end's other one is its ^ 1."""
    done = bytearray(count)
    rows: list[Row] = []
    outer = sorted(end ^ 1 for end in links if end ^ 1 not in links)
    for start in (*outer, *links):
        if done[owner[start]]:
            continue
        row: Row = []
        entry = start
        while not done[owner[entry]]:
            done[owner[entry]] = True
            row.append((owner[entry], entry % 2 == 1))
            if entry ^ 1 not in links:
                break
            entry = links[entry ^ 1]
        else:
            row.append(row[0])  # round again: a closed line
        rows.append(row)
    rows += [[(index, False)] for index in range(count) if not done[index]]
    return sorted(rows, key=lambda row: row[0][0])


def put_together(strokes: Sequence[Stroke], row: Row) -> Stroke:
    """A row's strokes as one; closed if the row ends with the stroke it begins with."""
    closed = len(row) > 1 and row[0] == row[-1]
    members = row[:-1] if closed else row
    if members == [(members[0][0], False)] and not closed:
        return strokes[members[0][0]]
    parts = [strokes[index] for index, _ in members]
    orders = [slice(None, None, -1) if backwards else slice(None) for _, backwards in members]
    return Stroke(
        np.concatenate([part.points[order] for part, order in zip(parts, orders, strict=True)]),
        np.concatenate([part.strength[order] for part, order in zip(parts, orders, strict=True)]),
        closed or parts[0].closed,
        any(part.dashed for part in parts),
    )


def believed(strokes: Sequence[Stroke]) -> tuple[Stroke, ...]:
    """The strokes that stand out from grain: plain ones, and faint ones that are long."""
    kept = []
    for stroke, length in zip(strokes, lengths_of(strokes).tolist(), strict=True):
        if stroke.dashed:  # believed as a row
            kept.append(stroke)
        elif length >= TRACE_SHORTEST_MM:
            strength = float(stroke.strength.mean())
            if strength >= (PLAIN_NOISE if length < FAINT_LENGTH_MM else FAINT_NOISE):
                kept.append(stroke)
    return tuple(kept)


def trace_strokes(crests: Crests) -> tuple[Stroke, ...]:
    """Strokes as far as the crests run on, over crossings too; specks are left out."""
    strokes = without_kinks(joined(link_crests(crests), 1.0, np.radians(30.0)))
    plain = [
        stroke
        for stroke, length in zip(strokes, lengths_of(strokes).tolist(), strict=True)
        if length > TRACE_SPECK_MM or stroke.strength.max() > PLAIN_NOISE
    ]
    return joined(plain, TRACE_CROSSING_MM, np.radians(16.0))


def join_faint(strokes: Sequence[Stroke]) -> tuple[Stroke, ...]:
    """The strokes, those of a hard pencil's joined that go on in each other or lie in a row.

    Each is too short and faint to be believed; in a row they are not.
    """
    dashes: list[Stroke] = []
    rest: list[Stroke] = []
    for stroke, length in zip(strokes, lengths_of(strokes).tolist(), strict=True):
        dash = length > DASH_MM and stroke.strength.mean() > DASH_NOISE
        (dashes if dash else rest).append(stroke)
    return _in_rows([*joined(dashes, TRACE_DASH_GAP_MM, np.radians(7.0)), *rest])


def _in_rows(strokes: Sequence[Stroke]) -> tuple[Stroke, ...]:
    """The strokes, those put together that lie in a row and are too faint to be believed alone.

    So a hard pencil's dashes look on dark paper; grain makes no such rows.
    """
    faint: list[Stroke] = []
    result: list[Stroke] = []
    for stroke, length in zip(strokes, lengths_of(strokes).tolist(), strict=True):
        doubted = ROW_MM < length < FAINT_LENGTH_MM and stroke.strength.mean() < PLAIN_NOISE
        (faint if doubted else result).append(stroke)
    for row in rows_of(faint, ROW_GAP_MM, ROW_TURN, lambda one, two, gap: True, ROW_AIM_MM):
        if len(row) >= FEWEST_IN_ROW:
            result.append(put_together(faint, row))
        else:
            result += [faint[index] for index, _ in row]
    return tuple(result)
