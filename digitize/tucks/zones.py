"""Where the metal has to be shrunk, and by how much.

Along a curve at constant depth through a zone the paper measures L and its tucks take up T, so
the finished metal measures L - T and its shrink is T / L. A zone is as deep as its tucks (from
their tips to the trim edge), and reaches half a spacing beyond the outermost ones; outside them
no shrinking is needed (common practice, no source).
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from shapely import LineString

from digitize.pattern import ZoneStation
from digitize.tucks.laps import LapProfile, lap_at
from digitize.tucks.slits import TuckMarks

Floats = NDArray[np.float64]
WIDEST_SPACING_MM = 150.0
STATION_STEP_MM = 15.0
BOUNDARY_STEPS = 12


@dataclass(frozen=True)
class ShrinkZone:
    """A zone: its boundary (N, 2) in mm, the tucks in it by index, and its stations by depth."""

    boundary: Floats
    tucks: tuple[int, ...]
    stations: tuple[ZoneStation, ...]
    peak_shrink: float


def build_zones(tucks: Sequence[TuckMarks], laps: Sequence[LapProfile]) -> tuple[ShrinkZone, ...]:
    """Zones from clusters of neighbouring tucks, given in order along the paper's edge."""
    clusters: list[list[int]] = []
    for index, marks in enumerate(tucks):
        if not laps[index].stations:
            continue
        if clusters:
            before = tucks[clusters[-1][-1]].main
            apart = float(np.linalg.norm(before.points[0] - marks.main.points[0]))
            if apart < WIDEST_SPACING_MM:
                clusters[-1].append(index)
                continue
        clusters.append([index])
    return tuple(_zone(cluster, tucks, laps) for cluster in clusters)


def _zone(
    cluster: Sequence[int], tucks: Sequence[TuckMarks], laps: Sequence[LapProfile]
) -> ShrinkZone:
    deepest = np.array([laps[i].depth_at_trim for i in cluster])
    spines = [tucks[i].main.points for i in cluster]
    rows = [_spread(spines, deepest * share) for share in (0.0, 1.0)]
    boundary = np.concatenate([rows[0], rows[1][::-1]])
    stations = []
    reach = float(deepest.max())
    levels = [*np.arange(STATION_STEP_MM, reach - 5.0, STATION_STEP_MM), reach]
    for level in levels:
        depths = np.minimum(level, deepest)
        curve = _spread(spines, depths)
        flat = float(np.linalg.norm(np.diff(curve, axis=0), axis=1).sum())
        take_up = float(
            sum(lap_at(laps[i].stations, d) for i, d in zip(cluster, depths, strict=True))
        )
        stations.append(
            ZoneStation(
                depth=round(float(level), 3),
                flat_length=round(flat, 3),
                take_up=round(take_up, 3),
                shrink=round(take_up / flat, 5) if flat else 0.0,
            )
        )
    return ShrinkZone(boundary, tuple(cluster), tuple(stations), max(s.shrink for s in stations))


def _spread(spines: Sequence[Floats], depths: Floats) -> Floats:
    """A smooth curve through the spines at the given depths, carried half a spacing further."""
    places, ahead = [], []
    for spine, depth in zip(spines, depths, strict=True):
        path = LineString(spine)
        places.append(path.interpolate(float(depth)).coords[0])
        run = spine[-1] - spine[0]
        ahead.append(run / np.linalg.norm(run))
    points, out = np.array(places), np.array(ahead)
    if len(points) == 1:
        side = (
            np.array([-out[0, 1], out[0, 0]]) * 0.3 * np.linalg.norm(spines[0][-1] - spines[0][0])
        )
        return np.array([points[0] - side, points[0] + side])
    # A constant-depth curve crosses each tuck square: Hermite pieces with those tangents.
    normal = np.column_stack([-out[:, 1], out[:, 0]])
    chords = np.diff(points, axis=0)
    sign = np.sign((normal[:-1] * chords).sum(axis=1).sum()) or 1.0
    normal *= sign
    pieces = []
    t = np.linspace(0, 1, BOUNDARY_STEPS, endpoint=False)[:, None]
    for i, chord in enumerate(chords):
        length = np.linalg.norm(chord)
        a, b = points[i], points[i + 1]
        ta, tb = normal[i] * length, normal[i + 1] * length
        pieces.append(
            (2 * t**3 - 3 * t**2 + 1) * a
            + (t**3 - 2 * t**2 + t) * ta
            + (3 * t**2 - 2 * t**3) * b
            + (t**3 - t**2) * tb
        )
    before = points[0] - normal[0] * np.linalg.norm(chords[0]) / 2
    after = points[-1] + normal[-1] * np.linalg.norm(chords[-1]) / 2
    return np.concatenate([before[None], *pieces, points[-1:], after[None]])
