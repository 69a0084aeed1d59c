"""One read pattern against its truth: placement, completeness, roles, laps, zones."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree
from shapely import LineString, Polygon

from digitize.record import Pattern
from tests.bench.take_up import Fit, rms, tuck_scores

Floats = NDArray[np.float64]
STEP_MM = 0.5
DENSE_MM = 0.05
NEAR_MM = 1.0
START_MM, NARROWER, SETTLED_MM = 10.0, 0.93, 1e-3
TURN_STEP_DEG, MOST_STARTS, STRIDE = 2, 9, 5


@dataclass(frozen=True)
class Scores:
    """How a reading compares with its truth; lengths in mm, shares from 0 to 1."""

    placement_rms_mm: float
    placement_95_mm: float
    recall: float
    precision: float
    wrong_roles: int
    wrong_role_share: float
    tucks_true: int
    tucks_found: int
    tucks_false: int
    slits_missed: int
    lap_rms_mm: float
    lap_worst_mm: float
    deficit_worst_deg: float
    zone_overlap: float
    stated_accuracy_mm: float


def sampled(points: Floats, closed: bool = False) -> Floats:
    """(N, 2) points every STEP_MM along a polyline."""
    path = LineString([*points, points[0]] if closed else points)
    count = max(int(path.length / STEP_MM), 1)
    return np.array(
        [path.interpolate(i / count, normalized=True).coords[0] for i in range(count + 1)]
    )


def rigid(source: Floats, target: Floats) -> tuple[Floats, Floats]:
    """Rotation (2, 2) and shift (2,) that best carry points onto their twins (Kabsch, 1976)."""
    centre_a, centre_b = source.mean(axis=0), target.mean(axis=0)
    u, _, vt = np.linalg.svd((source - centre_a).T @ (target - centre_b))
    flip = np.diag([1.0, np.sign(np.linalg.det(vt.T @ u.T))])
    rotation = vt.T @ flip @ u.T
    return rotation, centre_b - rotation @ centre_a


def rigid_fit(source: Floats, target: Floats, rounds: int = 200) -> tuple[Floats, Floats]:
    """Rotation (2, 2) and shift (2,) that carry source points onto the target curve's points.

    Twins count within a reach that narrows as they settle: round a circle all but a few points fit
    at any turn, and those few are far off at first.
    """
    rotation, shift = np.eye(2), np.zeros(2)
    tree = cKDTree(target)
    for turn in range(rounds):
        moved = source @ rotation.T + shift
        distance, index = tree.query(moved)
        kept = distance < max(3 * np.median(distance), NEAR_MM, START_MM * NARROWER**turn)
        rotation, shift = rigid(source[kept], target[index[kept]])
        if np.abs(source @ rotation.T + shift - moved).max() < SETTLED_MM:
            break
    return rotation, shift


def laid_on(found: Pattern, truth: Pattern) -> Fit:
    """Carries points of a reading onto its truth: the best rigid fit of its lines, no scaling.

    First the outlines and slits alone, as a lap line may be taken for its slit; in more than one
    way, as a round panel with even tucks nearly fits in several.
    """
    middle_found, middle_true = _outline(found).mean(axis=0), _outline(truth).mean(axis=0)
    frame, frame_true = _frame(found)[::STRIDE] - middle_found, _frame(truth) - middle_true
    lines, lines_true = _lines(found) - middle_found, _lines(truth) - middle_true
    near_frame, near_lines = cKDTree(frame_true), cKDTree(lines_true)

    def miss(tree: cKDTree, points: Floats) -> float:
        return float(np.minimum(tree.query(points)[0], START_MM).mean())

    turns = [_turned(turn) for turn in range(0, 360, TURN_STEP_DEG)]
    misses = np.array([miss(near_frame, frame @ turn.T) for turn in turns])
    valleys = (misses <= np.roll(misses, 1)) & (misses <= np.roll(misses, -1))
    starts = np.flatnonzero(valleys)[np.argsort(misses[valleys])][:MOST_STARTS]
    fits = []
    for start in starts:
        turned, moved = turns[start], np.zeros(2)
        for source, target in ((frame, frame_true), (lines[::STRIDE], lines_true)):
            rotation, shift = rigid_fit(source @ turned.T + moved, target)
            turned, moved = rotation @ turned, rotation @ moved + shift
        fits.append((miss(near_lines, lines[::STRIDE] @ turned.T + moved), turned, moved))
    _, turned, moved = min(fits, key=lambda fit: fit[0])
    rotation, shift = rigid_fit(lines @ turned.T + moved, lines_true)
    turned, moved = rotation @ turned, rotation @ moved + shift

    def fitted(points: object) -> Floats:
        return (np.array(points) - middle_found) @ turned.T + moved + middle_true

    return fitted


def _outline(pattern: Pattern) -> Floats:
    return sampled(np.array(pattern.outline), True)


def _frame(pattern: Pattern) -> Floats:
    slits = [sampled(np.array(pattern.line(tuck.slit).points)) for tuck in pattern.tucks]
    return np.concatenate([_outline(pattern), *slits])


def _lines(pattern: Pattern) -> Floats:
    return np.concatenate([sampled(np.array(line.points), line.closed) for line in pattern.lines])


def _turned(turn_deg: float) -> Floats:
    """(2, 2) rotation by an angle."""
    c, s = np.cos(np.radians(turn_deg)), np.sin(np.radians(turn_deg))
    return np.array([[c, -s], [s, c]])


def compare(found: Pattern, truth: Pattern) -> Scores:
    """Compare a reading with its truth, laid on it."""
    fitted = laid_on(found, truth)
    pieces = [sampled(fitted(line.points), line.closed) for line in found.lines]
    true_points = np.concatenate(
        [sampled(np.array(line.points), line.closed) for line in truth.lines]
    )
    found_points = np.concatenate(pieces)
    away, nearest = nearest_line(found_points, [np.array(line.points) for line in truth.lines])
    matched = away < NEAR_MM
    back, _ = nearest_line(true_points, [fitted(line.points) for line in found.lines])
    roles = [line.role for line in truth.lines]
    wrong, wrong_length, start = 0, 0, 0
    for line, piece in zip(found.lines, pieces, strict=True):
        part = slice(start, start + len(piece))
        start += len(piece)
        hits = matched[part]
        if hits.sum() < 0.5 * len(piece):
            continue
        names = np.array([roles[index] for index in nearest[part][hits]])
        if (names == line.role).mean() < 0.5:
            wrong += 1
            wrong_length += len(piece)
    tucks = tuck_scores(found, truth, fitted)
    laps = [error for error, _ in tucks.laps]
    return Scores(
        placement_rms_mm=float(np.sqrt((away[matched] ** 2).mean())),
        placement_95_mm=float(np.percentile(away[matched], 95)),
        recall=float((back < NEAR_MM).mean()),
        precision=float(matched.mean()),
        wrong_roles=wrong,
        wrong_role_share=wrong_length / len(found_points),
        zone_overlap=_zone_overlap(found, truth, fitted),
        stated_accuracy_mm=found.scale.accuracy_mm if found.scale else float("nan"),
        tucks_true=tucks.true,
        tucks_found=len(tucks.tips),
        tucks_false=tucks.false,
        slits_missed=tucks.slits_missed,
        lap_rms_mm=rms(laps),
        lap_worst_mm=max(map(abs, laps), default=float("nan")),
        deficit_worst_deg=max(map(abs, tucks.deficits), default=float("nan")),
    )


def nearest_line(points: Floats, lines: Sequence[Floats]) -> tuple[Floats, NDArray[np.int64]]:
    """Distance to the nearest of some polylines, and which it is."""
    dense, owner = [], []
    for index, line in enumerate(lines):
        step = np.concatenate([[0], np.cumsum(np.linalg.norm(np.diff(line, axis=0), axis=1))])
        along = np.arange(0, step[-1] + DENSE_MM, DENSE_MM)
        dense.append(np.column_stack([np.interp(along, step, line[:, axis]) for axis in (0, 1)]))
        owner.append(np.full(len(along), index))
    distance, index = cKDTree(np.concatenate(dense)).query(points)
    return np.asarray(distance), np.concatenate(owner)[index]


def _zone_overlap(found: Pattern, truth: Pattern, fitted: Fit) -> float:
    """Intersection over union of all zones' areas."""

    def area(shapes: list[Polygon]) -> Polygon:
        total = Polygon()
        for shape in shapes:
            total = total.union(shape.buffer(0))
        return total

    a = area([Polygon(fitted(zone.boundary)) for zone in found.zones])
    b = area([Polygon(zone.boundary) for zone in truth.zones])
    union = a.union(b).area
    return float(a.intersection(b).area / union) if union else 1.0
