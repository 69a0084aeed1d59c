"""Whether a record hangs together: what a file holds may have been written by anyone."""

import itertools
from collections import Counter
from collections.abc import Iterator, Sequence

from digitize.record.parts import Point
from digitize.record.pattern import Pattern

MOST_LINES, MOST_POINTS = 5_000, 1_000_000
MANY = ("groups", "tucks", "zones", "bands", "notes", "holes", "areas", "remarks", "told")


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
    if sum(map(len, _places(pattern))) > MOST_POINTS:
        yield f"lines: have more than {MOST_POINTS} points"
    for kind in MANY:
        if len(getattr(pattern, kind)) > MOST_LINES:
            yield f"{kind}: there are more than {MOST_LINES}"
    for kind, ids in _ids(pattern):
        doubled = next((i for i, count in Counter(ids).items() if count > 1), None)
        if doubled is not None:
            yield f"{doubled}: is the id of two {kind}"
    for name, words, known in _references(pattern):
        if words not in known:
            yield f"{name}: names {words}, which is not there"


def _places(pattern: Pattern) -> Iterator[Sequence[Point]]:
    """The places of all that may have many."""
    yield pattern.outline
    for line in pattern.lines:
        yield line.points
        yield from (piece.points for piece in line.pieces)
    yield from (zone.boundary for zone in pattern.zones)
    yield from (area.boundary for area in pattern.areas)
    yield from (area.boundary for area in pattern.unseen)
    yield from pattern.outline_unsure
    for told in pattern.told:
        yield getattr(told, "points", ())


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
