"""Slits and folds: which marks they are, and the laps measured at them.

In come curves and the darkness of the paper; out go tucks with their cut or crease and lap line,
the curves that are no part of one, and stations with their laps. Open ``slits.py`` first for what
is a tuck, ``laps.py`` for how a lap is measured.
"""

from digitize.tucks.laps import LapReading, is_borne_out, measure_laps
from digitize.tucks.pivots import pivots_of
from digitize.tucks.slits import TuckMarks, cut_at, find_tucks
from digitize.tucks.sought_cut import cuts_on_dark

__all__ = [
    "LapReading",
    "TuckMarks",
    "cut_at",
    "cuts_on_dark",
    "find_tucks",
    "is_borne_out",
    "measure_laps",
    "pivots_of",
]
