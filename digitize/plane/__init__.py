"""Planar geometry on arrays of points, mm: no records, no pictures.

In come polylines (N, 2) and marks; out go lengths, places, turns, rigid fits, and how marks come to
lie best on others. Open ``polyline.py`` first.
"""

from digitize.plane.many import arrays_of, lines_through
from digitize.plane.polyline import (
    evenly,
    headings_along,
    length_of,
    places_along,
    places_beside,
    running_length,
    runs_of,
    square_to,
    turn_between,
)
from digitize.plane.registration import STEP_MM, Marks, Nearest, Placement, laid_on, nearest_in
from digitize.plane.scatter import MEDIAN_TO_SIGMA, robust_sigma
from digitize.plane.turns import cross, rigid_fit, rotation, sharp_turns, signed_angle

__all__ = [
    "MEDIAN_TO_SIGMA",
    "STEP_MM",
    "Marks",
    "Nearest",
    "Placement",
    "arrays_of",
    "cross",
    "evenly",
    "headings_along",
    "laid_on",
    "length_of",
    "lines_through",
    "nearest_in",
    "places_along",
    "places_beside",
    "rigid_fit",
    "robust_sigma",
    "rotation",
    "running_length",
    "runs_of",
    "sharp_turns",
    "signed_angle",
    "square_to",
    "turn_between",
]
