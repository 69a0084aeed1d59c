"""Radius bands: the strips of a bend between where its radius starts and where it ends.

The paper lay on the bend, so a band's width on it is arc length, and with the radius the angle
that the metal turns through there is width over radius.
"""

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from shapely import LineString, Point, Polygon, STRtree

from digitize.record import Band, BandStation, Line, Pattern

Floats = NDArray[np.float64]
STATION_STEP_MM = 20.0
WIDEST_SHARE = 0.45  # of the side of a square as large as the paper
FEWEST_STATIONS = 3
JUMP_DEG, JUMP_SHARE = 4.0, 0.12  # over the even course, between neighbouring stations


def with_bands(pattern: Pattern) -> Pattern:
    """The pattern with its bands as its lines, their roles and the radii told now have them."""
    return pattern.model_copy(update={"bands": radius_bands(pattern)})


def radius_bands(pattern: Pattern) -> tuple[Band, ...]:
    """A band for each radius start that has radius ends across from it."""
    starts = [line for line in pattern.lines if line.role == "radius-start"]
    ends = [line for line in pattern.lines if line.role == "radius-end"]
    if not ends:
        return ()
    widest = WIDEST_SHARE * math.sqrt(Polygon(pattern.outline).area)
    bands: list[Band] = []
    for start in starts:
        found = _across(start, ends, widest)
        if len(found) < FEWEST_STATIONS:
            continue
        met = dict.fromkeys(end.id for _, _, end in found)
        stations = tuple(
            _station(along, width, start, [line for line in ends if line.id in met])
            for along, width, _ in found
        )
        bands.append(
            Band(id=f"B{len(bands) + 1}", start=start.id, ends=tuple(met), stations=stations)
        )
    return tuple(bands)


def _across(start: Line, ends: Sequence[Line], widest_mm: float) -> list[tuple[float, float, Line]]:
    """Places along a radius start, and how far the nearest radius end lies square across there."""
    path = LineString(start.path)
    paths = [LineString(line.path) for line in ends]
    tree = STRtree(paths)
    found = []
    for along in np.arange(STATION_STEP_MM / 2, path.length, STATION_STEP_MM):
        place = np.array(path.interpolate(along).coords[0])
        before = np.array(path.interpolate(max(along - 4, 0)).coords[0])
        after = np.array(path.interpolate(along + 4).coords[0])
        ahead = (after - before) / (np.linalg.norm(after - before) + 1e-12)
        normal = np.array([-ahead[1], ahead[0]])
        hits = []
        for side in (-1.0, 1.0):
            ray = LineString([place, place + side * widest_mm * normal])
            for index in tree.query(ray, predicate="intersects"):
                crossing = ray.intersection(paths[int(index)])
                hits.append((float(crossing.distance(Point(*place))), ends[int(index)]))
        if hits:
            width, line = min(hits, key=lambda hit: hit[0])
            found.append((float(along), width, line))
    return found


def _station(along: float, width: float, start: Line, ends: Sequence[Line]) -> BandStation:
    radius = radius_at(start, along)
    if radius is None:
        told = {line.radius for line in ends if line.radius is not None}
        radius = told.pop() if len(told) == 1 else None
    turned = None if radius is None else round(math.degrees(width / radius), 3)
    return BandStation(
        along=round(along, 3),
        width=round(width, 3),
        radius=None if radius is None else round(radius, 3),
        turned_deg=turned,
    )


def radius_at(line: Line, along: float) -> float | None:
    """The radius (mm) told for a place along a line, straight between stations; None if none."""
    if not line.radii:
        return line.radius
    told = sorted(line.radii, key=lambda station: station.along)
    return float(np.interp(along, [station.along for station in told], [s.radius for s in told]))


@dataclass(frozen=True)
class Jump:
    """A place where a band's angle or radius jumps: a flat or a kink in the metal.

    Attributes
    ----------
    band, start : ids of the band and of its radius start.
    what, unit : ``turned angle`` in ``degrees``, or ``radius`` in ``mm``.
    along : mm along the radius start, at the last station before it.
    before, after : the values at that station and the next.
    """

    band: str
    start: str
    what: Literal["turned angle", "radius"]
    unit: Literal["degrees", "mm"]
    along: float
    before: float
    after: float


def jumps_of(bands: Sequence[Band]) -> tuple[Jump, ...]:
    """Where the bands jump."""
    return tuple(jump for band in bands for jump in _jumps(band))


def _jumps(band: Band) -> list[Jump]:
    turned, radii = ([getattr(s, key) for s in band.stations] for key in ("turned_deg", "radius"))
    return [
        *_steps_out(band, "turned angle", "degrees", turned, JUMP_DEG),
        *_steps_out(band, "radius", "mm", radii, 0.0),
    ]


def _steps_out(
    band: Band,
    what: Literal["turned angle", "radius"],
    unit: Literal["degrees", "mm"],
    values: Sequence[float | None],
    least: float,
) -> list[Jump]:
    """Steps between neighbouring stations that stand out by ``least`` and by a share."""
    known = [(s.along, v) for s, v in zip(band.stations, values, strict=True) if v is not None]
    steps = [b[1] - a[1] for a, b in itertools.pairwise(known)]
    if len(steps) < FEWEST_STATIONS:
        return []
    level = float(np.median([value for _, value in known]))
    jumps = []
    for index, step in enumerate(steps):
        # A bend may grow steadily: a step is judged by those before and after it.
        near = steps[max(index - 2, 0) : index + 3]
        if abs(step - float(np.median(near))) > max(least, JUMP_SHARE * level):
            (along, before), (_, after) = known[index : index + 2]
            jumps.append(Jump(band.id, band.start, what, unit, along, before, after))
    return jumps
