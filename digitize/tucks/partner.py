"""The second crease of a fold of which one was traced, or one for both.

Both start at one point and run nearly straight to the paper's edge. Along the whole of such a way
a crease shows that is too faint at each place to be traced there.
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import uniform_filter1d
from shapely import LineString, Point

from digitize.pencil import Curve, DarknessAt
from digitize.plane import signed_angle
from digitize.tucks.crease_ends import (
    carried_to_edge,
    carried_to_tip,
    shown_at,
    usually_shown,
)
from digitize.tucks.creases import (
    Faint,
    direction,
    from_common_tip,
    is_shade,
    is_straight,
    turned_like,
)
from digitize.tucks.thresholds import (
    CREASES_APART,
    LEAST_APART_MM,
    MOST_BOW_MM,
    MOST_LAG,
    PARTNER_NEAR_MM,
    PARTNER_OUTER,
    PARTNER_PARTS,
    PARTNER_SHORTEST_MM,
    PARTNER_SOUGHT_SIGMA_MM,
    PARTNER_STEP_MM,
    PARTNER_TURN,
    PARTNER_WIDEST,
    SAME_TIP_MM,
    SEEN,
    SEEN_OVER_ROWS,
    SEEN_PART,
    TOGETHER,
)

Floats = NDArray[np.float64]
Course = Callable[[Floats], Floats]  # mm aside at depths, mm


def partner_of(main: Curve, curves: Sequence[Curve], is_faint: Faint) -> Curve | None:
    """A pale straight mark from the same tip as a crease, which fades before the paper's edge.

    The crease may be seen only where it stands well off that mark.
    """
    for curve in curves:
        if (is_faint(curve) or is_shade(curve)) and is_straight(curve):
            turned = turned_like(curve, main)
            turn = abs(signed_angle(direction(turned), direction(main)))
            path, tip = LineString(turned.points), Point(*main.points[0])
            apart = SAME_TIP_MM + CREASES_APART * path.project(tip)
            if turn < PARTNER_TURN and path.distance(tip) < apart:
                return curve
    return None


def both_creases(members: Sequence[Curve], darkness_at: DarknessAt) -> Sequence[Curve]:
    """A fold's creases, each as the course along which it shows best.

    A trace of so faint a mark follows the paper's grain, and whatever else comes near. They are the
    members as they are where no two creases show.

    Parameters
    ----------
    members : what was traced: one crease, or two from one tip.
    darkness_at : darkness of the paper at points (..., 2), mm.
    """
    traced = carried_to_tip(from_common_tip(members[0], members[-1]), darkness_at)
    sought = _sought(traced, darkness_at)
    return members if sought is None else sought


def begun_fold(
    trunk: Curve,
    cuts: Sequence[Curve],
    ring: LineString,
    is_faint: Faint,
    darkness_at: DarknessAt,
) -> tuple[Curve, Curve] | None:
    """A fold's creases, where they were traced only as far as they are seen as one.

    None if the trace is no pale straight mark clear of all cuts, or no two creases show from it
    to the paper's edge.

    Parameters
    ----------
    ring : the paper's edge.
    darkness_at : darkness of the paper at points (..., 2), mm.
    """
    pale = is_faint(trunk) or is_shade(trunk)
    if not pale or not is_straight(trunk):
        return None
    path = LineString(trunk.points)
    if any(path.distance(LineString(cut.points)) < SAME_TIP_MM for cut in cuts):
        return None
    for turned in (trunk, trunk.reversed()):
        whole = carried_to_edge(turned, ring, darkness_at)
        if whole is not turned:
            # Seen as one, two creases are twice as dark as either.
            found = _sought(carried_to_tip(whole, darkness_at), darkness_at, 0.5)
            if found is not None:
                return found
    return None


def _sought(
    traced: Curve, darkness_at: DarknessAt, share_of_usual: float = 1.0
) -> tuple[Curve, Curve] | None:
    """The two ways from a crease's tip along which creases show best; None if not along two.

    The first is straight, as the fold in sight is; the second stands off it as the lap grows,
    which is no slower than the depth. Either is as dark as such a share of what was traced.
    """
    tip, way = traced.points[0], direction(traced)
    reach = float(np.linalg.norm(way))
    if reach < PARTNER_SHORTEST_MM:
        return None
    ahead = way / reach
    normal = np.array([-ahead[1], ahead[0]])
    usual = share_of_usual * usually_shown(shown_at(traced.points, normal, darkness_at))
    if usual <= 0:
        return None
    depths = np.arange(PARTNER_OUTER * reach, reach - 1.0)
    asides = PARTNER_STEP_MM * np.arange(
        -round(PARTNER_WIDEST * reach / PARTNER_STEP_MM), PARTNER_WIDEST * reach / PARTNER_STEP_MM
    )
    places = tip + depths[:, None, None] * ahead + asides[:, None] * normal
    shown = shown_at(places.reshape(-1, 2), normal, darkness_at).reshape(places.shape[:2])
    shown = np.clip(shown, -usual, 1.5 * usual)  # lest a pencil line counts for more
    # A way is known by how far aside it ends, and by its bow halfway.
    ends = asides[np.abs(asides) < asides[-1] - MOST_BOW_MM]
    bows = np.arange(-MOST_BOW_MM, MOST_BOW_MM + PARTNER_STEP_MM, 2 * PARTNER_STEP_MM)
    share = depths / reach
    ways = ends[:, None, None] * share + bows[:, None] * 4 * share * (1 - share)
    column = np.rint((ways - asides[0]) / PARTNER_STEP_MM).astype(np.intp)
    along = shown[np.arange(len(depths)), column]
    seen = along.mean(axis=2)
    near_tip = np.arange(1.0, TOGETHER * reach)
    allowed = np.broadcast_to(bows == 0.0, seen.shape)
    found: list[Curve] = []
    course: Course = np.zeros_like
    for order in (1, 3):
        best = np.where(allowed, seen, -np.inf)
        end, bow = np.unravel_index(int(np.argmax(best)), seen.shape)
        parts = [part.mean() for part in np.array_split(along[end, bow], PARTNER_PARTS)]
        if best[end, bow] < SEEN * usual or min(parts) < SEEN_PART * usual:
            return None
        place, weight = _settled(ways[end, bow], asides, shown)
        as_one = near_tip if found else near_tip[:0]
        course = _course(
            np.append(as_one, depths),
            np.append(course(as_one), place),
            np.append(np.full(len(as_one), np.median(weight)), weight),
            order,
        )
        t = np.arange(0.0, reach + 0.5)
        sigma = math.hypot(traced.sigma, PARTNER_SOUGHT_SIGMA_MM)
        points = tip + t[:, None] * ahead + course(t)[:, None] * normal
        found.append(replace(traced, points=points, sigma=sigma))
        apart = ends - ends[end]
        lags = -bows * np.sign(apart)[:, None]
        allowed = (lags >= 0) & (lags <= MOST_LAG * np.abs(apart)[:, None])
        allowed &= np.abs(apart)[:, None] >= LEAST_APART_MM
    return found[0], found[1]


def _settled(way: Floats, asides: Floats, shown: Floats) -> tuple[Floats, Floats]:
    """(N,) where a crease shows near a way, mm aside, and how plainly.

    Parameters
    ----------
    way : (N,) mm aside.
    asides, shown : (M,) mm, and (N, M) how much darker it is there.
    """
    near = np.abs(asides - way[:, None]) < PARTNER_NEAR_MM
    seen = uniform_filter1d(shown, SEEN_OVER_ROWS, axis=0)
    weight = np.where(near, np.clip(seen, 0.0, None), 0.0) ** 2
    total = weight.sum(axis=1) + 1e-9
    return weight @ asides / total, np.sqrt(total)


def _course(depths: Floats, aside: Floats, weight: Floats | float = 1.0, order: int = 3) -> Course:
    """How far aside a crease runs at a depth: a polynomial from its tip (least squares)."""
    powers, deepest = np.arange(1, order + 1), depths[-1]
    weights = np.broadcast_to(weight, depths.shape)
    terms = (depths[:, None] / deepest) ** powers * weights[:, None]
    factors = np.linalg.lstsq(terms, aside * weights, rcond=None)[0]
    return lambda at: np.asarray((at[:, None] / deepest) ** powers @ factors)
