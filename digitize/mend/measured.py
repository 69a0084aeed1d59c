"""Laps measured again in the picture, at the tucks that something told has changed."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from shapely import LinearRing, LineString, Point

from digitize.lines import curve_of
from digitize.mend.picture import Picture, PictureFor, box_round
from digitize.mend.places import path_of
from digitize.record import Break, Line, Pattern, Station, Tuck
from digitize.tucks import TuckMarks, measure_laps, pivots_of

Floats = NDArray[np.float64]
BESIDE_MM = 40.0  # lines further from a tuck do not break at it
SAME_PIVOT = 1e-6


def measured_again(pattern: Pattern, before: Pattern, picture: PictureFor) -> Pattern:
    """The pattern, the laps of its tucks measured anew where what they hang on has changed.

    Parameters
    ----------
    before : what the photos gave: what is still as there keeps what was measured then.
    picture : gives None if it is not kept; then such a tuck keeps what its own marks said, if they
        are as they were, and what was entered.
    """
    old = {line.id: line for line in before.lines}
    new = {line.id: line for line in pattern.lines}
    changed = [
        each.path
        for name in {*old, *new}
        for each in (old.get(name), new.get(name))
        if each is not None and not _is_same(old.get(name), new.get(name))
    ]
    if not changed and pattern.tucks == before.tucks:
        return pattern
    paths = [LineString(path) for path in changed if len(path) > 1]
    pivots = _pivots(pattern)
    was = _pivots(before)
    read = {_signature(before, tuck): tuck for tuck in before.tucks}
    tucks = []
    for tuck in pattern.tucks:
        twin = read.get(_signature(pattern, tuck))
        slit = path_of(pattern.line(tuck.slit))
        if twin is None:
            tucks.append(_measured(pattern, tuck, pivots[tuck.id], picture()))
        elif abs(pivots[tuck.id] - was[twin.id]) > SAME_PIVOT * pivots[tuck.id] or any(
            path.dwithin(slit, BESIDE_MM) for path in paths
        ):
            seen = picture()
            if seen is None:
                by_marks = [each for each in twin.stations if each.evidence != "line-break"]
                tucks.append(_with(tuck, by_marks, ()))
            else:
                tucks.append(_measured(pattern, tuck, pivots[tuck.id], seen))
        else:
            tucks.append(_with(tuck, twin.stations, twin.breaks))
    return pattern.model_copy(update={"tucks": tuple(tucks)})


def _with(tuck: Tuck, read: Sequence[Station], breaks: Sequence[Break]) -> Tuck:
    """A tuck with what was read of its lap, beside what was entered by hand."""
    measured = [station for station in read if station.evidence != "entered"]
    entered = [station for station in tuck.stations if station.evidence == "entered"]
    stations = sorted([*measured, *entered], key=lambda station: station.depth)
    return tuck.model_copy(update={"stations": tuple(stations), "breaks": tuple(breaks)})


def _is_same(one: Line | None, two: Line | None) -> bool:
    """Whether two lines are one to the tucks beside them."""
    if one is None or two is None:
        return False
    return one is two or (
        one.points == two.points and one.closed == two.closed and one.is_of_metal == two.is_of_metal
    )


def _signature(pattern: Pattern, tuck: Tuck) -> tuple[object, ...]:
    kind = "fold" if pattern.line(tuck.slit).role == "crease" else "slit"
    return kind, *(line.points if line else None for line in _marks(pattern, tuck))


def _marks(pattern: Pattern, tuck: Tuck) -> tuple[Line, Line | None]:
    """A tuck's cut or crease, and its lap line or other crease."""
    main, *others = (pattern.line(name) for name in tuck.marks)
    return main, others[0] if others else None


def _marks_as_curves(pattern: Pattern, tuck: Tuck) -> TuckMarks:
    main, second = _marks(pattern, tuck)
    return TuckMarks(
        "fold" if main.role == "crease" else "slit",
        curve_of(main),
        curve_of(second) if second else None,
    )


def _pivots(pattern: Pattern) -> dict[str, float]:
    """How far each tuck's pivot lies behind its tip, mm; neighbours are so along the edge."""
    edge = LinearRing(pattern.outline)
    along = sorted(
        pattern.tucks,
        key=lambda tuck: edge.project(Point(pattern.line(tuck.slit).points[-1])),
    )
    marks = [_marks_as_curves(pattern, tuck) for tuck in along]
    return {tuck.id: pivot for tuck, pivot in zip(along, pivots_of(marks), strict=True)}


def _measured(pattern: Pattern, tuck: Tuck, pivot_mm: float, picture: Picture | None) -> Tuck:
    if picture is None:
        return _with(tuck, (), ())
    slit = LineString(pattern.line(tuck.slit).points)
    lines = [
        line
        for line in pattern.lines
        if line.is_of_metal and slit.dwithin(path_of(line), BESIDE_MM)
    ]
    marks = _marks_as_curves(pattern, tuck)
    around = [marks.main.points, *([marks.second.points] if marks.second else [])]
    reached = np.concatenate(around)
    box = box_round(np.concatenate([reached - BESIDE_MM, reached + BESIDE_MM]))
    reading = measure_laps(
        marks, pivot_mm, [curve_of(line) for line in lines], picture.ridges_in(box).darkness_at
    )
    breaks = tuple(
        Break(
            lines=(lines[found.lines[0]].id, lines[found.lines[1]].id),
            depth=round(found.depth, 3),
            lap=round(found.lap, 3),
            along=round(found.along, 3),
        )
        for found in reading.breaks
    )
    return _with(tuck, reading.stations, breaks)
