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
from shapely import LineString, STRtree

from digitize.pencil.curves import PLACE_SIGMA_MM, Curve
from digitize.pencil.even_rows import (
    STEP_MM,
    even_rows,
    free_of,
    may_be_tick,
    middle_of_tick,
    others_between,
)
from digitize.pencil.fair import fair
from digitize.plane import cross, turn_between

Floats = NDArray[np.float64]
Whole = NDArray[np.int64]
ACROSS, ALIKE_TURN = np.radians(35.0), np.radians(35.0)  # off square to the row; from the next
ALIKE = 0.4  # the shorter of two ticks over the longer
BEND, UNEVEN = np.radians(25.0), 3.3  # between two alike steps; the longer over the shorter
FEWEST = 4
CROSSING_MM = 30.0  # a mark as long as that between two ticks breaks the line
# How far a hand sets a tick's middle off the line, where too few stand on the paper to tell; an
# own estimate, no source.
MIDDLE_SIGMA_MM = 0.5
FEWEST_TO_TELL = 8  # third differences
AROUND = 4  # ticks to either side that say where one should stand
# Deviations, and mm: what stands further off was read in part, or is no tick.
ASTRAY, ASTRAY_MM = 3.5, 2.0
ASTRAY_WEIGHT = 0.05


def gather_ticks(curves: Sequence[Curve]) -> tuple[Curve, ...]:
    """The marks, with each row of ticks as one line, or more where marks run through the row."""
    chosen = [k for k, curve in enumerate(curves) if not curve.closed and not curve.dashed]
    rows = [np.array(chosen)[row] for row in rows_of_ticks([curves[k] for k in chosen])]
    if not rows:
        return tuple(curves)
    paths = [LineString(curve.points) for curve in curves]
    long = STRtree([p for p, c in zip(paths, curves, strict=True) if c.length >= CROSSING_MM])
    parts = [part for row in rows for part in _between_long(row, curves, long)]
    places = [np.array([middle_of_tick(curves[k].points) for k in part]) for part in parts]
    sigma = middle_sigma([np.array([middle_of_tick(curves[k].points) for k in r]) for r in rows])
    lines = []
    for part, own in zip(parts, places, strict=True):
        weights = np.where(astray(own, sigma), ASTRAY_WEIGHT, 1.0)
        lines.append(_line([curves[k] for k in part.tolist()], own, weights, sigma))
    used = {k for part in parts for k in part.tolist()}
    rest = [curve for index, curve in enumerate(curves) if index not in used]
    return (*rest, *lines)


def _between_long(row: Whole, curves: Sequence[Curve], long: STRtree) -> list[Whole]:
    """A row's parts of two ticks or more between marks that run through it: there it may jump."""
    middles = np.array([middle_of_tick(curves[k].points) for k in row])
    steps = [LineString(middles[k : k + 2]) for k in range(len(row) - 1)]
    broken = set(long.query(steps, predicate="intersects")[0].tolist())
    bounds = [0, *(k + 1 for k in sorted(broken)), len(row)]
    return [row[a:b] for a, b in itertools.pairwise(bounds) if b - a > 1]


def rows_of_ticks(curves: Sequence[Curve]) -> list[Whole]:
    """Which marks are ticks in a row, FEWEST or more, in order; each in one row at most.

    Even rows first, which may lack a tick here and there; then what carries them on, and shorter
    and less even ones.
    """
    chosen = np.array([k for k, c in enumerate(curves) if may_be_tick(c.points)], int)
    marks = [curve.points for curve in curves]
    chosen = chosen[free_of([marks[k] for k in chosen.tolist()], marks)]
    if len(chosen) < FEWEST:
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
    one, two = cKDTree(middles).query_pairs(STEP_MM[1], output_type="ndarray").T
    step = middles[two] - middles[one]
    gap, way = np.linalg.norm(step, axis=1), np.arctan2(step[:, 1], step[:, 0])
    off_one = np.pi / 2 - turn_between(way, heading[one])
    off_two = np.pi / 2 - turn_between(way, heading[two])
    fits = (gap >= STEP_MM[0]) & (np.maximum(off_one, off_two) < ACROSS)
    fits &= turn_between(heading[one], heading[two]) < ALIKE_TURN
    fits &= np.minimum(length[one], length[two]) > ALIKE * np.maximum(length[one], length[two])
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
    return [row for row in _walked(neighbours) if len(row) >= FEWEST]


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


def astray(places: Floats, sigma: float) -> NDArray[np.bool_]:
    """(N,) which places (N, 2) of a row, good to sigma (mm), lie off the course of those around.

    That course is the parabola through three of them that has the least median of squares (P. J.
    Rousseeuw, "Least median of squares regression", Journal of the American Statistical
    Association 79, 1984): up to half of them may lie anywhere. Two beside each other that lie off
    to one side are a bend.
    """
    off = np.zeros(len(places))
    for k in range(len(places)):
        start = int(np.clip(k - AROUND, 0, max(len(places) - 2 * AROUND - 1, 0)))
        own = places[start : start + 2 * AROUND + 1]
        if len(own) < FEWEST + 1:
            continue
        ahead = (own[-1] - own[0]) / np.linalg.norm(own[-1] - own[0])
        x, y = (own - own[0]) @ ahead, cross(ahead, own - own[0])
        three = np.array(list(itertools.combinations(range(len(own)), 3)))
        terms = np.vander(x, 3)
        # Steps are of some mm: no three places are one above another.
        bends = np.linalg.solve(terms[three], y[three][..., None])[..., 0]
        away = y - bends @ terms.T
        off[k] = away[np.argmin(np.median(np.abs(away), axis=1)), k - start]
    side = np.sign(off) * (np.abs(off) > max(ASTRAY * sigma, ASTRAY_MM))
    beside = np.pad(side, 1)
    return np.asarray((side != 0) & (side != beside[:-2]) & (side != beside[2:]))


def _line(ticks: Sequence[Curve], middles: Floats, weights: Floats, sigma: float) -> Curve:
    """The line through ticks, their middles each good to sigma (mm), less where weights say so."""
    course = fair(middles, sigma, weights=weights)
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
