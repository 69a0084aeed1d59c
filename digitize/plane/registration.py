"""Marks laid on marks: the best rigid fit of points along lines, and growth if that is asked for.

Points along the lines are brought time and again onto the nearest stretches of the other's lines of
the same kind (Y. Chen and G. Medioni, "Object modelling by registration of multiple range images",
Image and Vision Computing 10, 1992: the distance square to a stretch counts, so that lines may
slide along each other). Each point weighs by its sigma, and one that stays far off pulls no harder
for it (P. J. Huber, "Robust estimation of a location parameter", Annals of Mathematical Statistics
35, 1964), so that where most lines agree, those that differ hardly count.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from digitize.plane.scatter import robust_sigma
from digitize.plane.turns import cross, rigid_fit, rotation

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Nearest = Callable[[Floats, Ints], tuple[Floats, Ints]]
STEP_MM = 2.0
TOGETHER_MM = 20.0  # errors along a pencil line hang together over about this length
COARSE = 5  # every so many points in the search for a start
TURNS = 36
COARSE_ROUNDS, ROUNDS = 12, 60
FAR_MM = 25.0
LEAST_TURN, LEAST_STEP_MM = 1e-8, 1e-5
HUBER = 1.345  # 95 % as good as least squares where errors are normal
EVEN = 0.03  # the share of plain least squares, which settles what is off alike all round
GROWTH_SIGMA = 0.005  # paper grows by up to about 1 %; common practice, no source


@dataclass(frozen=True)
class Marks:
    """Points (N, 2) along lines, about STEP_MM apart, mm.

    Attributes
    ----------
    normals : (N, 2), square to the line.
    sigma : (N,), mm, across the line.
    kinds : (N,), points are laid on those of the same kind only.
    lines : (N,), which line each belongs to, as they were given.
    """

    points: Floats
    normals: Floats
    sigma: Floats
    kinds: Ints
    lines: Ints

    @property
    def tangents(self) -> Floats:
        """Unit vectors (N, 2) along the lines."""
        return np.column_stack([self.normals[:, 1], -self.normals[:, 0]])


@dataclass(frozen=True)
class Placement:
    """How points (N, 2) in mm come to lie on the other pattern: matrix @ point + shift.

    ``covariance`` is that of a further turn (radians) and shift (mm) about ``middle``, and of three
    strains (x, y, shear) if growth was fitted.
    """

    matrix: Floats
    shift: Floats
    middle: Floats
    covariance: Floats

    def __call__(self, points: Floats) -> Floats:
        """Points (N, 2), laid on the other pattern."""
        return np.asarray(points @ self.matrix.T + self.shift)

    def variance(self, points: Floats, normals: Floats) -> Floats:
        """The fit's variance (N,) at points on the other pattern, along normals, mm^2."""
        moves = _moves(points - self.middle, normals, len(self.covariance) > 3)
        return np.asarray(np.einsum("ni,ij,nj->n", moves, self.covariance, moves))


def laid_on(source: Marks, target: Marks, growing: bool = False) -> Placement:
    """How marks come to lie best on others; ``growing`` lets them stretch as well.

    The search for a start takes every turn into account; nothing is mirrored.
    """
    nearest = nearest_in(target)
    matrix, shift = _start(source, target, nearest)
    placement = Placement(matrix, shift, source.points.mean(axis=0), np.zeros((3, 3)))
    placement = _settled(placement, source, target, nearest, False)
    return _settled(placement, source, target, nearest, True) if growing else placement


def nearest_in(target: Marks) -> Nearest:
    """Distances (N,) to the nearest target of the same kind, and which; infinite if none is."""
    trees = {int(k): np.flatnonzero(target.kinds == k) for k in np.unique(target.kinds)}
    searched = {kind: cKDTree(target.points[members]) for kind, members in trees.items()}

    def nearest(points: Floats, kinds: Ints) -> tuple[Floats, Ints]:
        distance, which = np.full(len(points), np.inf), np.zeros(len(points), np.int64)
        for kind, tree in searched.items():
            members = kinds == kind
            if members.any():
                distance[members], found = tree.query(points[members])
                which[members] = trees[kind][found]
        return distance, which

    return nearest


def _start(source: Marks, target: Marks, nearest: Nearest) -> tuple[Floats, Floats]:
    """The turn and shift from which all settles: of many turns, the one that ends nearest."""
    points, kinds = source.points[::COARSE], source.kinds[::COARSE]
    known = np.isin(kinds, target.kinds)
    points, kinds = points[known], kinds[known]
    middle, goal = source.points.mean(axis=0), target.points.mean(axis=0)
    best, least = (np.eye(2), goal - middle), np.inf
    if not len(points):
        return best
    size = float(np.linalg.norm(np.ptp(target.points, axis=0)))
    for turn in 2 * np.pi * np.arange(TURNS) / TURNS:
        matrix = rotation(turn)
        shift = goal - matrix @ middle
        for far in np.geomspace(size / 4, FAR_MM, COARSE_ROUNDS):
            moved = points @ matrix.T + shift
            distance, which = nearest(moved, kinds)
            kept = distance < far
            if kept.sum() < 10:
                break
            more, moved_by = rigid_fit(moved[kept], target.points[which[kept]])
            matrix, shift = rotation(more) @ matrix, rotation(more) @ shift + moved_by
        distance, _ = nearest(points @ matrix.T + shift, kinds)
        miss = float(np.minimum(distance, FAR_MM).mean())
        if miss < least:
            best, least = (matrix, shift), miss
    return best


def _settled(
    placement: Placement, source: Marks, target: Marks, nearest: Nearest, growing: bool
) -> Placement:
    """The placement brought to where robust, weighted least squares have it."""
    matrix, shift = placement.matrix, placement.shift
    count = 6 if growing else 3
    prior = np.zeros((count, count))
    if growing:
        prior[3:, 3:] = np.eye(3) * STEP_MM / TOGETHER_MM / GROWTH_SIGMA**2
    grown = np.zeros(count)
    middle, normal, spread = target.points.mean(axis=0), prior, 1.0
    for _ in range(ROUNDS):
        moved = source.points @ matrix.T + shift
        distance, which = nearest(moved, source.kinds)
        kept = distance < FAR_MM
        if kept.sum() < 10:
            break
        points, normals = moved[kept], target.normals[which[kept]]
        off = ((target.points[which[kept]] - points) * normals).sum(axis=1)
        sigma = np.hypot(source.sigma[kept], target.sigma[which[kept]])
        spread = max(robust_sigma(off / sigma), 1.0)
        weight = (1 / np.maximum(np.abs(off) / sigma / HUBER, 1.0) + EVEN) / sigma**2
        middle = points.mean(axis=0)
        moves = _moves(points - middle, normals, growing)
        normal = (moves * weight[:, None]).T @ moves + prior
        step = np.linalg.lstsq(normal, moves.T @ (weight * off) - prior @ grown, rcond=None)[0]
        change = rotation(float(step[0]))
        if growing:
            grown += step * (np.arange(count) >= 3)
            strain = np.array([[step[3], step[5]], [step[5], step[4]]])
            change = (np.eye(2) + strain) @ change
        matrix, shift = change @ matrix, change @ (shift - middle) + middle + step[1:3]
        if abs(step[0]) < LEAST_TURN and np.abs(step[1:3]).max() < LEAST_STEP_MM:
            break
    covariance = np.linalg.pinv(normal) * (spread**2 * TOGETHER_MM / STEP_MM)
    return Placement(matrix, shift, middle, np.asarray(covariance, np.float64))


def _moves(arms: Floats, normals: Floats, growing: bool) -> Floats:
    """(N, 3 or 6): how far points move along normals with a turn, a shift, and with strains."""
    turning = cross(arms, normals)
    parts = [turning, normals[:, 0], normals[:, 1]]
    if growing:
        parts += [arms[:, 0] * normals[:, 0], arms[:, 1] * normals[:, 1]]
        parts += [arms[:, 1] * normals[:, 0] + arms[:, 0] * normals[:, 1]]
    return np.column_stack(parts)
