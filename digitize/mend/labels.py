"""What the user says about a pattern's lines: their roles, radii and notes, by line id."""

from collections.abc import Mapping, Sequence

from digitize.errors import ToldError
from digitize.record import Line, Pattern, RadiusAt, Role
from digitize.take_up import derived

Radii = float | Sequence[tuple[float, bool, float]]  # (place, is a share of the length, radius mm)


def labelled(
    pattern: Pattern,
    roles: Mapping[str, Role],
    radii: Mapping[str, Radii],
    notes: Mapping[str, str],
) -> Pattern:
    """The pattern with what was told about its lines, and its bands worked out anew.

    Parameters
    ----------
    roles, radii, notes : by line id; a radius is one (mm) for the whole line, or stations along it
        from its first point, in mm or as a share of its length.

    Raises
    ------
    ToldError
        If a line is not there; the message names those that are.
    """
    known = {line.id for line in pattern.lines}
    for identifier in (*roles, *radii, *notes):
        if identifier not in known:
            names = " ".join(line.id for line in pattern.lines)
            raise ToldError(f"{identifier}: the pattern has no such line; it has {names}")

    def told(line: Line) -> Line:
        update: dict[str, object] = {}
        if line.id in roles:
            update |= {"role": roles[line.id], "role_by": "told", "role_confidence": 1.0}
        if line.id in radii:
            update |= _radii_of(line, radii[line.id])
        if line.id in notes:
            update["note"] = notes[line.id] or None
        return line.model_copy(update=update)

    return derived(
        pattern.model_copy(update={"lines": tuple(told(line) for line in pattern.lines)})
    )


def _radii_of(line: Line, radii: Radii) -> dict[str, object]:
    if isinstance(radii, int | float):
        return {"radius": float(radii), "radii": ()}
    length = line.length
    stations = []
    for place, is_share, radius in radii:
        along = place * length if is_share else place
        if not 0 <= along <= length + 1e-6:
            raise ToldError(f"{line.id}: is {length:.0f} mm long; {along:.0f} mm lies beyond it")
        stations.append(RadiusAt(along=round(along, 3), radius=radius))
    return {"radius": None, "radii": tuple(sorted(stations, key=lambda s: s.along))}
