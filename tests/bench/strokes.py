"""Found lines against drawn ones: place, completeness, wholeness, curvature."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from tests.bench.compare import NEAR_MM, STEP_MM, nearest_line, sampled

Floats = NDArray[np.float64]
FALSE_MM = 20.0
CHORD_MM = 6.0  # curvature is that of the circle through points so far apart
COVERED, TOUCHED, JOINED = 0.8, 0.1, 0.75


@dataclass(frozen=True)
class LineScores:
    """Sums over lines, so that scores of several pictures add up.

    Attributes
    ----------
    true_mm, found_mm : lengths.
    recalled, precise : mm within 0.5 mm and within 0.3 mm.
    squares, matched : of distances (mm squared) over matched samples, and how many.
    bends, bent : squares of curvature errors (1/mm squared), and how many.
    lines, whole, pieces : drawn lines; those with one found line each; found lines on drawn ones.
    false_lines : found lines longer than FALSE_MM of which most is on no drawn line.
    pictures : how many.
    """

    true_mm: float = 0.0
    found_mm: float = 0.0
    recalled: tuple[float, float] = (0.0, 0.0)
    precise: tuple[float, float] = (0.0, 0.0)
    squares: float = 0.0
    matched: int = 0
    bends: float = 0.0
    bent: int = 0
    lines: int = 0
    whole: int = 0
    pieces: int = 0
    false_lines: int = 0
    pictures: int = 0

    def __add__(self, other: "LineScores") -> "LineScores":
        sums = {}
        for name, value in vars(self).items():
            more = getattr(other, name)
            if isinstance(value, tuple):
                sums[name] = tuple(a + b for a, b in zip(value, more, strict=True))
            else:
                sums[name] = value + more
        return LineScores(**sums)

    @property
    def recall(self) -> tuple[float, float]:
        return self.recalled[0] / self.true_mm, self.recalled[1] / self.true_mm

    @property
    def precision(self) -> tuple[float, float]:
        whole = max(self.found_mm, 1e-9)
        return self.precise[0] / whole, self.precise[1] / whole

    @property
    def placement_mm(self) -> float:
        return float(np.sqrt(self.squares / max(self.matched, 1)))

    @property
    def curvature_per_m(self) -> float:
        return 1000 * float(np.sqrt(self.bends / max(self.bent, 1)))

    @property
    def whole_share(self) -> float:
        return self.whole / max(self.lines, 1)

    @property
    def pieces_per_line(self) -> float:
        return self.pieces / max(self.lines, 1)


def score_lines(found: Sequence[Floats], true: Sequence[Floats]) -> LineScores:
    """Compare polylines (N, 2) in one frame, mm; the closed ones with their first point again."""
    true_parts, found_parts = [sampled(line) for line in true], [sampled(line) for line in found]
    true_points = np.concatenate(true_parts)
    if not found:
        return LineScores(true_mm=STEP_MM * len(true_points), lines=len(true), pictures=1)
    found_points = np.concatenate(found_parts)
    found_owner = np.repeat(np.arange(len(found)), [len(part) for part in found_parts])
    back, _ = nearest_line(true_points, found)
    away, on_true = nearest_line(found_points, true)
    # How much of each drawn line each found one covers, and the other way about.
    share = np.array(
        [[float((_distance(part, line) < NEAR_MM).mean()) for line in found] for part in true_parts]
    )
    own_share = np.zeros((len(found), len(true)))
    close = away < NEAR_MM
    np.add.at(own_share, (found_owner[close], on_true[close]), 1)
    own_share /= np.bincount(found_owner, minlength=len(found))[:, None]
    # A found line is that drawn one's on which most of it lies.
    home = np.where(own_share.max(axis=1) > 0.5, own_share.argmax(axis=1), -1)
    lengths = np.array([STEP_MM * len(part) for part in found_parts])
    false = (own_share.sum(axis=1) < 0.5) & (lengths > FALSE_MM)
    whole = sum(_is_whole(line, share, home) for line in range(len(true)))
    bends = [
        _bend_errors(part, true[int(np.argmax(own_share[k]))])
        for k, part in enumerate(found_parts)
        if own_share[k].max() > 0.5
    ]
    errors = np.concatenate(bends) if bends else np.zeros(0)
    return LineScores(
        true_mm=STEP_MM * len(true_points),
        found_mm=STEP_MM * len(found_points),
        recalled=(STEP_MM * float((back < 0.5).sum()), STEP_MM * float((back < 0.3).sum())),
        precise=(STEP_MM * float((away < 0.5).sum()), STEP_MM * float((away < 0.3).sum())),
        squares=float((away[close] ** 2).sum()),
        matched=int(close.sum()),
        bends=float((errors**2).sum()),
        bent=len(errors),
        lines=len(true),
        whole=whole,
        pieces=int(sum((home == line).sum() for line in range(len(true)))),
        false_lines=int(false.sum()),
        pictures=1,
    )


def _is_whole(line: int, share: Floats, home: NDArray[np.int64]) -> bool:
    """Whether a drawn line has one found line, which is no other's too.

    ``share`` (lines, found) is how much of each drawn line lies within NEAR_MM of each found one.
    """
    own = [k for k in np.flatnonzero(home == line) if share[line, k] > TOUCHED]
    if len(own) != 1 or share[line, own[0]] < COVERED:
        return False
    return bool((np.delete(share[:, own[0]], line) < JOINED).all())


def _distance(points: Floats, line: Floats) -> Floats:
    """(N,) distance from points to one polyline, mm; infinite beyond its bounding box."""
    low, high = line.min(axis=0) - NEAR_MM, line.max(axis=0) + NEAR_MM
    inside = ((points > low) & (points < high)).all(axis=1)
    distance = np.full(len(points), np.inf)
    if inside.any():
        distance[inside] = nearest_line(points[inside], [line])[0]
    return distance


def _bend_errors(found: Floats, true: Floats) -> Floats:
    """Curvature of a found line less that of the drawn one, away from ends and corners."""
    reach = round(CHORD_MM / STEP_MM)
    if len(found) <= 2 * reach:
        return np.zeros(0)
    dense = sampled(true)
    if len(dense) <= 2 * reach:
        return np.zeros(0)
    true_bend = _curvature(dense, reach)
    distance, index = cKDTree(dense).query(found[reach:-reach])
    inside = (distance < NEAR_MM) & (index >= reach) & (index < len(dense) - reach)
    own = _curvature(found, reach)
    # The two may run opposite ways.
    ahead = found[2 * reach :] - found[: -2 * reach]
    at = np.clip(index, reach, len(dense) - reach - 1)
    other = dense[at + reach] - dense[at - reach]
    sign = np.sign((ahead * other).sum(axis=1))
    wanted = sign * true_bend[at - reach]
    smooth = np.abs(wanted) < 0.08  # a corner is no bend
    return np.asarray((own - wanted)[inside & smooth])


def _curvature(points: Floats, reach: int) -> Floats:
    """One over the radius of the circle through points ``reach`` steps apart (Menger)."""
    a, b, c = points[: -2 * reach], points[reach:-reach], points[2 * reach :]
    ab, bc, ca = b - a, c - b, a - c
    area = ab[:, 0] * bc[:, 1] - ab[:, 1] * bc[:, 0]
    sides = [np.linalg.norm(side, axis=1) for side in (ab, bc, ca)]
    return np.asarray(2 * area / np.maximum(sides[0] * sides[1] * sides[2], 1e-9))
