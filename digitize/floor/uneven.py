"""How unevenly cards lie: sheets of paper on a floor are neither flat nor quite of one size.

A sheet stands off a floor by a millimetre or so, leans with it, bends as paper does (about one
direction, since it does not stretch) and grows with damp. What of that the corners carry is solved
for; the rest stays as doubt. How much there is of it in the photos at hand, against a usual amount,
is the multiple of that amount under which the corners' misses are most likely, once everything else
is solved for: a variance component, by restricted maximum likelihood (H. D. Patterson and
R. Thompson, "Recovery of inter-block information when block sizes are unequal", 1971). The corners
of one card are off together by their card's shape, so that forty of them are never taken for forty
that know nothing of each other.
"""

from functools import cache

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtri

from digitize.card import SHEETS_MM
from digitize.floor.problem import BEND_MM, HEIGHT_TERM, SHAPE_TERMS, Problem

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]
# Sigmas of a usual sheet on a usual floor; common practice, no source. The board in OpenCV's
# photographs, a sheet on a support, bends by just this curvature (tests/checks/test_cameras.py).
CURVATURE_PER_MM = 1e-4  # 1.1 mm of sag over an A4 sheet's length
STRETCH = 0.0003
HEIGHT_MM = 0.3  # of the floor itself, beside what the bend brings
TILT = 0.003
USUAL_SPREAD = 0.8  # sigma of the logarithm of the unevenness: 0.2 to 4.8 times the usual at 95 %
AMOUNTS = np.geomspace(0.03, 10, 60)  # times the usual amount
SCATTERS = np.geomspace(0.02, 2.0, 60)  # times the corners' variance with all cards flat
LEAST_CARRIED = 1e-6  # of a corner's scatter: what a usual shape must bring about to be looked at
CURVATURES, ANGLES = 40, 60  # steps of the mean over all bent sheets


@cache
def usual_shape() -> tuple[Floats, Floats]:
    """Mean (7,) and covariance (7, 7) of a card's stretch, height, tilt x, y and bend xx, xy, yy.

    A sheet bent by a curvature k about a direction at angle a has heights of
    k / 2 (x cos a + y sin a)^2 over its middle: a piece of a cylinder, with no Gaussian curvature.
    It lies on the floor with its lowest point. Mean and covariance are taken over k from a normal
    distribution and all directions, so that a bend says how high the card's middle stands.
    """
    # Nodes of equal weight in the normal distribution's area, and in angle.
    areas = (np.arange(CURVATURES) + 0.5) / CURVATURES
    curvature, angle = np.meshgrid(
        CURVATURE_PER_MM * ndtri(areas), np.pi * np.arange(ANGLES) / ANGLES
    )
    k, a = curvature.ravel(), angle.ravel()
    bends = k[:, None] / 2 * np.stack([np.cos(a) ** 2, np.sin(2 * a), np.sin(a) ** 2], axis=1)
    half_width, half_height = np.array(SHEETS_MM["a4"]) / 2
    reach = half_width * np.abs(np.cos(a)) + half_height * np.abs(np.sin(a))
    shapes = np.zeros((len(k), SHAPE_TERMS))
    shapes[:, HEIGHT_TERM] = np.maximum(-k, 0) / 2 * reach**2
    shapes[:, 4:] = bends * BEND_MM**2
    others = np.array([STRETCH, HEIGHT_MM, TILT, TILT, 0.0, 0.0, 0.0])
    return shapes.mean(axis=0), np.cov(shapes.T, bias=True) + np.diag(others**2)


def shape_prior(unevenness: float) -> tuple[Floats, Floats]:
    """A card's shape (7,) and the root of the information on it (7, 7), by its unevenness."""
    mean, covariance = usual_shape()
    information = np.linalg.inv(covariance * unevenness**2)
    return mean * unevenness, np.linalg.cholesky(information).T


def unevenness_of(problem: Problem, parameters: Floats, sigma_px: float, kept: Flags) -> float:
    """How uneven the cards are, as a multiple of the usual: the most likely one.

    Parameters
    ----------
    parameters : (P,) the solution with all cards flat.
    sigma_px, kept : the corners' scatter there, and which residuals (M,) are no outliers.
    """
    misses, slopes = problem.misses_px(parameters)
    prior, prior_slopes = problem.prior_misses(parameters)
    shapes = np.concatenate([np.r_[problem.shape_at(card)] for card in range(problem.cards)])
    mean, covariance = usual_shape()
    root = np.linalg.cholesky(covariance)
    factor = np.kron(np.eye(problem.cards), root)
    some = slopes[kept]
    known = np.concatenate([some[:, problem.free] / sigma_px, prior_slopes[:, problem.free]])
    known = known / np.linalg.norm(known, axis=0)
    free = known[: len(some)]
    uneven = some[:, shapes] @ factor / sigma_px
    away = np.concatenate([misses[kept] / sigma_px, prior])
    # What is left of shapes and misses when everything else is free to make up for them.
    normal = known.T @ known
    made_up = np.linalg.solve(normal, np.column_stack([free.T @ uneven, known.T @ away]))
    asked = uneven.T @ uneven - (uneven.T @ free) @ made_up[:, :-1]
    pull = uneven.T @ away[: len(some)] - (uneven.T @ free) @ made_up[:, -1]
    left = float(away @ away - (known.T @ away) @ made_up[:, -1])
    strengths, axes = np.linalg.eigh(asked)
    carried = strengths > LEAST_CARRIED
    usual = axes.T @ np.tile(np.linalg.solve(root, mean), problem.cards)
    strengths, usual, pull = strengths[carried], usual[carried], (axes.T @ pull)[carried]
    rest = max(left - float((pull**2 / strengths).sum()), 0.0)
    freedom = int((known != 0).any(axis=1).sum()) - known.shape[1] - len(strengths)
    amounts, scatters = np.meshgrid(AMOUNTS, SCATTERS, indexing="ij")
    spread = scatters[..., None] + amounts[..., None] ** 2 * strengths
    over = (pull + amounts[..., None] * strengths * usual) ** 2 / strengths
    unlikely = (np.log(spread) + over / spread).sum(axis=-1)
    unlikely += freedom * np.log(scatters) + rest / scatters
    unlikely += (np.log(amounts) / USUAL_SPREAD) ** 2
    # At the scatter that suits each amount best.
    return float(AMOUNTS[np.argmin(unlikely.min(axis=1))])
