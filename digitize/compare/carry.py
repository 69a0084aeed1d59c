"""What was told about a pattern, carried over to a new reading of the same paper."""

from collections.abc import Callable, Sequence

import numpy as np
from scipy.spatial import cKDTree

from digitize.compare.fit import Floats, laid_on, points_along, same_paper
from digitize.pattern import Line, Pattern, RadiusAt, Tuck
from digitize.shop.derived import derived

SAME_MM = 2.0
SAME_TIP_MM = 6.0
LEAST_SHARE = 0.6


def carried_over(old: Pattern, new: Pattern) -> Pattern:
    """The new reading, with the roles, radii and notes that were told about the old one's lines.

    A line that cannot be found again is named in a warning.
    """
    told = [line for line in old.lines if _is_told(line)]
    spreads = [tuck for tuck in old.tucks if tuck.kind == "spread"]
    new = new.model_copy(update={"sheet": old.sheet})
    if not (told or spreads) or not new.lines:
        return new
    onto = laid_on(same_paper(old), same_paper(new))
    trees = {line.id: cKDTree(points_along(line.points, line.closed)) for line in new.lines}
    updates: dict[str, Line] = {}
    lost = []
    for line in told:
        places = onto(points_along(line.points, line.closed))
        shares = {
            name: float((tree.query(places)[0] < SAME_MM).mean()) for name, tree in trees.items()
        }
        twin = max(shares, key=lambda name: shares[name])
        if shares[twin] < LEAST_SHARE:
            lost.append(line)
            continue
        updates[twin] = _told_again(line, new.line(twin), _runs_along(places, new.line(twin)))
    warnings = tuple(
        f"what was told about {line.id} ({line.role}) finds no line in this reading"
        for line in lost
    )
    tucks = tuple(_spread_again(tuck, spreads, onto) for tuck in new.tucks)
    found = sum(tuck.kind == "spread" for tuck in tucks)
    if found < len(spreads):
        warnings = (
            *warnings,
            f"of {len(spreads)} slits told to have opened {found} are in this reading",
        )
    return derived(
        new.model_copy(
            update={
                "lines": tuple(updates.get(line.id, line) for line in new.lines),
                "tucks": tucks,
                "warnings": (*new.warnings, *warnings),
            }
        )
    )


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
