"""What is told about tucks: which mark is the cut, that a fold is one, that one is none, its laps.

A tuck told is measured again from the picture; see ``measured.py``.
"""

import itertools
import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from shapely import LinearRing, LineString, Point, intersects
from shapely import points as points_of

from digitize.errors import ToldError
from digitize.lines import curve_of
from digitize.mend.lines import new_id, reshaped, with_lines, without_lost_breaks
from digitize.mend.places import line_at, on_line, path_of, tuck_named
from digitize.plane import arrays_of, lines_through
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
from digitize.tucks import cut_at

Floats = NDArray[np.float64]
RULE_SIGMA_MM = 0.3  # of a lap or gap measured with a rule; common practice, no source
AT_TIP_MM = 0.05  # as a tip and its slit's first point are read
AT_MARK_MM = 0.5  # a line cut at a mark ends there
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
    main = pattern.line(tuck.slit)
    update = {
        "kind": kind_of(main, entered),
        "stations": tuple(sorted([*read, *entered], key=lambda station: station.depth)),
    }
    return _with_tuck(pattern, tuck.model_copy(update=update))


def cut_told(pattern: Pattern, fact: TellCut) -> Pattern:
    """The pattern with a slit, and its lap line."""
    lap_line = line_at(pattern, fact.lap_line) if fact.lap_line else None
    return _with_marks(pattern, "slit", line_at(pattern, fact.on), lap_line, fact.number)


def fold_told(pattern: Pattern, fact: TellFold) -> Pattern:
    """The pattern with a fold, of one crease or two."""
    other = line_at(pattern, fact.other) if fact.other else None
    return _with_marks(pattern, "fold", line_at(pattern, fact.on), other, fact.number)


def no_tuck_told(pattern: Pattern, fact: TellNoTuck) -> Pattern:
    """The pattern without a tuck; its marks are lines of unknown role."""
    return _without_tuck(pattern, _tuck_of(pattern, line_at(pattern, fact.on)))


def with_role(pattern: Pattern, line: Line, role: Role, number: int) -> Pattern:
    """The pattern with a line of another role, and with the tucks that it is then part of.

    Parameters
    ----------
    number : of the fact, for the ids of lines that a new cut parts.
    """
    of = next((tuck for tuck in pattern.tucks if line.id in tuck.marks), None)
    if of is not None and line.role == role:
        # What was read is confirmed.
        sure = with_lines(pattern, (_told(line, role),))
        return _with_tuck(sure, of.model_copy(update={"unsure": False}))
    if role in ("slit", "crease"):
        own = of if of is not None and of.slit == line.id else None
        second = next((pattern.line(name) for name in own.marks[1:]), None) if own else None
        return _with_marks(pattern, "slit" if role == "slit" else "fold", line, second, number)
    if role == "lap":
        return _with_marks(pattern, "slit", _slit_beside(pattern, line), line, number)
    if of is not None and of.slit == line.id:
        pattern = _without_tuck(pattern, of)
    elif of is not None:
        pattern = _with_tuck(
            pattern, of.model_copy(update={"lap_line": None, "other_crease": None})
        )
    return with_lines(pattern, (_told(line, role),))


def with_tips(pattern: Pattern) -> Pattern:
    """The pattern, each tuck's slit or crease run from its tip, wherever that is told to be."""
    edge = LinearRing(pattern.outline)
    for tuck in pattern.tucks:
        slit = pattern.line(tuck.slit)
        if math.dist(tuck.tip, slit.points[0]) > AT_TIP_MM:
            slit = _from_tip(slit, edge)
            pattern = _with_tuck(
                with_lines(pattern, (slit,)), tuck.model_copy(update={"tip": slit.points[0]})
            )
    return pattern


def with_other_creases(pattern: Pattern) -> Pattern:
    """The pattern, each fold with its other crease.

    Records of before did not say which that is: it is one beside the fold that is no other's own.
    """
    for tuck in pattern.tucks:
        if tuck.kind == "fold" and tuck.other_crease is None:
            taken = {name for each in pattern.tucks for name in each.marks}
            own = path_of(pattern.line(tuck.slit))
            beside = [
                (_mean_distance(line, own), line.id)
                for line in pattern.lines
                if line.role == "crease" and line.id not in taken
            ]
            near = min(beside, default=(BESIDE_MM, ""))
            if near[0] < BESIDE_MM:
                other = tuck.model_copy(update={"other_crease": near[1]})
                pattern = _with_tuck(pattern, other)
    return pattern


def kind_of(slit: Line, stations: Sequence[Station]) -> TuckKind:
    """What a tuck is by the role of its mark and what was entered: a spread where it opened."""
    entered = [station.lap for station in stations if station.evidence == "entered"]
    if entered and sum(entered) < 0:
        return "spread"
    return "fold" if slit.role == "crease" else "slit"


def _with_marks(
    pattern: Pattern, kind: TuckKind, main: Line, second: Line | None, number: int
) -> Pattern:
    """The pattern with a tuck of these marks, in place of any that they were part of."""
    if second is not None and second.id == main.id:
        raise ToldError(f"{main.id}: cannot be both marks of a tuck")
    marks = {main.id} | ({second.id} if second else set())
    before = [tuck for tuck in pattern.tucks if marks.intersection(tuck.marks)]
    freed = {name for tuck in before for name in tuck.marks} - marks
    edge = LinearRing(pattern.outline)
    lines = [_from_tip(_told(main, ROLE_OF[kind]), edge)]
    if second is not None:
        lines.append(_from_tip(_told(second, "lap" if kind == "slit" else "crease"), edge))
    lines += [_freed(pattern.line(name)) for name in freed]
    pattern = _parted_at(with_lines(pattern, lines), lines[: len(marks)], number)
    kept = [station for t in before for station in t.stations if station.evidence == "entered"]
    tuck = Tuck(
        id=before[0].id if before else _next_id(pattern),
        kind=kind_of(lines[0], kept),
        tip=lines[0].points[0],
        slit=main.id,
        lap_line=second.id if second is not None and kind == "slit" else None,
        other_crease=second.id if second is not None and kind == "fold" else None,
        stations=tuple(kept),
    )
    rest = tuple(each for each in pattern.tucks if each not in before[1:])
    return _with_tuck(pattern.model_copy(update={"tucks": rest}), tuck)


def _parted_at(pattern: Pattern, marks: Sequence[Line], number: int) -> Pattern:
    """The pattern with the lines of the metal cut where they run across a tuck's marks.

    While the paper was pinned they broke there. The first piece keeps the line's id.
    """
    barriers = [curve_of(mark) for mark in marks]
    taken, stem = {line.id for line in pattern.lines}, new_id(number)
    parted: list[Line] = []
    metal = [line for line in pattern.lines if line.is_of_metal]
    runs = lines_through(arrays_of([line.path for line in metal]))
    met = np.any([intersects(runs, path_of(mark)) for mark in marks], axis=0)
    for line in itertools.compress(metal, met):
        cut = cut_at([curve_of(line)], barriers)
        if len(cut) < 2:
            continue
        parts = [part for part in cut if not _under_the_lap(part.points, marks)]
        for part in parts:
            own = line.id
            if part is not parts[0]:
                own = next(new for k in itertools.count(1) if (new := f"{stem}-{k}") not in taken)
                taken.add(own)
            parted.append(reshaped(line.model_copy(update={"id": own}), part.points, False))
    return with_lines(pattern, parted)


def _under_the_lap(points: Floats, marks: Sequence[Line]) -> bool:
    """Whether a piece runs from a tuck's one mark to its other, where the paper was covered."""
    if len(marks) < 2:
        return False
    off = [[path_of(mark).distance(Point(points[end])) for mark in marks] for end in (0, -1)]
    way, back = max(off[0][0], off[1][1]), max(off[0][1], off[1][0])
    return bool(min(way, back) < AT_MARK_MM)


def _without_tuck(pattern: Pattern, tuck: Tuck) -> Pattern:
    tucks = tuple(each for each in pattern.tucks if each.id != tuck.id)
    freed = with_lines(pattern, [_freed(pattern.line(name)) for name in tuck.marks])
    return without_lost_breaks(freed.model_copy(update={"tucks": tucks}))


def _with_tuck(pattern: Pattern, tuck: Tuck) -> Pattern:
    tucks = [tuck if each.id == tuck.id else each for each in pattern.tucks]
    if tuck not in tucks:
        tucks.append(tuck)
    return pattern.model_copy(update={"tucks": tuple(tucks)})


def _tuck_of(pattern: Pattern, line: Line) -> Tuck:
    for tuck in pattern.tucks:
        if line.id in tuck.marks:
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
    """A line told its role; whoever says what it is takes back that it was struck out."""
    struck = line.withdrawn and role == "unknown"
    told = {"role": role, "role_by": "told", "role_confidence": 1.0, "withdrawn": struck}
    return line.model_copy(update=told)


def _freed(line: Line) -> Line:
    return line.model_copy(
        update={"role": "unknown", "role_by": "proposed", "role_confidence": 0.0}
    )


def _next_id(pattern: Pattern) -> str:
    taken = {tuck.id for tuck in pattern.tucks}
    return next(name for n in range(1, len(taken) + 2) if (name := f"T{n}") not in taken)
