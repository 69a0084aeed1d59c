"""One read pattern against its truth: placement, completeness, roles, laps, zones."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree
from shapely import LineString, Polygon

from digitize.pattern import Pattern
from tests.bench.take_up import Fit, rms, tuck_scores

Floats = NDArray[np.float64]
STEP_MM = 0.5
DENSE_MM = 0.05
NEAR_MM = 1.0


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
    """Rotation (2, 2) and shift (2,) that carry source points onto the target curve's points."""
    rotation, shift = np.eye(2), np.zeros(2)
    tree = cKDTree(target)
    for _ in range(rounds):
        moved = source @ rotation.T + shift
        distance, index = tree.query(moved)
        kept = distance < max(3 * np.median(distance), NEAR_MM)
        before = shift
        rotation, shift = rigid(source[kept], target[index[kept]])
        moved_on = np.abs(shift - before).max()
        if moved_on < 1e-4:
            break
    return rotation, shift


def _start(found: Pattern, truth: Pattern) -> float:
    """The turn (radians) that lays one outline on the other, to within a step."""
    a, b = sampled(np.array(found.outline), True), sampled(np.array(truth.outline), True)
    tree = cKDTree(b - b.mean(axis=0))
    turns = np.radians(np.arange(0, 360, 3))

    def miss(turn: float) -> float:
        c, s = np.cos(turn), np.sin(turn)
        return float(tree.query((a - a.mean(axis=0))[::10] @ np.array([[c, s], [-s, c]]))[0].mean())

    return float(min(turns, key=miss))


def laid_on(found: Pattern, truth: Pattern) -> Fit:
    """Carries points of a reading onto its truth: the best rigid fit of its lines, no scaling."""
    turn = _start(found, truth)
    c, s = np.cos(turn), np.sin(turn)
    first = np.array([[c, -s], [s, c]])
    middle_found = sampled(np.array(found.outline), True).mean(axis=0)
    middle_true = sampled(np.array(truth.outline), True).mean(axis=0)

    def laid(points: object) -> Floats:
        return (np.array(points) - middle_found) @ first.T + middle_true

    rotation, shift = rigid_fit(
        np.concatenate([sampled(laid(line.points), line.closed) for line in found.lines]),
        np.concatenate([sampled(np.array(line.points), line.closed) for line in truth.lines]),
    )

    def fitted(points: object) -> Floats:
        return laid(points) @ rotation.T + shift

    return fitted


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
