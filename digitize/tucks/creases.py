"""Creases: faint, straight, and often seen only in pieces.

A fold pressed flat again leaves two creases that start at one point and run to the paper's edge.
Near that point the two look like one, and further out they may fade before the edge.
"""

from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray
from shapely import LineString, Point, STRtree, distance
from shapely import points as points_of

from digitize.pencil import Curve, fair
from digitize.plane import cross, signed_angle
from digitize.tucks.thresholds import (
    CREASE_GAP_MM,
    CREASE_OVERLAP_MM,
    CREASE_TURN,
    CREASES_ASIDE_MM,
    FADED_MM,
    FAINT_SHARE,
    HOOK_POINTS,
    HOOK_WEIGHT,
    JOG_SIGMA_MM,
    JUNCTION_POINTS,
    LEAST_ONWARD_MM,
    LEAST_SLANT,
    LINE_END_MM,
    PALE,
    PARTNER_TURN,
    SHADED,
    STRAIGHT_SHARE,
    TRUNK_GAP_MM,
    TRUNK_POINTS,
    TRUNK_WIDER_MM,
)

Floats = NDArray[np.float64]
Faint = Callable[[Curve], bool]


def faint_among(curves: Sequence[Curve]) -> Faint:
    """What tells a mark so faint that it may be a crease on this paper."""
    usual = float(np.median([curve.weight for curve in curves])) if curves else 0.0

    def is_faint(curve: Curve) -> bool:
        return curve.weight < min(FAINT_SHARE * usual, SHADED * curve.width)

    return is_faint


def is_dark(curve: Curve) -> bool:
    """Whether a mark is too dark for any crease, on whatever paper."""
    return curve.weight > SHADED * curve.width


def is_shade(curve: Curve) -> bool:
    """Whether a mark is so pale that it can be no cut, on whatever paper."""
    return curve.weight < PALE * curve.width


def chained_creases(curves: Sequence[Curve], is_faint: Faint) -> list[tuple[Curve, Curve]]:
    """The curves, with faint straight pieces of one crease joined over the gaps between them.

    Each as a crease, without a hook at an end, and as what it is if it turns out to be none.
    """
    done: list[tuple[Curve, Curve]] = []
    pieces: list[tuple[Curve, Curve]] = []
    for curve in curves:
        straight = _straight_part(curve) if is_faint(curve) and not curve.closed else None
        (done if straight is None else pieces).append((straight or curve, curve))
    while True:
        joined = next(
            (
                (i, j, chain)
                for i, (a, _) in enumerate(pieces)
                for j, (b, _) in enumerate(pieces)
                if i != j and (chain := _one_crease(a, b)) is not None
            ),
            None,
        )
        if joined is None:
            return [*done, *pieces]
        i, j, chain = joined
        pieces = [piece for k, piece in enumerate(pieces) if k not in (i, j)] + [(chain, chain)]


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
            aside = abs(cross(unit, step))
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
    furthest = distance(chord, points_of(curve.points)).max()
    return bool(furthest < 0.5 + STRAIGHT_SHARE * curve.length)


def with_trunks(
    reaching: Sequence[Curve], curves: Sequence[Curve]
) -> tuple[list[Curve], list[Curve]]:
    """Marks that reach the edge, each with the stretches before it that were traced apart.

    And the curves that are none of those. Where a lap line and a line's end come close a cut is
    broken off; what goes straight on is the cut.
    """
    grown, rest = list(reaching), list(curves)
    while True:
        found = [
            (turn, i, j)
            for i, main in enumerate(grown)
            for j, curve in enumerate(rest)
            if (turn := _turn_into(main, curve)) is not None
        ]
        if not found:
            return grown, rest
        _, i, j = min(found)
        grown[i] = _joined_on(turned_like(rest.pop(j), grown[i]), grown[i])


def _turn_into(main: Curve, curve: Curve) -> float | None:
    """The turn (radians) from a stretch that ends at a mark's tip into the mark; None if none.

    After a long one the mark may begin with a hook, drawn aside by a line that ends there.
    """
    if curve.closed or curve.width > main.width + TRUNK_WIDER_MM:
        return None
    begin = main.points[: HOOK_POINTS if len(curve.points) > TRUNK_POINTS else 1]
    apart = np.linalg.norm(begin[:, None] - curve.points[[0, -1]], axis=2)
    first, end = np.unravel_index(int(np.argmin(apart)), apart.shape)
    if apart[first, end] > TRUNK_GAP_MM:
        return None
    near = curve.points if end == 1 else curve.points[::-1]
    before = near[-min(TRUNK_POINTS, len(near)) :]
    after = main.points[first : first + TRUNK_POINTS]
    turn = abs(signed_angle(before[-1] - before[0], after[-1] - after[0]))
    return turn if turn < PARTNER_TURN else None


def fades_to_edge(
    points: Floats,
    ring: LineString,
    tree: STRtree,
    paths: Sequence[LineString],
    is_open: Callable[[int, Point], bool],
) -> bool:
    """Whether a crease that ends at ``points[-1]`` would reach the paper's edge unhindered.

    Lines may end on the way, at the fold, or be open there; they may not cross it.

    Parameters
    ----------
    is_open : whether the line of an index was traced across bare paper at a place.
    """
    run = points[-1] - points[-min(30, len(points))]
    ahead = run / (np.linalg.norm(run) + 1e-12)
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
        crosses = min(crossing.distance(end) for end in ends) > LINE_END_MM
        if crosses and not is_open(int(index), crossing.centroid):
            return False
    return True


def turned_like(curve: Curve, other: Curve) -> Curve:
    """The curve, running the way the other does."""
    if direction(curve) @ direction(other) > 0:
        return curve
    return curve.reversed()


def from_common_tip(main: Curve, second: Curve) -> Curve:
    """The main mark begun where the second does: near the tip the two look like one.

    Where they part, either may have been drawn towards the other; there it is taken to run fairly
    on from what both have in common to where it stands clear, straight if the whole is.
    """
    start = int(np.argmin(np.linalg.norm(second.points - main.points[0], axis=1)))
    if start == 0:
        return main
    common = second.points[: max(start - JUNCTION_POINTS, 1)]
    clear = main.points[min(JUNCTION_POINTS, len(main.points) // 2) :]
    tip, near = common[0], clear[:TRUNK_POINTS]
    ahead = near[-1] - tip
    reach = float(np.linalg.norm(ahead))
    ahead /= reach
    away = np.concatenate([common, near]) - tip
    if np.abs(cross(away, ahead)).max() < CREASES_ASIDE_MM:
        first = tip + ahead * np.arange(0.0, reach - 0.3)[:, None]
        return replace(main, points=np.concatenate([first, clear[len(near) :]]))
    return replace(main, points=np.concatenate([common, _bridge(common, clear), clear]))


def _bridge(before: Floats, after: Floats) -> Floats:
    """Points 1 mm apart from one run to the next, the way each goes (a cubic Hermite curve)."""
    first, last = before[-1], after[0]
    apart = float(np.linalg.norm(last - first))
    t = np.arange(1.0, apart - 0.5)[:, None] / (apart + 1e-9)
    onward = after[min(JUNCTION_POINTS, len(after) - 1)] - last
    onward = onward / (np.linalg.norm(onward) + 1e-9)
    led = first - before[max(len(before) - JUNCTION_POINTS, 0)]
    length = float(np.linalg.norm(led))
    led = led / length if length > 0.0 else 2 * (last - first) / (apart + 1e-9) - onward
    return np.asarray(
        (2 * t**3 - 3 * t**2 + 1) * first
        + (t**3 - 2 * t**2 + t) * apart * led
        + (3 * t**2 - 2 * t**3) * last
        + (t**3 - t**2) * apart * onward
    )


def without_jogs(main: Curve) -> Curve:
    """A tuck's mark without the jogs where it was put together, or another mark drew it aside.

    It is cut or folded in one go, so it only runs on, and fairly; its ends, where it meets other
    marks and the paper's edge, tell the least of its course.
    """
    ahead = direction(main) / np.linalg.norm(direction(main))
    along = main.points @ ahead
    onward = along >= np.maximum.accumulate(np.append(-np.inf, along[:-1])) + LEAST_ONWARD_MM
    onward[0] = True
    points = main.points[onward]
    from_end = np.minimum(np.arange(len(points)), np.arange(len(points))[::-1])
    weights = np.where(from_end < HOOK_POINTS, HOOK_WEIGHT, 1.0)
    return replace(main, points=fair(points, max(main.sigma, JOG_SIGMA_MM), weights=weights).points)


def _joined_on(trunk: Curve, main: Curve) -> Curve:
    """The main mark with its trunk before it, without what both have of the way."""
    end = trunk.points[-1]
    before = trunk.points[-min(TRUNK_POINTS, len(trunk.points))]
    beyond = (main.points - end) @ (end - before) > 0
    return replace(main, points=np.concatenate([trunk.points, main.points[beyond]]))


def direction(curve: Curve) -> Floats:
    """(2,) from a curve's first point to its last, mm."""
    return np.asarray(curve.points[-1] - curve.points[0])
