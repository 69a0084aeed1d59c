"""Small writing, which is kept as notes and never turned into lines."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components
from scipy.spatial import cKDTree
from shapely import LineString, STRtree

from digitize.pencil.curves import Curve

Floats = NDArray[np.float64]
SHORTEST_LINE_MM = 20.0
STRAIGHT_ENOUGH = 0.9
RAGGED_MM = 0.08  # a drawn line is placed better than that
TALL_LETTER_MM = 45.0
LETTER_GAP_MM = 12.0
FEWEST_STROKES = 3
ALONG_LINE_MM = 2.5


def set_writing_aside(
    curves: Sequence[Curve],
) -> tuple[tuple[Curve, ...], tuple[tuple[float, float, float, float], ...]]:
    """Lines, and the boxes (x min, y min, x max, y max) of small writing.

    Writing is a huddle of short marks. A short mark by itself is dropped as a speck, and so is
    one that lies along a line: it is that line's own rough edge.
    """
    small = [curve for curve in curves if _is_small(curve)]
    lines = tuple(curve for curve in curves if not _is_small(curve))
    if lines:
        tree = cKDTree(np.concatenate([curve.points for curve in lines]))
        small = [c for c in small if np.median(tree.query(c.points)[0]) > ALONG_LINE_MM]
    if not small:
        return lines, ()
    boxes = []
    for group in _groups(small):
        if len(group) >= FEWEST_STROKES:
            points = np.concatenate([small[index].points for index in group])
            low, high = points.min(axis=0) - 1.0, points.max(axis=0) + 1.0
            boxes.append((float(low[0]), float(low[1]), float(high[0]), float(high[1])))
    return tuple(line for line in lines if not _is_letter(line, boxes)), tuple(boxes)


def _is_small(curve: Curve) -> bool:
    """Too short for a line, or short and wound up or ragged as letters run together are."""
    chord = float(np.linalg.norm(curve.points[-1] - curve.points[0]))
    wound = chord < STRAIGHT_ENOUGH * curve.length or curve.sigma > RAGGED_MM
    return curve.length < SHORTEST_LINE_MM or (curve.length < TALL_LETTER_MM and wound)


def _is_letter(line: Curve, boxes: Sequence[tuple[float, float, float, float]]) -> bool:
    """Whether a mark as short as a tall letter stands in the middle of some writing."""
    if line.length > TALL_LETTER_MM:
        return False
    for low_x, low_y, high_x, high_y in boxes:
        low, high = np.array([low_x, low_y]) - 2.0, np.array([high_x, high_y]) + 2.0
        if ((line.points > low) & (line.points < high)).all(axis=1).mean() > 0.8:
            return True
    return False


def _groups(curves: Sequence[Curve]) -> list[NDArray[np.int64]]:
    """Which marks huddle together, each no further than LETTER_GAP_MM from some other."""
    paths = [LineString(curve.points) for curve in curves]
    near = STRtree(paths).query(paths, predicate="dwithin", distance=LETTER_GAP_MM)
    links = coo_array((np.ones(near.shape[1]), tuple(near)), shape=(len(paths), len(paths)))
    count, group = connected_components(links, directed=False)
    return [np.flatnonzero(group == index) for index in range(count)]
