"""Marks of the paper on the form: where a place of the flat paper comes to lie on the metal.

Between its slits each flap of paper lay on the metal as it is, so from the flap's middle outwards
the metal is as long as the paper; the net's smooth take-up says where on the net that is. Off the
zones a mark is where the paper has it.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import LinearNDInterpolator
from scipy.spatial import KDTree

from digitize.form.mesh import Mesh
from digitize.form.metric import TakenUp
from digitize.plane import cross, running_length

Floats = NDArray[np.float64]
NEAREST = 16  # triangles that a place is looked for in
AWAY_MM = 1.0
OUTSIDE = 0.35  # of a triangle, that a place may lie outside the net's edge


@dataclass(frozen=True)
class Placed:
    """Places on a net: (N,) triangles, -1 off the net; (N, 3) the shares of their corners."""

    triangle: NDArray[np.int64]
    shares: Floats

    @property
    def on(self) -> NDArray[np.bool_]:
        """(N,) whether on the net."""
        return self.triangle >= 0

    def of(self, mesh: Mesh, values: Floats) -> Floats:
        """(N, ...) values at corners (V, ...), at these places; nan off the net."""
        at = values[mesh.triangles[self.triangle]]
        found = np.einsum("nk,nk...->n...", self.shares, at)
        found[~self.on] = np.nan
        return np.asarray(found)


def placed_on(mesh: Mesh, places: Floats) -> Placed:
    """Where places (N, 2) of the net's paper lie on it."""
    count = min(NEAREST, len(mesh.triangles))
    _, near = KDTree(mesh.middles()).query(places, k=count)
    near = near.reshape(len(places), count)
    a, b, c = (mesh.paper[mesh.triangles[near, k]] for k in range(3))
    whole = cross(b - a, c - a)
    p = places[:, None]
    shares = np.stack([cross(b - p, c - p), cross(c - p, a - p), cross(a - p, b - p)], axis=-1)
    shares = shares / whole[..., None]
    best = shares.min(axis=-1).argmax(axis=1)
    rows = np.arange(len(places))
    found = shares[rows, best]
    triangle = np.where(found.min(axis=1) > -OUTSIDE, near[rows, best], -1)
    return Placed(triangle, found)


def carrier_of(metal: Sequence[TakenUp]) -> Callable[[Floats], Floats]:
    """What carries marks (N, 2) on the flat paper to where they lie on the net's, (N, 2)."""
    parts = [_carrier(part) for part in metal]

    def carried(marks: Floats) -> Floats:
        found = np.array(marks, dtype=float)
        for part in parts:
            found = part(found)
        return found

    return carried


def _carrier(part: TakenUp) -> Callable[[Floats], Floats]:
    count, width = part.rows.shape[:2]
    row, column = np.meshgrid(np.arange(count), np.arange(width), indexing="ij")
    grid = np.column_stack([row.ravel(), column.ravel()]).astype(float)
    where = LinearNDInterpolator(part.rows.reshape(-1, 2), grid)
    along = running_length(part.rows)
    shrinks = part.shrinks(part.fan.take_up(part.depths))
    steps = np.diff(along, axis=1) * (1 - (shrinks[:, 1:] + shrinks[:, :-1]) / 2)
    metal = np.concatenate([np.zeros((count, 1)), np.cumsum(steps, axis=1)], axis=1)
    return lambda marks: _carried(part, where(marks), along, metal, marks)


def _carried(part: TakenUp, at: Floats, along: Floats, metal: Floats, marks: Floats) -> Floats:
    """Marks by where they lie among the rows (N, 2), and the rows' lengths (R, M) on the paper and
    on the metal.
    """
    count, width = part.rows.shape[:2]
    columns, edges = np.arange(width, dtype=float), part.fan.edges
    found = marks.copy()
    for number in np.flatnonzero(np.isfinite(at[:, 0])):
        low = min(int(at[number, 0]), count - 2)
        share = at[number, 0] - low
        paper, length = ((1 - share) * each[low] + share * each[low + 1] for each in (along, metal))
        middle = edges[np.searchsorted(part.fan.seams, at[number, 1])]
        line = (1 - share) * part.rows[low] + share * part.rows[low + 1]
        here = [np.interp(at[number, 1], columns, line[:, axis]) for axis in (0, 1)]
        if np.linalg.norm(here - marks[number]) > AWAY_MM:  # in a hollow of the rows, off the fan
            continue
        # As long on the metal as on the paper, from the flap's middle.
        off = np.interp(at[number, 1], columns, paper) - paper[middle]
        there = np.interp(length[middle] + off, length, columns)
        found[number] = [np.interp(there, columns, line[:, axis]) for axis in (0, 1)]
    return found
