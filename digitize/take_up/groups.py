"""Line groups: the pieces of one line on the metal.

On the flat paper tucks part a line; closed, its pieces join, and so do those that meet at a corner.
"""

import math
from collections.abc import Mapping, Sequence

import numpy as np
from scipy.spatial import KDTree
from shapely import LineString, Point

from digitize.record import GroupPiece, Line, LineGroup, Pattern, Role

CORNER_MM = 0.5  # between two ends that meet
PREFIXES: dict[Role, str] = {"trim-edge": "E", "form": "F", "unknown": "U"}
RADIUS_ENDINGS: dict[Role, str] = {"radius-start": "start", "radius-end": "end"}
End = tuple[str, bool]  # a line's id, and whether it is its last point
Joins = Mapping[End, End]


def with_groups(pattern: Pattern) -> Pattern:
    """The pattern with its lines in groups: E1 a trim edge, R1-start and R1-end those of a radius.

    A group's pieces come in order, from the free end of the first of its lines by number.
    """
    lines = [line for line in pattern.lines if line.is_of_metal]
    joins = _joins(pattern, lines)
    chains: list[tuple[tuple[GroupPiece, ...], bool]] = []
    placed: set[str] = set()
    for line in lines:
        if line.id not in placed:
            pieces, closed = _chain(line, joins)
            chains.append((pieces, closed))
            placed |= {piece.line for piece in pieces}
    roles = {line.id: line.role for line in lines}
    names = _names(pattern, [[piece.line for piece in pieces] for pieces, _ in chains], roles)
    groups = tuple(
        LineGroup(id=name, role=roles[pieces[0].line], pieces=pieces, closed=closed)
        for name, (pieces, closed) in zip(names, chains, strict=True)
    )
    of = {piece.line: group.id for group in groups for piece in group.pieces}
    marked = tuple(line.model_copy(update={"group": of.get(line.id)}) for line in pattern.lines)
    return pattern.model_copy(update={"lines": marked, "groups": groups})


def _joins(pattern: Pattern, lines: Sequence[Line]) -> dict[End, End]:
    """Each end that goes on as another line's end of the same role, at a tuck or at a corner."""
    by_id = {line.id: line for line in lines if not line.closed}
    joins: dict[End, End] = {}

    def join(one: End, two: End) -> None:
        same = by_id[one[0]].role == by_id[two[0]].role
        if same and one[0] != two[0] and one not in joins and two not in joins:
            joins[one], joins[two] = two, one

    for tuck in pattern.tucks:
        slit = LineString(pattern.line(tuck.slit).path)
        for found in tuck.breaks:
            if all(name in by_id for name in found.lines):
                one, two = (_end_at(by_id[name], slit) for name in found.lines)
                join(one, two)
    ends = [(line.id, last) for line in by_id.values() for last in (False, True)]
    places = np.array([by_id[name].points[-1 if last else 0] for name, last in ends])
    near = KDTree(places).query_pairs(CORNER_MM) if ends else set()
    for one, two in sorted(near):
        if math.dist(places[one], places[two]) < CORNER_MM:
            join(ends[one], ends[two])
    return joins


def _end_at(line: Line, slit: LineString) -> End:
    """The end of a line that lies nearer to a slit."""
    first, last = (slit.distance(Point(line.points[index])) for index in (0, -1))
    return line.id, bool(last < first)


def _chain(line: Line, joins: Joins) -> tuple[tuple[GroupPiece, ...], bool]:
    """The pieces that a line is one with, from a free end of theirs; whether they go all round."""
    begin: End = (line.id, False)
    while begin in joins:  # back to the free end before its first point
        other = joins[begin]
        begin = (other[0], not other[1])
        if begin == (line.id, False):
            break
    pieces = [GroupPiece(line=begin[0], reversed=begin[1])]
    end: End = (begin[0], not begin[1])
    while end in joins and joins[end] != begin:
        onward = joins[end]
        pieces.append(GroupPiece(line=onward[0], reversed=onward[1]))
        end = (onward[0], not onward[1])
    return tuple(pieces), line.closed or joins.get(end) == begin


def _names(
    pattern: Pattern, chains: Sequence[Sequence[str]], roles: Mapping[str, Role]
) -> list[str]:
    """A name for each group; a radius's end has the number of the start across from it."""
    index = {name: place for place, chain in enumerate(chains) for name in chain}
    names = [""] * len(chains)
    counts: dict[str, int] = {}

    def next_of(prefix: str) -> int:
        counts[prefix] = counts.get(prefix, 0) + 1
        return counts[prefix]

    kinds = [roles[chain[0]] for chain in chains]
    numbers = {place: next_of("R") for place, kind in enumerate(kinds) if kind == "radius-start"}
    for band in pattern.bands:
        for end in band.ends:
            numbers.setdefault(index[end], numbers[index[band.start]])
    taken: set[str] = set()
    for place, kind in enumerate(kinds):
        if kind in RADIUS_ENDINGS:
            number = numbers[place] if place in numbers else next_of("R")
            name = f"R{number}-{RADIUS_ENDINGS[kind]}"
            names[place] = name if name not in taken else f"R{next_of('R')}-{RADIUS_ENDINGS[kind]}"
        else:
            prefix = PREFIXES[kind]
            names[place] = f"{prefix}{next_of(prefix)}"
        taken.add(names[place])
    return names
