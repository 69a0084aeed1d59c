"""What is told about tucks: which mark is the cut, that a fold is one, that one is none, its laps.

A tuck told is measured again from the picture; see ``measured.py``.
"""

from collections.abc import Sequence

import numpy as np
from shapely import LinearRing, LineString, Point
from shapely import points as points_of

from digitize.errors import ToldError
from digitize.mend.lines import reshaped, with_lines, without_lost_breaks
from digitize.mend.places import line_at, on_line, tuck_named
from digitize.record import (
    LapTold,
    Line,
    Pattern,
    Role,
    Station,
    TellCut,
    TellFold,
    TellNoTuck,
    TellTakeUp,
    Told,
    Tuck,
    TuckKind,
)

RULE_SIGMA_MM = 0.3  # of a lap or gap measured with a rule; common practice, no source
BESIDE_MM = 40.0  # a lap line or hidden crease lies no further from its cut
ROLE_OF: dict[str, Role] = {"slit": "slit", "fold": "crease"}


def fact_about_take_up(
    pattern: Pattern, name: str, laps: Sequence[tuple[float | None, float]]
) -> Told:
    """The fact that a tuck laps by so much at depths, (depth or None for the trim edge, lap) mm.

    A lap less than nothing is a gap, where the slit opened. Raises ToldError.
    """
    tuck = tuck_named(pattern, name)
    told = [(tuck.depth_at_trim if depth is None else depth, lap) for depth, lap in laps]
    slit = pattern.line(tuck.slit)
    for depth, _ in told:
        _refuse_beyond(tuck, slit, depth)
    entered = tuple(LapTold(depth=round(depth, 3), lap=lap) for depth, lap in told)
    return TellTakeUp(on=on_line(slit), laps=entered)


def take_up_told(pattern: Pattern, fact: TellTakeUp) -> Pattern:
    """The pattern with laps entered at a tuck; it is a spread where they are gaps."""
    slit = line_at(pattern, fact.on)
    tuck = _tuck_of(pattern, slit)
    for told in fact.laps:
        _refuse_beyond(tuck, slit, told.depth)
    entered = [
        Station(depth=round(each.depth, 3), lap=each.lap, sigma=RULE_SIGMA_MM, evidence="entered")
        for each in fact.laps
    ]
    read = [station for station in tuck.stations if station.evidence != "entered"]
    as_read: TuckKind = "fold" if slit.role == "crease" else "slit"
    opened = bool(entered) and sum(station.lap for station in entered) < 0
    update = {
        "kind": "spread" if opened else as_read,
        "stations": tuple(sorted([*read, *entered], key=lambda station: station.depth)),
    }
    return _with_tuck(pattern, tuck.model_copy(update=update))


def cut_told(pattern: Pattern, fact: TellCut) -> Pattern:
    """The pattern with a slit, and its lap line."""
    lap_line = line_at(pattern, fact.lap_line) if fact.lap_line else None
    return _with_marks(pattern, "slit", line_at(pattern, fact.on), lap_line)


def fold_told(pattern: Pattern, fact: TellFold) -> Pattern:
    """The pattern with a fold, of one crease or two."""
    other = line_at(pattern, fact.other) if fact.other else None
    return _with_marks(pattern, "fold", line_at(pattern, fact.on), other)


def no_tuck_told(pattern: Pattern, fact: TellNoTuck) -> Pattern:
    """The pattern without a tuck; its marks are lines of unknown role."""
    return _without_tuck(pattern, _tuck_of(pattern, line_at(pattern, fact.on)))


def with_role(pattern: Pattern, line: Line, role: Role) -> Pattern:
    """The pattern with a line of another role, and with the tucks that it is then part of."""
    own = next((tuck for tuck in pattern.tucks if tuck.slit == line.id), None)
    of = next((tuck for tuck in pattern.tucks if tuck.lap_line == line.id), None)
    told = {
        "role": role,
        "role_by": "told",
        "role_confidence": 1.0,
        # Whoever says what a line is takes back that it was struck out.
        "withdrawn": line.withdrawn and role == "unknown",
    }
    if role in ("slit", "crease"):
        kind: TuckKind = "slit" if role == "slit" else "fold"
        if own is not None and own.kind == kind:
            return with_lines(pattern, (line.model_copy(update=told),))
        second = pattern.line(own.lap_line) if own and own.lap_line else None
        return _with_marks(pattern, kind, line, second)
    if role == "lap":
        if of is not None:
            return with_lines(pattern, (line.model_copy(update=told),))
        return _with_marks(pattern, "slit", _slit_beside(pattern, line), line)
    if own is not None:
        pattern = _without_tuck(pattern, own)
    elif of is not None:
        pattern = _with_tuck(pattern, of.model_copy(update={"lap_line": None}))
    return with_lines(pattern, (line.model_copy(update=told),))


def second_crease(pattern: Pattern, tuck: Tuck) -> Line | None:
    """The other crease of a fold: one beside it that is no tuck's own."""
    mains = {each.slit for each in pattern.tucks}
    own = LineString(pattern.line(tuck.slit).points)
    beside = [
        (_mean_distance(line, own), line)
        for line in pattern.lines
        if line.role == "crease" and line.id not in mains
    ]
    near = [each for each in beside if each[0] < BESIDE_MM]
    return min(near, key=lambda each: each[0])[1] if near else None


def _with_marks(pattern: Pattern, kind: TuckKind, main: Line, second: Line | None) -> Pattern:
    """The pattern with a tuck of these marks, in place of any that they were part of."""
    if second is not None and second.id == main.id:
        raise ToldError(f"{main.id}: cannot be both marks of a tuck")
    marks = {main.id} | ({second.id} if second else set())
    before = [t for t in pattern.tucks if {t.slit, t.lap_line} & marks]
    freed = {name for t in before for name in (t.slit, t.lap_line) if name} - marks
    edge = LinearRing(pattern.outline)
    lines = [_from_tip(_told(main, ROLE_OF[kind]), edge)]
    if second is not None:
        lines.append(_from_tip(_told(second, "lap" if kind == "slit" else "crease"), edge))
    lines += [_freed(pattern.line(name)) for name in freed]
    pattern = with_lines(pattern, lines)
    kept = [station for t in before for station in t.stations if station.evidence == "entered"]
    tuck = Tuck(
        id=before[0].id if before else _next_id(pattern),
        kind=kind,
        tip=lines[0].points[0],
        slit=main.id,
        lap_line=second.id if second is not None and kind == "slit" else None,
        stations=tuple(kept),
    )
    rest = tuple(t for t in pattern.tucks if t not in before[1:])
    return _with_tuck(pattern.model_copy(update={"tucks": rest}), tuck)


def _without_tuck(pattern: Pattern, tuck: Tuck) -> Pattern:
    marks = [name for name in (tuck.slit, tuck.lap_line) if name]
    if tuck.kind == "fold" and (other := second_crease(pattern, tuck)):
        marks.append(other.id)
    tucks = tuple(each for each in pattern.tucks if each.id != tuck.id)
    freed = with_lines(pattern, [_freed(pattern.line(name)) for name in marks])
    return without_lost_breaks(freed.model_copy(update={"tucks": tucks}))


def _with_tuck(pattern: Pattern, tuck: Tuck) -> Pattern:
    tucks = [tuck if each.id == tuck.id else each for each in pattern.tucks]
    if tuck not in tucks:
        tucks.append(tuck)
    return pattern.model_copy(update={"tucks": tuple(tucks)})


def _tuck_of(pattern: Pattern, line: Line) -> Tuck:
    for tuck in pattern.tucks:
        if line.id in (tuck.slit, tuck.lap_line):
            return tuck
    raise ToldError(f"{line.id}: is no tuck's: say first that it is a slit or a crease")


def _refuse_beyond(tuck: Tuck, slit: Line, depth: float) -> None:
    if not 0 < depth <= slit.length:
        raise ToldError(
            f"{tuck.id}: is {slit.length:.0f} mm long from its tip; {depth:.0f} mm lies beyond it"
        )


def _slit_beside(pattern: Pattern, lap_line: Line) -> Line:
    """The slit without a lap line that lies nearest to one."""
    free = [
        pattern.line(tuck.slit)
        for tuck in pattern.tucks
        if tuck.lap_line is None and tuck.kind != "fold"
    ]
    own = LineString(lap_line.points)
    beside = [(_mean_distance(line, own), line) for line in free]
    near = [each for each in beside if each[0] < BESIDE_MM]
    if not near:
        raise ToldError(
            f"{lap_line.id}: no slit without a lap line lies beside it: "
            "say which line is the slit first"
        )
    return min(near, key=lambda each: each[0])[1]


def _mean_distance(line: Line, path: LineString) -> float:
    places = points_of(np.array(line.points))
    return float(np.mean([path.distance(place) for place in places[:: max(len(places) // 20, 1)]]))


def _from_tip(line: Line, edge: LinearRing) -> Line:
    """A tuck's mark, run from its tip to the paper's edge."""
    first, last = (edge.distance(Point(line.points[end])) for end in (0, -1))
    return line if first >= last else reshaped(line, np.array(line.points[::-1]), False)


def _told(line: Line, role: Role) -> Line:
    return line.model_copy(update={"role": role, "role_by": "told", "role_confidence": 1.0})


def _freed(line: Line) -> Line:
    return line.model_copy(
        update={"role": "unknown", "role_by": "proposed", "role_confidence": 0.0}
    )


def _next_id(pattern: Pattern) -> str:
    taken = {tuck.id for tuck in pattern.tucks}
    return next(name for n in range(1, len(taken) + 2) if (name := f"T{n}") not in taken)
