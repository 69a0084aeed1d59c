"""The paper against the floor.

In comes the true-size raster, first coarse, then fine; out goes the paper's edge in mm, and where
the picture does not bear it out. The order is ``looks.py`` (what hue and texture say), ``cut.py``
(paper from floor), ``edge.py`` (its edge). Open ``cut.py`` first.
"""

from digitize.paper.cut import Cut, cut_paper, told_paper
from digitize.paper.edge import Edge, place_edge

__all__ = ["Cut", "Edge", "cut_paper", "place_edge", "told_paper"]
