"""Laps along a tuck's depth, from its lap line and from the lines that break at it."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from shapely import LineString, Point

from digitize.pattern import Station
from digitize.pencil.curves import Curve
from digitize.tucks.slits import LineEnd, TuckMarks, gap_at, line_ends

Floats = NDArray[np.float64]
STATION_STEP_MM = 10.0
FIRST_STATION_MM = 15.0
LEAST_LAP_MM = 1.2  # closer than that, the two marks run into one
AT_SLIT_MM = 1.6
SAME_LINE_MM = 8.0
END_SIGMA_MM = 0.3  # where a pencil line ends


@dataclass(frozen=True)
class LapProfile:
    """A tuck's laps.

    Attributes
    ----------
    stations : by depth.
    lap_at_trim, depth_at_trim : mm; where no trim edge crosses the tuck, at its deepest station.
    deficit_deg : the angle through which the flap turns about the tip to close the lap at the trim.
    """

    stations: tuple[Station, ...]
    lap_at_trim: float
    depth_at_trim: float
    deficit_deg: float


def measure_laps(marks: TuckMarks, lines: Sequence[Curve], trim: Sequence[Curve]) -> LapProfile:
    """Measure a tuck.

    Parameters
    ----------
    lines : all lines that may cross it.
    trim : the trim edge's pieces among them.
    """
    ends = line_ends(marks.main, lines)
    side = _covered_side(marks, ends)
    stations: list[Station] = []
    if marks.kind == "slit" and marks.second is not None:
        stations += _from_lap_line(marks.main, marks.second)
    breaks = _across_fold(ends) if marks.kind == "fold" else _on_side(ends, side)
    if marks.kind == "slit" and marks.second is not None:
        breaks = _at_lap_line(breaks, marks.main, marks.second)
    stations += [
        Station(depth=round(depth, 3), lap=round(lap, 3), sigma=END_SIGMA_MM, evidence="line-break")
        for depth, lap in breaks
        if lap > LEAST_LAP_MM
    ]
    stations.sort(key=lambda station: station.depth)
    depth = _depth_at_trim(marks.main, trim)
    if depth is None:
        depth = stations[-1].depth if stations else 0.0
    lap = lap_at(stations, depth)
    deficit = float(np.degrees(2 * np.arcsin(min(lap / (2 * depth), 1.0)))) if depth > 0 else 0.0
    return LapProfile(tuple(stations), lap, depth, deficit)


def lap_at(stations: Sequence[Station], depth: float) -> float:
    """The lap (mm) at a depth: nothing at the tip, the stations' weighted curve beyond it.

    Where stations are close together they are averaged by their weights; between them the lap
    grows as a power of depth, which holds from a cone's point (power 1) to a bend that starts
    softly (power 3).
    """
    usable = [s for s in stations if s.depth > 0 and s.lap > 0]
    if not usable or depth <= 0:
        return 0.0
    depths = np.log([s.depth for s in usable])
    laps = np.log([s.lap for s in usable])
    weights = np.array([s.lap / s.sigma for s in usable]) ** 2
    reach = 0.12
    near = weights * np.exp(-0.5 * ((depths - np.log(depth)) / reach) ** 2)
    if near.sum() < 1e-3 * weights.max() or len(usable) < 3:
        near = weights
    centre = np.average(depths, weights=near)
    spread = np.average((depths - centre) ** 2, weights=near)
    slope = np.average((depths - centre) * (laps - np.average(laps, weights=near)), weights=near)
    power = np.clip(slope / spread, 0.8, 3.5) if spread > 1e-4 else 1.0
    level = np.average(laps, weights=near)
    return float(np.exp(level + power * (np.log(depth) - centre)))


def _from_lap_line(main: Curve, lap_line: Curve) -> list[Station]:
    stations = []
    length = main.length
    for depth in np.arange(FIRST_STATION_MM, length - 3.0, STATION_STEP_MM):
        # The lap line may stop short of the paper's edge, and near the tip it meets the slit.
        gap = gap_at(main, lap_line, float(depth))
        if gap is not None and abs(gap) >= LEAST_LAP_MM:
            sigma = float(np.hypot(main.sigma, lap_line.sigma)) + 0.05
            stations.append(
                Station(
                    depth=round(float(depth), 3),
                    lap=round(abs(gap), 3),
                    sigma=round(sigma, 3),
                    evidence="lap-line",
                )
            )
    return stations


def _on_side(ends: Sequence[LineEnd], side: float) -> list[tuple[float, float]]:
    """Depth and lap at a slit, where lines go on over the flap that lay below.

    Of two ends at one depth the nearer is where the line goes on; the other is a gap further along.
    """
    found: list[tuple[float, float]] = []
    for end in sorted((end for end in ends if end.side == side), key=lambda end: end.across):
        if all(abs(end.depth - depth) > SAME_LINE_MM for depth, _ in found):
            found.append((end.depth, end.across))
    return found


def _at_lap_line(
    breaks: Sequence[tuple[float, float]], main: Curve, lap_line: Curve
) -> list[tuple[float, float]]:
    """The breaks at which the line goes on from the lap line, as a line drawn over the lap does."""
    found = []
    for depth, lap in breaks:
        gap = gap_at(main, lap_line, depth)
        if gap is None or abs(abs(gap) - lap) < 3 * END_SIGMA_MM:
            found.append((depth, lap))
    return found


def _across_fold(ends: Sequence[LineEnd]) -> list[tuple[float, float]]:
    """Depth and take-up at a fold: from where a line stops to where it goes on.

    Measured across the fold from side to side, this holds for either of its two creases.
    """
    found = []
    for left in (end for end in ends if end.side > 0):
        right = [end for end in ends if end.side < 0 and abs(end.depth - left.depth) < SAME_LINE_MM]
        if right:
            twin = min(right, key=lambda end: abs(end.depth - left.depth))
            found.append(((left.depth + twin.depth) / 2, left.across + twin.across))
    return found


def _covered_side(marks: TuckMarks, ends: Sequence[LineEnd]) -> float:
    """+1 if the lower flap lies to the left of the tuck (seen from its tip), else -1."""
    if marks.second is not None:
        middle = marks.main.length * 0.8
        gap = gap_at(marks.main, marks.second, middle)
        if gap is not None:
            return 1.0 if gap > 0 else -1.0
    left = [end.across for end in ends if end.side > 0]
    right = [end.across for end in ends if end.side < 0]
    return 1.0 if (np.median(left) if left else 0) > (np.median(right) if right else 0) else -1.0


def _depth_at_trim(main: Curve, trim: Sequence[Curve]) -> float | None:
    """Where the trim edge meets the tuck: its end that touches the cut, or comes nearest."""
    path = LineString(main.points)
    touching = [
        (abs(end.across), end.depth)
        for end in line_ends(main, trim)
        if abs(end.across) < AT_SLIT_MM
    ]
    if touching:
        return min(touching)[1]
    depths = [float(path.project(Point(*end.point))) for end in line_ends(main, trim)]
    return float(np.median(depths)) if depths else None
