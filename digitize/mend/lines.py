"""What is told about where lines run: drawn, erased, split, joined, their ends moved, closed."""

import math
from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray
from shapely import LineString, Point, distance
from shapely import points as points_of
from shapely.ops import substring

from digitize.errors import ToldError
from digitize.lines import shape_of
from digitize.mend.places import along_at, line_at, lines_along, nearest_end, path_of
from digitize.record import (
    CloseLine,
    DrawLine,
    EraseLine,
    FollowPencil,
    JoinLines,
    Line,
    MoveEnd,
    Pattern,
    RadiusAt,
    SplitLine,
)

Floats = NDArray[np.float64]
DRAWN_SIGMA_MM = 1.0  # of a line pointed out by hand; common practice, no source
USUAL_WIDTH_MM = 0.5  # of a pencil line, where the paper has none to go by
STEP_MM, FEWEST_POINTS = 1.0, 50  # a line of few points is one that was pointed out
LEAST_MM = 2.0  # what is shorter is no line
SAME_MM, SAME_SHARE = 1.0, 0.8  # so near to a line, and so much of it, is that line again
FEW = 5  # of a line's places
RADIUS_MM = 5.0  # a radius told no further from a line's new course stays with it


def drawn(pattern: Pattern, fact: DrawLine) -> Pattern:
    """The pattern with a line more."""
    if LineString(fact.points).length < LEAST_MM:
        raise ToldError(f"a line has to be at least {LEAST_MM:g} mm long")
    widths = [line.width for line in pattern.lines if line.is_of_metal]
    line = Line(
        id=new_id(fact.number),
        role=fact.role,
        role_by="told",
        role_confidence=1.0,
        width=round(float(np.median(widths)), 2) if widths else USUAL_WIDTH_MM,
        sigma=DRAWN_SIGMA_MM,
        points=(),
    )
    return with_lines(pattern, (reshaped(line, np.array(fact.points), fact.closed),))


def followed(pattern: Pattern, fact: FollowPencil) -> Pattern:
    """The pattern with what was read along the pencil."""
    assert fact.found is not None, "the pencil is followed where the picture is at hand"
    return with_lines(pattern, (fact.found,))


def lying_there(pattern: Pattern, line: Line) -> Line | None:
    """The line of a pattern that a line is again, if it has it already."""
    places = points_of(np.array(line.path))
    few = places[:: max(len(places) // FEW, 1)]
    for other in pattern.lines:
        path = path_of(other)
        # A few places tell of nearly every line that it is another.
        if (distance(few, path) < SAME_MM).mean() <= SAME_SHARE / 2:
            continue
        if (distance(places, path) < SAME_MM).mean() > SAME_SHARE:
            return other
    return None


def erased(pattern: Pattern, fact: EraseLine) -> Pattern:
    """The pattern without a line, or without a stretch of it."""
    if fact.between is None:
        # Only what was nearly all of it meant: a stray mark beside an edge is not the edge.
        lines = lines_along(pattern, fact.on, whole=True)
        return without_lines(pattern, [line.id for line in lines])
    line = line_at(pattern, fact.on)
    start, end = sorted(along_at(line, place) for place in fact.between)
    path = path_of(line)
    if line.closed:
        # Of a ring's two ways from the one place to the other, the shorter is meant.
        if end - start > path.length / 2:
            return _parted(pattern, line, [_points(path, start, end)], fact.number)
        rest = [_points(path, end, path.length)[:-1], _points(path, 0.0, start)]
        return _parted(pattern, line, [np.concatenate(rest)], fact.number)
    parts = [_points(path, 0.0, start), _points(path, end, path.length)]
    return _parted(pattern, line, parts, fact.number)


def split(pattern: Pattern, fact: SplitLine) -> Pattern:
    """The pattern with one line in two; a closed one is open there."""
    line = line_at(pattern, fact.on)
    at, path = along_at(line, fact.at), path_of(line)
    if line.closed:
        ring = np.concatenate([_points(path, at, path.length)[:-1], _points(path, 0.0, at)])
        return with_lines(pattern, (reshaped(line, ring, False),))
    if not LEAST_MM < at < path.length - LEAST_MM:
        raise ToldError(f"{line.id}: ends there: a split leaves two lines of {LEAST_MM:g} mm")
    return _parted(
        pattern, line, [_points(path, 0.0, at), _points(path, at, path.length)], fact.number
    )


def joined(pattern: Pattern, fact: JoinLines) -> Pattern:
    """The pattern with two lines as one; it is called as the first, and runs as that did."""
    one, two = line_at(pattern, fact.on), line_at(pattern, fact.to)
    if one.id == two.id:
        raise ToldError(f"{one.id}: cannot be joined to itself: close it")
    if one.closed or two.closed:
        raise ToldError(f"{(one if one.closed else two).id}: is closed, and has no end to join")
    ways = [
        (math.dist(one.points[end], two.points[other]), end, other)
        for end in (-1, 0)
        for other in (0, -1)
    ]
    _, end, other = min(ways)
    further = two.points if other == 0 else two.points[::-1]
    points = [*one.points, *further] if end == -1 else [*further[::-1], *one.points]
    share = one.length / max(one.length + two.length, 1e-9)
    merged = one.model_copy(
        update={
            "sigma": round(max(one.sigma, two.sigma), 3),
            "width": round(share * one.width + (1 - share) * two.width, 2),
            "confidence": min(one.confidence, two.confidence),
            "radius": _agreed(one, two, "radius"),
            "note": _agreed(one, two, "note"),
        }
    )
    radii = (*_placed_radii(one), *_placed_radii(two))
    whole = _with_radii(reshaped(merged, np.array(points), False), radii)
    rest = pattern.model_copy(
        update={
            "lines": tuple(line for line in pattern.lines if line.id != two.id),
            # Two halves of one slit are one tuck: that of the first.
            "tucks": tuple(
                tuck
                for tuck in pattern.tucks
                if tuck.slit != two.id or not any(each.slit == one.id for each in pattern.tucks)
            ),
        }
    )
    rest = _with_allowances(rest, {two.id: [one.id]})
    return with_lines(_renamed(rest, two.id, one.id), (whole,))


def _agreed(one: Line, two: Line, field: str) -> object:
    """What was told of two lines that become one; raises ToldError where it differs."""
    told = {getattr(each, field) for each in (one, two)} - {None}
    if len(told) > 1:
        raise ToldError(
            f"{one.id} and {two.id}: have a different {field} each: take one back, then join them"
        )
    return next(iter(told), None)


def end_moved(pattern: Pattern, fact: MoveEnd) -> Pattern:
    """The pattern with a line's end elsewhere: cut where the line passes it, or led on to it."""
    line = line_at(pattern, fact.on)
    if line.closed:
        raise ToldError(f"{line.id}: is closed, and has no end to move")
    last = nearest_end(line, fact.at) == -1
    points = np.array(line.points if last else line.points[::-1])
    path, to = LineString(points), Point(fact.to)
    along = path.project(to)
    kept = _points(path, 0.0, along)
    if path.distance(to) > 1e-6:
        kept = np.concatenate([kept, [fact.to]])
    if len(kept) < 2 or LineString(kept).length < LEAST_MM:
        raise ToldError(f"{line.id}: nothing would be left of it: erase it instead")
    return with_lines(pattern, (reshaped(line, kept if last else kept[::-1], False),))


def closed(pattern: Pattern, fact: CloseLine) -> Pattern:
    """The pattern with a line that goes on from its last point to its first."""
    line = line_at(pattern, fact.on)
    if len(line.points) < 3:
        raise ToldError(f"{line.id}: is straight, and cannot be closed")
    return with_lines(pattern, (reshaped(line, np.array(line.points), True),))


def new_id(number: int) -> str:
    """The id of a line that a fact makes: it stays the same whatever else is told."""
    return f"M{number}"


def reshaped(line: Line, points: Floats, is_closed: bool) -> Line:
    """A line through other points (N, 2, mm), with what was told along it at its places."""
    apart = np.linalg.norm(np.diff(points, axis=0), axis=1) > 1e-6
    points = points[np.concatenate([[True], apart])]
    if is_closed and math.dist(points[0], points[-1]) < STEP_MM / 10:
        points = points[:-1]
    if len(points) < FEWEST_POINTS:
        ring = np.concatenate([points, points[:1]]) if is_closed else points
        points = np.array(LineString(ring).segmentize(STEP_MM).coords)  # its corners stay
        points = points[:-1] if is_closed else points
    new = line.model_copy(update=shape_of(points, is_closed))
    return _with_radii(new, _placed_radii(line))


def with_lines(pattern: Pattern, lines: Sequence[Line]) -> Pattern:
    """The pattern with lines in place of those of the same ids, or after the others."""
    new = {line.id: line for line in lines}
    kept = [new.pop(line.id, line) for line in pattern.lines]
    return pattern.model_copy(update={"lines": (*kept, *new.values())})


def without_lines(pattern: Pattern, ids: Sequence[str]) -> Pattern:
    """The pattern without lines: a tuck goes with its slit, its lap line is then any line."""
    gone = [tuck for tuck in pattern.tucks if tuck.slit in ids]
    bereft = {name for tuck in gone for name in tuck.marks}
    lines = tuple(
        line.model_copy(update={"role": "unknown", "role_confidence": 0.0})
        if line.id in bereft
        else line
        for line in pattern.lines
        if line.id not in ids
    )
    tucks = tuple(
        tuck.model_copy(
            update={
                field: None for field in ("lap_line", "other_crease") if getattr(tuck, field) in ids
            }
        )
        for tuck in pattern.tucks
        if tuck not in gone
    )
    left = _with_allowances(pattern, {name: [] for name in ids})
    return without_lost_breaks(left.model_copy(update={"lines": lines, "tucks": tucks}))


def without_lost_breaks(pattern: Pattern) -> Pattern:
    """The pattern without breaks of lines that are no longer there."""
    known = {line.id for line in pattern.lines}
    tucks = tuple(
        tuck.model_copy(
            update={"breaks": tuple(each for each in tuck.breaks if known.issuperset(each.lines))}
        )
        for tuck in pattern.tucks
    )
    return pattern.model_copy(update={"tucks": tucks})


def _parted(pattern: Pattern, line: Line, parts: Sequence[Floats], number: int) -> Pattern:
    """The pattern with what is left of a line: the first part keeps its id."""
    left = [part for part in parts if len(part) > 1 and LineString(part).length >= LEAST_MM]
    if not left:
        return without_lines(pattern, [line.id])
    ids = [line.id, new_id(number)]
    pieces = [
        reshaped(line.model_copy(update={"id": name}), part, False)
        for name, part in zip(ids, left, strict=False)
    ]
    return _with_allowances(with_lines(pattern, pieces), {line.id: [p.id for p in pieces]})


def _with_allowances(pattern: Pattern, become: Mapping[str, Sequence[str]]) -> Pattern:
    """The pattern, the allowances told for lines being for what has become of these."""
    allowances = []
    for each in pattern.allowances:
        names = dict.fromkeys(new for name in each.lines for new in become.get(name, [name]))
        if names or not each.lines:
            allowances.append(each.model_copy(update={"lines": tuple(names)}))
    return pattern.model_copy(update={"allowances": tuple(allowances)})


def _points(path: LineString, start: float, end: float) -> Floats:
    """The points (N, 2) of a path between two lengths along it."""
    return np.array(substring(path, start, end).coords)


def _renamed(pattern: Pattern, old: str, new: str) -> Pattern:
    """The pattern with what tucks and breaks say of one line said of another."""

    def name(of: str) -> str:
        return new if of == old else of

    tucks = tuple(
        tuck.model_copy(
            update={
                "slit": name(tuck.slit),
                "lap_line": name(tuck.lap_line) if tuck.lap_line else None,
                "other_crease": name(tuck.other_crease) if tuck.other_crease else None,
                "breaks": tuple(
                    each.model_copy(update={"lines": (name(each.lines[0]), name(each.lines[1]))})
                    for each in tuck.breaks
                ),
            }
        )
        for tuck in pattern.tucks
    )
    return pattern.model_copy(update={"tucks": tucks})


def _placed_radii(line: Line) -> tuple[tuple[Point, float], ...]:
    """The radii told along a line, each with its place."""
    if not line.radii:
        return ()
    path = path_of(line)
    return tuple((path.interpolate(each.along), each.radius) for each in line.radii)


def _with_radii(line: Line, radii: Sequence[tuple[Point, float]]) -> Line:
    """A line with the radii told at places, those that lie on it still."""
    path = path_of(line)
    along = sorted(
        (round(path.project(place), 3), radius)
        for place, radius in radii
        if path.distance(place) < RADIUS_MM
    )
    return line.model_copy(
        update={"radii": tuple(RadiusAt(along=at, radius=radius) for at, radius in along)}
    )
