"""Where another card would help most: what its corners would add to the solution."""

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from digitize.card import card_layout
from digitize.floor.accuracy import radius_95, spread_at
from digitize.floor.camera import project_with_slopes
from digitize.floor.frame import Frame
from digitize.floor.problem import PLACE_TERMS, SHAPE_TERMS, lay
from digitize.floor.solve import FloorSolution

Floats = NDArray[np.float64]
BESIDE_MM = 170.0  # half a card's length and a hand's breadth
FEWEST_CORNERS = 12
NAMES = {
    (-1, 0): "left of the paper",
    (1, 0): "right of the paper",
    (0, 1): "above the paper",
    (0, -1): "below the paper",
    (-1, 1): "beyond the paper's upper left corner",
    (1, 1): "beyond the paper's upper right corner",
    (-1, -1): "beyond the paper's lower left corner",
    (1, -1): "beyond the paper's lower right corner",
}


def best_card_place(
    solution: FloorSolution, frame: Frame, outline: Floats, seen_by: NDArray[np.int64]
) -> tuple[str, float]:
    """Where a card more would bring most, in words, and what the cards' part would then be.

    Parameters
    ----------
    outline, seen_by : the paper's edge in the frame (N, 2), mm, and the photo of each point.

    Returns
    -------
    words : such as "left of the paper"; left is as the photo shows it.
    radius : 95 % at the outline's worst point, mm, from cards and lens alone.
    """
    low, high = outline.min(axis=0), outline.max(axis=0)
    middle, half = (low + high) / 2, (high - low) / 2 + BESIDE_MM
    floor = frame.to_floor(outline)
    foretold = []
    for side, words in NAMES.items():
        place = np.append(frame.to_floor((middle + half * side)[None])[0], 0.0)
        better = _with_card(solution, place)
        spread = spread_at(better, floor, seen_by, floor, seen_by)
        foretold.append((float(radius_95(spread).max()), words))
    radius, words = min(foretold)
    return words, radius


def _with_card(solution: FloorSolution, place: Floats) -> FloorSolution:
    """The solution as it would be with a card more, at a place (x, y, turn) on the floor."""
    fit, problem = solution.fit, solution.fit.problem
    terms = np.pad(place, (0, SHAPE_TERMS))
    # How corners move as the card shifts and turns, and as it lies unevenly where cards may.
    solid, by_terms = lay(card_layout("a4").corners_mm, terms)
    _, root = problem.shape_prior
    if not root.any():
        by_terms = by_terms[:, :, :PLACE_TERMS]
    rows, own = [], []
    for photo, camera in enumerate(solution.cameras):
        pixels, by_lens, by_pose, by_point = project_with_slopes(camera, solid)
        inside = ((pixels > 0) & (pixels < np.array(camera.size_px))).all(axis=1)
        if inside.sum() < FEWEST_CORNERS:
            continue
        slopes = np.zeros((int(inside.sum()), 2, len(fit.parameters)))
        slopes[:, :, problem.lens_at(problem.lens_of[photo])] = by_lens[inside]
        slopes[:, :, problem.pose_at(photo)] = by_pose[inside]
        rows.append(slopes.reshape(-1, len(fit.parameters))[:, problem.free])
        own.append((by_point @ by_terms)[inside].reshape(-1, by_terms.shape[2]))
    if not rows:
        return solution
    slopes, placed = np.concatenate(rows) / fit.sigma_px, np.concatenate(own) / fit.sigma_px
    if root.any():
        known = np.pad(root, ((0, 0), (PLACE_TERMS, 0)))
        slopes = np.concatenate([slopes, np.zeros((SHAPE_TERMS, slopes.shape[1]))])
        placed = np.concatenate([placed, known])
    basis, _ = np.linalg.qr(placed)
    slopes = slopes - basis @ (basis.T @ slopes)
    block = np.ix_(problem.free, problem.free)
    before = fit.covariance[block]
    # The Woodbury identity, since the covariance is at hand and not its inverse.
    triangle = np.linalg.qr(slopes)[1]
    inner = np.eye(len(triangle)) + triangle @ before @ triangle.T
    covariance = fit.covariance.copy()
    covariance[block] = before - before @ triangle.T @ np.linalg.solve(inner, triangle @ before)
    return replace(solution, fit=replace(fit, covariance=covariance))
