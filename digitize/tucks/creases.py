"""Creases: faint, straight, and often seen only in pieces.

A fold pressed flat again leaves two creases that start at one point and run to the paper's edge.
Near that point the two look like one, and further out they may fade before the edge.
"""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray
from shapely import LineString, Point, STRtree

from digitize.pencil.curves import Curve

Floats = NDArray[np.float64]
FAINT_SHARE = 0.6  # of the usual weight of marks on this paper
STRAIGHT_SHARE = 0.02
HOOK_POINTS = 8  # a faint trace may run on a little way along a line it meets
CREASE_GAP_MM = 40.0
CREASE_OVERLAP_MM = 12.0
CREASE_TURN = np.radians(8.0)
PARTNER_TURN = np.radians(15.0)
SAME_TIP_MM = 4.0
TRUNK_GAP_MM = 4.0
FADED_MM = 90.0
LEAST_SLANT = 0.7  # sine between a crease and the edge it runs out to
LINE_END_MM = 3.0


def chained_creases(curves: Sequence[Curve], faint: float) -> list[Curve]:
    """The curves, with faint straight pieces of one crease joined over the gaps between them."""
    done: list[Curve] = []
    pieces: list[Curve] = []
    for curve in curves:
        straight = _straight_part(curve) if curve.weight < faint and not curve.closed else None
        (done if straight is None else pieces).append(straight or curve)
    while True:
        joined = next(
            (
                (i, j, chain)
                for i, a in enumerate(pieces)
                for j, b in enumerate(pieces)
                if i != j and (chain := _one_crease(a, b)) is not None
            ),
            None,
        )
        if joined is None:
            return [*done, *pieces]
        i, j, chain = joined
        pieces = [curve for k, curve in enumerate(pieces) if k not in (i, j)] + [chain]


def _one_crease(a: Curve, b: Curve) -> Curve | None:
    """The two as one if b goes on straight from a's end, over a gap or a short overlap."""
    for points in (b.points, b.points[::-1]):
        for first in (a.points, a.points[::-1]):
            step = points[0] - first[-1]
            ahead, after = first[-1] - first[0], points[-1] - points[0]
            gap = float(np.linalg.norm(step))
            if gap > CREASE_GAP_MM or abs(signed_angle(ahead, after)) > CREASE_TURN:
                continue
            unit = ahead / np.linalg.norm(ahead)
            aside = abs(unit[0] * step[1] - unit[1] * step[0])
            if unit @ step > -CREASE_OVERLAP_MM and aside < 1.0 + 0.06 * gap:
                beyond = points[(points - first[-1]) @ unit > 0]
                return replace(a, points=np.concatenate([first, beyond]))
    return None


def _straight_part(curve: Curve) -> Curve | None:
    """The curve if it is straight, or what is left of it without a hook at an end."""
    for first, last in ((0, 0), (0, HOOK_POINTS), (HOOK_POINTS, 0), (HOOK_POINTS, HOOK_POINTS)):
        part = replace(curve, points=curve.points[first : len(curve.points) - last])
        if len(part.points) > 2 * HOOK_POINTS and is_straight(part):
            return part
    return None


def is_straight(curve: Curve) -> bool:
    """Whether a curve keeps close to its chord, as a fold does."""
    chord = LineString(curve.points[[0, -1]])
    furthest = max(chord.distance(Point(*p)) for p in curve.points)
    return bool(furthest < 0.5 + STRAIGHT_SHARE * curve.length)


def partner_of(main: Curve, curves: Sequence[Curve], faint: float) -> Curve | None:
    """A faint straight mark from the same tip as a crease, which fades before the paper's edge."""
    for curve in curves:
        if curve.weight < faint and is_straight(curve):
            turn = abs(signed_angle(direction(curve), direction(main)))
            tip = LineString(curve.points).distance(Point(*main.points[0]))
            if min(turn, np.pi - turn) < PARTNER_TURN and tip < SAME_TIP_MM:
                return curve
    return None


def trunk_of(main: Curve, curves: Sequence[Curve]) -> Curve | None:
    """The first stretch of a tuck's mark, where a lap line beside it broke it off; or None."""
    for curve in curves:
        ends = np.linalg.norm(curve.points[[0, -1]] - main.points[0], axis=1)
        if curve.length < main.length and not curve.closed and ends.min() < TRUNK_GAP_MM:
            run = direction(curve) if ends[1] < ends[0] else -direction(curve)
            if abs(signed_angle(run, direction(main))) < PARTNER_TURN:
                return curve
    return None


def grown_from(main: Curve, trunk: Curve) -> Curve:
    """The main mark with its trunk before it."""
    points = turned_like(trunk, main).points
    return replace(main, points=np.concatenate([points, main.points]))


def fades_to_edge(
    points: Floats, ring: LineString, tree: STRtree, paths: Sequence[LineString]
) -> bool:
    """Whether a crease that ends at ``points[-1]`` would reach the paper's edge unhindered.

    Lines may end on the way, at the fold; they may not cross it.
    """
    run = points[-1] - points[-min(30, len(points))]
    ahead = run / np.linalg.norm(run)
    way = LineString([points[-1] + 1.5 * ahead, points[-1] + FADED_MM * ahead])
    hit = ring.intersection(way)
    if hit.is_empty:
        return False
    reach = min(Point(*points[-1]).distance(p) for p in getattr(hit, "geoms", [hit]))
    way = LineString([points[-1] + 1.5 * ahead, points[-1] + reach * ahead])
    foot = ring.interpolate(ring.project(Point(*way.coords[-1])) + 1.0)
    along_edge = np.subtract(foot.coords[0], way.coords[-1])
    if abs(np.sin(signed_angle(ahead, along_edge))) < LEAST_SLANT:
        return False
    for index in tree.query(way, predicate="intersects"):
        line = paths[int(index)]
        crossing = line.intersection(way)
        ends = [Point(*line.coords[0]), Point(*line.coords[-1])]
        if min(crossing.distance(end) for end in ends) > LINE_END_MM:
            return False
    return True


def turned_like(curve: Curve, other: Curve) -> Curve:
    """The curve, running the way the other does."""
    if direction(curve) @ direction(other) > 0:
        return curve
    return curve.reversed()


def carried_to_edge(curve: Curve, ring: LineString) -> Curve:
    """A crease carried straight on to the paper's edge: paper creases right through."""
    run = curve.points[-1] - curve.points[-min(30, len(curve.points))]
    ahead = run / np.linalg.norm(run)
    way = LineString([curve.points[-1], curve.points[-1] + FADED_MM * ahead])
    hit = ring.intersection(way)
    if hit.is_empty:
        return curve
    reach = min(Point(*curve.points[-1]).distance(p) for p in getattr(hit, "geoms", [hit]))
    further = curve.points[-1] + ahead * np.arange(1.0, reach)[:, None]
    return replace(curve, points=np.concatenate([curve.points, further]))


def from_common_tip(main: Curve, second: Curve) -> Curve:
    """The main crease begun where the second does: near the tip the two look like one."""
    start = int(np.argmin(np.linalg.norm(second.points - main.points[0], axis=1)))
    return replace(main, points=np.concatenate([second.points[:start], main.points]))


def direction(curve: Curve) -> Floats:
    """(2,) from a curve's first point to its last, mm."""
    return np.asarray(curve.points[-1] - curve.points[0])


def signed_angle(a: Floats, b: Floats) -> float:
    """The turn from a to b, radians, counter-clockwise positive."""
    return float(np.arctan2(a[0] * b[1] - a[1] * b[0], a @ b))
