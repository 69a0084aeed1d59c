"""Ticks that a row foretells and no trace found: too faint for that, or too near to other marks.

A row says where its next tick is awaited: a step on, across the row, as long and as broad as the
others. What stands there, or what stands in the next few such places together, has to be more than
bare paper shows by chance, as it does beside the rows: so much that of all places that are looked
at on a paper fewer than SOUGHT_BY_CHANCE would seem ticks. Where nothing stands nothing is found,
and a row ends.
"""

import itertools
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from shapely import LineString, Point, STRtree, unary_union

from digitize.pencil.curves import Curve
from digitize.pencil.even_rows import by_chance, may_be_tick
from digitize.pencil.ridges import DarknessAt
from digitize.pencil.thresholds import (
    MOST_SKIPPED,
    SOUGHT_AHEAD,
    SOUGHT_APART,
    SOUGHT_ASIDE,
    SOUGHT_AT_ONCE,
    SOUGHT_BESIDE_MM,
    SOUGHT_BY_CHANCE,
    SOUGHT_FEWEST_BLANK,
    SOUGHT_LEAST_WIDTH_MM,
    SOUGHT_MOST_BLANK,
    SOUGHT_NEAR_MM,
    SOUGHT_OUT_MM,
    SOUGHT_PALE,
    SOUGHT_RARE,
    SOUGHT_ROUNDS,
    SOUGHT_SHARE,
    SOUGHT_SHORTEST,
    SOUGHT_SHOWN,
)
from digitize.pencil.tick_bars import Bar, Blank, Window, best_in, blank_of, taken_by
from digitize.pencil.tick_courses import likely_courses
from digitize.pencil.tick_middles import Middle, grain_beyond, middles_of
from digitize.plane import cross

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]


@dataclass(frozen=True)
class Paper:
    """Where ticks are sought.

    Attributes
    ----------
    bar : the usual tick. step_mm : from tick to tick.
    grain : how far darkness scatters beyond ticks' ends.
    on_lines, taken : whether places (..., 2), mm, lie on lines, and on any mark that is known.
    crossing : marks through which no row runs on as one line.
    """

    bar: Bar
    step_mm: float
    grain: float
    darkness_at: DarknessAt
    on_lines: Callable[[Floats], Flags]
    taken: Callable[[Floats], Flags]
    crossing: STRtree

    def middles(self, ticks: Sequence[Floats]) -> tuple[Middle, ...]:
        """The middles of ticks by the ends (2, 2) of what is known of each."""
        width = self.bar.width_mm
        return middles_of(ticks, width, self.darkness_at, self.on_lines, self.grain)

    def free_way(self, start: Floats, way: Floats, far_mm: float) -> float:
        """How far, mm, from a place (2,) nothing crosses a way (2,) of length 1; far_mm at most."""
        ahead = LineString([start, start + far_mm * way])
        hits = self.crossing.geometries[self.crossing.query(ahead, predicate="intersects")]
        return min(
            (float(Point(start).distance(ahead.intersection(h))) for h in hits), default=far_mm
        )


@dataclass(frozen=True)
class Row:
    """Ticks in a row.

    Attributes
    ----------
    middles : where they are, in order.
    way : (2,) how the row runs, as far as a single tick does not tell.
    ticks : those of them that were traced.
    """

    middles: tuple[Middle, ...]
    way: Floats
    ticks: tuple[Curve, ...]

    def reversed(self) -> "Row":
        """The same row, run the other way."""
        return Row(self.middles[::-1], -self.way, self.ticks[::-1])

    @cached_property
    def places(self) -> Floats:
        """(N, 2) the middles' places, mm."""
        return np.array([middle.place for middle in self.middles])

    @property
    def doubts(self) -> Floats:
        """(N,) sigma, mm, to which each is read."""
        return np.array([middle.sigma for middle in self.middles])


def carried_further(
    rows: Sequence[Row], others: Sequence[Curve], crossing: STRtree, darkness_at: DarknessAt
) -> list[Row]:
    """The rows, with what is found between their ticks and beyond their ends.

    Rows that lead to each other become one. What was traced at an end, though it is as pale as no
    other, is no tick.

    Parameters
    ----------
    rows : all of whose ticks were traced, so far as no mark runs through between them.
    others : all other marks.
    crossing : what no row runs through as one line.
    """
    paper = _paper_of(rows, others, crossing, darkness_at)
    if paper is None:
        return list(rows)
    known = [replace(row, middles=paper.middles([_ends(t) for t in row.ticks])) for row in rows]
    scores = _blank_scores(known, paper)
    if len(scores) < SOUGHT_FEWEST_BLANK:
        return known
    of_rows = [[_score_of(tick, paper) for tick in row.ticks] for row in known]
    sought = _sought(of_rows, paper, blank_of(scores))
    return _grown(without_pale(known, of_rows, sought), sought)


def _ends(tick: Curve) -> Floats:
    return tick.points[[0, -1]]


def _paper_of(
    rows: Sequence[Row], others: Sequence[Curve], crossing: STRtree, darkness_at: DarknessAt
) -> Paper | None:
    """What is known of the paper, or None where no two ticks tell a step."""
    steps = np.concatenate([np.linalg.norm(np.diff(row.places, axis=0), axis=1) for row in rows])
    if not len(steps):
        return None
    ticks = [tick for row in rows for tick in row.ticks]
    width = max(float(np.median([tick.width for tick in ticks])), SOUGHT_LEAST_WIDTH_MM)
    bar = Bar(
        SOUGHT_SHARE * float(np.median([tick.length for tick in ticks])),
        width,
        float(np.median([tick.weight / tick.width for tick in ticks])),
    )
    lines = [other.points for other in others if not may_be_tick(other.points)]
    on_lines = taken_by(lines)
    traced = [_ends(tick) for tick in ticks]
    return Paper(
        bar,
        float(np.median(steps)),
        grain_beyond(traced, width, darkness_at, on_lines),
        darkness_at,
        on_lines,
        taken_by([*lines, *(tick.points for tick in ticks)]),
        crossing,
    )


@dataclass(frozen=True)
class Sought:
    """By what ticks are told.

    Attributes
    ----------
    blank : what bare paper shows, and ``least`` what chance of that is too small for it.
    pale : a score that few of these ticks have less than.
    """

    paper: Paper
    blank: Blank
    least: float
    pale: float

    def found(self, window: Window) -> tuple[float, Middle] | None:
        """What a window scores, and the middle of that; None where nothing can be told.

        What is too short is no tick, as a speck is; nor what reaches out of the row, as the rest of
        a line does; nor a pale one beside another mark that hides its ground, as its shade is.
        """
        paper = self.paper
        best = best_in(window, paper.bar, paper.darkness_at, paper.taken)
        if best is None:
            return None
        (middle,) = paper.middles([best.ends])
        aside = abs(float(cross(window.way, middle.place - window.place)))
        is_one = (
            middle.length >= SOUGHT_SHORTEST * paper.bar.length_mm
            and aside <= window.aside_mm + SOUGHT_OUT_MM
            and (best.score > self.pale or not best.beside_mark)
        )
        return best.score if is_one else 0.0, middle

    def is_plain(self, score: float) -> bool:
        """Whether bare paper does not score so much.

        The tail of its distribution says so; specks may make it longer, which windows show.
        """
        rare = self.blank.share(score) < SOUGHT_RARE
        return rare and self.blank.chance(score) < self.least

    def may_be_tick(self, score: float) -> bool:
        """Whether a score is no pale one, nor such as bare paper often has."""
        share = self.blank.share(score)
        return self.is_plain(score) or (score > self.pale and share < SOUGHT_SHOWN)

    def is_enough(self, scores: Sequence[float]) -> bool:
        """Whether bare paper does not score so much: in the last window, or in all together."""
        shares = np.array([self.blank.share(score) for score in scores])
        return self.is_plain(scores[-1]) or by_chance(shares) < self.least


def _sought(of_rows: Sequence[Sequence[float]], paper: Paper, blank: Blank) -> Sought:
    """By what ticks are told, from what those that were traced score."""
    scores = np.concatenate(of_rows)
    windows = len(scores) + 2 * SOUGHT_AT_ONCE * len(of_rows)
    return Sought(paper, blank, SOUGHT_BY_CHANCE / windows, SOUGHT_PALE * float(np.median(scores)))


def without_pale(
    rows: Sequence[Row], of_rows: Sequence[Sequence[float]], sought: Sought
) -> list[Row]:
    """The rows less what was traced at their ends and is no tick, by what each tick scores.

    One beyond a missing tick has to be as plain as one that is sought: a speck stands anywhere.
    """
    kept = []
    for row, of_row in zip(rows, of_rows, strict=True):
        known = [score > sought.pale or sought.is_plain(score) for score in of_row]
        some = [k for k, yes in enumerate(known) if yes]
        for end, to_next in ((0, 1), (-1, -2)):
            while len(some) > 1 and not sought.is_plain(of_row[some[end]]):
                one, two = row.places[some[end]], row.places[some[to_next]]
                if round(float(np.linalg.norm(two - one)) / sought.paper.step_mm) < 2:
                    break
                some.pop(end)
        if some:
            of_them = slice(some[0], some[-1] + 1)
            kept.append(replace(row, middles=row.middles[of_them], ticks=row.ticks[of_them]))
    return kept


def _score_of(tick: Curve, paper: Paper) -> float:
    """What a tick that was traced scores; what reaches the paper's edge counts as plain."""
    run = np.diff(_ends(tick), axis=0)[0]
    way = np.array([run[1], -run[0]]) / np.linalg.norm(run)
    window = Window(_ends(tick).mean(axis=0), way, SOUGHT_NEAR_MM, SOUGHT_NEAR_MM)
    best = best_in(window, paper.bar, paper.darkness_at, paper.on_lines)
    return paper.bar.darkness if best is None else best.score


def _grown(rows: Sequence[Row], sought: Sought) -> list[Row]:
    """The rows with what is found between their ticks and beyond their ends."""
    grown = [_filled(row, sought) for row in rows]
    for _ in range(SOUGHT_ROUNDS):
        before = sum(len(row.places) for row in grown)
        for _ in range(2):
            for k, course in enumerate(_courses(grown)):
                stand = np.concatenate([row.places for row in grown])
                found = _beyond(course, stand, sought)
                grown[k] = replace(grown[k], middles=(*grown[k].middles, *found))
            grown = [row.reversed() for row in grown]
        grown = _joined(grown, sought.paper)
        if sum(len(row.places) for row in grown) == before:
            break
    return [_filled(row, sought) for row in grown]


def _courses(rows: Sequence[Row]) -> list[Floats]:
    """Each row's course (N, 2), mm; of a single tick's, one mm of it."""
    told = [row for row in rows if len(row.places) > 1]
    places, doubts = [row.places for row in told], [row.doubts for row in told]
    courses = iter(likely_courses(places, doubts)[0] if told else ())
    return [
        next(courses)
        if len(row.places) > 1
        else row.places - np.array([[1.0], [0.0]]) * row.way / np.linalg.norm(row.way)
        for row in rows
    ]


def _blank_scores(rows: Sequence[Row], paper: Paper) -> list[float]:
    """What windows beside the rows score, clear of their ticks and of where these may go on."""
    apart = paper.bar.length_mm / SOUGHT_SHARE + SOUGHT_BESIDE_MM
    further = SOUGHT_AT_ONCE * paper.step_mm
    ways = unary_union([_longer(course, further) for course in _courses(rows)])
    scores: list[float] = []
    for times in (1, -1, 2, -2, 3, -3, 4, -4):
        # A hair farther than the row itself.
        aside = 1.01 * times * apart
        for row in rows:
            for one, two in itertools.pairwise(row.places):
                way = (two - one) / np.linalg.norm(two - one)
                for on in (one, (one + two) / 2):
                    place = on + aside * np.array([-way[1], way[0]])
                    if ways.distance(Point(place)) < apart:
                        continue
                    window = _window(place, way, paper.step_mm)
                    best = best_in(window, paper.bar, paper.darkness_at, paper.taken)
                    scores += [best.score] if best is not None else []
                    if len(scores) == SOUGHT_MOST_BLANK:
                        return scores
    return scores


def _longer(course: Floats, by_mm: float) -> LineString:
    (end, ahead), (start, back) = _end_of(course), _end_of(course[::-1])
    return LineString([start + by_mm * back, *course, end + by_mm * ahead])


def _window(place: Floats, way: Floats, step_mm: float, ahead_mm: float | None = None) -> Window:
    ahead = SOUGHT_AHEAD * step_mm if ahead_mm is None else ahead_mm
    return Window(place, way, ahead, SOUGHT_ASIDE * step_mm)


def _filled(row: Row, sought: Sought) -> Row:
    """The row with what is found between its ticks where steps are left out."""
    step_mm = sought.paper.step_mm
    middles = list(row.middles[:1])
    for before, after in itertools.pairwise(row.middles):
        one, two = before.place, after.place
        left_out = round(float(np.linalg.norm(two - one)) / step_mm) - 1
        way = (two - one) / np.linalg.norm(two - one)
        for share in np.arange(1, left_out + 1) / (left_out + 1):
            found = sought.found(_window(one + share * (two - one), way, step_mm))
            if found is not None and sought.blank.share(found[0]) < SOUGHT_RARE:
                middles.append(found[1])
        middles.append(after)
    return replace(row, middles=tuple(middles))


def _beyond(course: Floats, stand: Floats, sought: Sought) -> list[Middle]:
    """The next ticks' middles beyond the end of a row's course (N, 2), or none.

    As many of the next places as are together more than chance, so far as no mark runs through.

    Parameters
    ----------
    stand : (M, 2) ticks that are known.
    """
    paper = sought.paper
    start, way = _end_of(course)
    ahead = SOUGHT_AHEAD * paper.step_mm
    free = paper.free_way(start, way, SOUGHT_AT_ONCE * (paper.step_mm + ahead))
    along, take = 0.0, 0
    scores: list[float] = []
    middles: list[Middle] = []
    while len(scores) < SOUGHT_AT_ONCE:
        low, high = along + paper.step_mm - ahead, min(along + paper.step_mm + ahead, free)
        if high <= low:
            break
        place = start + (low + high) / 2 * way
        found = sought.found(_window(place, way, paper.step_mm, (high - low) / 2))
        if found is None:
            break
        score, middle = found
        scores.append(score)
        along += paper.step_mm
        if sought.may_be_tick(score):
            if np.linalg.norm(stand - middle.place, axis=1).min() < SOUGHT_APART * paper.step_mm:
                break
            along = float((middle.place - start) @ way)
            middles.append(middle)
            if sought.is_enough(scores):
                take = len(middles)
    return middles[:take]


def _end_of(course: Floats) -> tuple[Floats, Floats]:
    """The last place (2,) of a course (N, 2) about a mm apart, and its way on (2,) of length 1."""
    run = course[-1] - course[max(len(course) - 4, 0)]
    return course[-1], run / np.linalg.norm(run)


def _joined(rows: Sequence[Row], paper: Paper) -> list[Row]:
    """The rows, two of which each foretells the other's end made one."""
    joined = list(rows)
    while True:
        courses = _courses(joined)
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
        middles = (*joined[a].middles[::one], *joined[b].middles[::two][::-1])
        way = middles[-1].place - middles[0].place
        whole = Row(middles, way, (*joined[a].ticks, *joined[b].ticks))
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
