"""The edge carried on where it is not seen, from where it is.

It goes straight across if it comes and leaves on one line, into the corner in which the sides
before and after meet, or along one of them until it meets the edge again.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import binary_closing
from shapely import Polygon, contains_properly, contains_xy, dwithin, union_all
from shapely import points as points_of
from shapely.geometry.base import BaseGeometry

from digitize.floor import Raster
from digitize.paper.cut import Cut, LaidCard
from digitize.paper.steps import step_shares
from digitize.paper.straight import meeting, straight
from digitize.paper.thresholds import (
    BESIDE_LINE_MM,
    CARRIED_ACROSS_MM,
    CARRIED_ASIDE,
    CARRIED_LEAST_KNOWN,
    CARRIED_LEAST_LIKELY,
    CARRIED_LED_ALONE_MM,
    EACH_MM,
    FEWEST_ALONG,
    GOES_ON,
    JOINED_MM,
    LONGEST_BRIDGE_MM,
    MOST_LOST_MM2,
    MOST_TURN_DEG,
    NEAR_CARD_MM,
    ON_LINE_MM,
    PLAINLY,
    ROUND_CARD_MM,
    STEP_EVERY_MM,
    STRAIGHT_LED_MM,
    STRAIGHT_MM,
    STRAIGHT_STEP_MM,
)
from digitize.plane import cross, length_of, places_along

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]


@dataclass(frozen=True)
class Way:
    """Where places of a ring come to lie: which (N,), and where (N, 2), mm.

    ``across`` is whether it goes straight from one side to the other, ``tip`` (2,) the corner, if
    the sides meet in one.
    """

    places: NDArray[np.int64]
    points: Floats
    across: bool
    tip: Floats | None = None


def carried_under_cards(points: Floats, cut: Cut) -> Floats:
    """The edge carried on beneath cards that lie over it, round which it was led."""
    paper = Polygon(points).buffer(0)
    for card in (card for card in cut.cards if not _lies_under(paper, card)):
        sheet = Polygon(card.seen)
        deep = sheet.buffer(-ROUND_CARD_MM)
        beside = dwithin(points_of(points), sheet, ROUND_CARD_MM)
        # What lies between two places beside one card lies beside it too.
        beside = binary_closing(
            np.tile(beside, 3), np.ones(round(CARRIED_ACROSS_MM / STRAIGHT_STEP_MM))
        )
        beside = beside[len(points) : 2 * len(points)]

        def beneath(
            way: Way, ring: Floats = points, sheet: Polygon = sheet, deep: Polygon = deep
        ) -> bool:
            there = points_of(way.points)
            round_it = way.across or bool(dwithin(sheet, there, NEAR_CARD_MM).all())
            if not round_it or not contains_properly(deep, there).any():
                return False
            return way.across or _paper_lost(ring, way, cut, sheet) < MOST_LOST_MM2

        points, _, _ = carried_on(points, beside, beneath, at_last_straight=True)
    return points


def _lies_under(paper: BaseGeometry, card: LaidCard) -> bool:
    """Whether the paper hides a part of a card, of which what is seen then lies beside it."""
    hidden = Polygon(card.sheet).difference(Polygon(card.seen))
    return bool(hidden.area > MOST_LOST_MM2 and paper.intersection(hidden).area > hidden.area / 2)


def _paper_lost(ring: Floats, way: Way, cut: Cut, off: BaseGeometry) -> float:
    """How much that plainly looks like paper, and lies not on cards (``off``), a way loses; mm2."""
    led = ring.copy()
    led[way.places] = way.points
    lost = Polygon(ring).buffer(0).difference(Polygon(led).buffer(0)).difference(off)
    places = places_in(lost)
    if not len(places):
        return 0.0
    plainly = (cut.floor_like.at(places) < -PLAINLY) & (cut.other.at(places) < 0.5)
    return float(plainly.sum()) * STRAIGHT_STEP_MM**2


def carried_over_things(
    fine: Raster, points: Floats, unsure: Flags, cut: Cut
) -> tuple[Floats, Flags, Flags]:
    """The edge carried on where things lie on it; where straight across, and where otherwise.

    Straight across it goes in any case; else only if what it gains does not look like floor, nor
    what it loses like paper, or if the step in colour along both sides goes on to where they meet,
    as it does of paper in the sun. Of what lies on a card, looks say nothing; but what is seen of a
    card that lies under the paper is no paper.
    """
    paper = Polygon(points).buffer(0)
    sheets = union_all([Polygon(card.sheet) for card in cut.cards])
    beside = union_all([Polygon(card.seen) for card in cut.cards if _lies_under(paper, card)])

    def hidden(way: Way) -> bool:
        between = Polygon(np.concatenate([points[way.places], way.points[::-1]])).buffer(0)
        if between.difference(paper).intersection(beside).area > MOST_LOST_MM2:
            return False
        if way.across or _steps_to(fine, points, way):
            return True
        if _paper_lost(points, way, cut, sheets) >= MOST_LOST_MM2:
            return False
        places = places_in(between.difference(sheets))
        if not len(places):
            return True
        likely = cut.floor_like.at(places)
        known = (likely != 0) & (cut.other.at(places) < 0.5)
        sign = np.where(contains_xy(paper, *places.T), -1, 1)
        against = float((sign * likely)[known].sum()) > CARRIED_LEAST_LIKELY * known.sum()
        return not (against and known.sum() > CARRIED_LEAST_KNOWN * len(places))

    return carried_on(points, unsure, hidden)


def _steps_to(fine: Raster, points: Floats, way: Way) -> bool:
    """Whether colours step all along the way to a corner as they do along its sides."""
    if way.tip is None:
        return False
    led = round(STRAIGHT_LED_MM[1] / STRAIGHT_STEP_MM)
    shares: list[float | None] = []
    for left, back in ((way.places[0] - 1, -led), (way.places[-1] + 1, led)):
        start, end = points[(left + back) % len(points)], points[left % len(points)]
        led_mm, length = (float(np.hypot(*(each - start))) for each in (end, way.tip))
        ahead = np.arange(led_mm, length - BESIDE_LINE_MM[0], STEP_EVERY_MM)
        if len(ahead) >= FEWEST_ALONG:
            parts = np.array_split(ahead, max(round((length - led_mm) / EACH_MM), 1))
            shares += step_shares(fine, start, (way.tip - start) / length, led_mm, parts)
    return bool(shares) and all(share is not None and share > GOES_ON[0] for share in shares)


def places_in(shape: Polygon) -> Floats:
    """(N, 2) places all over a shape, mm."""
    if shape.is_empty:
        return np.empty((0, 2))
    left, low, right, top = shape.bounds
    x, y = np.meshgrid(
        np.arange(left, right, STRAIGHT_STEP_MM), np.arange(low, top, STRAIGHT_STEP_MM)
    )
    inside = contains_xy(shape, x, y)
    return np.stack([x[inside], y[inside]], axis=1)


def carried_on(
    points: Floats, unseen: Flags, fits: Callable[[Way], bool], at_last_straight: bool = False
) -> tuple[Floats, Flags, Flags]:
    """A ring carried on where it is not seen; where straight across, and where otherwise.

    Of the ways on the first that fits is taken; if none does, the ring stays as it is. The last may
    be to go straight from where it is no longer seen to where it is again, as if it were torn.
    """
    result, count = points.copy(), len(points)
    across, otherwise = np.zeros(count, bool), np.zeros(count, bool)
    for first, last in runs(unseen):
        ways = _ways_on(points, unseen, first, last, at_last_straight)
        way = next((way for way in ways if fits(way)), None)
        if way is not None:
            result[way.places] = way.points
            (across if way.across else otherwise)[way.places] = True
    return result, across, otherwise


def _ways_on(
    points: Floats, unseen: Flags, first: int, last: int, at_last_straight: bool
) -> Iterator[Way]:
    """The ways over a run of a ring, the surest first."""
    count = len(points)
    if np.hypot(*(points[last % count] - points[first - 1])) > LONGEST_BRIDGE_MM:
        return
    some = np.arange(first - 1, last + 1) % count
    start, end = points[(first - 2) % count], points[(last + 1) % count]
    if on_one_line(points, unseen, first, last):
        yield Way(some, _evenly_along(np.stack([start, end]), len(some)), True)
    tip = meeting(points, first, last)
    if tip is not None:
        yield Way(some, _evenly_along(np.stack([start, tip, end]), len(some)), False, tip)
    joined = _met(points, unseen, first, last)
    if joined is not None:
        some = np.arange(first - 1, joined) % count
        ends = np.stack([start, points[joined % count]])
        yield Way(some, _evenly_along(ends, len(some)), False)
    # The other way round the ring.
    joined = _met(points[::-1], unseen[::-1], count - last, count - first)
    if joined is not None:
        some = np.arange(count - joined, last + 1) % count
        ends = np.stack([points[(count - 1 - joined) % count], end])
        yield Way(some, _evenly_along(ends, len(some)), False)
    if at_last_straight:
        some = np.arange(first - 1, last + 1) % count
        yield Way(some, _evenly_along(np.stack([start, end]), len(some)), False)


def _evenly_along(path: Floats, count: int) -> Floats:
    """(N, 2) so many places along a path, without its ends."""
    return places_along(path, np.linspace(0, length_of(path), count + 2)[1:-1])


def on_one_line(points: Floats, unseen: Flags, first: int, last: int) -> bool:
    """Whether a ring comes to a run of its places, and leaves it, on one straight line."""
    count = len(points)
    for led_mm in STRAIGHT_LED_MM:
        led = round(led_mm / STRAIGHT_STEP_MM)
        before = np.arange(first - led, first - 2) % count
        after = np.arange(last + 2, last + led) % count
        if unseen[before].any() or unseen[after].any():
            continue
        line, next_line = straight(points[before]), straight(points[after])
        if line is None or next_line is None:
            continue
        (at, way), (there, other) = line, next_line
        apart = there - at
        aside = abs(cross(apart, way))
        turn = abs(np.degrees(np.arctan2(cross(way, other), way @ other)))
        if turn < MOST_TURN_DEG and aside < STRAIGHT_MM + CARRIED_ASIDE * float(np.hypot(*apart)):
            return True
    return False


def led_along(points: Floats, unseen: Flags, first: int, last: int) -> bool:
    """Whether a run of a ring's places lies on the line of a long straight side before or after."""
    led, run = round(CARRIED_LED_ALONE_MM[0] / STRAIGHT_STEP_MM), np.arange(first, last)
    for side in (np.arange(first - led, first - 2), np.arange(last + 2, last + led)):
        some = side % len(points)
        line = None if unseen[some].any() else straight(points[some])
        if line is None:
            continue
        at, way = line
        if np.abs(cross(points[run % len(points)] - at, way)).max() < ON_LINE_MM:
            return True
    return False


def _met(points: Floats, unseen: Flags, first: int, last: int) -> int | None:
    """The first place beyond a run, maybe past the ring's end, that the side before it leads to."""
    count = len(points)
    for led_mm in CARRIED_LED_ALONE_MM:
        before = np.arange(first - round(led_mm / STRAIGHT_STEP_MM), first - 2) % count
        line = None if unseen[before].any() else straight(points[before])
        if line is None:
            continue
        at, way = line
        start = points[(first - 2) % count]
        beyond = np.arange(last, last + round(JOINED_MM / STRAIGHT_STEP_MM))
        from_start = points[beyond % count] - start
        ahead, aside = from_start @ way, np.abs(cross(points[beyond % count] - at, way))
        meets = (
            (ahead > 0) & (aside < STRAIGHT_MM + CARRIED_ASIDE * ahead) & ~unseen[beyond % count]
        )
        if meets.any():
            met = int(np.argmax(meets))
            while met + 1 < len(beyond) and meets[met + 1] and aside[met + 1] < aside[met]:
                met += 1
            return int(beyond[met])
    return None


def runs(flags: Flags) -> list[tuple[int, int]]:
    """Runs of True round a ring: first and one past the last; the last may lie past the end."""
    if flags.all() or not flags.any():
        return []
    firsts = np.flatnonzero(flags & ~np.roll(flags, 1))
    return [(int(first), int(first + np.argmin(np.roll(flags, -int(first))))) for first in firsts]
