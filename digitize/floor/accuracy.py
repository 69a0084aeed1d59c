"""How far a reading's points may be off, at 95 %."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from digitize.card.layout import RULE_MM
from digitize.floor.solve import FloorSolution

Floats = NDArray[np.float64]
RAYLEIGH_95 = 2.4477  # radius holding 95 % of a round two-dimensional normal scatter
RULE_READING_MM = 0.15  # reading a steel rule at both ends; common practice, no source
PAPER_LIFT_MM = 3.0  # curl that one photo cannot see; common practice, no source


@dataclass(frozen=True)
class Accuracy:
    """95 % radius at the worst point, mm, after the best rigid fit; and the parts it is made of.

    Attributes
    ----------
    cards_mm : corners, lens and poses, from the solution's covariance.
    print_mm : the cards' printed size, known as well as their rules can be read.
    flatness_mm : paper standing off the floor, seen at a slant.
    """

    total_mm: float
    cards_mm: float
    print_mm: float
    flatness_mm: float


def accuracy_over(solution: FloorSolution, points: Floats) -> Accuracy:
    """Carry the solution's covariance to floor points (N, 2), seen in the first photo.

    A record may be turned and shifted freely, so the rigid part of any error is taken out first.
    """
    pixels = solution.cameras[0].to_pixels(points)
    jacobian = np.empty((points.size, len(solution.parameters)))
    sigmas = np.sqrt(np.diag(solution.covariance))
    for column, sigma in enumerate(sigmas):
        step = max(sigma, 1e-9)
        ends = []
        for sign in (1, -1):
            moved = solution.parameters.copy()
            moved[column] += sign * step
            ends.append(solution.with_parameters(moved)[0].to_floor(pixels).ravel())
        jacobian[:, column] = (ends[0] - ends[1]) / (2 * step)
    centred = points - points.mean(axis=0)
    rigid = np.zeros((points.size, 3))
    rigid[0::2, 0] = rigid[1::2, 1] = 1
    rigid[0::2, 2], rigid[1::2, 2] = -centred[:, 1], centred[:, 0]
    basis, _ = np.linalg.qr(rigid)
    free = jacobian - basis @ (basis.T @ jacobian)
    spread = np.einsum("ij,jk,ik->i", free, solution.covariance, free).reshape(-1, 2)
    cards = RAYLEIGH_95 * float(np.sqrt(spread.sum(axis=1).max() / 2))
    reach = float(np.linalg.norm(centred, axis=1).max())
    printed = reach * RULE_READING_MM / RULE_MM
    foot = solution.cameras[0].foot()
    slant = float(np.linalg.norm(points - foot[:2], axis=1).max() / abs(foot[2]))
    flatness = PAPER_LIFT_MM * slant
    return Accuracy(float(np.hypot(np.hypot(cards, printed), flatness)), cards, printed, flatness)
