"""How the ends of a paper stand off the floor in one photo, by sides that must be straight.

Paper off a roll has straight machine edges, and rolls up at its ends. What stands h mm over the
floor is seen further from the camera's foot f than it lies, on the floor at q with

    q - p = (q - f) h / H,    p the floor below it and H the camera's height,

so a straight side whose end stands up is seen bent outwards there, by h times the tangent of the
angle that it is looked at across the side. No shears can add paper beyond a straight side, so what
bends outwards at an end of one, and is straight for the rest, stands up. Bends inwards are not
read: there paper may have been cut away. Between two opposite sides an end is taken to be rolled
about a straight line, evenly: k / 2 times the square of the way into the roll, so that the root of
the height goes straight from side to side.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from digitize.floor.camera import Camera
from digitize.floor.frame import Frame, Surface
from digitize.floor.heights import NODE_MM, STANDS_MM, laid_flat
from digitize.plane import cross, robust_sigma, sharp_turns

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]
CORNER_DEG, CORNER_OVER_MM, CORNER_ROUND_MM = 25.0, 12.0, 6.0
LEAST_SIDE_MM, LEAST_SEEN = 250.0, 0.7  # of a side's length: what is borne out of it
REACHES_MM, REACH_STEP_MM = 40.0, 20.0  # of the roll from an end
MOST_ROLLED = 0.5  # of a side, both ends together: the rest has to be straight
LEAST_SIGMA_MM, MOST_SIGMA_MM = 0.08, 0.4  # of a side's places about a straight line
TOGETHER_MM = 10.0  # places along a side that are nearer to one another err alike
ANYTHING_MM = 1000.0  # sigma of what nothing is seen of
SETTLINGS, FAR = 6, 3.0  # of a place, in sigmas, beyond which it counts less
# What the bend of an end has to bring, in squares of sigmas: over the side without it, and over
# one that is bent as a whole, as by a lens. By chance alone three terms bring more than 16 in one
# of a thousand.
WORTH, WORTH_OVER_ARC = 20.0, 20.0
LEAST_BEND_MM, LEAST_TANGENT = 0.5, 0.1
HIGHEST_MM = 30.0
MOST_PART = 1.3  # of the way into a roll: so much further than its sides an end may reach
OPPOSITE_DEG, LEAST_WIDTH_MM = 10.0, 150.0
RISE_DOUBT = 0.3  # sigma, as a share of what an end stands up: how it runs between its sides


@dataclass(frozen=True)
class _Rise:
    """How an end of a side stands up: ``high`` mm (sigma) there, from ``reach`` mm before it on."""

    high: float
    sigma: float
    reach: float


@dataclass(frozen=True)
class _Side:
    """A straight side, counter-clockwise: its two ends (2, 2), and what was seen of their rise.

    Attributes
    ----------
    rises : at its first and its last end, as the fit has them, good or not.
    stands : which of these are seen to stand up.
    """

    ends: Floats
    rises: tuple[_Rise, _Rise]
    stands: tuple[bool, bool]

    @property
    def along(self) -> Floats:
        """(2,) which way it runs."""
        way = self.ends[1] - self.ends[0]
        return np.asarray(way / np.hypot(*way))


def solve_rolled_ends(
    camera: Camera, frame: Frame, outline: Floats, borne_out: Flags, doubt_mm: Floats
) -> Surface | None:
    """The paper's surface by its sides in one photo; None if no end is seen to stand up.

    Parameters
    ----------
    outline : (N, 2) the edge as it is seen on the floor, mm, in even steps, counter-clockwise.
    borne_out : (N,) where the photo shows it.
    doubt_mm : (N,) how far each place may be off by the cards and the lens, 95 %.
    """
    x, y, up = camera.foot()
    foot = np.append(frame.from_floor(np.array([[x, y]]))[0], abs(up))
    sides = [
        side
        for run in _runs(outline)
        if (side := _side(outline[run], borne_out[run], doubt_mm[run], foot)) is not None
    ]
    ends = []
    for index, side in enumerate(sides):
        other = _opposite(side, sides[index + 1 :])
        if other is not None:
            ends += _ends_between(side, other)
    if not ends:
        return None
    return _surface(outline, ends, foot)


def _runs(outline: Floats) -> list[NDArray[np.int64]]:
    """The points of each side that is long enough, without what is round at its corners."""
    step = float(np.median(np.hypot(*np.diff(outline, axis=0).T)))
    corners = sharp_turns(outline, CORNER_OVER_MM, CORNER_DEG, 1)
    count, cut = len(outline), round(CORNER_ROUND_MM / step)
    runs = []
    for corner, after_it in zip(corners, np.roll(corners, -1), strict=True):
        length = (after_it - corner - 1) % count + 1
        if (length - 2 * cut) * step >= LEAST_SIDE_MM:
            runs.append((corner + np.arange(cut, length - cut + 1)) % count)
    return runs


def _side(points: Floats, borne_out: Flags, doubt_mm: Floats, foot: Floats) -> _Side | None:
    """A run of the edge as a straight side whose ends may stand up; None if it is not straight."""
    if borne_out.mean() < LEAST_SEEN:
        return None
    middle = slice(len(points) // 4, -(len(points) // 4))
    way = points[middle][-1] - points[middle][0]
    way /= np.hypot(*way)
    outward = np.array([way[1], -way[0]])
    from_start = points - points[0]
    along, off = from_start @ way, from_start @ outward
    tangent = (points - foot[:2]) @ outward / foot[2]
    slope, at = np.polyfit(along[middle], off[middle], 1)
    rest = off - (slope * along + at)
    sigma = max(robust_sigma(rest[middle]), LEAST_SIGMA_MM)
    if np.quantile(np.abs(rest[middle]), 0.9) > 2 * MOST_SIGMA_MM or sigma > MOST_SIGMA_MM:
        return None
    length = float(along[-1])
    weight = np.hypot(*np.diff(points, axis=0).T).mean() / TOGETHER_MM * borne_out
    straight = np.stack([np.ones_like(along), along / length - 0.5], axis=1)
    arc = np.column_stack([straight, straight[:, 1] ** 2])
    reaches = np.arange(REACHES_MM, MOST_ROLLED * length, REACH_STEP_MM)
    first, last = (each.reshape(-1, 1) for each in np.meshgrid(reaches, reaches))
    most = (first + last <= MOST_ROLLED * length)[:, 0]
    first, last = first[most], last[most]
    # A roll of even curvature rises with the square of the way into it.
    begins = tangent * np.clip(1 - along / first, 0, None) ** 2
    finishes = tangent * np.clip(1 - (length - along) / last, 0, None) ** 2
    bent = np.stack(
        [
            *(np.broadcast_to(each, begins.shape) for each in straight.T),
            begins,
            finishes,
        ],
        axis=2,
    )
    costs, fits, doubts = _fitted(bent, off, sigma, weight)
    best = int(np.argmin(costs))
    cost, reach = costs[best], (float(first[best, 0]), float(last[best, 0]))
    worth_it = _fitted(arc[None], off, sigma, weight)[0][0] - cost > WORTH_OVER_ARC
    rises, stands = [], []
    for end, others in ((0, [0, 1, 3]), (1, [0, 1, 2])):
        high = float(fits[best, 2 + end])
        rises.append(_Rise(high, float(doubts[best, 2 + end]), reach[end]))
        bend = high * float(tangent[-end])
        seen = tangent[-end] > LEAST_TANGENT and bend > max(LEAST_BEND_MM, float(doubt_mm[-end]))
        without = _fitted(bent[:, :, others], off, sigma, weight)[0].min()
        stands.append(bool(seen and high < HIGHEST_MM and worth_it and without - cost > WORTH))
    at_ends = along[[0, -1]]
    ends = points[0] + at_ends[:, None] * way + (slope * at_ends + at)[:, None] * outward
    return _Side(np.asarray(ends), (rises[0], rises[1]), (stands[0], stands[1]))


def _fitted(
    terms: Floats, off: Floats, sigma: float, weight: Floats
) -> tuple[Floats, Floats, Floats]:
    """Robust fits of several sets of terms (K, N, T) to what is seen (N,), and their costs (K,).

    Returns also the coefficients (K, T) and their sigmas (K, T).
    """
    count = terms.shape[2]
    shares: Floats = np.ones(terms.shape[:2])
    coefficients: Floats = np.zeros((len(terms), count))
    normal: Floats = np.zeros((len(terms), count, count))
    miss: Floats = np.zeros(terms.shape[:2])
    for _ in range(SETTLINGS):
        by_weight = terms * (shares * weight)[:, :, None] / sigma**2
        normal = by_weight.transpose(0, 2, 1) @ terms + np.eye(count) / ANYTHING_MM**2
        pull = by_weight.transpose(0, 2, 1) @ off
        coefficients = np.asarray(np.linalg.solve(normal, pull[:, :, None])[:, :, 0], np.float64)
        miss = off - (terms @ coefficients[:, :, None])[:, :, 0]
        shares = 1 / (1 + (miss / (FAR * sigma)) ** 2)
    costs = (np.minimum((miss / sigma) ** 2, FAR**2) * weight).sum(axis=1)
    spread = np.sqrt(np.diagonal(np.linalg.inv(normal), axis1=1, axis2=2))
    return costs, coefficients, spread


@dataclass(frozen=True)
class _End:
    """An end of the paper that stands up, between two opposite sides.

    ``corners`` (2, 2) are where these end, on the floor; ``inward`` (2,) points along the first.
    """

    corners: Floats
    rises: tuple[_Rise, _Rise]
    inward: Floats


def _opposite(side: _Side, others: Sequence[_Side]) -> _Side | None:
    """The longest of other sides that runs back along one."""
    back = []
    for other in others:
        apart = np.arccos(np.clip(-side.along @ other.along, -1.0, 1.0))
        width = abs(float(cross(side.along, other.ends.mean(axis=0) - side.ends.mean(axis=0))))
        if np.degrees(apart) < OPPOSITE_DEG and width > LEAST_WIDTH_MM:
            back.append(other)
    return max(back, key=lambda each: float(np.hypot(*np.ptp(each.ends, axis=0))), default=None)


def _ends_between(one: _Side, other: _Side) -> list[_End]:
    """The ends between two opposite sides that stand up."""
    ends = []
    for own, across, inward in ((0, 1, one.along), (1, 0, -one.along)):
        rises = one.rises[own], other.rises[across]
        stands = one.stands[own], other.stands[across]
        if not any(stands):
            continue
        if not stands[0]:
            rises = _likely(rises[0], rises[1]), rises[1]
        if not stands[1]:
            rises = rises[0], _likely(rises[1], rises[0])
        ends.append(_End(np.stack([one.ends[own], other.ends[across]]), rises, inward))
    return ends


def _likely(seen: _Rise, beside: _Rise) -> _Rise:
    """An end's rise that is not seen surely, by what is seen of it and of the one beside it.

    That one alone leaves anything open from nothing to as much.
    """
    usual = beside.high / 2
    seen_weight, usual_weight = 1 / max(seen.sigma, 1e-6) ** 2, 1 / usual**2
    high = (seen.high * seen_weight + usual * usual_weight) / (seen_weight + usual_weight)
    return _Rise(max(high, 0.0), float((seen_weight + usual_weight) ** -0.5), beside.reach)


def _surface(outline: Floats, ends: Sequence[_End], foot: Floats) -> Surface:
    """The paper's surface, flat but for its ends."""
    low, high = outline.min(axis=0) - NODE_MM, outline.max(axis=0) + NODE_MM
    columns, rows = np.ceil((high - low) / NODE_MM).astype(int) + 1
    across, down = np.meshgrid(np.arange(columns), np.arange(rows))
    nodes = np.stack([low[0] + NODE_MM * across, high[1] - NODE_MM * down], axis=-1)
    height, variance = np.zeros((rows, columns)), np.full((rows, columns), STANDS_MM**2)
    for end in ends:
        rise, sigma = _risen(end, nodes, foot)
        height = np.maximum(height, rise)
        variance += sigma**2
    return laid_flat(
        Surface(
            height,
            np.zeros((rows, columns, 2)),
            np.sqrt(variance),
            float(low[0]),
            float(high[1]),
            NODE_MM,
        )
    )


def _risen(end: _End, places: Floats, foot: Floats) -> tuple[Floats, Floats]:
    """How high places (..., 2) of the floor are covered by an end, and the sigma of it, mm."""
    highs = np.array([rise.high for rise in end.rises])
    below = end.corners - (end.corners - foot[:2]) * (highs / foot[2])[:, None]
    first, span = below[0], below[1] - below[0]
    share = np.clip(cross(end.inward, places - first) / cross(end.inward, span), 0.0, 1.0)

    def between(values: Sequence[float] | Floats) -> Floats:
        return np.asarray(values[0] + (values[1] - values[0]) * share)

    deep = (places - first - share[..., None] * span) @ end.inward
    reach = between([rise.reach for rise in end.rises])
    part = np.clip(1 - deep / reach, 0.0, MOST_PART) ** 2
    high = between(np.sqrt(highs)) ** 2 * part
    return high, np.hypot(RISE_DOUBT * high, between([rise.sigma for rise in end.rises]) * part)
