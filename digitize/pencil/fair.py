"""Fair curves: the simplest that stays within what the points are sure of.

A line, an arc of a circle, or a cubic spline with as few knots as will do (P. Dierckx, Curve and
Surface Fitting with Splines, 1993, section 5: knots are added until the residuals' sum of squares
is what the points' own scatter would give). Points with far larger residuals are set aside.
"""

import itertools
import warnings
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import splev, splprep

from digitize.pencil.thresholds import (
    CHI_MARGIN,
    CORNER_TURN,
    FAIR_STEP_MM,
    FEWEST_FOR_SPLINE,
    HOPELESS,
    LEAST_SIGMA_MM,
    OUTLIER,
    OUTLIER_WEIGHT,
    SETTLED,
)
from digitize.plane import places_along, robust_sigma, running_length

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Piece:
    """A stretch of a curve by its points, mm.

    Attributes
    ----------
    points : of a line its two ends; of an arc its start, a point on it and its end; of a cubic its
        four Bezier control points.
    """

    kind: Literal["line", "arc", "cubic"]
    points: Floats


@dataclass(frozen=True)
class FairCurve:
    """A fair curve.

    Attributes
    ----------
    points : (N, 2) mm, about FAIR_STEP_MM apart.
    pieces : in order along it.
    sigma : standard deviation of its place, mm, as the points' scatter has it.
    """

    points: Floats
    pieces: tuple[Piece, ...]
    sigma: float


def scatter_of(values: Floats) -> float:
    """Standard deviation of evenly spaced values about a smooth course.

    From third differences, which a smooth course hardly moves: their variance is 20 times the
    values' (binomial coefficients 1, 3, 3, 1 squared and summed).
    """
    if len(values) < 6:
        return LEAST_SIGMA_MM
    third = np.diff(values, n=3, axis=0)
    return float(max(robust_sigma(third) / np.sqrt(20.0), LEAST_SIGMA_MM))


def fair(
    points: Floats, sigma: float, closed: bool = False, weights: Floats | None = None
) -> FairCurve:
    """The simplest curve through points (N, 2) in order, each good to sigma (mm) sideways.

    ``weights`` (N,), from 0 to 1, say which points are less sure: one of weight w to sigma / w.
    """
    along = running_length(points)
    keep = np.concatenate([[True], np.diff(along) > 1e-6])
    points, along = points[keep], along[keep]
    weights = np.ones(len(points)) if weights is None else weights[keep]
    if len(points) < 2 or along[-1] < 1e-6:
        return FairCurve(points, (), sigma)
    count = len(points)
    limit = sigma**2 * (count + CHI_MARGIN * np.sqrt(2.0 * count))
    if not closed:
        sure = points[weights > OUTLIER_WEIGHT]
        for simple, freedom in ((_line, 2), (_arc, 3)):
            found = simple(points, sure, limit)
            if found is not None:
                share = np.sqrt(min(freedom / count, 1.0))
                return FairCurve(found[0], (found[1],), float(sigma * share))
    if count < FEWEST_FOR_SPLINE:
        return _polyline(points, sigma)
    return _spline(points, along, sigma, closed, weights)


def _even(total: float) -> int:
    return max(round(total / FAIR_STEP_MM), 1)


def _line(points: Floats, sure: Floats, limit: float) -> tuple[Floats, Piece] | None:
    """Points along it and the piece, if its squared residuals sum to no more than the limit.

    By total least squares.
    """
    if len(sure) < 2:
        return None
    centre = sure.mean(axis=0)
    local = sure - centre
    values, axes = np.linalg.eigh(local.T @ local)
    if values[0] > limit:
        return None
    reach = (points[[0, -1]] - centre) @ axes[:, 1]
    ends = centre + reach[:, None] * axes[:, 1]
    share = np.linspace(0, 1, _even(float(np.ptp(reach))) + 1)[:, None]
    return ends[0] + share * (ends[1] - ends[0]), Piece("line", ends)


def _arc(points: Floats, sure: Floats, limit: float) -> tuple[Floats, Piece] | None:
    """The same for a circle: algebraic start (I. Kasa, 1976), then Gauss and Newton's descent."""
    if len(sure) < 4:
        return None
    centre = sure.mean(axis=0)
    x, y = local = np.ascontiguousarray((sure - centre).T)
    square = x * x + y * y
    solution = _least_squares(np.stack([2 * x, 2 * y, np.ones(len(x))]), square)
    if solution is None:
        return None
    middle, radius = solution[:2], float(np.sqrt(max(solution[2] + solution[:2] @ solution[:2], 0)))
    squares = np.inf
    for _ in range(10):
        away = local - middle[:, None]
        distance = np.hypot(*away)
        if distance.min() < 1e-6 or not np.isfinite(radius):
            return None
        miss = distance - radius
        before, squares = squares, float(miss @ miss)
        if squares > HOPELESS * limit or (squares > limit and squares > SETTLED * before):
            return None
        step = _least_squares(np.stack([*(away / distance), np.ones(len(x))]), miss)
        if step is None:
            return None
        middle, radius = middle + step[:2], radius + float(step[2])
        if np.abs(step).max() < 1e-5 * radius:
            break
    miss = np.hypot(*(local - middle[:, None])) - radius
    if miss @ miss > limit:
        return None
    ends = points - centre - middle
    angles = np.unwrap(np.arctan2(ends[:, 1], ends[:, 0]))
    length = abs(angles[-1] - angles[0]) * radius
    # An arc that bends less than its points scatter is a matter for the line or the spline.
    if not 0 < radius < 50 * length + 1e-9:
        return None
    turned = np.linspace(angles[0], angles[-1], _even(length) + 1)

    def at(angle: Floats) -> Floats:
        round_it = np.stack([np.cos(angle), np.sin(angle)], axis=-1)
        return np.asarray(centre + middle + radius * round_it)

    return at(turned), Piece("arc", at(np.linspace(angles[0], angles[-1], 3)))


def _least_squares(terms: Floats, wanted: Floats) -> Floats | None:
    """(M,) how much of each term (M, N) makes what is wanted (N,).

    By the normal equations: a few unknowns, called for every stroke.
    """
    try:
        return np.asarray(np.linalg.solve(terms @ terms.T, terms @ wanted))
    except np.linalg.LinAlgError:
        return None


def _polyline(points: Floats, sigma: float) -> FairCurve:
    pieces = tuple(Piece("line", points[i : i + 2]) for i in range(len(points) - 1))
    length = float(running_length(points)[-1])
    even = places_along(points, np.linspace(0, length, _even(length) + 1))
    return FairCurve(even, pieces, sigma)


def _spline(points: Floats, along: Floats, sigma: float, closed: bool, given: Floats) -> FairCurve:
    if closed:
        points = np.concatenate([points, points[:1]])
        along = np.append(along, along[-1] + np.linalg.norm(points[-1] - points[-2]) + 1e-6)
        given = np.append(given, given[0])
    weights = np.maximum(given, OUTLIER_WEIGHT / 2)
    for _ in range(2):
        smoothing = len(points) * sigma**2
        with warnings.catch_warnings():
            # Short of the last digits of the wanted sum of squares the curve is as good.
            warnings.simplefilter("ignore", RuntimeWarning)
            spline, _ = splprep(points.T, w=weights, u=along, s=smoothing, per=int(closed), k=3)
        away = np.linalg.norm(points - _on(spline, along), axis=1)
        far = away > OUTLIER * sigma / weights
        if not far.any():
            break
        weights = np.where(far, OUTLIER_WEIGHT / 2, weights)
    at = np.linspace(0, along[-1], _even(along[-1]) + 1)
    freedom = len(spline[0]) - 4
    share = np.sqrt(min(freedom / len(points), 1.0))
    return FairCurve(_on(spline, at), _beziers(spline, along[-1]), float(sigma * share))


Spline = tuple[Floats, list[Floats], int]  # knots, coefficients by axis, degree


def _on(spline: Spline, along: Floats, derivative: int = 0) -> Floats:
    """(N, 2) a spline's points so far along it, or a derivative."""
    return np.stack(splev(along, spline, der=derivative), axis=1)


def _beziers(spline: Spline, end: float) -> tuple[Piece, ...]:
    """The spline's polynomials as Bezier curves."""
    knots = np.unique(spline[0][(spline[0] >= -1e-9) & (spline[0] <= end + 1e-9)])
    places, slopes = _on(spline, knots), _on(spline, knots, 1)
    third = np.diff(knots)[:, None] / 3
    out, into = places[:-1] + slopes[:-1] * third, places[1:] - slopes[1:] * third
    return tuple(
        Piece("cubic", points) for points in np.stack([places[:-1], out, into, places[1:]], axis=1)
    )


def fair_pieces(points: Floats, tolerance: float, closed: bool = False) -> FairCurve:
    """The fewest pieces that keep to a smooth polyline (N, 2) within about a tolerance (mm).

    Corners of the polyline stay corners, and its ends where they are.
    """
    if closed:
        points = np.concatenate([points, points[:1]])
    turns = _turns(points)
    corners = [0, *(int(i) for i in np.flatnonzero(turns > CORNER_TURN) + 1), len(points) - 1]
    smooth_ring = closed and len(corners) == 2
    pieces: list[Piece] = []
    places: list[Floats] = []
    for a, b in itertools.pairwise(corners):
        stretch = points[a:b] if smooth_ring else points[a : b + 1]
        found = fair(stretch, tolerance, smooth_ring)
        if found.pieces and not smooth_ring:
            found = _pinned(_pinned(found, 0, stretch[0]), -1, stretch[-1])
        pieces += found.pieces
        places.append(found.points[1:] if places else found.points)
    whole = np.concatenate(places)
    return FairCurve(whole[:-1] if closed else whole, tuple(pieces), tolerance)


def _pinned(curve: FairCurve, end: int, place: Floats) -> FairCurve:
    """The curve with one end put on a place; an arc would change all along, and stays."""
    piece = curve.pieces[end]
    if piece.kind == "arc":
        return curve
    by = place - piece.points[end]
    moved = piece.points.copy()
    moved[end] = place
    pieces = list(curve.pieces)
    pieces[end] = replace(piece, points=moved)
    # So a Bezier curve's places move with its first control point.
    away = np.linalg.norm(curve.points - curve.points[end], axis=1)
    reach = float(np.linalg.norm(piece.points[-1] - piece.points[0])) + 1e-9
    share = np.maximum(1 - away / reach, 0.0) ** (1 if piece.kind == "line" else 3)
    return FairCurve(curve.points + share[:, None] * by, tuple(pieces), curve.sigma)


def _turns(points: Floats) -> Floats:
    step = np.diff(points, axis=0)
    heading = np.arctan2(step[:, 1], step[:, 0])
    return np.asarray(np.abs((np.diff(heading) + np.pi) % (2 * np.pi) - np.pi))
