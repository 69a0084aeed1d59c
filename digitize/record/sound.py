"""Whether a record hangs together: what a file holds may have been written by anyone."""

import itertools
from collections.abc import Iterator, Sequence

from digitize.record.parts import Point
from digitize.record.pattern import Pattern

FURTHEST_MM = 20_000.0  # from the origin: no panel is larger
MOST_LINES, MOST_POINTS = 5_000, 1_000_000


def fault_in(pattern: Pattern) -> str | None:
    """The first thing that no pattern has, in words with its place; None if all is sound."""
    return next(_faults(pattern), None)


def _faults(pattern: Pattern) -> Iterator[str]:
    if len(pattern.lines) > MOST_LINES:
        yield f"lines: has {len(pattern.lines)}, and no pattern has more than {MOST_LINES}"
    if len(pattern.outline) < 3:
        yield "outline: has fewer than three corners"
    for line in pattern.lines:
        if len(line.points) < 2:
            yield f"{line.id}: has fewer than two points"
    places = list(_places(pattern))
    if sum(len(each) for _, each in places) > MOST_POINTS:
        yield f"lines: have more than {MOST_POINTS} points"
    for name, points in places:
        if any(not -FURTHEST_MM < c < FURTHEST_MM for at in points for c in at):
            yield f"{name}: lies more than {FURTHEST_MM / 1000:.0f} m away"
    for kind, ids in _ids(pattern):
        doubled = next((i for i in ids if ids.count(i) > 1), None)
        if doubled is not None:
            yield f"{doubled}: is the id of two {kind}"
    for name, words, known in _references(pattern):
        if words not in known:
            yield f"{name}: names {words}, which is not there"


def _places(pattern: Pattern) -> Iterator[tuple[str, Sequence[Point]]]:
    """Everything that has a place, by its name."""
    yield "outline", pattern.outline
    for line in pattern.lines:
        yield line.id, line.points
        yield line.id, tuple(itertools.chain.from_iterable(each.points for each in line.pieces))
    for tuck in pattern.tucks:
        yield tuck.id, (tuck.tip,)
    for zone in pattern.zones:
        yield zone.id, zone.boundary
    for area in pattern.areas:
        yield area.id, area.boundary
    for note in pattern.notes:
        yield note.id, (note.box[:2], note.box[2:])
    for hole in pattern.holes:
        yield hole.id, (hole.at,)


def _ids(pattern: Pattern) -> Iterator[tuple[str, list[str]]]:
    for kind in ("lines", "groups", "tucks", "zones", "bands", "notes", "holes", "areas"):
        yield kind, [each.id for each in getattr(pattern, kind)]


def _references(pattern: Pattern) -> Iterator[tuple[str, str, set[str]]]:
    """Who names whom, and the ids that there are to be named."""
    lines = {line.id for line in pattern.lines}
    tucks = {tuck.id for tuck in pattern.tucks}
    for tuck in pattern.tucks:
        named = [*tuck.marks, *itertools.chain.from_iterable(b.lines for b in tuck.breaks)]
        yield from ((tuck.id, each, lines) for each in named)
    for group in pattern.groups:
        yield from ((group.id, piece.line, lines) for piece in group.pieces)
    for band in pattern.bands:
        yield from ((band.id, each, lines) for each in (band.start, *band.ends))
    for zone in pattern.zones:
        yield from ((zone.id, each, tucks) for each in zone.tucks)
