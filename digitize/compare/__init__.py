"""One pattern against another: how far apart, how surely, and whether they are the same.

In come two records; out go deviations in mm with their sigmas, pairs of tucks, the paper's growth,
and a verdict. Open ``deviation.py`` first.
"""

from digitize.compare.deviation import Comparison, LineDeviation, compared
from digitize.compare.growth import Growth, about_growth
from digitize.compare.marks import is_same_paper, same_paper
from digitize.compare.verdict import SURE, Verdict, doubt, standing, verdict_on

__all__ = [
    "SURE",
    "Comparison",
    "Growth",
    "LineDeviation",
    "Verdict",
    "about_growth",
    "compared",
    "doubt",
    "is_same_paper",
    "same_paper",
    "standing",
    "verdict_on",
]
