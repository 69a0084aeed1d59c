"""Lines found by where they lie on the paper, whatever a reading calls them."""

import difflib
import math
from collections.abc import Sequence
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from shapely import LineString, Point, distance
from shapely import points as points_of
from shapely.ops import substring

from digitize.errors import ToldError
from digitize.plane import evenly
from digitize.record import Line, OnLine, Pattern, Told, Tuck
from digitize.record import Point as Place

Floats = NDArray[np.float64]
SAME_MM = 2.0  # a line this near all along is the line that was meant
LEAST_SHARE = 0.6  # of what was meant that has to be there, or of a line that has to be meant
ON_MM = 1.0  # so near, what was meant lies on a line that goes on past it, and not beside it
NEW_SHARE = 0.5  # of a further line, that no nearer one has covered
STEP_MM = 3.0
KEPT_MM = 0.1  # by which a fact's places may stray from its line
NEAR_MM = 8.0  # from a line to a place told on it: a finger's breadth


def path_of(line: Line) -> LineString:
    """A line's course from end to end; made once, as many facts ask for the same."""
    return _path(line.path)


@lru_cache(maxsize=4096)
def _path(points: tuple[Place, ...]) -> LineString:
    return LineString(np.array(points))  # of an array, as shapely takes tuples one by one


@lru_cache(maxsize=4096)
def _kept(points: tuple[Place, ...]) -> tuple[Place, ...]:
    """As few places as tell a line's course to ``KEPT_MM``."""
    path = _path(points).simplify(KEPT_MM)
    return tuple((round(x, 2), round(y, 2)) for x, y in path.coords)


def on_line(line: Line) -> OnLine:
    """A line's name and place, for a fact about it."""
    return OnLine(line=line.id, points=_kept(line.path), closed=line.closed)


def lines_named(pattern: Pattern, words: str) -> tuple[Line, ...]:
    """The line of that id, or those of that line group, in whatever case.

    Raises
    ------
    ToldError
        If there is none; the message names those that are most like it.
    """
    wanted = words.strip().lower()
    for group in pattern.groups:
        if group.id.lower() == wanted:
            return tuple(pattern.line(piece.line) for piece in group.pieces)
    for line in pattern.lines:
        if line.id.lower() == wanted:
            return (line,)
    names = [line.id for line in pattern.lines]
    raise ToldError(
        f"{words}: the pattern has no such line; "
        + did_you_mean(wanted, [*(group.id for group in pattern.groups), *names], names)
    )


def tuck_named(pattern: Pattern, words: str) -> Tuck:
    """The tuck of that id, or that a line of that id is of, in whatever case; raises ToldError."""
    wanted = words.strip().lower()
    for tuck in pattern.tucks:
        if wanted in (tuck.id.lower(), *(name.lower() for name in tuck.marks)):
            return tuck
    names = [tuck.id for tuck in pattern.tucks]
    raise ToldError(
        f"{words}: the pattern has no such tuck; " + did_you_mean(words, names, names or ["none"])
    )


def did_you_mean(wanted: str, known: Sequence[str], shown: Sequence[str]) -> str:
    """A hint at the names most like what was wanted, or else at all that are shown."""
    like = difflib.get_close_matches(wanted.lower(), [name.lower() for name in known], 2, 0.6)
    meant = [name for name in known if name.lower() in like]
    if meant:
        return f"did you mean {' or '.join(meant)}? it has {' '.join(shown)}"
    return f"it has {' '.join(shown)}"


def lines_along(pattern: Pattern, on: OnLine, whole: bool = False) -> tuple[Line, ...]:
    """The lines that lie where a fact says, nearest first; several where it is broken now.

    Parameters
    ----------
    whole : only lines of which most was meant; otherwise one may run on past it.

    Raises
    ------
    ToldError
        If less than most of it is there.
    """
    if not on.points:
        return lines_named(pattern, on.line)
    for line in pattern.lines:
        if line.id == on.line and _kept(line.path) == on.points:
            return (line,)  # nothing has changed since: as in nearly all of a long list of facts
    meant = LineString(on.points)
    places = points_of(evenly(np.array(on.points), STEP_MM))
    found = []
    for line in pattern.lines:
        path = path_of(line)
        if path.dwithin(meant, SAME_MM):
            own = distance(points_of(evenly(np.array(line.path), STEP_MM)), meant)
            near = own < SAME_MM
            # A piece of what was meant, or a line that what was meant is a piece of.
            off = distance(places, path)
            over = off < SAME_MM
            on_it = not whole and over.mean() >= LEAST_SHARE and float(np.median(off)) < ON_MM
            if near.mean() >= LEAST_SHARE or on_it:
                found.append((float(own[near].mean()) if near.any() else SAME_MM, line, path))
    found.sort(key=lambda each: (each[0], each[1].id != on.line))
    covered = np.zeros(len(places), bool)
    lines = []
    for _, line, path in found:
        there = distance(places, path) < SAME_MM
        if (there & ~covered).sum() > NEW_SHARE * there.sum():
            lines.append(line)
            covered |= there
    if covered.mean() < LEAST_SHARE:
        x, y = on.points[len(on.points) // 2]
        raise ToldError(f"{on.line}: no line lies there any more, near {x:.0f}, {y:.0f} mm")
    return tuple(lines)


def line_at(pattern: Pattern, on: OnLine) -> Line:
    """The one line that lies where a fact says; raises ToldError."""
    return max(lines_along(pattern, on), key=lambda line: line.length)


def along_at(line: Line, place: Place) -> float:
    """How far along a line (mm) the place on it nearest to a place lies.

    Raises
    ------
    ToldError
        If the place is nowhere near the line.
    """
    path, point = path_of(line), Point(place)
    off = path.distance(point)
    if off > NEAR_MM:
        raise ToldError(
            f"{line.id}: {place[0]:.0f}, {place[1]:.0f} mm lies {off:.0f} mm off it: "
            "tell a place on the line"
        )
    return float(path.project(point))


def stretch_of(line: Line, between: tuple[Place, Place]) -> Floats:
    """(N, 2) the stretch of a line between two places on it, mm; of a ring, the shorter way.

    Of a piece of the line on which they were told, what lies between them; a point, if nothing.
    """
    path = path_of(line)
    start, stop = sorted(path.project(Point(place)) for place in between)
    if line.closed and stop - start > path.length / 2:
        parts = substring(path, stop, path.length), substring(path, 0.0, start)
        return np.concatenate([np.array(part.coords) for part in parts])
    return np.array(substring(path, start, stop).coords)


def piece_at(lines: Sequence[Line], place: Place) -> Line:
    """The one of some lines that a place lies on; raises ToldError if it lies on none."""
    nearest = min(lines, key=lambda line: path_of(line).distance(Point(place)))
    along_at(nearest, place)
    return nearest


def nearest_end(line: Line, place: Place) -> int:
    """Which end of a line lies nearer to a place: 0 the first, -1 the last."""
    return 0 if math.dist(line.points[0], place) <= math.dist(line.points[-1], place) else -1


def place_of(fact: Told) -> Place | None:
    """A place to show for a fact; None if it is about the whole pattern."""
    at: Place | None = getattr(fact, "at", None)
    if at is not None:
        return at
    on = getattr(fact, "on", None)
    lines = on if isinstance(on, tuple) else (on,)
    rings: list[tuple[Place, ...]] = [
        getattr(fact, "points", ()),
        getattr(fact, "boundary", ()),
        *(each.points for each in lines if isinstance(each, OnLine)),
    ]
    return next((points[len(points) // 2] for points in rings if points), None)
