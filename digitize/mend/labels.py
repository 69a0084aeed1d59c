"""What lines are, their radii and notes: as facts about them, and the pattern with these."""

from collections.abc import Mapping, Sequence
from typing import Literal, NamedTuple

from shapely import Point

from digitize.errors import ToldError
from digitize.mend.lines import with_lines
from digitize.mend.places import along_at, lines_along, lines_named, on_line, path_of
from digitize.mend.tucks import with_role
from digitize.record import (
    Line,
    Note,
    Pattern,
    RadiusAt,
    RadiusHere,
    Role,
    TellRadius,
    TellRole,
    TellWords,
    Told,
)

End = Literal["left", "right", "top", "bottom"]


class RadiusTold(NamedTuple):
    """A radius (mm) at a place along a line: mm, or a share of its length.

    ``end`` is the one of its two ends from which that counts: the further left, and so on; None
    is its first point.
    """

    place: float
    is_share: bool
    radius: float
    end: End | None = None


Radii = float | Sequence[RadiusTold | tuple[float, bool, float]]
NOTE_MM = 10.0  # from a note's box to a place told for it


def facts_about_lines(
    pattern: Pattern,
    roles: Mapping[str, Role],
    radii: Mapping[str, Radii],
    notes: Mapping[str, str],
) -> tuple[Told, ...]:
    """Facts about a pattern's lines.

    Parameters
    ----------
    roles, radii, notes : by id of a line or line group; a radius is one (mm) for the whole line, or
        stations along it. A radius told of a bend's end is that of its start. Words of a note's id
        are what its writing says.

    Raises
    ------
    ToldError
        If a line is not there, or a place lies beyond its end.
    """
    facts: list[Told] = []
    for name, role in roles.items():
        facts += [TellRole(on=on_line(line), role=role) for line in lines_named(pattern, name)]
    for name, told in radii.items():
        lines = _starts_of(pattern, lines_named(pattern, name))
        if not isinstance(told, int | float) and len(lines) > 1:
            raise ToldError(f"{name}: tell radii at places along one of {_ids(lines)}")
        facts += [TellRadius(on=on_line(line), radii=_radii_on(line, told)) for line in lines]
    for name, words in notes.items():
        note = next((n for n in pattern.notes if n.id.lower() == name.strip().lower()), None)
        if note is not None:
            facts.append(TellWords(at=_middle(note), words=words))
            continue
        facts += [TellWords(on=on_line(line), words=words) for line in lines_named(pattern, name)]
    return tuple(facts)


def role_told(pattern: Pattern, fact: TellRole) -> Pattern:
    """The pattern with lines of another role, and the tucks that follow from it."""
    for line in lines_along(pattern, fact.on):
        pattern = with_role(pattern, pattern.line(line.id), fact.role, fact.number)
    return pattern


def radius_told(pattern: Pattern, fact: TellRadius) -> Pattern:
    """The pattern with the radii along a line; what was told of it before is gone."""
    lines = lines_along(pattern, fact.on)
    whole = next((each.radius for each in fact.radii if each.at is None), None)
    placed = [each for each in fact.radii if each.at is not None]
    new = []
    for line in lines:
        path = path_of(line)
        own = [
            each
            for each in placed
            if min(lines, key=lambda other: path_of(other).distance(_point(each))) == line
        ]
        stations = sorted((round(path.project(_point(each)), 3), each.radius) for each in own)
        for each in own:
            assert each.at is not None
            along_at(line, each.at)
        update = {
            "radius": whole,
            "radii": tuple(RadiusAt(along=at, radius=radius) for at, radius in stations),
        }
        new.append(line.model_copy(update=update))
    return with_lines(pattern, new)


def words_told(pattern: Pattern, fact: TellWords) -> Pattern:
    """The pattern with words about a line, or of the writing at a place."""
    if fact.on is not None:
        lines = lines_along(pattern, fact.on)
        update = {"note": fact.words or None}
        return with_lines(pattern, [line.model_copy(update=update) for line in lines])
    if fact.at is None:
        raise ToldError("words have to be about a line, or have the place of a note")
    x, y = fact.at

    def off(note: Note) -> float:
        x0, y0, x1, y1 = note.box
        return max(x0 - x, x - x1, y0 - y, y - y1, 0.0)

    nearest = min(pattern.notes, key=off, default=None)
    if nearest is None or off(nearest) > NOTE_MM:
        raise ToldError(f"there is no writing near {x:.0f}, {y:.0f} mm")
    notes = tuple(
        note.model_copy(update={"text": fact.words or None}) if note is nearest else note
        for note in pattern.notes
    )
    return pattern.model_copy(update={"notes": notes})


def _starts_of(pattern: Pattern, lines: Sequence[Line]) -> tuple[Line, ...]:
    """Lines; in place of a band's end its start, on which its radius stands."""
    ends = {end: band.start for band in pattern.bands for end in band.ends}
    names = dict.fromkeys(
        ends[line.id] if line.role == "radius-end" and line.id in ends else line.id
        for line in lines
    )
    return tuple(pattern.line(name) for name in names)


def _radii_on(line: Line, told: Radii) -> tuple[RadiusHere, ...]:
    if isinstance(told, int | float):
        return (RadiusHere(radius=float(told)),)
    length, path = line.length, path_of(line)
    stations = []
    for place, is_share, radius, end in (RadiusTold(*each) for each in told):
        along = place * length if is_share else place
        if not 0 <= along <= length + 1e-6:
            raise ToldError(f"{line.id}: is {length:.0f} mm long; {along:.0f} mm lies beyond it")
        at = path.interpolate(length - along if end and _is_last(line, end) else along)
        stations.append(RadiusHere(at=(round(at.x, 3), round(at.y, 3)), radius=radius))
    return tuple(stations)


def _is_last(line: Line, end: End) -> bool:
    """Whether a line's last point is the one that lies further to that side; raises ToldError."""
    if line.closed:
        raise ToldError(f"{line.id}: is closed and has no {end} end; tell places without one")
    axis = 0 if end in ("left", "right") else 1
    first, last = line.path[0][axis], line.path[-1][axis]
    return last > first if end in ("right", "top") else last < first


def _point(radius: RadiusHere) -> Point:
    return Point(radius.at)


def _middle(note: Note) -> tuple[float, float]:
    x0, y0, x1, y1 = note.box
    return round((x0 + x1) / 2, 2), round((y0 + y1) / 2, 2)


def _ids(lines: Sequence[Line]) -> str:
    return " ".join(line.id for line in lines)
