"""How far points on the floor may be off, at 95 %: the solution's covariance carried to them.

A record may be turned and shifted freely, so the rigid part of an error is taken out first, as
the best fit over a set of reference points takes it out.
"""

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray
from shapely import LineString, Polygon
from skimage.measure import find_contours

from digitize.card import RULE_MM
from digitize.floor.camera import project_with_slopes
from digitize.floor.solve import FloorSolution

Floats = NDArray[np.float64]
Whole = NDArray[np.int64]
NORMAL_95 = 1.95996  # sigmas on either side that hold 95 % of a normal scatter
RULE_READING_MM = 0.15  # 95 %: reading a steel rule at both ends; common practice, no source
CONTOUR_LEVELS_MM = 0.1, 0.2, 0.3, 0.5, 0.8, 1.0, 1.5, 2.0, 3.0, 5.0, 8.0
CONTOUR_STEPS = 40
PAPER_LIFT_MM = 3.0  # curl that one photo cannot see; common practice, no source
HELD_FLAT_MM = 0.5  # 95 %: what weights or pins all round leave; common practice, no source
DIRECTIONS, NEWTON_STEPS = 256, 6  # that give the radius of a scatter to twelve digits


@dataclass(frozen=True)
class Accuracy:
    """95 % radius at each of some points (N,), mm, and the parts that it is made of.

    Attributes
    ----------
    cards_mm : corners, lens and poses, from the solution's covariance.
    print_mm : the cards' printed size, known as well as their rules can be read.
    flatness_mm : paper standing off the floor, seen at a slant.
    """

    cards_mm: Floats
    print_mm: Floats
    flatness_mm: Floats

    @property
    def total_mm(self) -> Floats:
        """(N,) all parts together."""
        return np.asarray(np.sqrt(self.cards_mm**2 + self.print_mm**2 + self.flatness_mm**2))


@dataclass(frozen=True)
class Contour:
    """A line along which points are within ``mm`` (95 %): (N, 2) in mm."""

    mm: float
    points: Floats


def accuracy_contours(
    accuracy: Callable[[Floats], Accuracy], outline: Floats
) -> tuple[Contour, ...]:
    """Lines of equal accuracy over the paper, from a function that gives it at points (N, 2)."""
    low, high = outline.min(axis=0), outline.max(axis=0)
    step = float(max(high - low)) / CONTOUR_STEPS
    x, y = (np.arange(low[axis] - step, high[axis] + 2 * step, step) for axis in (0, 1))
    grid = np.stack(np.meshgrid(x, y), axis=-1)
    total = accuracy(grid.reshape(-1, 2)).total_mm.reshape(len(y), len(x))
    paper = Polygon(outline).buffer(0)
    contours = []
    for level in CONTOUR_LEVELS_MM:
        for line in find_contours(total, level):
            points = np.stack([x[0] + line[:, 1] * step, y[0] + line[:, 0] * step], axis=1)
            inside = LineString(points).intersection(paper)
            for part in getattr(inside, "geoms", [inside]):
                if part.geom_type == "LineString" and part.length > 2 * step:
                    contours.append(Contour(level, np.array(part.coords)))
    return tuple(contours)


def accuracy_at(
    solution: FloorSolution,
    points: Floats,
    seen_by: Whole,
    reference: Floats,
    reference_seen_by: Whole,
    lift_mm: Floats | float = PAPER_LIFT_MM,
    print_relative: float = RULE_READING_MM / RULE_MM,
) -> Accuracy:
    """How far floor points may be off.

    Parameters
    ----------
    points, seen_by : (N, 2) mm, and which photo each was read from (N,).
    reference, reference_seen_by : the points over which the record is fitted, likewise.
    lift_mm : how far the paper may stand off where it is taken to be, 95 %.
    print_relative : how far the cards' size may be off, 95 %, as a share.
    """
    spread = spread_at(solution, points, seen_by, reference, reference_seen_by)
    reach = np.linalg.norm(points - reference.mean(axis=0), axis=1)
    slant = np.empty(len(points))
    for photo, camera in enumerate(solution.cameras):
        foot, some = camera.foot(), seen_by == photo
        slant[some] = np.linalg.norm(points[some] - foot[:2], axis=1) / abs(foot[2])
    return Accuracy(radius_95(spread), reach * print_relative, slant * lift_mm)


def spread_at(
    solution: FloorSolution,
    points: Floats,
    seen_by: Whole,
    reference: Floats,
    reference_seen_by: Whole,
) -> Floats:
    """(N, 2, 2) covariance of floor points, mm², after the best rigid fit over the reference."""
    slopes = point_slopes(solution, points, seen_by)
    middle = reference.mean(axis=0)
    rigid = np.linalg.pinv(_rigid(reference - middle)) @ point_slopes(
        solution, reference, reference_seen_by
    )
    free = (slopes - _rigid(points - middle) @ rigid).reshape(len(points), 2, -1)
    return np.asarray(free @ solution.fit.covariance @ free.transpose(0, 2, 1))


def point_slopes(solution: FloorSolution, points: Floats, seen_by: Whole) -> Floats:
    """(2N, P) how floor points seen at fixed pixels move with the solution's parameters."""
    problem = solution.fit.problem
    slopes = np.zeros((len(points), 2, len(solution.fit.parameters)))
    for photo, camera in enumerate(solution.cameras):
        some = np.flatnonzero(seen_by == photo)
        solid = np.column_stack([points[some], np.zeros(len(some))])
        _, by_lens, by_pose, by_point = project_with_slopes(camera, solid)
        back = -np.linalg.inv(by_point[:, :, :2])
        slopes[some, :, problem.lens_at(problem.lens_of[photo])] = back @ by_lens
        slopes[some, :, problem.pose_at(photo)] = back @ by_pose
    return slopes.reshape(2 * len(points), -1)


def _rigid(arms: Floats) -> Floats:
    """(2N, 3) how points move with a shift in x, in y, and a turn about the middle."""
    rigid = np.zeros((2 * len(arms), 3))
    rigid[0::2, 0] = rigid[1::2, 1] = 1
    rigid[0::2, 2], rigid[1::2, 2] = -arms[:, 1], arms[:, 0]
    return rigid


def radius_95(covariance: Floats) -> Floats:
    """(N,) radius of the circle that holds 95 % of a normal scatter of covariance (N, 2, 2).

    Between 1.96 sigma, where all of it lies along a line, and 2.448 sigma where it is round.
    """
    values = np.clip(np.linalg.eigvalsh(covariance), 0, None)
    large = np.sqrt(values[:, 1])
    flat = np.sqrt(values[:, 0]) / np.where(large > 0, large, 1)
    ratios, radii = _radii()
    return np.asarray(large * np.interp(flat, ratios, radii))


@cache
def _radii() -> tuple[Floats, Floats]:
    """The 95 % radius, in the larger sigma, by the ratio of the sigmas.

    Rayleigh's share along each direction, over all directions: what is summed comes round to where
    it began, so that steps of equal width are as good as any other (the trapezoidal rule). The
    radius by Newton's method, from that of a round scatter.
    """
    ratios = np.linspace(0.05, 1, 20)
    angles = (np.arange(DIRECTIONS) + 0.5) * np.pi / 2 / DIRECTIONS
    rate = np.cos(angles) ** 2 + np.sin(angles) ** 2 / ratios[:, None] ** 2
    radii = np.full(len(ratios), np.sqrt(-2 * np.log(0.05)))
    for _ in range(NEWTON_STEPS):
        beyond = np.exp(-(radii[:, None] ** 2) * rate / 2)
        held = ((1 - beyond) / rate).mean(axis=1) / ratios
        radii -= (held - 0.95) / (radii * beyond.mean(axis=1) / ratios)
    return np.append(0.0, ratios), np.append(NORMAL_95, radii)
