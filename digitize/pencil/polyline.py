"""Polylines of closely spaced points, mm: their lengths, places along them, which way they run."""

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


def running_length(points: Floats) -> Floats:
    """(N,) length from the first point to each, mm."""
    length = np.zeros(len(points))
    np.cumsum(_steps(points), out=length[1:])
    return length


def length_of(points: Floats) -> float:
    """Length from the first point to the last, mm."""
    return float(_steps(points).sum())


def _steps(points: Floats) -> Floats:
    step = points[1:] - points[:-1]  # called for thousands of short chains: np.diff takes longer
    return np.hypot(step[:, 0], step[:, 1])


def places_along(points: Floats, along: Floats) -> Floats:
    """(M, 2) places so many mm (M,) along."""
    length = running_length(points)
    return np.column_stack([np.interp(along, length, points[:, axis]) for axis in (0, 1)])


def places_beside(points: Floats, normals: Floats, offsets: Floats) -> Floats:
    """(N, M, 2) places so many mm (M,) out from points (N, 2) along normals (N, 2) or (2,)."""
    normals = np.broadcast_to(normals, points.shape)
    # All x, then all y: numpy's steps are quickest over neighbours.
    places = np.empty((2, len(points), len(offsets)))
    for axis in (0, 1):
        np.multiply.outer(normals[:, axis], offsets, out=places[axis])
        places[axis] += points[:, axis, None]
    return np.moveaxis(places, 0, -1)


def headings_along(points: Floats) -> Floats:
    """(N,) which way points run, over a few on both sides, radians."""
    reach = min(4, len(points) - 1)
    padded = np.concatenate([points[:1].repeat(reach, 0), points, points[-1:].repeat(reach, 0)])
    run = padded[2 * reach :] - padded[: len(points)]
    return np.asarray(np.arctan2(run[:, 1], run[:, 0]))


def turn_between(one: Floats, two: Floats) -> Floats:
    """How far two headings (radians) are apart, 0 to pi / 2, whichever way the lines are run."""
    return np.asarray(np.abs((one - two + np.pi / 2) % np.pi - np.pi / 2))


def runs_of(mask: NDArray[np.bool_]) -> list[tuple[int, int]]:
    """Where a mask is True, from and to."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], mask, [False]]).astype(int)))
    return [(int(a), int(b)) for a, b in edges.reshape(-1, 2)]
