"""The band along an edge: places on its normals."""

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


def outward(points: Floats) -> Floats:
    """(N, 2) normals of a counter-clockwise ring, away from what it encloses."""
    tangent = np.roll(points, -2, 0) - np.roll(points, 2, 0)
    tangent /= np.linalg.norm(tangent, axis=1, keepdims=True) + 1e-9
    return np.stack([tangent[:, 1], -tangent[:, 0]], axis=1)


def places_across(points: Floats, along: Floats) -> Floats:
    """(N, M, 2) places on the normals of a ring's points, so far outward (M,), mm."""
    return np.asarray(points[:, None] + outward(points)[:, None] * along[None, :, None])
