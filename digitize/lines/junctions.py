"""Where lines meet: corners, where two become one, and tees, where a stem ends on a bar."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree
from shapely import LineString, Point, STRtree, line_locate_point
from shapely import points as points_of

from digitize.pencil import Curve

Floats = NDArray[np.float64]
CORNER_REACH_MM = 3.0
LEAST_CORNER = np.radians(25.0)
AT_BREAK_MM = 2.5
TEE_SHORT_MM, TEE_OVER_MM = 2.5, 3.0
BAR_SHORT_MM = 0.9  # further from a tuck an end is a lap away, not short


def meet_at_tees(curves: Sequence[Curve], bars: Sequence[Curve]) -> tuple[Curve, ...]:
    """The curves, with each end that stops just short of or just past another mark put on it.

    Where one pencil mark runs into another its own end cannot be seen.

    Parameters
    ----------
    bars : tucks, which an end may stop at too.
    """
    paths = [LineString(curve.points) for curve in (*curves, *bars)]
    tree = STRtree(paths)
    met = []
    for index, curve in enumerate(curves):
        if not curve.closed and curve.length > 4 * TEE_OVER_MM:
            points = _on_bar(curve.points, index, tree, paths, len(bars))
            points = _on_bar(points[::-1], index, tree, paths, len(bars))[::-1]
            curve = replace(curve, points=points)
        met.append(curve)
    return tuple(met)


def _on_bar(
    points: Floats, own: int, tree: STRtree, paths: Sequence[LineString], bars: int
) -> Floats:
    """The points with their last end moved onto the bar it is nearest to, if there is one."""
    ahead = points[-1] - points[-1 - min(6, len(points) - 1)]
    ahead = ahead / (np.linalg.norm(ahead) + 1e-12)
    curves = len(paths) - bars
    path = LineString(np.concatenate([points, [points[-1] + TEE_SHORT_MM * ahead]]))
    length = path.length - TEE_SHORT_MM
    tail = LineString([path.interpolate(length - TEE_OVER_MM), *path.coords[-2:]])
    hits = []
    for index in tree.query(tail, predicate="intersects"):
        if int(index) != own:
            crossing = path.intersection(paths[int(index)])
            for point in getattr(crossing, "geoms", [crossing]):
                at = float(path.project(point)) if point.geom_type == "Point" else np.inf
                if at < length + (TEE_SHORT_MM if index < curves else BAR_SHORT_MM):
                    hits.append(at)
    hits = [at for at in hits if at > length - TEE_OVER_MM]
    if not hits:
        return points
    at = min(hits, key=lambda hit: abs(hit - length))
    along = line_locate_point(path, points_of(points[-8:]))
    kept = np.concatenate([points[:-8], points[-8:][along < at - 0.2]])
    return np.concatenate([kept, [path.interpolate(at).coords[0]]])


def meet_at_corners(curves: Sequence[Curve], breaks: Sequence[Curve] = ()) -> tuple[Curve, ...]:
    """Join curves whose ends meet, at a corner or in line, where nothing else ends or passes.

    Parameters
    ----------
    breaks : marks at which lines break for good: slits, lap lines and folds.
    """
    rest = list(curves)
    barriers = [LineString(curve.points) for curve in breaks]
    while True:
        pair = _corner_pair(rest, barriers)
        if pair is None:
            return tuple(rest)
        (i, i_last), (j, j_last) = pair
        a, b = rest[i], rest[j]
        if i == j:
            rest[i] = replace(a, closed=True)
            continue
        first = a if i_last else a.reversed()
        second = b.reversed() if j_last else b
        if _turn(a, i_last, b, j_last) < LEAST_CORNER:
            corner = (first.points[-1] + second.points[0]) / 2
        else:
            corner = _intersection(first.points[::-1], second.points)
        cut_a, cut_b = _up_to(first.points, corner), _up_to(second.points[::-1], corner)[::-1]
        points = np.concatenate([cut_a, corner[None], cut_b])
        share = first.length / (first.length + second.length)
        joined = replace(
            first,
            points=points,
            width=share * first.width + (1 - share) * second.width,
            weight=share * first.weight + (1 - share) * second.weight,
            rubbed=share * first.rubbed + (1 - share) * second.rubbed,
        )
        rest = [curve for k, curve in enumerate(rest) if k not in (i, j)] + [joined]


def _up_to(points: Floats, corner: Floats) -> Floats:
    """The curve without its last few points that lie past or right at the corner."""
    ahead = points[-1] - points[max(len(points) - 6, 0)]
    short_of_it = (points - corner) @ ahead < -0.3 * np.linalg.norm(ahead)
    far_from_it = np.arange(len(points)) < len(points) - 8
    return np.asarray(points[short_of_it | far_from_it])


def _intersection(a: Floats, b: Floats) -> Floats:
    """Where the straight continuations of two ends (both starting at the corner) meet."""
    reach_a, reach_b = min(15, len(a) - 1), min(15, len(b) - 1)
    # Right at the corner either mark's middle is drawn towards the other.
    base_a, base_b = a[min(4, reach_a)], b[min(4, reach_b)]
    da, db = base_a - a[reach_a], base_b - b[reach_b]
    matrix = np.column_stack([da, -db])
    middle = (a[0] + b[0]) / 2
    if abs(np.linalg.det(matrix)) < 0.2 * np.linalg.norm(da) * np.linalg.norm(db):
        return np.asarray(middle)
    t, _ = np.linalg.solve(matrix, base_b - base_a)
    corner = base_a + t * da
    return np.asarray(corner if np.linalg.norm(corner - middle) < 2 * CORNER_REACH_MM else middle)


def _turn(a: Curve, a_last: bool, b: Curve, b_last: bool) -> float:
    """How far a pen turns (radians) going out along the end of one curve and in along the other."""
    headings = []
    for curve, last in ((a, a_last), (b, b_last)):
        points = curve.points[::-1] if last else curve.points
        run = points[min(10, len(points) - 1)] - points[0]
        headings.append(run / np.linalg.norm(run))
    return float(np.pi - np.arccos(np.clip(headings[0] @ headings[1], -1, 1)))


def _corner_pair(
    curves: list[Curve], barriers: Sequence[LineString]
) -> tuple[tuple[int, bool], tuple[int, bool]] | None:
    ends = [
        (i, last)
        for i, c in enumerate(curves)
        if not c.closed and c.length > 15
        for last in (False, True)
    ]
    if len(ends) < 2:
        return None
    tips = np.array([curves[i].points[-1 if last else 0] for i, last in ends])
    tree = cKDTree(tips)
    everything = np.concatenate([c.points for c in curves])
    owner = np.concatenate([np.full(len(c.points), i) for i, c in enumerate(curves)])
    bodies = cKDTree(everything)
    for a, b in sorted(tree.query_pairs(CORNER_REACH_MM)):
        (i, i_last), (j, j_last) = ends[a], ends[b]
        if i == j and curves[i].length < 60:
            continue
        middle = (tips[a] + tips[b]) / 2
        near = set(owner[bodies.query_ball_point(middle, CORNER_REACH_MM)].tolist())
        if any(barrier.distance(Point(*middle)) < AT_BREAK_MM for barrier in barriers):
            continue
        # Only these two ends here, and neither runs on past the other: that would be a tee.
        if near <= {i, j} and len(tree.query_ball_point(middle, CORNER_REACH_MM)) == 2:
            return (i, i_last), (j, j_last)
    return None
