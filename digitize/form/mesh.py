"""A net of triangles on the flat paper, inside the trim edge.

The net is fine where the metal bends or shrinks and coarse elsewhere: its corners stand on a
lattice of equilateral triangles, of which the coarse parts keep every second, fourth, ... corner.
B. Delaunay's triangulation joins them.
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import Delaunay, KDTree
from shapely import LineString, MultiLineString, Polygon, contains_xy, distance, points

from digitize.plane import cross, evenly

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
LEVELS = 3  # a coarse part's edges are up to 2**LEVELS as long
CLEAR_SHARE = 0.55  # of an edge, that the lattice stays off what edges follow
SHARP_DEG, PLAIN_MM = 25.0, 0.5  # what turns by more is a corner; less is the pencil's
SLIVER = 0.05  # a triangle's height over its longest edge, below which it is dropped at the edge


@dataclass(frozen=True)
class Mesh:
    """Triangles on the flat paper.

    Attributes
    ----------
    paper : (V, 2) corners, mm.
    triangles : (F, 3) corners, counter-clockwise.
    edges : (E, 2) corners.
    sides : (F, 3) each triangle's edges: from its corner 0 to 1, 1 to 2 and 2 to 0.
    hinges : (H, 4) two triangles side by side: the ends of the edge that they share, the corner to
        its left, the corner to its right.
    hinge_edges : (H,) the edge of each.
    pairs : (H, 2) those triangles, left and right.
    around : (F, 3) each triangle's hinges; -1 where it has none.
    """

    paper: Floats
    triangles: Ints
    edges: Ints
    sides: Ints
    hinges: Ints
    hinge_edges: Ints
    pairs: Ints
    around: Ints

    def areas(self) -> Floats:
        """(F,) of the triangles on the paper, mm2."""
        a, b, c = (self.paper[self.triangles[:, k]] for k in range(3))
        return np.asarray(cross(b - a, c - a) / 2)

    def middles(self) -> Floats:
        """(F, 2) the triangles' middles on the paper, mm."""
        return np.asarray(self.paper[self.triangles].mean(axis=1))


def mesh_of(
    inside: Polygon,
    edge_mm: float,
    away: Callable[[Floats], Floats] | None = None,
    lines: Sequence[Floats] = (),
) -> Mesh:
    """The net inside a trim edge.

    Parameters
    ----------
    edge_mm : length of the edges of its finest triangles.
    away : how far places (N, 2) lie from where the net has to be fine, mm; None for everywhere.
    lines : (N, 2) each, where the bending jumps: edges follow them.
    """
    low_x, low_y, high_x, high_y = inside.bounds
    rise = edge_mm * math.sqrt(3) / 2
    rows = np.arange(-1, (high_y - low_y) / rise + 1, dtype=int)
    columns = np.arange(-1 - len(rows) // 2, (high_x - low_x) / edge_mm + 1, dtype=int)
    row, column = np.repeat(rows, len(columns)), np.tile(columns, len(rows))
    lattice = np.column_stack([low_x + (column + row / 2) * edge_mm, low_y + row * rise])
    kept = contains_xy(inside, lattice[:, 0], lattice[:, 1])
    row, column, lattice = row[kept], column[kept], lattice[kept]
    level = _levels(lattice, edge_mm, away)
    step = 2**level
    kept = (row % step == 0) & (column % step == 0)
    lattice, step = lattice[kept], step[kept]
    corners, followed = _ring(inside, edge_mm, away), [LineString(inside.exterior)]
    for line in lines:
        found = evenly(line, edge_mm)
        found = found[contains_xy(inside, found[:, 0], found[:, 1])]
        apart, _ = KDTree(corners).query(found)
        corners = np.concatenate([corners, found[apart > CLEAR_SHARE * edge_mm]])
        followed.append(LineString(line))
    off = distance(MultiLineString(followed), points(lattice))
    lattice = lattice[off > CLEAR_SHARE * edge_mm * step]
    return from_triangles(*_joined(inside, np.concatenate([corners, lattice])))


def _levels(places: Floats, edge_mm: float, away: Callable[[Floats], Floats] | None) -> Ints:
    """(N,) how often edges are doubled at places; one doubling needs four coarse edges' way."""
    if away is None:
        return np.zeros(len(places), dtype=int)
    ways = np.maximum(away(places) / (4 * edge_mm) + 1, 1.0)
    return np.asarray(np.clip(np.floor(np.log2(ways)), 0, LEVELS).astype(int))


def _ring(inside: Polygon, edge_mm: float, away: Callable[[Floats], Floats] | None) -> Floats:
    """Corners along the trim edge, as far apart as the net's edges there, its own among them."""
    outline = evenly(np.array(inside.exterior.coords), edge_mm)[:-1]
    own = _sharp(inside)
    at = np.argmin(np.linalg.norm(outline[:, None] - own, axis=2), axis=0)
    outline[at] = own
    step = 2 ** _levels(outline, edge_mm, away)
    kept, last = [0], 0
    for index in range(1, len(outline)):
        if index - last >= step[last : index + 1].min() or index in at:
            kept.append(index)
            last = index
    return np.asarray(outline[kept])


def _sharp(inside: Polygon) -> Floats:
    """(K, 2) where the trim edge turns sharply: a coarse net would cut such a corner off."""
    ring = np.array(inside.simplify(PLAIN_MM).exterior.coords)[:-1]
    before, after = ring - np.roll(ring, 1, axis=0), np.roll(ring, -1, axis=0) - ring
    turns = np.arctan2(cross(before, after), (before * after).sum(axis=1))
    return np.asarray(ring[np.abs(np.degrees(turns)) > SHARP_DEG])


def _joined(inside: Polygon, corners: Floats) -> tuple[Floats, Ints]:
    """Corners, and the triangles between them that lie inside."""
    triangles = np.asarray(Delaunay(corners).simplices, dtype=np.int64)
    a, b, c = (corners[triangles[:, k]] for k in range(3))
    doubled = cross(b - a, c - a)
    triangles[doubled < 0] = triangles[doubled < 0][:, [0, 2, 1]]
    longest = np.max([np.linalg.norm(p - q, axis=1) for p, q in ((a, b), (b, c), (c, a))], axis=0)
    middle = (a + b + c) / 3
    kept = contains_xy(inside, middle[:, 0], middle[:, 1])
    kept &= np.abs(doubled) > SLIVER * longest**2
    triangles = triangles[kept]
    used, renumbered = np.unique(triangles, return_inverse=True)
    return corners[used], renumbered.reshape(-1, 3)


def from_triangles(paper: Floats, triangles: Ints) -> Mesh:
    """The net of given corners (V, 2) and triangles (F, 3), counter-clockwise."""
    runs = np.stack([triangles, np.roll(triangles, -1, axis=1)], axis=2)  # (F, 3, 2)
    far = np.roll(triangles, -2, axis=1)
    number = np.sort(runs, axis=2) @ np.array([len(paper), 1])
    found, sides = np.unique(number, return_inverse=True)
    sides = sides.reshape(-1, 3)
    edges = np.column_stack([found // len(paper), found % len(paper)])
    face = np.repeat(np.arange(len(triangles)), 3).reshape(-1, 3)
    forward = runs[:, :, 0] < runs[:, :, 1]
    beside = np.full((len(edges), 2), -1)  # the triangle to the left, and to the right
    corner = np.full((len(edges), 2), -1)
    for side, these in enumerate((forward, ~forward)):
        beside[sides[these], side] = face[these]
        corner[sides[these], side] = far[these]
    shared = np.flatnonzero((beside >= 0).all(axis=1))
    hinge = np.full(len(edges), -1)
    hinge[shared] = np.arange(len(shared))
    return Mesh(
        paper,
        triangles,
        edges,
        sides,
        np.column_stack([edges[shared], corner[shared]]),
        shared,
        beside[shared],
        hinge[sides],
    )
