"""What the radii told say about a corner's total curvature, against what its laps say.

Along a curve at depth s the take-up T(s) is what flat paper is longer than the metal. Both grow
with the depth as fast as the curve turns (geodesic curvature), so dT/ds is the turn that the
metal's curve lacks, and by the Gauss-Bonnet theorem that is the total curvature of the metal inside
it (M. do Carmo, Differential Geometry of Curves and Surfaces, 1976, section 4-5). At a cone's point
w is straight and dT/ds is the sum of the angles w / s.

A bend that turns the metal through b, along a start line that turns through d on the flat, has at
its end a curve that turns through d cos b: so the metal there holds d (1 - cos b). Where no tuck
takes that up the flat paper would not have lain on it, so a tuck was missed.
"""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from shapely import LineString, Point, line_locate_point
from shapely import points as points_of

from digitize.plane import places_along, running_length
from digitize.record import Band, Curvature, Line, Pattern
from digitize.record import Point as Place

Floats = NDArray[np.float64]
RADIUS_SHARE = 0.03  # sigma of a radius found with gauges; common practice, no source
HEADING_SIGMA = math.radians(0.7)  # of the start line at either end of a zone
HEADING_MM, LEAST_HEADING_MM = 12.0, 3.0
NORMAL_95 = 1.96
# Sigmas, as a band has several stretches; and what paper may have been pinned over without a tuck:
# where its radius begins to grow the demo panel's bend holds 3 degrees, over 260 mm of its start.
SURE, LEAST_DEG = 3.0, 5.0


def implied_by_radii(pattern: Pattern, inner: Floats) -> tuple[float, float] | None:
    """Total curvature (degrees) and its sigma that the bands' told radii imply beside a zone.

    Parameters
    ----------
    inner : (M, 2) the zone's edge along the tips.
    """
    found = [
        value
        for band in pattern.bands
        if (value := _of_band(band, pattern.line(band.start), pattern, inner)) is not None
    ]
    if not found:
        return None
    return sum(value for value, _ in found), math.hypot(*(sigma for _, sigma in found))


@dataclass(frozen=True)
class Untucked:
    """A stretch of a radius start whose bend holds curvature that no tuck takes up.

    Attributes
    ----------
    band, start : their ids.
    between : mm along the start; at : its middle, mm.
    radii_deg, sigma_deg : the total curvature that the radii told there imply.
    """

    band: str
    start: str
    between: tuple[float, float]
    at: Place
    radii_deg: float
    sigma_deg: float


def untucked_stretches(pattern: Pattern) -> tuple[Untucked, ...]:
    """Stretches beside no zone where the radii told ask for a tuck all the same.

    Not those that a tuck lies beside which counts in no zone, as it is unsure or was not measured.
    """
    counted = {name for zone in pattern.zones for name in zone.tucks}
    uncounted = [Point(*tuck.tip) for tuck in pattern.tucks if tuck.id not in counted]
    found = []
    for band in pattern.bands:
        told = [s.along for s in band.stations if s.turned_deg is not None]
        if not told:
            continue
        start = pattern.line(band.start)
        path = LineString(start.path)
        zones = (np.array(z.boundary[: len(z.boundary) // 2]) for z in pattern.zones)
        beside = [reach for inner in zones if (reach := _reach_beside(path, inner)) is not None]
        # Not beyond where the radius was told.
        at, end = max(0.0, told[0] - HEADING_MM), min(path.length, told[-1] + HEADING_MM)
        for first, last in (*sorted(beside), (end, end)):
            if any(at <= path.project(tip) <= first for tip in uncounted):
                at = max(at, last)
                continue
            value = _of_stretch(band, start, pattern, at, first)
            if value is not None and abs(value[0]) > max(SURE * value[1], LEAST_DEG):
                middle = path.interpolate((at + first) / 2)
                place = round(middle.x, 3), round(middle.y, 3)
                found.append(Untucked(band.id, start.id, (at, first), place, *value))
            at = max(at, last)
    return tuple(found)


def _of_band(
    band: Band, start: Line, pattern: Pattern, inner: Floats
) -> tuple[float, float] | None:
    reach = _reach_beside(LineString(start.path), inner)
    return None if reach is None else _of_stretch(band, start, pattern, *reach)


def _reach_beside(path: LineString, inner: Floats) -> tuple[float, float] | None:
    """Between which places along a start line (mm) a zone lies; None if it lies beside another."""
    if path.distance(Point(*inner[len(inner) // 2])) > path.length / 3:
        return None
    along = line_locate_point(path, points_of(inner))
    return float(along.min()), float(along.max())


def _of_stretch(
    band: Band, start: Line, pattern: Pattern, first: float, last: float
) -> tuple[float, float] | None:
    """Total curvature and its sigma (degrees) of a bend along a stretch of its start line."""
    known = [(s.along, s.turned_deg) for s in band.stations if s.turned_deg is not None]
    if len(known) < 2 or last - first < HEADING_MM:
        return None
    path = LineString(start.path)
    places = np.linspace(first, last, max(int((last - first) / 4), 3))
    heading = np.unwrap(_headings(np.array(start.path), places))
    ends = LineString([p for end in band.ends for p in pattern.line(end).points])
    middle = path.interpolate((first + last) / 2)
    foot = ends.interpolate(ends.project(middle))
    way = heading[len(heading) // 2]
    left = math.cos(way) * (foot.y - middle.y) - math.sin(way) * (foot.x - middle.x) > 0
    turned = np.radians(np.interp(places, [a for a, _ in known], [deg for _, deg in known]))
    # Turning away from the side where the bend lies, the flat paper fans out there.
    turn = np.diff(heading) * (-1 if left else 1)
    middles = (turned[:-1] + turned[1:]) / 2
    total = float((turn * (1 - np.cos(middles))).sum())
    from_radius = float((turn * np.sin(middles) * middles).sum()) * RADIUS_SHARE
    from_ends = math.sqrt(2) * HEADING_SIGMA * float(1 - np.cos(middles).mean())
    return math.degrees(total), math.degrees(math.hypot(from_radius, from_ends))


def _headings(path: Floats, along: Floats) -> Floats:
    """(N,) which way a line (M, 2) heads so many mm along it, radians."""
    length = running_length(path)
    nearest = np.minimum(along, length[-1] - along)
    reach = np.maximum(np.minimum(HEADING_MM, nearest), LEAST_HEADING_MM)
    run = places_along(path, along + reach, length) - places_along(path, along - reach, length)
    return np.asarray(np.arctan2(run[:, 1], run[:, 0]))


def contradicted_by(curvature: Curvature | None) -> float | None:
    """By how much (degrees, 95 %) laps and radii should agree, if they do not; else None."""
    if curvature is None or curvature.radii_deg is None or curvature.radii_sigma_deg is None:
        return None
    limit = NORMAL_95 * math.hypot(curvature.laps_sigma_deg, curvature.radii_sigma_deg)
    return limit if abs(curvature.laps_deg - curvature.radii_deg) > limit else None
