"""Signs, which are notes and no lines: numbers in circles, and arrows."""

import itertools
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import binary_dilation, find_objects, label
from scipy.spatial import cKDTree
from shapely import LineString, Point, STRtree

from digitize.pencil.curves import Curve
from digitize.pencil.ridges import DarknessAt
from digitize.pencil.rings import circle_through
from digitize.pencil.thresholds import (
    ALIKE_ROUND,
    AT_TIP_MM,
    BARB_MM,
    BARB_SHARE,
    BARB_TURN,
    CLEAR_OF_SHAFT_MM,
    FEWEST_WITHIN,
    GOES_ON_TURN,
    HEAD_MM,
    HEAD_PLAIN,
    HEAD_POINTS,
    HEAD_SHARES,
    HEADING_POINTS,
    INK_CELL_MM,
    LEAST_ARC,
    LEAST_OUT_MM,
    LIKE_BARB,
    OF_RING,
    OFF_ROUND,
    ONE_WITHIN,
    OPEN,
    RING_MM,
    ROUND,
    SHAFT_MM,
    SIDE_SHARE,
    SIGN_FREE_MM,
    SIGN_LINE_MM,
    SIGN_STRAIGHT,
    STRAY_MM2,
    WELL_WITHIN,
)
from digitize.plane import cross, evenly, length_of, signed_angle

Floats = NDArray[np.float64]
# Where an arrow's head is looked for, mm: back from its tip, and aside of its shaft.
BACK_MM = np.arange(-HEAD_MM / 2, 2 * HEAD_MM, INK_CELL_MM)
ASIDE_MM = np.arange(-HEAD_MM, HEAD_MM + INK_CELL_MM / 2, INK_CELL_MM)


def signs_among(curves: Sequence[Curve], darkness_at: DarknessAt) -> NDArray[np.int64]:
    """Which marks are circles round numbers, what is within these, and arrows.

    Parameters
    ----------
    darkness_at : darkness of the paper at points (..., 2), mm.
    """
    found = {*_circled(curves, darkness_at), *_arrows(curves, darkness_at)}
    return np.array(sorted(found), int)


def _circled(curves: Sequence[Curve], darkness_at: DarknessAt) -> set[int]:
    """Circles with other marks within them, and those marks.

    A round hole has nothing within it, or a cross that marks its middle. A broad pen's small
    letters may not have been traced; they are dark all the same.
    """
    if not curves:
        return set()
    low = np.array([curve.points.min(axis=0) for curve in curves])
    high = np.array([curve.points.max(axis=0) for curve in curves])
    found: set[int] = set()
    for near in _arcs_together(curves, low, high):
        # Of a circle that is drawn in part twice the middle of its box is the truest one.
        middle = (low[near].min(axis=0) + high[near].max(axis=0)) / 2
        # Letters and barbs near a circle run across it.
        pieces = [k for k in near if _leans(curves[k].points, middle) < OFF_ROUND]
        if not pieces:
            continue
        points = np.concatenate([curves[k].points for k in pieces])
        middle = (low[pieces].min(axis=0) + high[pieces].max(axis=0)) / 2
        radius = np.linalg.norm(points - middle, axis=1)
        mean = float(radius.mean())
        if not RING_MM[0] <= mean <= RING_MM[1] or radius.std() > ROUND * mean:
            continue
        if _widest_gap(points - middle) > OPEN * 2 * np.pi:
            continue
        if _has_sides([curves[k].points for k in pieces], mean):
            continue
        inside = ((low > middle - mean) & (high < middle + mean)).all(axis=1)
        within = [
            k
            for k in np.flatnonzero(inside).tolist()
            if k not in pieces and np.linalg.norm(curves[k].points - middle, axis=1).max() < mean
        ]
        marks = [curves[k] for k in within]
        away = [np.linalg.norm(other.points - middle, axis=1) for other in curves]
        # A hand that goes on past where it began leaves a piece on the circle.
        again = [k for k, off in enumerate(away) if np.abs(off - mean).max() < ROUND * mean]
        others = [k for k in range(len(curves)) if k not in (*pieces, *within, *again)]
        if _goes_on([curves[k].points for k in pieces], [curves[k].points for k in others], mean):
            continue
        # Through a number in a circle runs no line.
        alone = all(away[k].min() > (1 - ROUND) * mean for k in others)
        number = alone and (
            sum(mark.length for mark in marks) > ONE_WITHIN * mean
            or _holds_ink(points, middle, mean, darkness_at)
        )
        if (len(within) >= FEWEST_WITHIN or number) and not _is_cross(marks, middle):
            found.update((*pieces, *within, *again))
    return found


def _arcs_together(curves: Sequence[Curve], low: Floats, high: Floats) -> list[list[int]]:
    """Marks one by one, and those that lie on one circle with a fair part of it.

    A hand's circle is no true one: the circle through one piece may miss the others, where that
    through two pieces that meet does not.

    Parameters
    ----------
    low, high : (N, 2) the corners of each mark's box, mm.
    """
    found: set[tuple[int, ...]] = {(k,) for k in range(len(curves))}
    some = [k for k, c in enumerate(curves) if c.length < 2 * np.pi * RING_MM[1]]
    ends = np.array([curves[k].points[[0, -1]] for k in some]).reshape(-1, 2)
    meeting = cKDTree(ends).query_pairs(AT_TIP_MM, output_type="ndarray") // 2 if some else ()
    pairs = {(some[one], some[two]) for one, two in np.sort(meeting).tolist() if one != two}
    for parts in (*((k,) for k in some), *sorted(pairs)):
        length = sum(curves[k].length for k in parts)
        if length <= LEAST_ARC * RING_MM[0]:
            continue
        circle = circle_through(np.concatenate([curves[k].points for k in parts]))
        if not RING_MM[0] <= circle.radius <= min(RING_MM[1], length / LEAST_ARC):
            continue
        middle, near = np.array(circle.middle), OF_RING * circle.radius
        reach = circle.radius + near
        about = ((low > middle - reach) & (high < middle + reach)).all(axis=1)
        off = {
            k: np.linalg.norm(curves[k].points - middle, axis=1) - circle.radius
            for k in np.flatnonzero(about).tolist()
        }
        pieces = tuple(k for k, away in off.items() if np.abs(away).max() < near)
        if len(pieces) > 1:
            found.add(pieces)
    return [list(pieces) for pieces in sorted(found)]


def _widest_gap(away: Floats) -> float:
    """The widest angle (radians) at a middle in which none of some places (N, 2) about it lies."""
    angle = np.sort(np.arctan2(away[:, 1], away[:, 0]))
    return float(np.diff(angle, append=angle[0] + 2 * np.pi).max())


def _leans(points: Floats, middle: Floats) -> float:
    """How far a mark (N, 2) leans at the mean from the way round a middle, radians."""
    step, out = np.diff(points, axis=0), (points[1:] + points[:-1]) / 2 - middle
    return float(np.arctan2(np.abs((step * out).sum(axis=1)), np.abs(cross(step, out))).mean())


def _goes_on(pieces: Sequence[Floats], others: Sequence[Floats], radius_mm: float) -> bool:
    """Whether a ring, in pieces (N, 2), goes on in other lines at both ends of one of its pieces.

    So a box's rounded side does, and no circle: at the line that leads to it a circle turns off.
    """
    ends = [line[::way] for line in others for way in (1, -1) if length_of(line) > radius_mm]
    if not ends:
        return False
    tree = cKDTree([line[0] for line in ends])

    def goes_on(piece: Floats) -> bool:
        near = tree.query_ball_point(piece[-1], AT_TIP_MM)
        out = piece[-1] - piece[max(len(piece) - 1 - HEADING_POINTS, 0)]
        on = [ends[k][min(HEADING_POINTS, len(ends[k]) - 1)] - ends[k][0] for k in near]
        return any(abs(signed_angle(out, way)) < GOES_ON_TURN for way in on)

    return any(goes_on(piece) and goes_on(piece[::-1]) for piece in pieces)


def _has_sides(pieces: Sequence[Floats], radius_mm: float) -> bool:
    """Whether most of a ring, in pieces (N, 2), is straight, as a box's is; no circle's is at all.

    A chord as long as the radius leaves a circle by an eighth of it, and an oval half as long again
    as it is wide by half of that.
    """
    count = max(round(radius_mm / INK_CELL_MM), 2)
    straight, whole = 0, 0
    for piece in pieces:
        points = evenly(piece, INK_CELL_MM)
        if len(points) <= count:  # too short to tell
            continue
        on = np.zeros(len(points), np.bool_)
        for first in range(len(points) - count):
            away = points[first : first + count + 1] - points[first]
            chord = away[-1] / (np.linalg.norm(away[-1]) + 1e-12)
            aside = np.abs(away[:, 0] * chord[1] - away[:, 1] * chord[0])
            if aside.max() < SIDE_SHARE * radius_mm:
                on[first : first + count + 1] = True
        straight, whole = straight + int(on.sum()), whole + len(points)
    return straight > whole / 2


def _holds_ink(circle: Floats, middle: Floats, radius_mm: float, darkness_at: DarknessAt) -> bool:
    """Whether well within a circle (N, 2) some mark is as dark, and not alike all round.

    One as long as a number's stroke is, which no speck is. A hole's middle, a dot or a cross, looks
    the same from all four sides.
    """
    level = float(np.median(darkness_at(circle))) / 2
    count = round(WELL_WITHIN * radius_mm / INK_CELL_MM)
    at = INK_CELL_MM * np.arange(-count, count + 1)
    x, y = np.meshgrid(at, at)
    dark = darkness_at(middle + np.stack([x, y], axis=-1)) > level
    dark &= np.hypot(x, y) <= WELL_WITHIN * radius_mm
    parts, _ = label(dark, np.ones((3, 3)))
    boxes = find_objects(parts)
    longest = max((np.hypot(*(s.stop - s.start for s in box)) for box in boxes), default=0.0)
    if level <= 0.0 or longest * INK_CELL_MM < ONE_WITHIN * radius_mm:
        return False
    turned = np.rot90(binary_dilation(dark))
    return bool((dark & turned).sum() < ALIKE_ROUND * dark.sum())


def _is_cross(marks: Sequence[Curve], middle: Floats) -> bool:
    """Whether two straight marks cross square to each other at the middle."""
    if len(marks) != 2:
        return False
    runs = [mark.points[-1] - mark.points[0] for mark in marks]
    long = [float(np.linalg.norm(run)) for run in runs]
    through = all(
        np.linalg.norm(mark.points - middle, axis=1).min() < 0.2 * mark.length for mark in marks
    )
    return through and abs(float(runs[0] @ runs[1])) < 0.3 * long[0] * long[1]


def _arrows(curves: Sequence[Curve], darkness_at: DarknessAt) -> set[int]:
    """Shafts with a barb on either side of one end, and the barbs, that come from no line."""
    some = [k for k, curve in enumerate(curves) if not curve.closed and len(curve.points) > 1]
    if not some:
        return set()
    ends = np.concatenate([curves[k].points[[0, -1]] for k in some])
    tree = cKDTree(ends)
    lines = [LineString(curve.points) for curve in curves if curve.length >= SIGN_LINE_MM]
    own = [k for k, curve in enumerate(curves) if curve.length >= SIGN_LINE_MM]
    around = STRtree(lines)
    found: set[int] = set()
    for index in some:
        shaft = curves[index]
        chord = float(np.linalg.norm(shaft.points[-1] - shaft.points[0]))
        if not SHAFT_MM[0] <= shaft.length <= SHAFT_MM[1] or chord < SIGN_STRAIGHT * shaft.length:
            continue
        for points in (shaft.points, shaft.points[::-1]):
            tip = points[-1]
            # One that comes from a line and leads to another is drawn as a line itself.
            near = around.query(Point(points[0]), predicate="dwithin", distance=SIGN_FREE_MM)
            if any(own[k] != index for k in near.tolist()):
                continue
            back = points[-1 - min(8, len(points) - 1)] - tip
            if _has_head(points, shaft.width, darkness_at):
                found.add(index)
            barbs = []
            for end in tree.query_ball_point(tip, AT_TIP_MM):
                barb = curves[some[end // 2]]
                away = barb.points[::-1] if end % 2 else barb.points
                run = away[-1] - away[0]
                turn = np.arctan2(back[0] * run[1] - back[1] * run[0], back @ run)
                if (
                    BARB_MM <= barb.length <= BARB_SHARE * shaft.length
                    and BARB_TURN[0] < abs(turn) < BARB_TURN[1]
                ):
                    barbs.append((some[end // 2], float(turn), barb.length))
            for (one, turn, a), (two, other, b) in itertools.combinations(barbs, 2):
                if turn * other < 0 and min(a, b) > LIKE_BARB * max(a, b):
                    found.update((index, one, two))
    return found


def _has_head(shaft: Floats, width_mm: float, darkness_at: DarknessAt) -> bool:
    """Whether a shaft (N, 2) that runs to its tip has a barb on either side there.

    Told from what is as dark as the shaft and in one piece with it: it stands out to both sides at
    the tip, the further back the further out, and nowhere behind that. Of a broad pen's head a
    barb may not have been traced, nor the tip itself. A hand flicks barbs, so they may be a share
    as dark as the shaft only: any will do that is plainly darker than the paper there.
    """
    tip, before = shaft[-1], shaft[max(len(shaft) - 1 - HEAD_POINTS, 0) : -3]
    if len(before) < 2:
        return False
    ahead = before[-1] - before[0]
    ahead /= np.linalg.norm(ahead) + 1e-12
    left = np.array([-ahead[1], ahead[0]])
    places = tip - BACK_MM[:, None, None] * ahead + ASIDE_MM[:, None] * left
    seen, usual = darkness_at(places), float(np.median(darkness_at(shaft)))
    # Behind an arrow's head, beside its shaft, is paper and what is printed on it.
    clear = width_mm / 2 + 2 * CLEAR_OF_SHAFT_MM
    near = cKDTree(evenly(shaft, INK_CELL_MM)).query(places, distance_upper_bound=clear + 1e-6)
    off = near[0]  # infinite where it is further than anybody asks
    paper = seen[(BACK_MM[:, None] > HEAD_MM) & (off > clear)]
    plain = HEAD_PLAIN * float(np.std(paper))
    return usual > 0.0 and any(
        _is_head(off, seen > share * usual, width_mm)
        for share in HEAD_SHARES
        if share * usual >= min(plain, HEAD_SHARES[0] * usual)
    )


def _is_head(off: Floats, dark: NDArray[np.bool_], width_mm: float) -> bool:
    """Whether what is dark (N, M) from ahead of a shaft's tip back is a head; off it by so much."""
    parts, count = label(dark, np.ones((3, 3)))
    if not count:
        return False
    own = parts[(off < width_mm / 2) & (parts > 0)]
    if not len(own):
        return False
    arrow = parts == np.bincount(own).argmax()
    if arrow[0].any():  # it goes on ahead, as no arrow does
        return False
    out = arrow & (off > width_mm / 2 + CLEAR_OF_SHAFT_MM)
    behind = BACK_MM[:, None] > HEAD_MM
    if (out & behind).sum() * INK_CELL_MM**2 > STRAY_MM2:
        return False
    reaches = []
    for side in (ASIDE_MM < 0, ASIDE_MM > 0):
        rows, columns = np.nonzero(out & ~behind & side)
        sideways = np.abs(ASIDE_MM[columns])
        if not len(rows) or np.ptp(sideways) < LEAST_OUT_MM:
            return False
        slope = np.polyfit(sideways, BACK_MM[rows], 1)[0]
        if not 1 / np.tan(BARB_TURN[1]) < slope < 1 / np.tan(BARB_TURN[0]):
            return False
        reaches.append(float(np.hypot(sideways, BACK_MM[rows]).max()))
    return min(reaches) > LIKE_BARB * max(reaches)
