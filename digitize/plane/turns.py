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


def sharp_turns(ring: Floats, over_mm: float, least_deg: float, within: int) -> NDArray[np.int64]:
    """(M,) at which points of a ring (N, 2) in even steps it turns sharply.

    Parameters
    ----------
    over_mm : before a point and after it, as a chord of which the ring's way is taken.
    within : of several turns less than a ``within``th of that apart the sharpest alone counts.
    """
    step = float(np.median(np.hypot(*np.diff(ring, axis=0).T)))
    reach = max(round(over_mm / step), 1)
    before, after = ring - np.roll(ring, reach, 0), np.roll(ring, -reach, 0) - ring
    turn = np.degrees(np.abs(np.arctan2(cross(before, after), (before * after).sum(axis=1))))
    near = range(-reach // within, reach // within + 1)
    sharpest = np.max([np.roll(turn, shift) for shift in near], axis=0)
    return np.flatnonzero((turn > least_deg) & (turn == sharpest))


def rigid_fit(points: Floats, targets: Floats) -> tuple[float, Floats]:
    """The turn and shift (2,) that bring points (N, 2) onto targets with least squares.

    W. Kabsch, "A solution for the best rotation to relate two sets of vectors", Acta
    Crystallographica A32, 1976; in the plane the turn's angle has this closed form.
    """
    middle, goal = points.mean(axis=0), targets.mean(axis=0)
    a, b = points - middle, targets - goal
    turn = float(np.arctan2(cross(a, b).sum(), (a * b).sum()))
    return turn, goal - rotation(turn) @ middle
