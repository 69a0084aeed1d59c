"""Ticks that a row foretells and no trace found: too faint for that, or too near to other marks.

A row says where its next tick is awaited: a step on, across the row, as long and as broad as the
others. What stands there has to score what of all places that are looked at on a paper fewer than
SOUGHT_BY_CHANCE would on bare paper, as it is beside the rows. Where nothing stands nothing is
found, and a row ends.
"""

import itertools
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from shapely import LineString, Point, STRtree

from digitize.pencil.curves import Curve
from digitize.pencil.even_rows import may_be_tick
from digitize.pencil.ridges import DarknessAt
from digitize.pencil.thresholds import (
    MOST_SKIPPED,
    SOUGHT_AHEAD,
    SOUGHT_APART,
    SOUGHT_ASIDE,
    SOUGHT_BESIDE_MM,
    SOUGHT_BY_CHANCE,
    SOUGHT_FEWEST_BLANK,
    SOUGHT_LEAST_WIDTH_MM,
    SOUGHT_MOST_BLANK,
    SOUGHT_ROUNDS,
    SOUGHT_SHARE,
)
from digitize.pencil.tick_bars import Bar, Window, best_in, chance_score, taken_by
from digitize.pencil.tick_courses import likely_courses
from digitize.plane import cross

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]


@dataclass(frozen=True)
class Paper:
    """Where ticks are sought.

    Attributes
    ----------
    bar : the usual tick. step_mm : from tick to tick.
    taken : whether places (..., 2), mm, lie on marks that are known.
    crossing : marks through which no row runs on as one line.
    """

    bar: Bar
    step_mm: float
    darkness_at: DarknessAt
    taken: Callable[[Floats], Flags]
    crossing: STRtree

    def free_way(self, start: Floats, way: Floats, far_mm: float) -> float:
        """How far, mm, from a place (2,) nothing crosses a way (2,) of length 1; far_mm at most."""
        ahead = LineString([start, start + far_mm * way])
        hits = self.crossing.geometries[self.crossing.query(ahead, predicate="intersects")]
        return min(
            (float(Point(start).distance(ahead.intersection(h))) for h in hits), default=far_mm
        )


def carried_further(
    rows: Sequence[Floats],
    ticks: Sequence[Curve],
    others: Sequence[Curve],
    crossing: STRtree,
    darkness_at: DarknessAt,
) -> list[Floats]:
    """The rows' ticks' middles (N, 2), mm, with those found between them and beyond their ends.

    Rows that lead to each other become one.

    Parameters
    ----------
    rows : (N, 2) middles in order, two or more, so far as no mark runs through between them.
    ticks, others : the marks that are the rows' ticks, and all others.
    crossing : marks that no row runs through as one line.
    """
    step = float(np.median(np.concatenate([_steps(row) for row in rows])))
    known = [c.points for c in (*ticks, *(o for o in others if not may_be_tick(o.points)))]
    bar = Bar(
        SOUGHT_SHARE * float(np.median([tick.length for tick in ticks])),
        max(float(np.median([tick.width for tick in ticks])), SOUGHT_LEAST_WIDTH_MM),
        float(np.median([tick.weight / tick.width for tick in ticks])),
    )
    paper = Paper(bar, step, darkness_at, taken_by(known), crossing)
    blank = _blank_scores(rows, paper)
    if len(blank) < SOUGHT_FEWEST_BLANK:
        return list(rows)
    windows = sum(map(len, rows)) + 2 * (1 + MOST_SKIPPED) * len(rows)
    least = chance_score(blank, SOUGHT_BY_CHANCE / windows)
    grown = list(rows)
    for _ in range(SOUGHT_ROUNDS):
        before = [len(row) for row in grown]
        for k in range(len(grown)):
            grown[k] = _filled(grown[k], paper, least)
        for _ in range(2):
            courses, _ = likely_courses(grown)
            for k, course in enumerate(courses):
                found = _beyond(course, grown, paper, least)
                if found is not None:
                    grown[k] = np.append(grown[k], [found], axis=0)
            grown = [row[::-1] for row in grown]
        grown = _joined(grown, paper)
        if [len(row) for row in grown] == before:
            break
    return grown


def _steps(row: Floats) -> Floats:
    return np.asarray(np.linalg.norm(np.diff(row, axis=0), axis=1))


def _blank_scores(rows: Sequence[Floats], paper: Paper) -> list[float]:
    """What windows beside the rows score, clear of their ticks."""
    scores: list[float] = []
    apart = paper.bar.length_mm / SOUGHT_SHARE + SOUGHT_BESIDE_MM
    for times in (1, -1, 2, -2, 3, -3):
        for row in rows:
            for one, two in itertools.pairwise(row):
                way = (two - one) / np.linalg.norm(two - one)
                place = one + times * apart * np.array([-way[1], way[0]])
                window = _window(place, way, paper.step_mm)
                best = best_in(window, paper.bar, paper.darkness_at, paper.taken)
                if best is not None:
                    scores.append(best.score)
                if len(scores) == SOUGHT_MOST_BLANK:
                    return scores
    return scores


def _window(place: Floats, way: Floats, step_mm: float, ahead_mm: float | None = None) -> Window:
    ahead = SOUGHT_AHEAD * step_mm if ahead_mm is None else ahead_mm
    return Window(place, way, ahead, SOUGHT_ASIDE * step_mm)


def _found(window: Window, paper: Paper, least: float) -> Floats | None:
    best = best_in(window, paper.bar, paper.darkness_at, paper.taken)
    return None if best is None or best.score < least else best.middle


def _filled(row: Floats, paper: Paper, least: float) -> Floats:
    """The row (N, 2) with what is found between its ticks where steps are left out."""
    places = [row[:1]]
    for one, two in itertools.pairwise(row):
        left_out = round(float(np.linalg.norm(two - one)) / paper.step_mm) - 1
        way = (two - one) / np.linalg.norm(two - one)
        for share in np.arange(1, left_out + 1) / (left_out + 1):
            window = _window(one + share * (two - one), way, paper.step_mm)
            found = _found(window, paper, least)
            places += [found[None]] if found is not None else []
        places.append(two[None])
    return np.concatenate(places)


def _beyond(course: Floats, rows: Sequence[Floats], paper: Paper, least: float) -> Floats | None:
    """The next tick's middle (2,) beyond the end of a row's course (N, 2), or None.

    One or two may be unseen before it, but no mark runs through on the way to it.
    """
    start, way = _end_of(course)
    ahead = SOUGHT_AHEAD * paper.step_mm
    far = (1 + MOST_SKIPPED) * paper.step_mm + ahead
    free = paper.free_way(start, way, far)
    stand = np.concatenate(list(rows))
    for steps in range(1, 2 + MOST_SKIPPED):
        low, high = steps * paper.step_mm - ahead, min(steps * paper.step_mm + ahead, free)
        if high <= low:
            return None
        place = start + (low + high) / 2 * way
        found = _found(_window(place, way, paper.step_mm, (high - low) / 2), paper, least)
        if found is not None:
            apart = np.linalg.norm(stand - found, axis=1).min()
            return found if apart > SOUGHT_APART * paper.step_mm else None
    return None


def _end_of(course: Floats) -> tuple[Floats, Floats]:
    """The last place (2,) of a course (N, 2) about a mm apart, and its way on (2,) of length 1."""
    run = course[-1] - course[max(len(course) - 4, 0)]
    return course[-1], run / np.linalg.norm(run)


def _joined(rows: Sequence[Floats], paper: Paper) -> list[Floats]:
    """The rows, two of which each foretells the other's end made one."""
    joined = list(rows)
    while True:
        courses, _ = likely_courses(joined)
        pair = next(
            (
                (a, b, one, two)
                for a, b in itertools.combinations(range(len(joined)), 2)
                for one in (1, -1)
                for two in (1, -1)
                if _lead_to_each_other(courses[a][::one], courses[b][::two], paper)
            ),
            None,
        )
        if pair is None:
            return joined
        a, b, one, two = pair
        whole = np.concatenate([joined[a][::one], joined[b][::two][::-1]])
        joined = [row for k, row in enumerate(joined) if k not in (a, b)] + [whole]


def _lead_to_each_other(one: Floats, other: Floats, paper: Paper) -> bool:
    """Whether either course's end lies where the other's ticks are awaited, and nothing between."""
    (a, out), (b, back) = _end_of(one), _end_of(other)
    for start, way, end in ((a, out, b), (b, back, a)):
        off = end - start
        ahead, aside = float(off @ way) / paper.step_mm, abs(float(cross(way, off))) / paper.step_mm
        steps = round(ahead)
        if not 1 <= steps <= 1 + MOST_SKIPPED or abs(ahead - steps) > SOUGHT_AHEAD * steps:
            return False
        if aside > SOUGHT_ASIDE * steps:
            return False
    far = float(np.linalg.norm(b - a))
    return paper.free_way(a, (b - a) / far, far) >= far
