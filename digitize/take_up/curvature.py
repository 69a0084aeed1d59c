"""What the radii told say about a corner's total curvature, against what its laps say.

Along a curve at depth s the take-up T(s) is what flat paper is longer than the metal. Both grow
with the depth as fast as the curve turns (geodesic curvature), so dT/ds is the turn that the
metal's curve lacks, and by the Gauss-Bonnet theorem that is the total curvature of the metal inside
it (M. do Carmo, Differential Geometry of Curves and Surfaces, 1976, section 4-5). At a cone's point
w is straight and dT/ds is the sum of the angles w / s.

A bend that turns the metal through b, along a start line that turns through d on the flat, has at
its end a curve that turns through d cos b: so the metal there holds d (1 - cos b).
"""

import math

import numpy as np
from numpy.typing import NDArray
from shapely import LineString, Point

from digitize.record import Band, Curvature, Line, Pattern

Floats = NDArray[np.float64]
RADIUS_SHARE = 0.03  # sigma of a radius found with gauges; common practice, no source
HEADING_SIGMA = math.radians(0.7)  # of the start line at either end of a zone
HEADING_MM, LEAST_HEADING_MM = 12.0, 3.0
NORMAL_95 = 1.96


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


def _of_band(
    band: Band, start: Line, pattern: Pattern, inner: Floats
) -> tuple[float, float] | None:
    known = [(s.along, s.turned_deg) for s in band.stations if s.turned_deg is not None]
    if len(known) < 2:
        return None
    path = LineString(start.path)
    along = np.array([path.project(Point(*p)) for p in inner])
    first, last = float(along.min()), float(along.max())
    if last - first < HEADING_MM or path.distance(Point(*inner[len(inner) // 2])) > path.length / 3:
        return None
    places = np.linspace(first, last, max(int((last - first) / 4), 3))
    heading = np.unwrap([_heading(path, float(place)) for place in places])
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


def _heading(path: LineString, along: float) -> float:
    reach = max(min(HEADING_MM, along, path.length - along), LEAST_HEADING_MM)
    before = path.interpolate(max(along - reach, 0.0))
    after = path.interpolate(min(along + reach, path.length))
    return math.atan2(after.y - before.y, after.x - before.x)


def contradicted_by(curvature: Curvature | None) -> float | None:
    """By how much (degrees, 95 %) laps and radii should agree, if they do not; else None."""
    if curvature is None or curvature.radii_deg is None or curvature.radii_sigma_deg is None:
        return None
    limit = NORMAL_95 * math.hypot(curvature.laps_sigma_deg, curvature.radii_sigma_deg)
    return limit if abs(curvature.laps_deg - curvature.radii_deg) > limit else None
