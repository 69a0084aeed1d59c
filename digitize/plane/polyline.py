"""Polylines of closely spaced points, mm: their lengths, places along them, which way they run."""

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


def running_length(points: Floats) -> Floats:
    """(..., N) length from the first point of each (..., N, 2) to the others, mm."""
    length = np.zeros(points.shape[:-1])
    np.cumsum(_steps(points), axis=-1, out=length[..., 1:])
    return length


def length_of(points: Floats) -> float:
    """Length from the first point to the last, mm."""
    return float(_steps(points).sum())


def _steps(points: Floats) -> Floats:
    # Called for thousands of short chains: np.diff takes longer.
    step = points[..., 1:, :] - points[..., :-1, :]
    return np.hypot(step[..., 0], step[..., 1])


def places_along(points: Floats, along: Floats, length: Floats | None = None) -> Floats:
    """(M, 2) places so many mm (M,) along; ``length`` (N,) is how far along the points are."""
    length = running_length(points) if length is None else length
    return np.column_stack([np.interp(along, length, points[:, axis]) for axis in (0, 1)])


def evenly(points: Floats, step_mm: float, closed: bool = False) -> Floats:
    """(M, 2) points about so far apart along points (N, 2), both ends among them."""
    path = np.concatenate([points, points[:1]]) if closed else points
    length = running_length(path)
    count = max(round(float(length[-1]) / step_mm), 1)
    return places_along(path, np.linspace(0, length[-1], count + 1), length)


def square_to(points: Floats, depths: Floats, reach_mm: float) -> tuple[Floats, Floats]:
    """(N, 2) places at depths (N,) along points, and the unit normals there, to the left.

    The line runs there the way it does from ``reach_mm`` before to as much after.
    """
    length = running_length(points)
    before, places, after = (
        places_along(points, depths + step, length) for step in (-reach_mm, 0.0, reach_mm)
    )
    ahead = after - before
    ahead /= np.linalg.norm(ahead, axis=1, keepdims=True) + 1e-12
    return places, np.column_stack([-ahead[:, 1], ahead[:, 0]])


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
