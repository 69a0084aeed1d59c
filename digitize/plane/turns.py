"""Turns in the plane, counter-clockwise positive, radians; and the best rigid fit of points."""

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


def cross(one: Floats, two: Floats) -> Floats:
    """(...,) the cross product of vectors (..., 2): positive where the second lies to the left."""
    return np.asarray(one[..., 0] * two[..., 1] - one[..., 1] * two[..., 0])


def signed_angle(one: Floats, two: Floats) -> float:
    """The turn from one vector (2,) to another, from -pi to pi."""
    return float(np.arctan2(one[0] * two[1] - one[1] * two[0], one @ two))


def rotation(turn: float) -> Floats:
    """(2, 2) the matrix that turns column vectors by ``turn``."""
    cos, sin = np.cos(turn), np.sin(turn)
    return np.array([[cos, -sin], [sin, cos]])


def rigid_fit(points: Floats, targets: Floats) -> tuple[float, Floats]:
    """The turn and shift (2,) that bring points (N, 2) onto targets with least squares.

    W. Kabsch, "A solution for the best rotation to relate two sets of vectors", Acta
    Crystallographica A32, 1976; in the plane the turn's angle has this closed form.
    """
    middle, goal = points.mean(axis=0), targets.mean(axis=0)
    a, b = points - middle, targets - goal
    turn = float(np.arctan2(cross(a, b).sum(), (a * b).sum()))
    return turn, goal - rotation(turn) @ middle
