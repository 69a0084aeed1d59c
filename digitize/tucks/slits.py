"""Which marks are tucks: cuts and creases that run in from the paper's edge, and their lap lines.

A slit reaches the paper's edge, and so does the lap line drawn along the flap that lay over it;
both start at the slit's tip. The cut is the darker of the two. A fold shows two creases from one
tip. What tells a lap line from a second crease is where the crossing lines go on: at the lap line
itself, or, past the second crease, as far again (a fold takes up paper twice: under and back).
"""

import itertools
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree
from shapely import LineString, Point, STRtree

from digitize.pattern import TuckKind
from digitize.pencil.curves import Curve

Floats = NDArray[np.float64]
EDGE_MM = 4.0
SHORTEST_MM = 12.0
TOUCH_MM = 2.5
WIDEST_LAP_MM = 45.0
FOLD_AGREES_MM = 1.5
CUT_MIN_PIECE_MM = 8.0
LEAST_TURN = np.radians(25.0)


@dataclass(frozen=True)
class TuckMarks:
    """A tuck as it shows on the paper.

    Attributes
    ----------
    main : the cut, or the crease that stays in sight, from tip to edge.
    second : its lap line, or the hidden crease; None if there is none.
    """

    kind: TuckKind
    main: Curve
    second: Curve | None


@dataclass(frozen=True)
class LineEnd:
    """The end of a crossing line near a tuck.

    Attributes
    ----------
    depth : mm along the tuck from its tip.
    side : +1 if the line lies to the tuck's left, seen from the tip, else -1.
    across : mm from the tuck to the line's end, measured to that side.
    """

    depth: float
    side: float
    across: float
    point: tuple[float, float]


def find_tucks(
    curves: Sequence[Curve], outline: Floats
) -> tuple[tuple[TuckMarks, ...], tuple[Curve, ...]]:
    """The tucks, and all curves that are no part of one (cut where they ran across a tuck)."""
    edge = cKDTree(_dense(outline))
    reaching = [_from_tip(curve, edge) for curve in curves]
    candidates = [curve for curve in reaching if curve is not None]
    rest = [curve for curve, found in zip(curves, reaching, strict=True) if found is None]
    tucks: list[TuckMarks] = []
    for group in _converging(candidates):
        members = sorted(group, key=lambda curve: -curve.weight)
        main, second = members[0], members[1] if len(members) > 1 else None
        near = cut_at(rest, [curve for curve in (main, second) if curve is not None])
        marks = _judged(main, second, near)
        if marks is None:
            rest += members
        else:
            tucks.append(marks)
            rest += members[2:]
    barriers = [c for marks in tucks for c in (marks.main, marks.second) if c is not None]
    tucks.sort(key=lambda marks: _clock(marks.main.points[0], outline))
    return tuple(tucks), tuple(cut_at(rest, barriers))


def _clock(tip: Floats, outline: Floats) -> float:
    """Order of the tucks along the outline, which starts at its lowest left point."""
    start = int(np.argmin(outline.sum(axis=1)))
    ring = np.roll(outline, -start, axis=0)
    return float(np.argmin(np.linalg.norm(ring - tip, axis=1)))


def _dense(ring: Floats) -> Floats:
    closed = np.concatenate([ring, ring[:1]])
    line = LineString(closed)
    return np.array([line.interpolate(d).coords[0] for d in np.arange(0, line.length, 1.0)])


def _from_tip(curve: Curve, edge: cKDTree) -> Curve | None:
    """The curve turned to run from its tip to the paper's edge, or None if it does not."""
    if curve.closed or curve.length < SHORTEST_MM or curve.corners:
        return None
    first, last = edge.query(curve.points[[0, -1]])[0]
    if last < EDGE_MM < first:
        return curve
    if first < EDGE_MM < last:
        return replace(curve, points=curve.points[::-1], darkness=curve.darkness[::-1])
    return None


def _converging(curves: Sequence[Curve]) -> list[list[Curve]]:
    """Groups of curves that start at one tip; a lap line starts somewhere along its slit."""
    left = sorted(curves, key=lambda curve: -curve.length)
    groups: list[list[Curve]] = []
    for curve in left:
        start, toward = curve.points[0], _direction(curve)
        for group in groups:
            line = LineString(group[0].points)
            if line.distance(Point(*start)) < TOUCH_MM and abs(
                _angle(toward, _direction(group[0]))
            ) < np.radians(35):
                group.append(curve)
                break
        else:
            groups.append([curve])
    return groups


def _direction(curve: Curve) -> Floats:
    return np.asarray(curve.points[-1] - curve.points[0])


def _angle(a: Floats, b: Floats) -> float:
    return float(np.arctan2(a[0] * b[1] - a[1] * b[0], a @ b))


def cut_at(curves: Sequence[Curve], barriers: Sequence[Curve]) -> list[Curve]:
    """The curves cut wherever they run across a barrier; short scraps between are dropped."""
    lines = [LineString(barrier.points) for barrier in barriers]
    pieces: list[Curve] = []
    for curve in curves:
        path = LineString(curve.points)
        cuts = set()
        for line in lines:
            crossing = path.intersection(line)
            for point in getattr(crossing, "geoms", [crossing]):
                if point.geom_type == "Point" and not point.is_empty:
                    distance = path.project(point)
                    if _turn_between(path, line, distance, point) > LEAST_TURN:
                        cuts.add(float(distance))
        stops = sorted(cuts)
        if not stops:
            pieces.append(curve)
            continue
        bounds = [0.0, *stops, path.length]
        parts = [
            _part(curve, path, a, b)
            for a, b in itertools.pairwise(bounds)
            if b - a >= CUT_MIN_PIECE_MM
        ]
        if curve.closed and len(parts) > 1:
            joined = np.concatenate([parts[-1].points, parts[0].points[1:]])
            parts = [_with_points(parts[0], joined), *parts[1:-1]]
        pieces += parts
    return pieces


def _turn_between(path: LineString, line: LineString, distance: float, point: Point) -> float:
    at = line.project(point)

    def heading(of: LineString, where: float) -> Floats:
        ends = of.interpolate(max(where - 2, 0)), of.interpolate(where + 2)
        return np.array(ends[1].coords[0]) - np.array(ends[0].coords[0])

    turn = abs(_angle(heading(path, distance), heading(line, at)))
    return min(turn, np.pi - turn)


def _part(curve: Curve, path: LineString, start: float, stop: float) -> Curve:
    along = np.concatenate([[0], np.cumsum(np.linalg.norm(np.diff(curve.points, axis=0), axis=1))])
    inside = (along > start + 0.2) & (along < stop - 0.2)
    first, last = path.interpolate(start).coords[0], path.interpolate(stop).coords[0]
    points = np.concatenate([[first], curve.points[inside], [last]])
    darkness = np.interp(np.linspace(start, stop, len(points)), along, curve.darkness)
    offset = int(np.argmax(inside)) - 1
    corners = tuple(c - offset for c in curve.corners if inside[c])
    return replace(curve, points=points, darkness=darkness, closed=False, corners=corners)


def _with_points(curve: Curve, points: Floats) -> Curve:
    darkness = np.resize(curve.darkness, len(points))
    return replace(curve, points=points, darkness=darkness, closed=False)


def line_ends(main: Curve, curves: Sequence[Curve]) -> tuple[LineEnd, ...]:
    """Ends of curves that run up to a tuck across it, with their places relative to it."""
    path = LineString(main.points)
    found = []
    for curve in curves:
        for tip, inner in (
            (curve.points[0], curve.points[:8]),
            (curve.points[-1], curve.points[-8:]),
        ):
            depth = float(path.project(Point(*tip)))
            if depth < 3.0 or depth > path.length - 0.5:
                continue
            foot = np.array(path.interpolate(depth).coords[0])
            ahead = np.array(path.interpolate(depth + 1).coords[0]) - np.array(
                path.interpolate(depth - 1).coords[0]
            )
            across = _angle_sign(ahead, tip - foot) * float(np.linalg.norm(tip - foot))
            run = inner[-1] - inner[0]
            turn = abs(_angle(ahead, run))
            limit = min(WIDEST_LAP_MM, 0.35 * depth + 2.0)
            if abs(across) < limit and LEAST_TURN < turn < np.pi - LEAST_TURN:
                # The line must lie beyond its end, seen from the tuck.
                middle = curve.points[len(curve.points) // 2]
                side = _angle_sign(ahead, middle - foot)
                if side * across > 0 or abs(across) < TOUCH_MM:
                    found.append(
                        LineEnd(depth, side, side * across, (float(tip[0]), float(tip[1])))
                    )
    return tuple(found)


def _angle_sign(ahead: Floats, offset: Floats) -> float:
    return 1.0 if ahead[0] * offset[1] - ahead[1] * offset[0] >= 0 else -1.0


def gap_at(main: Curve, second: Curve, depth: float) -> float | None:
    """Distance (mm, positive to the left) from the main curve to the second, square to it."""
    path = LineString(main.points)
    foot = np.array(path.interpolate(depth).coords[0])
    ahead = np.array(path.interpolate(depth + 2).coords[0]) - np.array(
        path.interpolate(depth - 2).coords[0]
    )
    normal = np.array([-ahead[1], ahead[0]]) / np.linalg.norm(ahead)
    ray = LineString([foot - WIDEST_LAP_MM * normal, foot + WIDEST_LAP_MM * normal])
    hit = ray.intersection(LineString(second.points))
    if hit.is_empty:
        return None
    points = [np.array(p.coords[0]) for p in getattr(hit, "geoms", [hit])]
    return float(min(((p - foot) @ normal for p in points), key=abs))


def _judged(main: Curve, second: Curve | None, lines: Sequence[Curve]) -> TuckMarks | None:
    """A slit, a fold, or None where the marks are no tuck."""
    ends = line_ends(main, lines)
    if second is not None:
        for a, b in ((main, second), (second, main)):
            beyond = _beyond_second(a, b, line_ends(a, lines))
            if beyond:
                return TuckMarks("fold", a, b)
        return TuckMarks("slit", main, second)
    left = sum(end.side > 0 for end in ends)
    broken = 0 < left < len(ends)
    return TuckMarks("slit", main, None) if broken else None


def _beyond_second(main: Curve, second: Curve, ends: Sequence[LineEnd]) -> bool:
    """Whether lines on the second curve's side go on as far beyond it as it stands off the main."""
    votes = []
    for end in ends:
        gap = gap_at(main, second, end.depth)
        if gap is None or gap * end.side <= 0 or abs(gap) < FOLD_AGREES_MM:
            continue
        at_second = abs(end.across - abs(gap))
        at_twice = abs(end.across - 2 * abs(gap))
        votes.append(at_twice < at_second)
    return bool(votes) and sum(votes) * 2 > len(votes)


def nearest_lines(points: Floats, curves: Sequence[Curve]) -> Floats:
    """(N,) distance from each point to the nearest curve, mm; infinite if there is none."""
    if not curves:
        return np.full(len(points), np.inf)
    tree = STRtree([LineString(curve.points) for curve in curves])
    _, distance = tree.query_nearest(
        [Point(*p) for p in points], return_distance=True, all_matches=False
    )
    return np.asarray(distance)
