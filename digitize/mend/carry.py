"""What was told about a pattern, carried over to a new reading of the same paper."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from digitize.compare import same_paper
from digitize.plane import STEP_MM, evenly, laid_on
from digitize.record import Line, Pattern, RadiusAt, Tuck
from digitize.take_up import derived

Floats = NDArray[np.float64]
SAME_MM = 2.0
SAME_TIP_MM = 6.0
LEAST_SHARE = 0.6


@dataclass(frozen=True)
class Carried:
    """A new reading with what was told about the old one.

    Attributes
    ----------
    lost : lines of the old one that were told something and find none in the new one.
    spreads, spreads_found : how many slits were told to have opened, and how many are there again.
    """

    pattern: Pattern
    lost: tuple[Line, ...] = ()
    spreads: int = 0
    spreads_found: int = 0


def carried_over(old: Pattern, new: Pattern) -> Carried:
    """The new reading, with the roles, radii and notes that were told about the old one's lines."""
    told = [line for line in old.lines if _is_told(line)]
    spreads = [tuck for tuck in old.tucks if tuck.kind == "spread"]
    new = new.model_copy(update={"sheet": old.sheet})
    if not (told or spreads) or not new.lines:
        return Carried(new)
    onto = laid_on(same_paper(old), same_paper(new))
    trees = {line.id: cKDTree(_places(line)) for line in new.lines}
    updates: dict[str, Line] = {}
    lost = []
    for line in told:
        places = onto(_places(line))
        shares = {
            name: float((tree.query(places)[0] < SAME_MM).mean()) for name, tree in trees.items()
        }
        twin = max(shares, key=lambda name: shares[name])
        if shares[twin] < LEAST_SHARE:
            lost.append(line)
            continue
        updates[twin] = _told_again(line, new.line(twin), _runs_along(places, new.line(twin)))
    tucks = tuple(_spread_again(tuck, spreads, onto) for tuck in new.tucks)
    lines = tuple(updates.get(line.id, line) for line in new.lines)
    return Carried(
        derived(new.model_copy(update={"lines": lines, "tucks": tucks})),
        tuple(lost),
        len(spreads),
        sum(tuck.kind == "spread" for tuck in tucks),
    )


def _places(line: Line) -> Floats:
    return evenly(np.array(line.points), STEP_MM, line.closed)


def _spread_again(tuck: Tuck, spreads: Sequence[Tuck], onto: Callable[[Floats], Floats]) -> Tuck:
    """The tuck, told again to be the spread that it is."""
    for spread in spreads:
        if np.linalg.norm(onto(np.array([spread.tip]))[0] - np.array(tuck.tip)) < SAME_TIP_MM:
            entered = [s for s in spread.stations if s.evidence == "entered"]
            stations = tuple(sorted([*tuck.stations, *entered], key=lambda s: s.depth))
            return tuck.model_copy(update={"kind": "spread", "stations": stations})
    return tuck


def _is_told(line: Line) -> bool:
    told = line.radius is not None or line.radii or line.note is not None
    return line.role_by == "told" or bool(told)


def _runs_along(places: Floats, line: Line) -> bool:
    """Whether the line runs the way the places do."""
    points = np.array(line.points)
    ends = np.linalg.norm(points[[0, -1]] - places[0], axis=1)
    return bool(ends[0] <= ends[1])


def _told_again(line: Line, twin: Line, same_way: bool) -> Line:
    update: dict[str, object] = {"note": line.note, "radius": line.radius}
    if line.role_by == "told":
        update |= {"role": line.role, "role_by": "told", "role_confidence": 1.0}
    length = twin.length
    update["radii"] = tuple(
        RadiusAt(
            along=round(min(s.along if same_way else max(length - s.along, 0.0), length), 3),
            radius=s.radius,
        )
        for s in line.radii
    )
    return twin.model_copy(update=update)
