"""Places where an edge leaves its straight line, and comes back to it or goes on beside it.

Paper off a roll has straight edges. Where something dark lies over one on a dark floor, a cable
say, the edge seems to run round it, and looks like an edge. So it does round a ruler that lies
along the edge, or a scrap of paper that sticks out from beneath.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import NDArray

from digitize.paper.straight import Lines, lines_of, straight
from digitize.paper.thresholds import (
    BESIDE_DEG,
    CLEAR_MM,
    DEEP_MM,
    DENTS_ASIDE,
    DENTS_LED_ALONE_MM,
    DENTS_LED_MM,
    DENTS_SOON_MM,
    FARTHEST_MM,
    LEAST_BESIDE_MM,
    LONGEST_ASIDE_MM,
    LONGEST_MM,
    STRAIGHT_MM,
    STRAIGHT_STEP_MM,
)
from digitize.plane import cross

Floats = NDArray[np.float64]
Indices = NDArray[np.int64]
Line = tuple[Floats, Floats]


@dataclass(frozen=True)
class Aside:
    """Where an edge runs beside its straight line.

    Attributes
    ----------
    places : (N,) of a ring, those that lie off the line; ``outward`` (N,) those beyond it.
    """

    places: Indices
    outward: NDArray[np.bool_]


def dents_of(points: Floats) -> list[tuple[int, int]]:
    """First and one past the last place of each dent or bulge of a ring in even steps.

    The last may lie past the ring's end. A long one counts only if some of it is straight, as a
    ruler's edge is and a tear is not.
    """
    soon, longest = (
        round(DENTS_SOON_MM / STRAIGHT_STEP_MM),
        round(LONGEST_ASIDE_MM / STRAIGHT_STEP_MM),
    )
    found: list[tuple[int, int]] = []
    for first, line, lines in _left(points, longest):
        last = _comes_back(lines, line, first + soon // 2, first + longest)
        short = last is not None and (last - first) * STRAIGHT_STEP_MM < LONGEST_MM
        if last is not None and (short or _straight_within(points, first, last)):
            found.append((first, last))
    return found


def juts_out(points: Floats, dents: Sequence[tuple[int, int]]) -> list[bool]:
    """Whether each dent of a counter-clockwise ring is a bulge."""
    return [bool(_off_line(points, *each).mean() > 0) for each in dents]


def sides_of_dents(points: Floats, dents: Sequence[tuple[int, int]]) -> list[Aside]:
    """What of dents of a counter-clockwise ring lies well off the line from end to end of each."""
    found = []
    for first, last in dents:
        off = _off_line(points, first, last)
        places, deep = np.arange(first, last) % len(points), np.abs(off) > DEEP_MM
        found.append(Aside(places[deep], off[deep] > 0))
    return found


def _off_line(points: Floats, first: int, last: int) -> Floats:
    """(N,) how far outward of the line from end to end a dent of a ring lies, mm."""
    count = len(points)
    way = points[last % count] - points[first % count]
    off = cross(points[np.arange(first, last) % count] - points[first % count], way)
    return np.asarray(off / np.hypot(*way))


def _straight_within(points: Floats, first: int, last: int) -> bool:
    """Whether somewhere within a run a ring is straight for a while."""
    long = round(DENTS_LED_ALONE_MM / STRAIGHT_STEP_MM)
    starts = range(first, last - long, long // 4)
    return any(straight(points[np.arange(n, n + long) % len(points)]) for n in starts)


def asides_of(points: Floats) -> list[Aside]:
    """Where a counter-clockwise ring in even steps runs beside its straight lines."""
    count = len(points)
    ahead = list(_asides_ahead(points, 1.0))
    back = _asides_ahead(points[::-1], -1.0)
    behind = [Aside(count - 1 - a.places, a.outward) for a in back]
    return ahead + behind


def _asides_ahead(points: Floats, turn: float) -> Iterator[Aside]:
    """Those that begin after a straight line; ``turn`` is -1 if the ring runs clockwise."""
    count, led = len(points), round(DENTS_LED_MM / STRAIGHT_STEP_MM)
    soon, longest = (
        round(DENTS_SOON_MM / STRAIGHT_STEP_MM),
        round(LONGEST_ASIDE_MM / STRAIGHT_STEP_MM),
    )
    clear = round(CLEAR_MM / STRAIGHT_STEP_MM)
    for first, line, lines in _left(points, longest):
        run = np.arange(first, first + min(longest, count - led))
        last = _comes_back(lines, line, first + soon // 2, first + len(run))
        if last is not None:
            # From one straight part to the other; a short one points too badly so far.
            run = np.arange(first, last)
            before = np.arange(first - led, first - clear)
            behind = np.arange(last + clear, last + led)
            at = points[before % count].mean(axis=0)
            way = points[behind % count].mean(axis=0) - at
            off = turn * cross(points[run % count] - at, way / np.hypot(*way))
            deep = np.full(len(run), DEEP_MM)
        else:
            long = round(DENTS_LED_ALONE_MM / STRAIGHT_STEP_MM)
            longer = straight(points[np.arange(first - long, first) % count])
            if longer is None:
                continue
            at, way = longer
            from_line = points[run % count] - at
            off = turn * cross(from_line, way)
            deep = DEEP_MM + DENTS_ASIDE * np.abs(from_line @ way)
            goes_on = _beside(points, run, way) & (np.abs(off) < FARTHEST_MM)
            part = _first_run(goes_on, np.abs(off) > deep)
            run, off, deep = run[part], off[part], deep[part]
            if len(run) * STRAIGHT_STEP_MM < LEAST_BESIDE_MM:
                continue
        aside = np.abs(off) > deep
        along = run[aside & _beside(points, run, way)] % count
        # A ruler's edge is straight, and so is a scrap's; a tear wanders off a line as well.
        if len(along) * STRAIGHT_STEP_MM >= LEAST_BESIDE_MM and straight(points[along]) is not None:
            yield Aside(run[aside] % count, off[aside] > 0)


def _first_run(flags: NDArray[np.bool_], begun: NDArray[np.bool_]) -> slice:
    """The first of a run's places that are flagged without a gap, soon after it has begun."""
    start = int(np.argmax(begun))
    start += int(np.argmax(flags[start : start + round(DENTS_SOON_MM / STRAIGHT_STEP_MM)]))
    return slice(start, start + int(np.argmin(np.append(flags[start:], False))))


def _beside(points: Floats, run: Indices, way: Floats) -> NDArray[np.bool_]:
    """(N,) where a run of a ring goes about the same way as a line."""
    count, reach = len(points), round(DENTS_LED_MM / STRAIGHT_STEP_MM / 3)
    along = points[(run + reach) % count] - points[(run - reach) % count]
    turn = np.degrees(np.abs(np.arctan2(cross(way, along), along @ way)))
    return np.asarray(turn < BESIDE_DEG)


def _left(points: Floats, longest: int) -> Iterator[tuple[int, Line, Lines]]:
    """Places where a ring leaves a straight line, that line, and the lines after each place."""
    count, led, soon = (
        len(points),
        round(DENTS_LED_MM / STRAIGHT_STEP_MM),
        round(DENTS_SOON_MM / STRAIGHT_STEP_MM),
    )
    ring = points[np.arange(-led, count + led + longest + led) % count]
    lines = lines_of(np.moveaxis(sliding_window_view(ring, led, axis=0), -1, 1)[:-1])
    ahead = np.moveaxis(sliding_window_view(ring[led:], soon, axis=0), -1, 1)[: count + 1]
    at, way = lines.middles[: count + 1, None], lines.ways[: count + 1, None]
    leaves = ~lines.bent[: count + 1] & (np.abs(cross(ahead - at, way)).max(axis=1) > DEEP_MM)
    # One that begins with the next place as well begins there.
    for first in np.flatnonzero(leaves[:-1] & ~leaves[1:]).tolist():
        yield first, (lines.middles[first], lines.ways[first]), lines


def _comes_back(lines: Lines, line: Line, low: int, high: int) -> int | None:
    """The first place from ``low`` to before ``high`` from where a ring is on a line again.

    That is a straight side that lies on the line, both ways, and goes on as it does.
    """
    led = round(DENTS_LED_MM / STRAIGHT_STEP_MM)
    some = slice(low + led, high + led)
    (at, way), there, along = line, lines.middles[some], lines.ways[some]
    allowed = STRAIGHT_MM + DENTS_ASIDE * np.hypot(*(there - at).T)
    aside = np.maximum(np.abs(cross(there - at, way)), np.abs(cross(there - at, along)))
    on_line = ~lines.bent[some] & (along @ way > 0) & (aside < allowed)
    return low + int(np.argmax(on_line)) if on_line.any() else None
