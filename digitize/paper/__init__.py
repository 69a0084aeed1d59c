"""The paper against the floor.

In comes the true-size raster, first coarse, then fine; out goes the paper's edge in mm, and where
the picture does not bear it out. The order is ``looks.py`` (what hue and texture say), ``cut.py``
(paper from floor), ``settle.py`` (the same by what lies close by), ``edge.py`` with ``corners.py``
(the edge), ``beside.py`` (whether what lies next to it bears it out) with ``dents.py`` (where it
leaves a straight line) and ``burnt.py`` (where it is burnt out), and ``passed.py`` (lines that
contradict it). ``divide.py`` finds the best division for two of them; ``band.py`` has the edge's
normals, ``straight.py`` its straight sides. Open ``cut.py`` first.
"""

from digitize.paper.cut import LESS_LIGHT, Cut, Field, LaidCard, cut_paper, told_paper
from digitize.paper.edge import Edge, place_edge
from digitize.paper.passed import EDGE_OF_LIGHT, stretches_passed

__all__ = [
    "EDGE_OF_LIGHT",
    "LESS_LIGHT",
    "Cut",
    "Edge",
    "Field",
    "LaidCard",
    "cut_paper",
    "place_edge",
    "stretches_passed",
    "told_paper",
]
