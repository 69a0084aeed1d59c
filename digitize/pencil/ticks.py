"""Rows of short marks across a line that was never drawn, as where a gauge was tried: ticks.

Each tick lies across the row, the next one beside it, at about the same distance as the one
before. The line runs through their middles. At a tuck it breaks, though the row goes on.
"""

import itertools
from collections import Counter
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree
from shapely import LineString, STRtree, linestrings

from digitize.pencil.curves import PLACE_SIGMA_MM, Curve
from digitize.pencil.fair import fair
from digitize.pencil.trace import FAINT_NOISE, Stroke
from digitize.plane import length_of, turn_between

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]
Whole = NDArray[np.int64]
TICK_MM = (3.0, 25.0)
STRAIGHT = 0.95  # chord over length
STEP_MM = (8.0, 90.0)  # from tick to tick: every 10 to 40 mm, unevenly, and one or two unseen
ACROSS, ALIKE_TURN = np.radians(35.0), np.radians(35.0)  # off square to the row; from the next
ALIKE = 0.4  # the shorter of two ticks over the longer
BEND, UNEVEN = np.radians(25.0), 3.3  # between two alike steps; the longer over the shorter
FREE_MM = 1.5  # from any other mark: what touches one is part of it
CRUMB = 0.5  # of its length
FEWEST = 4
PLAIN_SHARE = 0.34
CROSSING_MM = 30.0  # a mark as long as that between two ticks breaks the line
# How far a hand sets a tick's middle off the line, where too few stand on the paper to tell; an
# own estimate, no source.
MIDDLE_SIGMA_MM = 0.5
FEWEST_TO_TELL = 8  # third differences


def gather_ticks(curves: Sequence[Curve]) -> tuple[Curve, ...]:
    """The marks, with each row of ticks as one line, or more where marks run through the row."""
    chosen = [k for k, curve in enumerate(curves) if not curve.closed and not curve.dashed]
    rows = [np.array(chosen)[row] for row in rows_of_ticks([curves[k].points for k in chosen])]
    if not rows:
        return tuple(curves)
    middles = [np.array([_middle(curves[k].points) for k in row]) for row in rows]
    sigma = middle_sigma(middles)
    paths = [LineString(curve.points) for curve in curves]
    long = STRtree([p for p, c in zip(paths, curves, strict=True) if c.length >= CROSSING_MM])
    used: set[int] = set()
    lines = []
    for row, places in zip(rows, middles, strict=True):
        steps = [LineString(places[k : k + 2]) for k in range(len(places) - 1)]
        broken = set(long.query(steps, predicate="intersects")[0].tolist())
        bounds = [0, *(k + 1 for k in sorted(broken)), len(row)]
        for start, stop in itertools.pairwise(bounds):
            if stop - start > 1:
                members = row[start:stop].tolist()
                used.update(members)
                lines.append(_line([curves[k] for k in members], places[start:stop], sigma))
    rest = [curve for index, curve in enumerate(curves) if index not in used]
    return (*rest, *lines)


def faint_ticks(faint: Sequence[Stroke], plain: Sequence[Stroke]) -> tuple[Stroke, ...]:
    """Those strokes, too faint to be believed alone, that stand in a row with plain ticks.

    At least PLAIN_SHARE of the row is plain: grain makes short marks too, and now and then a row.
    """
    some = [stroke for stroke in faint if stroke.strength.mean() >= FAINT_NOISE]
    both = [*some, *plain]
    found = []
    for row in rows_of_ticks([stroke.points for stroke in both]):
        if (row >= len(some)).mean() >= PLAIN_SHARE:
            found += [some[k] for k in row if k < len(some)]
    return tuple(found)


def _may_be_tick(points: Floats) -> bool:
    chord, length = float(np.linalg.norm(points[-1] - points[0])), length_of(points)
    return TICK_MM[0] <= length <= TICK_MM[1] and chord > STRAIGHT * length


def _middle(points: Floats) -> Floats:
    return np.asarray((points[0] + points[-1]) / 2)


def rows_of_ticks(marks: Sequence[Floats]) -> list[Whole]:
    """Which marks (N, 2) are ticks in a row, FEWEST or more, in order; each in one row at most."""
    chosen = [index for index, points in enumerate(marks) if _may_be_tick(points)]
    if len(chosen) < FEWEST:
        return []
    paths = [LineString(points) for points in marks]
    own, other = STRtree(paths).query(
        [paths[k] for k in chosen], predicate="dwithin", distance=FREE_MM
    )
    # Crumbs beside a tick, of the same lead, don't make it part of anything.
    lengths = np.array([path.length for path in paths])
    apart = (np.array(chosen)[own] != other) & (lengths[other] > CRUMB * lengths[chosen][own])
    free = np.ones(len(chosen), bool)
    free[own[apart]] = False
    ticks = np.array(chosen)[free]
    return [ticks[row] for row in _rows([marks[k] for k in ticks])]


def _rows(ticks: Sequence[Floats]) -> list[Whole]:
    if len(ticks) < FEWEST:
        return []
    middles = np.array([_middle(points) for points in ticks])
    run = np.array([points[-1] - points[0] for points in ticks])
    heading, length = np.arctan2(run[:, 1], run[:, 0]), np.linalg.norm(run, axis=1)
    one, two = cKDTree(middles).query_pairs(STEP_MM[1], output_type="ndarray").T
    step = middles[two] - middles[one]
    gap, way = np.linalg.norm(step, axis=1), np.arctan2(step[:, 1], step[:, 0])
    off_one = np.pi / 2 - turn_between(way, heading[one])
    off_two = np.pi / 2 - turn_between(way, heading[two])
    fits = (gap >= STEP_MM[0]) & (np.maximum(off_one, off_two) < ACROSS)
    fits &= turn_between(heading[one], heading[two]) < ALIKE_TURN
    fits &= np.minimum(length[one], length[two]) > ALIKE * np.maximum(length[one], length[two])
    fits &= ~_others_between(ticks, middles, one, two)
    # Nearest and squarest first; each tick has one neighbour on either side at most.
    cost = gap * (1 + off_one + off_two)
    neighbours: dict[int, list[int]] = {index: [] for index in range(len(ticks))}
    for k in np.flatnonzero(fits)[np.argsort(cost[fits], kind="stable")]:
        a, b = int(one[k]), int(two[k])
        if _goes_on(middles, neighbours[a], a, b) and _goes_on(middles, neighbours[b], b, a):
            neighbours[a].append(b)
            neighbours[b].append(a)
    return [row for row in _walked(neighbours) if len(row) >= FEWEST]


def _others_between(ticks: Sequence[Floats], middles: Floats, one: Whole, two: Whole) -> Flags:
    """(P,) whether the way from a tick's middle to another's meets a third: hatching's does."""
    ways = linestrings(np.stack([middles[one], middles[two]], axis=1))
    tree = STRtree([LineString(points) for points in ticks])
    way, hit = tree.query(ways, predicate="intersects")
    between = np.zeros(len(one), bool)
    between[way[(hit != one[way]) & (hit != two[way])]] = True
    return between


def _goes_on(middles: Floats, others: Sequence[int], at: int, to: int) -> bool:
    """Whether a row that comes to a tick from its one other neighbour may go on to a third."""
    if not others:
        return True
    if len(others) > 1:
        return False
    come, go = middles[at] - middles[others[0]], middles[to] - middles[at]
    before, after = float(np.linalg.norm(come)), float(np.linalg.norm(go))
    turn = np.arccos(np.clip(come @ go / (before * after), -1.0, 1.0))
    shorter, longer = min(before, after), max(before, after)
    return bool(turn < BEND * shorter / longer and longer < UNEVEN * shorter)


def _walked(neighbours: dict[int, list[int]]) -> list[Whole]:
    """Rows from end to end; round ones from any tick."""
    seen: set[int] = set()
    rows = []
    for start in sorted(neighbours, key=lambda k: (len(neighbours[k]) != 1, k)):
        row: list[int] = []
        at: int | None = start
        while at is not None and at not in seen:
            seen.add(at)
            row.append(at)
            at = next((k for k in neighbours[at] if k not in seen), None)
        rows.append(np.array(row, int))
    return rows


def middle_sigma(rows: Sequence[Floats]) -> float:
    """How far a tick's middle lies off its line, mm: one standard deviation.

    From the third differences of all rows (N, 2), square to each: along a circle with even steps
    they vanish, and those of independent values have 20 times their variance (the squares of 1, 3,
    3, 1). Rows are no circles and steps uneven, so it is too much if anything. By their mean size,
    which of normal values is the root of 2 / pi times sigma: some ticks are read only in part, and
    squares would make too much of these, a median nothing.
    """
    differences = []
    for places in rows:
        ahead = places[3:] - places[:-3]
        ahead /= np.linalg.norm(ahead, axis=1, keepdims=True) + 1e-12
        third = np.diff(places, n=3, axis=0)
        differences.append(ahead[:, 0] * third[:, 1] - ahead[:, 1] * third[:, 0])
    values = np.concatenate(differences) if differences else np.zeros(0)
    if len(values) < FEWEST_TO_TELL:
        return MIDDLE_SIGMA_MM
    return float(max(np.abs(values).mean() * np.sqrt(np.pi / 2 / 20.0), PLACE_SIGMA_MM))


def _line(ticks: Sequence[Curve], middles: Floats, sigma: float) -> Curve:
    """The line through ticks, their middles each good to sigma (mm)."""
    course = fair(middles, sigma)
    red, green, blue = np.median([tick.colour for tick in ticks], axis=0).astype(int).tolist()
    return replace(
        ticks[0],
        points=course.points,
        width=float(np.median([tick.width for tick in ticks])),
        weight=float(np.median([tick.weight for tick in ticks])),
        two_sided=float(np.median([tick.two_sided for tick in ticks])),
        # Between the ticks nothing was drawn: no place is surer than one tick's.
        sigma=float(np.hypot(sigma, PLACE_SIGMA_MM)),
        colour=(red, green, blue),
        ink=Counter(tick.ink for tick in ticks).most_common(1)[0][0],
        rubbed=0.0,
        sheen=float(np.median([tick.sheen for tick in ticks])),
        sure=float(np.median([tick.sure for tick in ticks])),
        ticks=True,
    )
