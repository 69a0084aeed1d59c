"""Zones that open where no band says how they bend: their shape in space is not on the paper.

A zone whose tucks spread has more metal round it than a flat one: it curves one way along one
direction and the other way across. Its lengths tell the product of the two curvatures, and not
which direction is which, and about a pole there may be none that is the same all round (turned
about an axis, its circles would have to grow faster than their radius). Where a radius is told
across it, its bend says which; nothing does elsewhere.
"""

import numpy as np
from shapely import contains_xy

from digitize.form.known import known_of
from digitize.form.strips import beside
from digitize.record import Pattern, Zone
from digitize.take_up import zones_and_fans

STEP_MM = 4.0
LEAST_DEG, SURE = 3.0, 2.0  # less is no saddle that anyone would see; sigmas


def saddles_of(pattern: Pattern) -> tuple[Zone, ...]:
    """A pattern's zones that open, and whose shape nothing tells."""
    known = known_of(pattern)
    turned = [zone for zone, _ in zones_and_fans(pattern) if zone.curvature]
    found = []
    for zone, dome in zip(turned, known.domes, strict=True):
        low_x, low_y, high_x, high_y = dome.inside.bounds
        x, y = np.meshgrid(np.arange(low_x, high_x, STEP_MM), np.arange(low_y, high_y, STEP_MM))
        places = np.column_stack([x.ravel(), y.ravel()])
        places = places[contains_xy(dome.inside, places[:, 0], places[:, 1])]
        if not len(places) or zone.curvature is None:
            continue
        free = 1.0
        if known.strips:
            at, of_a_bend, _ = beside(known.strips, places)
            free = 1.0 - float((of_a_bend & np.isfinite(at.radius)).mean())
        opens = -zone.curvature.laps_deg * free
        if opens > max(LEAST_DEG, SURE * free * zone.curvature.laps_sigma_deg):
            found.append(zone)
    return tuple(found)
