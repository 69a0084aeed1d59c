"""Where a line runs that only ticks stand across: the likeliest smooth course by their middles.

A hand sets ticks to either side of the line, and a light hand's are read in part, so that their
middles scatter by more than the line's own curves may be. How stiff the course is cannot be what a
fit leaves of their squares, then: a simpler curve through ten ticks stays within that and is a mm
off. It is taken from all rows of the paper together, as what makes their middles likeliest. A
tick that hardly shows is worth less than a plain one.
"""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr, stdtrit

from digitize.pencil.thresholds import (
    BEND_FACTOR,
    BENDS,
    COURSE_STEP_MM,
    ESTIMATE_TICKS,
    FREEDOM,
    MIDDLE_SIGMA_MM,
    ROUNDS,
    USUAL_BEND,
)
from digitize.plane import running_length

Floats = NDArray[np.float64]
UNIT_MM = 100.0  # of lengths along a row, within here
# Half as wide as the band that has 68 % of such values, as a standard deviation is of normal ones.
TO_SIGMA = float(stdtrit(FREEDOM, ndtr(1.0)))


def likely_courses(rows: Sequence[Floats], doubts: Sequence[Floats]) -> tuple[list[Floats], float]:
    """Each row's course (N, 2), mm, about 1 mm apart, and how ticks' middles scatter about it, mm.

    A course is a cubic smoothing spline along the row, which is a Gaussian process whose slope is
    a random walk (G. Wahba, "Improper priors, spline smoothing and the problem of guarding against
    model errors in regression", Journal of the Royal Statistical Society B 40, 1978). How it bends
    and how middles scatter have the highest restricted likelihood over all rows (D. A. Harville,
    Journal of the American Statistical Association 72, 1977); scatter is Student's, by weights (K.
    L. Lange, R. J. A. Little and J. M. G. Taylor, same journal, 84, 1989), so that a tick that was
    read in part moves little.

    Parameters
    ----------
    rows : (N, 2) ticks' middles, mm, two or more to a row.
    doubts : (N,) sigma, mm, to which each was read.
    """
    along = [running_length(row) / UNIT_MM for row in rows]
    aside = [_aside(row) for row in rows]
    read = [1 / (1 + (each / MIDDLE_SIGMA_MM) ** 2) for each in doubts]
    weights = list(read)
    # From what is usual, by which a tick far off is one, and no bend of a course at its end.
    bend, sigma = USUAL_BEND, MIDDLE_SIGMA_MM
    for _ in range(ROUNDS):
        for k, (t, y) in enumerate(zip(along, aside, strict=True)):
            smooth = _smoother(t, weights[k], bend, t)
            left = y - smooth @ y
            # A course's own variance at a tick, of which the smoother gives each tick its share.
            open_to = sigma**2 * np.diag(smooth) / weights[k]
            far = read[k] * (left**2 + open_to) / sigma**2
            weights[k] = read[k] * (FREEDOM + 1) / (FREEDOM + far)
        bend, sigma = _likeliest(along, aside, weights)
    courses = []
    for row, t, weight in zip(rows, along, weights, strict=True):
        count = max(round(float(t[-1]) * UNIT_MM / COURSE_STEP_MM), 1)
        courses.append(_smoother(t, weight, bend, np.linspace(0.0, t[-1], count + 1)) @ row)
    return courses, TO_SIGMA * sigma


def _aside(row: Floats) -> Floats:
    """(N,) mm to the left of the way from a row's first place to its last; of a round one, up."""
    ahead = row[-1] - row[0]
    long = float(np.linalg.norm(ahead))
    ahead = ahead / long if long > 0 else np.array([1.0, 0.0])
    return np.asarray(ahead[0] * (row - row[0])[:, 1] - ahead[1] * (row - row[0])[:, 0])


def _walked(one: Floats, other: Floats) -> Floats:
    """(N, M) covariance of places on a course whose slope is a random walk from nothing."""
    near = np.minimum(one[:, None], other)
    return np.asarray(near**3 / 3 + near**2 * np.abs(one[:, None] - other) / 2)


def _likeliest(
    along: Sequence[Floats], aside: Sequence[Floats], weights: Sequence[Floats]
) -> tuple[float, float]:
    """How courses bend over how middles scatter, and that scatter, mm: the likeliest."""
    # Two of each row say where it lies.
    free = sum(len(t) - 2 for t in along) + ESTIMATE_TICKS
    best = (np.inf, 0.0, 0.0)
    for bend in BENDS.tolist():
        volume, squares = 0.0, ESTIMATE_TICKS * MIDDLE_SIGMA_MM**2
        for t, y, weight in zip(along, aside, weights, strict=True):
            straight = np.stack([np.ones_like(t), t], axis=1)
            spread = np.diag(1 / weight) + bend**2 * _walked(t, t)
            solved = np.linalg.solve(spread, np.column_stack([straight, y]))
            inner = straight.T @ solved[:, :2]
            left = y - straight @ np.linalg.solve(inner, straight.T @ solved[:, 2])
            squares += float(left @ np.linalg.solve(spread, left))
            volume += float(np.linalg.slogdet(spread)[1] + np.linalg.slogdet(inner)[1])
        sigma = float(np.sqrt(squares / free))
        unusual = np.log(bend / USUAL_BEND) / np.log(BEND_FACTOR)
        # Of the likelihood, the logarithm of its inverse, doubled; the squares are as many sigmas'.
        doubt = volume + 2 * free * np.log(sigma) + unusual**2
        best = min(best, (doubt, bend, sigma))
    return best[1], best[2]


def _smoother(along: Floats, weights: Floats, bend: float, at: Floats) -> Floats:
    """(M, N) how much of each tick's place is in the course's at ``at`` (M,)."""
    straight = np.stack([np.ones_like(along), along], axis=1)
    spread = np.diag(1 / weights) + bend**2 * _walked(along, along)
    solved = np.linalg.solve(spread, np.column_stack([straight, np.eye(len(along))]))
    line = np.linalg.solve(straight.T @ solved[:, :2], straight.T @ solved[:, 2:])
    here = np.stack([np.ones_like(at), at], axis=1)
    return np.asarray(
        here @ line + bend**2 * _walked(at, along) @ (solved[:, 2:] - solved[:, :2] @ line)
    )
