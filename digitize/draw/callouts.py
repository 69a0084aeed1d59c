"""What is named in a drawing of a pattern, and what its names must not stand on."""

from collections.abc import Sequence
from typing import Protocol, TypeVar

import numpy as np
from numpy.typing import NDArray
from shapely import LineString, box, get_coordinates, line_interpolate_point, polygons
from shapely.geometry.base import BaseGeometry

from digitize.draw.placing import Callout
from digitize.draw.style import STYLES, start_marks, style_of
from digitize.plane import arrays_of, lines_through
from digitize.record import Band, Line, LineGroup, Pattern, Point
from digitize.shop import Blank
from digitize.units import in_both, length_in_words

Floats = NDArray[np.float64]
Number = TypeVar("Number", float, Floats)
SHARES = (0.5, 0.4, 0.6, 0.3, 0.7, 0.2, 0.8, 0.1, 0.9)  # of a line, where it may be named
DEGREES = "\N{DEGREE SIGN}"


class At(Protocol):
    """Where a point (mm) lies on a sheet; or many, by their two columns."""

    def __call__(self, point: tuple[Number, Number], /) -> tuple[Number, Number]:
        """Its place there, mm."""


def carried(points: Sequence[Point] | Floats, at: At) -> Floats:
    """(N, 2) places of points on a sheet, mm."""
    x, y = np.asarray(points).T
    return np.column_stack(at((x, y)))


def points_on(points: Sequence[Point] | Floats, at: At) -> list[Point]:
    """Points carried to a sheet, mm."""
    across, down = carried(points, at).T.tolist()
    return list(zip(across, down, strict=True))


def group_callouts(pattern: Pattern, at: At, size: float) -> list[Callout]:
    """Each line on the metal, by its group, what it is and, of a single piece, that line's id."""
    by_id = {line.id: line for line in pattern.lines}
    groups = [group for group in pattern.groups if group.pieces]
    longest = [_longest([by_id[piece.line] for piece in group.pieces]) for group in groups]
    named = zip(groups, longest, along_lines(longest, at), strict=True)
    return [
        Callout(_group_words(group, line), places, STYLES[group.role].colour, size)
        for group, line, places in named
    ]


def _longest(lines: Sequence[Line]) -> Line:
    return max(lines, key=lambda line: line.length) if len(lines) > 1 else lines[0]


def _group_words(group: LineGroup, line: Line) -> str:
    alone = f" {line.id}" if len(group.pieces) == 1 else ""
    return f"{group.id}{alone} {STYLES[group.role].words}"


def line_callouts(pattern: Pattern, at: At, size: float, marks: bool) -> list[Callout]:
    """The ids of lines: of those that are pieces among others of a group, or of none.

    Parameters
    ----------
    marks : also of slits, lap lines and creases.
    """
    alone = {group.pieces[0].line for group in pattern.groups if len(group.pieces) == 1}
    lines = [
        line for line in pattern.lines if line.id not in alone and (marks or not line.is_tuck_mark)
    ]
    return [
        Callout(line.id, places, style_of(line).colour, size)
        for line, places in zip(lines, along_lines(lines, at), strict=True)
    ]


def tuck_callouts(pattern: Pattern, at: At, size: float, at_tip: bool) -> list[Callout]:
    """Each tuck with its lap at the trim edge in the user's unit, a question mark where unsure.

    Parameters
    ----------
    at_tip : named at its tip; else at its outer end.
    """
    named = []
    for tuck in pattern.tucks:
        lap = in_both(tuck.lap_at_trim, pattern.unit)
        place = tuck.tip if at_tip else pattern.line(tuck.slit).points[-1]
        words = f"{tuck.id} {lap}{' ?' if tuck.unsure else ''}"
        named.append(Callout(words, (at(place),), "#000000", size))
    return named


def radius_callouts(pattern: Pattern, at: At, size: float) -> list[Callout]:
    """The radii told, where they were told along their bend, with the angle turned there."""
    return [
        Callout(words, (at(place),), STYLES["radius-start"].colour, size)
        for band in pattern.bands
        for words, place in radii_along(pattern, band)
    ]


def radii_along(pattern: Pattern, band: Band) -> list[tuple[str, Point]]:
    """Each radius told of a band, in words with the angle turned there, and its place (mm)."""
    start = pattern.line(band.start)
    path = LineString(start.path)
    told = [(each.along, each.radius) for each in start.radii]
    if not told and start.radius:
        told = [(path.length / 2, start.radius)]
    found = []
    for along, radius in told:
        near = min(band.stations, key=lambda station: abs(station.along - along), default=None)
        turned = (
            f", turns {near.turned_deg:.0f}{DEGREES}"
            if near and near.turned_deg is not None
            else ""
        )
        place = path.interpolate(along)
        words = f"R {length_in_words(radius, pattern.unit)}{turned}"
        found.append((words, (float(place.x), float(place.y))))
    return found


def along_lines(lines: Sequence[Line], at: At) -> list[tuple[Point, ...]]:
    """Places along each line where it may be named, the best first."""
    paths = lines_through(arrays_of([line.path for line in lines]))
    places = line_interpolate_point(paths[:, None], np.array(SHARES), normalized=True)
    points = points_on(get_coordinates(places), at)
    many = len(SHARES)
    return [tuple(points[k : k + many]) for k in range(0, len(points), many)]


def what_is_drawn(
    pattern: Pattern, blank: Blank | None, at: At, start_mm: float
) -> list[BaseGeometry]:
    """Shapes on the sheet that no words should stand on: lines, edges, writing, marks at starts.

    Parameters
    ----------
    start_mm : how long the marks at the lines' starts are on the pattern.
    """
    rings = [pattern.outline, *(area.boundary for area in pattern.areas)]
    rings += [zone.boundary for zone in pattern.zones]
    rings += [tuple((x, y) for x, y in blank.edge.tolist())] if blank else []
    paths = [(*ring, ring[0]) for ring in rings] + [line.path for line in pattern.lines]
    runs = arrays_of(paths)
    on_sheet = np.split(carried(np.concatenate(runs), at), np.cumsum([len(r) for r in runs[:-1]]))
    shapes: list[BaseGeometry] = lines_through(on_sheet).tolist()
    for note in pattern.notes:
        (left, low), (right, top) = at(note.box[:2]), at(note.box[2:])
        shapes.append(box(left, top, right, low))
    heads = start_marks([line for line in pattern.lines if line.is_of_metal], start_mm)
    shapes += polygons(carried(heads.reshape(-1, 2), at).reshape(-1, 3, 2)).tolist()
    for hole in pattern.holes:
        x, y = at(hole.at)
        shapes.append(box(x - 2, y - 2, x + 2, y + 2))
    return shapes
