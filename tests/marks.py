"""Records made of marks alone: what follows once a photo's lines are found, without a photo."""

from collections.abc import Sequence

import numpy as np
from shapely import LineString

from digitize.lines import points_of
from digitize.lines.junctions import meet_at_corners, meet_at_tees
from digitize.lines.roles import propose_roles
from digitize.pencil.curves import Curve
from digitize.reading.entries import lines_and_tucks
from digitize.record import Pattern
from digitize.take_up.derived import derived
from digitize.tucks.laps import measure_laps
from digitize.tucks.pivots import pivots_of
from digitize.tucks.slits import find_tucks


def curve_of(points, weight=0.3, width=0.6):
    """A mark through points (N, 2) in mm."""
    line = LineString(np.asarray(points, float))
    places = np.linspace(0, line.length, max(round(line.length), 2) + 1)
    points = np.array([line.interpolate(d).coords[0] for d in places])
    return Curve(points, False, width, weight, 1.0, 0.07, (90, 80, 70))


def blank(points):
    """The darkness of paper that shows nothing."""
    return np.zeros(points.shape[:-1])


def record_of(curves: Sequence[Curve], outline) -> Pattern:
    """The record of a paper with these marks."""
    tucks, pieces = find_tucks(curves, outline, blank)
    breaks = [mark for tuck in tucks for mark in (tuck.main, tuck.second) if mark is not None]
    lines = meet_at_tees(meet_at_corners(pieces, breaks), [tuck.main for tuck in tucks])
    roles = propose_roles(lines, outline, [tuck.main.points for tuck in tucks])
    pivots = pivots_of(tucks)
    laps = [
        measure_laps(tuck, pivot, lines, blank) for tuck, pivot in zip(tucks, pivots, strict=True)
    ]
    records, tuck_records = lines_and_tucks(lines, roles, tucks, laps)
    pattern = Pattern(name="marks", outline=points_of(outline), lines=records, tucks=tuck_records)
    return derived(pattern)
