"""What was drawn on the paper: marks as smooth curves, and where there is writing.

In come the true-size raster and the outline; out go curves in mm with their width, weight, ink and
sigma, and writing's boxes and pictures. ``ridges.py`` finds crests, ``strokes.py`` has the steps
from digitize.pencil.thresholds import CREASE_SHEEN
from there to whole strokes, ``curves.py`` places them. Open ``strokes.py`` first.
"""

from digitize.pencil.by_hue import by_hue
from digitize.pencil.crossed import set_struck_aside
from digitize.pencil.curves import Curve, fit_curves
from digitize.pencil.fair import fair, fair_pieces
from digitize.pencil.handwriting import handwriting, whole_writing
from digitize.pencil.hatching import set_hatching_aside
from digitize.pencil.ink import INKS
from digitize.pencil.ridges import DarknessAt, RidgeMap, find_ridges
from digitize.pencil.rings import Ring, set_rings_aside
from digitize.pencil.ruled import Ruling, set_print_aside
from digitize.pencil.strokes import find_strokes
from digitize.pencil.thresholds import CREASE_SHEEN
from digitize.pencil.ticks import between_their_ticks, gather_ticks
from digitize.pencil.trace import Stroke
from digitize.pencil.visibility import UnseenArea, mostly_faint, unseen_areas
from digitize.pencil.writing import set_writing_aside

__all__ = [
    "CREASE_SHEEN",
    "INKS",
    "Curve",
    "DarknessAt",
    "RidgeMap",
    "Ring",
    "Ruling",
    "Stroke",
    "UnseenArea",
    "between_their_ticks",
    "by_hue",
    "fair",
    "fair_pieces",
    "find_ridges",
    "find_strokes",
    "fit_curves",
    "gather_ticks",
    "handwriting",
    "mostly_faint",
    "set_hatching_aside",
    "set_print_aside",
    "set_rings_aside",
    "set_struck_aside",
    "set_writing_aside",
    "unseen_areas",
    "whole_writing",
]
