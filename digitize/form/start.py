"""A start for the solution: the triangles turned into one another by the turns wanted.

Beside each other, two triangles' frames differ by the turn at their edge. All frames at once are
those that differ so with least squares: the three lowest eigenvectors of what couples them, each
made a turn again. Corners follow from the edges so turned, with least squares as well. For a metric
and a second form that belong together (O. Bonnet's theorem; M. do Carmo, Differential Geometry of
Curves and Surfaces, 1976, section 4-3) this is the surface already.
"""

import numpy as np
from numpy.typing import NDArray
from scipy import sparse
from scipy.sparse.linalg import SuperLU, splu

from digitize.form.mesh import Mesh

Floats = NDArray[np.float64]
ROUNDS = 12
SHIFT = 1e-9


def laid_out(mesh: Mesh, lengths: Floats) -> Floats:
    """(F, 3, 2) each triangle flat by itself, of these lengths (E,) of the net's edges."""
    first, second, third = lengths[mesh.sides].T
    x = (first**2 + third**2 - second**2) / (2 * first)
    y = np.sqrt(np.maximum(third**2 - x**2, 1e-6))
    zero = np.zeros_like(x)
    corners = [np.column_stack(p) for p in ((zero, zero), (first, zero), (x, y))]
    return np.stack(corners, axis=1)


def started(mesh: Mesh, flat: Floats, turns: Floats) -> Floats:
    """(V, 3) corners in space, of triangles laid out flat (F, 3, 2) and turns (H,) at hinges."""
    frames = _frames(mesh, flat, turns)
    return _corners(mesh, flat, frames)


def factored(matrix: sparse.csr_matrix) -> SuperLU:
    """What solves for a symmetric matrix that is positive."""
    return splu(
        matrix.tocsc(),
        permc_spec="MMD_AT_PLUS_A",
        diag_pivot_thresh=0.0,
        options={"SymmetricMode": True},
    )


def _frames(mesh: Mesh, flat: Floats, turns: Floats) -> Floats:
    count = len(mesh.triangles)
    ways = [_heading(mesh, flat, side) for side in (0, 1)]
    ahead = np.column_stack([np.cos(ways[0]), np.sin(ways[0]), np.zeros(len(turns))])
    upright = np.tile([0.0, 0.0, 1.0], (len(turns), 1))
    onward = _about(ahead, turns) @ _about(upright, ways[0] - ways[1])
    # A row of a frame goes on to the next triangle as r_right = r_left @ onward.
    rows = np.arange(3 * len(turns)).reshape(-1, 3)
    left, right = (3 * mesh.pairs[:, side, None] + np.arange(3) for side in (0, 1))
    apart = sparse.csr_matrix(
        (
            np.concatenate([np.ones(rows.size), -np.swapaxes(onward, 1, 2).ravel()]),
            (
                np.concatenate([rows.ravel(), np.repeat(rows, 3, axis=1).ravel()]),
                np.concatenate([right.ravel(), np.tile(left[:, None], (1, 3, 1)).ravel()]),
            ),
        ),
        shape=(rows.size, 3 * count),
    )
    factor = factored(apart.T @ apart + SHIFT * sparse.identity(3 * count))
    found = np.tile(np.eye(3), (count, 1))
    for _ in range(ROUNDS):
        found, _ = np.linalg.qr(factor.solve(found))
    frames = np.swapaxes(found.reshape(count, 3, 3), 1, 2)
    if np.linalg.det(frames).sum() < 0:
        frames[:, 2] *= -1
    u, _, vt = np.linalg.svd(frames)
    u[:, :, 2] *= np.sign(np.linalg.det(u @ vt))[:, None]
    return np.asarray(u @ vt)


def _heading(mesh: Mesh, flat: Floats, side: int) -> Floats:
    """(H,) which way each hinge's edge runs in the flat triangle on one side of it."""
    face = mesh.pairs[:, side]
    at = [np.argmax(mesh.triangles[face] == mesh.hinges[:, end, None], axis=1) for end in (0, 1)]
    run = flat[face, at[1]] - flat[face, at[0]]
    return np.asarray(np.arctan2(run[:, 1], run[:, 0]))


def _about(axes: Floats, turns: Floats) -> Floats:
    """(N, 3, 3) the matrices that turn about unit vectors (N, 3) (B. O. Rodrigues, 1840)."""
    x, y, z = axes.T
    none = np.zeros_like(x)
    spin = np.stack([none, -z, y, z, none, -x, -y, x, none], axis=1).reshape(-1, 3, 3)
    sin, cos = np.sin(turns)[:, None, None], np.cos(turns)[:, None, None]
    return np.asarray(np.eye(3) + sin * spin + (1 - cos) * (spin @ spin))


def _corners(mesh: Mesh, flat: Floats, frames: Floats) -> Floats:
    sides = np.roll(flat, -1, axis=1) - flat
    turned = np.einsum("fxk,fsk->fsx", frames[:, :, :2], sides).reshape(-1, 3)
    starts, ends = mesh.triangles.ravel(), np.roll(mesh.triangles, -1, axis=1).ravel()
    rows = np.arange(len(starts))
    ones = np.ones(len(rows))
    runs = sparse.csr_matrix(
        (np.concatenate([-ones, ones]), (np.tile(rows, 2), np.concatenate([starts, ends]))),
        shape=(len(rows), len(mesh.paper)),
    )
    # Any one corner may stay where it is.
    free = runs[:, 1:]
    factor = factored(free.T @ free)
    return np.concatenate([np.zeros((1, 3)), factor.solve(free.T @ turned)])
