"""The paper against the floor.

In comes the true-size raster, first coarse, then fine; out goes the paper's outline, (N, 2) in mm.
Open ``outline.py`` first.
"""

from digitize.paper.outline import find_paper, place_edge

__all__ = ["find_paper", "place_edge"]
