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
from scipy.ndimage import maximum_filter1d, minimum_filter1d
from scipy.spatial import cKDTree
from shapely import LineString, Point, STRtree, get_coordinates
from shapely import points as points_of
from shapely.ops import substring

from digitize.pencil.curves import Curve
from digitize.pencil.even_rows import (
    even_rows,
    free_of,
    may_be_tick,
    middle_of_tick,
    others_between,
)
from digitize.pencil.ridges import DarknessAt
from digitize.pencil.sought_ticks import Row, carried_further
from digitize.pencil.thresholds import (
    BEND,
    ON_TICK_MM,
    PLACE_SIGMA_MM,
    ROW_STEP_MM,
    TICK_ACROSS,
    TICK_ALIKE,
    TICK_ALIKE_TURN,
    TICK_CROSSING_MM,
    TICK_FEWEST,
    TICK_LOOK_MM,
    TICK_MM,
    TICK_TIP_MM,
    TICK_UNEVEN,
)
from digitize.pencil.tick_courses import likely_courses
from digitize.pencil.tick_middles import Middle
from digitize.plane import places_beside, square_to, turn_between

Floats = NDArray[np.float64]
Whole = NDArray[np.int64]


def gather_ticks(curves: Sequence[Curve], darkness_at: DarknessAt) -> tuple[Curve, ...]:
    """The marks, with each row of ticks as one line, or more where marks run through the row.

    Parameters
    ----------
    darkness_at : darkness of the paper at points (..., 2), mm; tells ticks that were not traced.
    """
    chosen = [k for k, curve in enumerate(curves) if not curve.closed and not curve.dashed]
    rows = [np.array(chosen)[row] for row in rows_of_ticks([curves[k] for k in chosen])]
    if not rows:
        return tuple(curves)
    paths = [LineString(curve.points) for curve in curves]
    long = _barriers(
        [p for p, c in zip(paths, curves, strict=True) if c.length >= TICK_CROSSING_MM]
    )
    parts = [part for row in rows for part in _between_long(row, curves, long)]
    in_rows = {id(tick) for row in parts for tick in row.ticks}
    others = [curve for curve in curves if id(curve) not in in_rows]
    found = carried_further(parts, others, long, darkness_at)
    found = [row for row in found if len(row.places) > 1]
    if not found:
        return tuple(curves)
    courses, sigma = likely_courses([row.places for row in found], [row.doubts for row in found])
    lines = [_line(row.ticks, course, sigma) for row, course in zip(found, courses, strict=True)]
    used = {id(tick) for row in found for tick in row.ticks}
    stand = np.concatenate([row.places for row in found])
    rest = [
        curve
        for curve in curves
        if id(curve) not in used and not (may_be_tick(curve.points) and _stands_on(curve, stand))
    ]
    return (*rest, *lines)


def between_their_ticks(
    parts: Sequence[Curve], whole: Sequence[Curve], darkness_at: DarknessAt
) -> tuple[Curve, ...]:
    """The parts of curves, each of a row of ticks to its last tick where it was cut.

    A row that ends at a tuck was drawn no further than that; what is left of one tick is no row.

    Parameters
    ----------
    whole : the curves before they were cut.
    darkness_at : darkness of the paper at points (..., 2), mm.
    """
    rows = [curve for curve in whole if curve.ticks and not curve.closed]
    if not rows:
        return tuple(parts)
    ends = cKDTree(np.concatenate([row.points[[0, -1]] for row in rows]))
    found = []
    for part in parts:
        cut = ends.query(part.points[[0, -1]])[0] > ON_TICK_MM
        if not part.ticks or part.closed or not cut.any():
            found.append(part)
            continue
        at = _ticks_along(part, darkness_at)
        first, last = at[0] if cut[0] else 0.0, at[-1] if cut[1] else part.length
        if last - first > ROW_STEP_MM[0]:
            inner = substring(LineString(part.points), first, last)
            found.append(replace(part, points=get_coordinates(inner)))
    return tuple(found)


def _ticks_along(row: Curve, darkness_at: DarknessAt) -> Floats:
    """(N,) how far along a row a tick stands, mm; both its ends where none is seen."""
    at = np.linspace(0.0, row.length, max(round(row.length / TICK_LOOK_MM), 1) + 1)
    places, normals = square_to(row.points, at, 2.0)
    half = TICK_MM[0] / 2  # of the shortest
    asides = np.arange(-half, half + TICK_LOOK_MM / 2, TICK_LOOK_MM)
    tone = darkness_at(places_beside(places, normals, asides))
    # A tick leans, so it is the darkest close by that counts, which makes it so much broader.
    leans = 2 * round(half * float(np.tan(TICK_ACROSS)) / TICK_LOOK_MM) + 1
    dark = np.asarray(maximum_filter1d(tone, leans, axis=0)).mean(axis=1)
    seen = dark > row.weight / row.width / 2
    on = np.flatnonzero(minimum_filter1d(seen.view(np.uint8), leans))
    return np.asarray(at[on] if len(on) else at[[0, -1]])


def _stands_on(mark: Curve, places: Floats) -> bool:
    """Whether a mark is the tick at one of the places (N, 2)."""
    return bool((LineString(mark.points).distance(points_of(places)) < ON_TICK_MM).any())


def _barriers(lines: Sequence[LineString]) -> STRtree:
    """What no row runs through: lines, and what lies near their ends, as a tuck's tip does."""
    ends = [Point(*line.coords[k]).buffer(TICK_TIP_MM) for line in lines for k in (0, -1)]
    return STRtree([*lines, *ends])


def _between_long(row: Whole, curves: Sequence[Curve], long: STRtree) -> list[Row]:
    """A row's parts between marks that run through it: there it may jump.

    A single tick's way is from the one before to the one after.
    """
    ticks = tuple(curves[k] for k in row.tolist())
    middles = np.array([middle_of_tick(tick.points) for tick in ticks])
    steps = [LineString(middles[k : k + 2]) for k in range(len(row) - 1)]
    broken = set(long.query(steps, predicate="intersects")[0].tolist())
    bounds = [0, *(k + 1 for k in sorted(broken)), len(row)]
    return [
        Row(
            tuple(Middle(middles[k], 0.0, ticks[k].length) for k in range(a, b)),
            middles[min(b, len(row) - 1)] - middles[max(a - 1, 0)],
            ticks[a:b],
        )
        for a, b in itertools.pairwise(bounds)
    ]


def rows_of_ticks(curves: Sequence[Curve]) -> list[Whole]:
    """Which marks are ticks in a row, TICK_FEWEST or more, in order; each in one row at most.

    Even rows first, which may lack a tick here and there; then what carries them on, and shorter
    and less even ones.
    """
    chosen = np.array([k for k, c in enumerate(curves) if may_be_tick(c.points)], int)
    marks = [curve.points for curve in curves]
    chosen = chosen[free_of([marks[k] for k in chosen.tolist()], marks)]
    if len(chosen) < TICK_FEWEST:
        return []
    ticks = [marks[k] for k in chosen]
    area = float(np.prod(np.ptp(np.concatenate(marks), axis=0)))
    even = even_rows(ticks, np.array([curves[k].weight for k in chosen]), max(area, 1.0))
    return [chosen[row] for row in _carried_on(ticks, even)]


def _carried_on(ticks: Sequence[Floats], rows: Sequence[Whole]) -> list[Whole]:
    """Rows carried on and joined by ticks that may stand less evenly, and further rows of such."""
    middles = np.array([middle_of_tick(points) for points in ticks])
    run = np.array([points[-1] - points[0] for points in ticks])
    heading, length = np.arctan2(run[:, 1], run[:, 0]), np.linalg.norm(run, axis=1)
    one, two = cKDTree(middles).query_pairs(ROW_STEP_MM[1], output_type="ndarray").T
    step = middles[two] - middles[one]
    gap, way = np.linalg.norm(step, axis=1), np.arctan2(step[:, 1], step[:, 0])
    off_one = np.pi / 2 - turn_between(way, heading[one])
    off_two = np.pi / 2 - turn_between(way, heading[two])
    fits = (gap >= ROW_STEP_MM[0]) & (np.maximum(off_one, off_two) < TICK_ACROSS)
    fits &= turn_between(heading[one], heading[two]) < TICK_ALIKE_TURN
    fits &= np.minimum(length[one], length[two]) > TICK_ALIKE * np.maximum(length[one], length[two])
    fits &= ~others_between(ticks, middles, one, two)
    # Nearest and squarest first; each tick has one neighbour on either side at most.
    cost = gap * (1 + off_one + off_two)
    neighbours: dict[int, list[int]] = {index: [] for index in range(len(ticks))}
    for row in rows:
        for a, b in itertools.pairwise(row.tolist()):
            neighbours[a].append(b)
            neighbours[b].append(a)
    for k in np.flatnonzero(fits)[np.argsort(cost[fits], kind="stable")]:
        a, b = int(one[k]), int(two[k])
        if _goes_on(middles, neighbours[a], a, b) and _goes_on(middles, neighbours[b], b, a):
            neighbours[a].append(b)
            neighbours[b].append(a)
    return [row for row in _walked(neighbours) if len(row) >= TICK_FEWEST]


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
    return bool(turn < BEND * shorter / longer and longer < TICK_UNEVEN * shorter)


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


def _line(ticks: Sequence[Curve], course: Floats, sigma: float) -> Curve:
    """The line (N, 2) through ticks whose middles scatter about it by sigma, mm."""
    red, green, blue = np.median([tick.colour for tick in ticks], axis=0).astype(int).tolist()
    return replace(
        ticks[0],
        points=course,
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
