"""One pattern laid on another: the best rigid fit of its lines."""

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from digitize.pattern import Pattern, Point

Floats = NDArray[np.float64]
STEP_MM = 2.0
TURN_STEP_DEG = 4
ROUNDS = 60
FAR_MM = 3.0
LEAST_TURN, LEAST_STEP_MM = 1e-7, 1e-4


def points_along(points: tuple[Point, ...], closed: bool = False) -> Floats:
    """(N, 2) points about STEP_MM apart along a polyline, mm."""
    path = np.array([*points, points[0]] if closed else points)
    along = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(path, axis=0), axis=1))])
    at = np.linspace(0, along[-1], max(round(along[-1] / STEP_MM), 1) + 1)
    return np.column_stack([np.interp(at, along, path[:, axis]) for axis in (0, 1)])


def laid_on(pattern: Pattern, other: Pattern) -> Callable[[Floats], Floats]:
    """Carries points (N, 2) of a pattern to where they lie on the other; no scaling, no mirror.

    Begun from the turn that lays one outline on the other, then the points of the lines are brought
    time and again onto the nearest stretches of the others (Y. Chen and G. Medioni, "Object
    modelling by registration of multiple range images", Image and Vision Computing 10, 1992: the
    distance square to a stretch counts, so that lines may slide along each other).
    """
    rotation, shift = _start(points_along(pattern.outline, True), points_along(other.outline, True))
    source, _ = _all_points(pattern)
    target, normals = _all_points(other)
    tree = cKDTree(target)
    for _ in range(ROUNDS):
        moved = source @ rotation.T + shift
        distance, nearest = tree.query(moved)
        kept = distance < max(3 * float(np.median(distance)), FAR_MM)
        points, normal = moved[kept], normals[nearest[kept]]
        off = ((target[nearest[kept]] - points) * normal).sum(axis=1)
        middle = points.mean(axis=0)
        arm = points - middle
        turning = arm[:, 0] * normal[:, 1] - arm[:, 1] * normal[:, 0]
        step, *_ = np.linalg.lstsq(np.column_stack([turning, normal]), off, rcond=None)
        cos, sin = np.cos(step[0]), np.sin(step[0])
        turn = np.array([[cos, -sin], [sin, cos]])
        rotation, shift = turn @ rotation, turn @ (shift - middle) + middle + step[1:]
        if abs(step[0]) < LEAST_TURN and np.abs(step[1:]).max() < LEAST_STEP_MM:
            break
    return lambda points: np.asarray(points @ rotation.T + shift)


def _all_points(pattern: Pattern) -> tuple[Floats, Floats]:
    """Points (N, 2) along the outline and all lines, and unit normals (N, 2) there."""
    parts = [points_along(line.points, line.closed) for line in pattern.lines]
    parts = [part for part in (points_along(pattern.outline, True), *parts) if len(part) > 1]
    tangents = [np.gradient(part, axis=0) for part in parts]
    normal = np.concatenate([np.column_stack([-t[:, 1], t[:, 0]]) for t in tangents])
    normal /= np.linalg.norm(normal, axis=1, keepdims=True) + 1e-12
    return np.concatenate(parts), normal


def _start(outline: Floats, other: Floats) -> tuple[Floats, Floats]:
    middle, target = outline.mean(axis=0), other.mean(axis=0)
    tree = cKDTree(other - target)
    best, least = np.eye(2), np.inf
    for turn in np.radians(np.arange(0, 360, TURN_STEP_DEG)):
        cos, sin = np.cos(turn), np.sin(turn)
        rotation = np.array([[cos, -sin], [sin, cos]])
        miss = float(tree.query((outline - middle)[::5] @ rotation.T)[0].mean())
        if miss < least:
            best, least = rotation, miss
    return best, target - best @ middle
