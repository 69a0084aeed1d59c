"""Punch points: the dots to be center-punched through the drawing, closer where a line bends."""

import itertools
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d
from shapely import LineString, STRtree

from digitize.plane import cross, places_along, running_length
from digitize.record import Line, Pattern

Floats = NDArray[np.float64]
CHORD_MM = 0.2
CLOSEST_MM, FURTHEST_MM = 6.0, 40.0
STEP_MM = 0.5
BEND_SIGMA_MM = 2.5  # over which a line's bend is told
CORNER_TURN = np.radians(25.0)
CORNER_MM = 3.0


@dataclass(frozen=True)
class PunchedLine:
    """A line's id and its punch points (N, 2), mm, in order along it."""

    line: str
    points: Floats


def punch_points(pattern: Pattern, chord_mm: float = CHORD_MM) -> tuple[PunchedLine, ...]:
    """Punch points along every line of the metal.

    At ends, corners and crossings, and between those so close that the line strays from the chord
    by no more than ``chord_mm``: over a chord c of a circle of radius r it does by c^2 / 8 r.
    """
    lines = [line for line in pattern.lines if line.is_of_metal]
    paths = [LineString(np.array(line.path)) for line in lines]
    tree = STRtree(paths)
    found = []
    for index, (line, path) in enumerate(zip(lines, paths, strict=True)):
        crossings = [
            path.project(point)
            for other in tree.query(path, predicate="intersects")
            if int(other) != index
            for point in _points_of(path.intersection(paths[int(other)]))
        ]
        found.append(PunchedLine(line.id, _spaced(line, path, crossings, chord_mm)))
    return tuple(found)


def _points_of(crossing: object) -> list[object]:
    parts = getattr(crossing, "geoms", [crossing])
    return [part for part in parts if getattr(part, "geom_type", "") == "Point"]


def _spaced(line: Line, path: LineString, crossings: list[float], chord_mm: float) -> Floats:
    count = max(int(np.ceil(path.length / STEP_MM)), 2)
    along = np.linspace(0.0, path.length, count + 1)
    drawn = np.array(line.path, dtype=float)
    to_drawn = running_length(drawn)
    points = places_along(drawn, along, to_drawn)
    step = path.length / count
    run = np.diff(points, axis=0)
    heading = np.unwrap(np.arctan2(run[:, 1], run[:, 0]))
    reach = max(round(CORNER_MM / step), 1)
    turned = np.abs(heading[2 * reach :] - heading[: -2 * reach]) if count > 2 * reach else None
    stops = {0.0, path.length, *crossings}
    if turned is not None:
        sharp = np.abs(np.diff(heading))
        for k in _peaks(turned, CORNER_TURN, reach):
            stops.add(float(along[k + 1 + int(np.argmax(sharp[k : k + 2 * reach]))]))
    stops_at = _apart(sorted(stops))
    smooth = gaussian_filter1d(heading, BEND_SIGMA_MM / step, mode="nearest")
    bend = np.abs(np.gradient(smooth, step)) if count > 2 else np.zeros(count)
    spacing = np.clip(np.sqrt(8 * chord_mm / np.maximum(bend, 1e-9)), CLOSEST_MM, FURTHEST_MM)
    dense = np.append(0.0, np.cumsum(step / spacing))
    places = [stops_at[0]]
    for a, b in itertools.pairwise(stops_at):
        start, stop = np.interp([a, b], along, dense)
        most = max(int((b - a) / CLOSEST_MM), 1)
        for pieces in range(min(max(int(np.ceil(stop - start - 1e-9)), 1), most), most + 1):
            between = np.interp(np.linspace(start, stop, pieces + 1), dense, along)
            if _strays(points, along, between) <= chord_mm:
                break
        places += [*(float(d) for d in between[1:-1]), b]
    if line.closed:
        places = places[:-1]
    return places_along(drawn, np.array(places), to_drawn)


def _strays(points: Floats, along: Floats, places: Floats) -> float:
    """How far a line strays from the chords between places along it, mm."""
    ends = places_along(points, places, along)
    inside = (along > places[0]) & (along < places[-1])
    chord = np.clip(np.searchsorted(places, along[inside]) - 1, 0, len(places) - 2)
    run = ends[chord + 1] - ends[chord]
    away = points[inside] - ends[chord]
    return float(
        np.max(np.abs(cross(run, away)) / (np.linalg.norm(run, axis=1) + 1e-9), initial=0.0)
    )


def _peaks(turned: Floats, least: float, reach: int) -> list[int]:
    """Where a line turns most, by at least so much; one for each corner."""
    found: list[int] = []
    for k in np.argsort(-turned):
        if turned[k] < least:
            break
        if all(abs(int(k) - other) > 2 * reach for other in found):
            found.append(int(k))
    return found


def _apart(stops: list[float]) -> list[float]:
    """Stops that are no closer together than a punch needs; the ends stay."""
    kept = [stops[0]]
    for stop in stops[1:-1]:
        if stop - kept[-1] > CLOSEST_MM / 2 and stops[-1] - stop > CLOSEST_MM / 2:
            kept.append(stop)
    return [*kept, stops[-1]]
