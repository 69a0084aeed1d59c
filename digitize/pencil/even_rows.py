"""Which short marks stand in an even row: one beside the next, as ticks do, or one after another.

Grain and writing make short marks too, and now and then some of them stand in a row. How many rows
they would make by chance follows from how many such marks there are, as plain as these: an even row
is believed when fewer than MOST_BY_CHANCE such rows were to be expected (the number of false alarms
of A. Desolneux, L. Moisan and J.-M. Morel, "Meaningful alignments", International Journal of
Computer Vision 40, 2000). A row's own ticks are counted among the marks, which is too careful if
anything.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from statistics import median  # of a row's few values ten times as quick as numpy's

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree
from scipy.special import gammaincc
from shapely import STRtree, length, linestrings

from digitize.pencil.thresholds import (
    AHEAD,
    CRUMB,
    FIRST_MM,
    GRAIN_MM,
    MOST_BY_CHANCE,
    MOST_SKIPPED,
    NEAR,
    ROW_ALIKE,
    ROW_FEWEST,
    ROW_FREE_MM,
    ROW_STEP_MM,
    ROW_STRAIGHT,
    STEPS_APART,
    TICK_MM,
)
from digitize.plane import cross, lines_through, turn_between

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]
Whole = NDArray[np.int64]


@dataclass(frozen=True)
class Kind:
    """How marks lie in a row.

    Attributes
    ----------
    across : square to the way from one to the next, and not along it.
    turn : radians, how far off that.
    aside : of a step: how far beside the way on a mark may stand.
    least_mm : from one to the next.
    """

    across: bool
    turn: float
    aside: float
    least_mm: float


TICKS = Kind(True, float(np.radians(28.0)), 0.22, ROW_STEP_MM[0])
DASHES = Kind(False, float(np.radians(14.0)), 0.12, 4.0)


@dataclass(frozen=True)
class Ticks:
    """Marks that may stand in a row: (N, 2) middles, mm, (N,) headings, radians, and lengths, mm.

    ``alike`` : (N,) how many marks lie as each, within its kind's turn, itself among them: paper
    has its own grain, and print its lines.
    ``as_plain`` : (N,) the share of these that are as plain.
    """

    middles: Floats
    headings: Floats
    lengths: Floats
    alike: Floats
    as_plain: Floats


def may_be_tick(points: Floats) -> bool:
    """Whether a mark (N, 2) is as short and straight as a tick."""
    chord = points[-1] - points[0]
    long = float(np.linalg.norm(chord))
    if not TICK_MM[0] <= long <= TICK_MM[1]:
        return False
    off = np.abs(cross(chord, points - points[0])) / long
    return bool(off.max() < ROW_STRAIGHT * long + GRAIN_MM)


def middle_of_tick(points: Floats) -> Floats:
    """(2,) where a tick (N, 2) says that its line runs."""
    return np.asarray((points[0] + points[-1]) / 2)


def free_of(marks: Sequence[Floats], others: Sequence[Floats]) -> Flags:
    """(N,) whether each mark touches none of the others but itself.

    Crumbs beside a tick, of the same lead, don't make it part of anything.
    """
    free = np.ones(len(marks), bool)
    if not marks or not others:
        return free
    paths, around = lines_through(marks), lines_through(others)
    own, other = STRtree(around).query(paths, predicate="dwithin", distance=ROW_FREE_MM)
    same = {id(points): k for k, points in enumerate(others)}
    itself = np.array([same.get(id(points), -1) for points in marks])
    size, theirs = length(paths), length(around)
    free[own[(itself[own] != other) & (theirs[other] > CRUMB * size[own])]] = False
    return free


def even_rows(
    marks: Sequence[Floats], plain: Floats, area_mm2: float, kind: Kind = TICKS
) -> list[Whole]:
    """Which marks (N, 2), as short as a tick, stand in even rows, in order; each in one at most.

    Parameters
    ----------
    plain : (N,) how plain each mark is, by any measure.
    area_mm2 : over which the marks are strewn.
    """
    if len(marks) < ROW_FEWEST:
        return []
    run = np.array([points[-1] - points[0] for points in marks])
    headings = np.arctan2(run[:, 1], run[:, 0])
    alike = turn_between(headings[:, None], headings) < kind.turn
    ticks = Ticks(
        np.array([middle_of_tick(points) for points in marks]),
        headings,
        np.linalg.norm(run, axis=1),
        alike.sum(axis=1).astype(float),
        (alike & (plain >= plain[:, None])).sum(axis=1) / alike.sum(axis=1),
    )
    tree = cKDTree(ticks.middles)
    starts = _starts(ticks, marks, tree, kind)
    rows = []
    for one, two in starts.tolist():
        row, chance = _grown(ticks, tree, one, two, area_mm2, kind)
        if len(row) >= ROW_FEWEST and len(starts) * chance < MOST_BY_CHANCE:
            rows.append((chance, row))
    found: list[Whole] = []
    used: set[int] = set()
    for _, row in sorted(rows, key=lambda each: each[0]):
        if used.isdisjoint(row):
            used.update(row)
            found.append(np.array(row, int))
    return found


def _starts(ticks: Ticks, marks: Sequence[Floats], tree: cKDTree, kind: Kind) -> Whole:
    """(P, 2) pairs that a row may begin with: alike, and as their kind lies to the way between."""
    pairs = tree.query_pairs(FIRST_MM, output_type="ndarray")
    one, two = pairs.T
    step = ticks.middles[two] - ticks.middles[one]
    gap, way = np.linalg.norm(step, axis=1), np.arctan2(step[:, 1], step[:, 0])
    both = ticks.lengths[one] + ticks.lengths[two]
    fits = (gap >= kind.least_mm) & (gap >= STEPS_APART * both / 2)
    fits &= np.minimum(ticks.lengths[one], ticks.lengths[two]) > ROW_ALIKE / (1 + ROW_ALIKE) * both
    for end in (one, two):
        fits &= _lie_right(ticks.headings[end], way, kind)
    fits[fits] = ~others_between(marks, ticks.middles, one[fits], two[fits])
    return np.asarray(pairs[fits])


def _lie_right(headings: Floats, way: Floats, kind: Kind) -> Flags:
    """(N,) whether marks' headings are those of their kind, by the way of the row there."""
    turn = turn_between(headings, way)
    return np.asarray((np.pi / 2 - turn if kind.across else turn) < kind.turn)


def others_between(marks: Sequence[Floats], middles: Floats, one: Whole, two: Whole) -> Flags:
    """(P,) whether the way from a tick's middle to another's meets a third: hatching's does."""
    ways = linestrings(np.stack([middles[one], middles[two]], axis=1))
    tree = STRtree(lines_through(marks))
    way, hit = tree.query(ways, predicate="intersects")
    between = np.zeros(len(one), bool)
    between[way[(hit != one[way]) & (hit != two[way])]] = True
    return between


def _grown(
    ticks: Ticks, tree: cKDTree, one: int, two: int, area_mm2: float, kind: Kind
) -> tuple[list[int], float]:
    """The row that two ticks lead to, both ways, and how many such are to be expected by chance.

    Each further mark stands within AHEAD and ``aside`` of a step from where the row leads. Of marks
    strewn at random, so many do as lie that way in such an area.
    """
    row, expected = [one, two], 1.0
    density = ticks.alike / area_mm2
    for _ in range(2):
        row.reverse()
        skipped = 0
        while skipped <= MOST_SKIPPED:
            steps = _steps_on(ticks.middles[row], kind)
            at = ticks.middles[row[-1]]
            tries = [_next(ticks, tree, row, at + (1 + skipped) * s, s, kind) for s in steps]
            found = next((k for k in tries if k is not None), None)
            if found is None:
                skipped += 1
                continue
            # It was sought in as many windows as there are steps to it, each way on.
            windows = (1 + skipped) * (1 + [k is not None for k in tries].index(True))
            area = 4 * AHEAD * kind.aside * float(steps[0] @ steps[0])
            expected *= windows * density[found] * area
            row.append(found)
            skipped = 0
    return row, expected * by_chance(ticks.as_plain[row])


def _steps_on(places: Floats, kind: Kind) -> list[Floats]:
    """Steps (2,) by which a row of places (N, 2) may go on: as the last one runs, or the last two.

    By how far ticks' middles lie aside, one step alone leads astray; where the row bends, two do.
    Either is as long as all so far: one tick set early makes no row of shorter steps.
    """
    most = 2 if kind.across else 1
    ways = [places[-1] - places[-1 - back] for back in (1, most)[:most] if len(places) > back]
    usual = _usual_step(places)
    return [way / np.linalg.norm(way) * usual for way in ways]


def by_chance(shares: Floats) -> float:
    """The chance that of marks at random so many are together as plain, or plainer.

    How plain a mark is among others is as likely any share of them as another; that the product of
    M such shares (M,) is p at most has the chance Q(M, -ln p), the incomplete gamma function (R. A.
    Fisher, Statistical Methods for Research Workers, 4th edition, 1932, section 21.1).
    """
    return float(gammaincc(len(shares), -np.log(shares).sum()))


def _usual_step(places: Floats) -> float:
    """From place to place, mm."""
    return float(median(np.linalg.norm(places[1:] - places[:-1], axis=1).tolist()))


def _next(
    ticks: Ticks, tree: cKDTree, row: Sequence[int], place: Floats, step: Floats, kind: Kind
) -> int | None:
    """The mark that a row goes on to, where its next is awaited: as plain and as near as any."""
    far = float(np.linalg.norm(step))
    near: list[int] = [k for k in tree.query_ball_point(place, AHEAD * far) if k not in row]
    if not near:
        return None
    off = ticks.middles[near] - place
    ahead, aside = np.abs(off @ step) / far, np.abs(cross(off, step)) / far
    lengths, usual = ticks.lengths[near], median(ticks.lengths[list(row)].tolist())
    come = ticks.middles[near] - ticks.middles[row[-1]]
    fits = (ahead < AHEAD * far) & (aside < kind.aside * far)
    fits &= _lie_right(ticks.headings[near], np.arctan2(come[:, 1], come[:, 0]), kind)
    fits &= np.minimum(lengths, usual) > ROW_ALIKE * np.maximum(lengths, usual)
    if not fits.any():
        return None
    # The one of which there are the fewest as plain and as near.
    away = np.hypot(ahead / AHEAD, aside / kind.aside) / far
    cost = ticks.as_plain[near] * np.maximum(away, NEAR) ** 2
    return near[int(np.argmin(np.where(fits, cost, np.inf)))]
