"""Which of two marks from one tip is the cut, and which the line drawn along the flap over it.

Both run from the tip to the paper's edge with bare paper between them, so no line that breaks there
tells one from the other. What tells is what they are. A cut is the gap between two edges of paper:
it runs as smoothly as a blade does, one of its edges stands off and shades the paper beside it, and
it is as dark and as wide as a gap is, which is not as this paper's pencil is. The lap line is drawn
by a hand, with a pencil that drew other lines too, and leaves the cut's way as the lap grows. Each
says a little, and the odds add up.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d
from scipy.special import expit
from shapely import LineString, distance
from shapely import points as points_of

from digitize.pencil import Curve, DarknessAt
from digitize.plane import cross, places_beside, robust_sigma, square_to
from digitize.tucks.gape import width_at_tip
from digitize.tucks.thresholds import (
    BENT_MM,
    COMMON_POINTS,
    COURSE_STEPS,
    FEWEST_PLACES,
    LEAST_DARKNESS,
    LIKE_EITHER,
    MIDDLE_MM,
    MOST_SHADE,
    MOST_UNLIKE_PEN,
    MOST_WIDER_AT_TIP,
    MOST_WOBBLE_MM,
    PAPER_MM,
    PER_BEND,
    PER_DARKNESS,
    PER_SHADE,
    PER_UNLIKE_WIDTH,
    PER_WOBBLE_MM,
    STRAYED_MM,
    TOGETHER_STEPS,
    WHICH_ACROSS_MM,
    WHICH_BESIDE_MM,
    WHICH_CLEAR_MM,
    WHICH_ENDS_MM,
    WHICH_LIKE_SHARE,
    WHICH_REACH_MM,
    WHICH_STEP_MM,
    WIDEST_WITHIN_MM,
)

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Look:
    """How a mark looks where it lies clear of the other.

    Attributes
    ----------
    darkness : of its middle, over the paper a little off.
    wobble_mm : sigma of its middle about its smooth course.
    shade : by how much the paper close by is darker on one side than on the other.
    """

    darkness: float
    wobble_mm: float
    shade: float


def look_of(mark: Curve, other: Curve, darkness_at: DarknessAt) -> Look:
    """How a mark looks, told clear of another where it goes clear of it.

    A mark too short to tell is taken by its own width and weight, without wobble or shade.

    Parameters
    ----------
    darkness_at : darkness of the paper at points (..., 2), mm.
    """
    at = np.arange(WHICH_ENDS_MM, mark.length - WHICH_ENDS_MM, WHICH_STEP_MM)
    offsets = np.arange(-WHICH_REACH_MM, WHICH_REACH_MM + WHICH_ACROSS_MM / 2, WHICH_ACROSS_MM)
    unknown = Look(mark.weight / mark.width, 0.0, 0.0)
    if len(at) < FEWEST_PLACES:
        return unknown
    places, normals = square_to(mark.points, at, WHICH_CLEAR_MM)
    clear = distance(LineString(other.points), points_of(places)) > WHICH_CLEAR_MM
    if clear.sum() < FEWEST_PLACES:
        clear[:] = True
    seen = darkness_at(places_beside(places, normals, offsets))
    smooth = gaussian_filter1d(seen, TOGETHER_STEPS, axis=0)
    ground = np.median(smooth[:, np.abs(offsets) > PAPER_MM], axis=1)
    first = int(np.flatnonzero(np.abs(offsets) < MIDDLE_MM)[0])
    top = first + smooth[:, np.abs(offsets) < MIDDLE_MM].argmax(axis=1)
    peak = smooth[np.arange(len(at)), top] - ground
    darkness = float(np.median(peak[clear]))
    if darkness <= 0.0:
        return unknown
    aside = offsets[top]
    wobble = aside - gaussian_filter1d(aside, COURSE_STEPS)
    # Beside a broad stroke, not within it.
    wider = max(mark.width - WIDEST_WITHIN_MM, 0.0) / 2
    low, high = WHICH_BESIDE_MM[0] + wider, WHICH_BESIDE_MM[1] + wider
    flanks = [
        seen[:, (side * offsets > low) & (side * offsets < high)].mean(axis=1) for side in (1, -1)
    ]
    return Look(
        darkness,
        robust_sigma(wobble[clear]),
        abs(float(np.median((flanks[0] - flanks[1])[clear]))),
    )


def cut_odds(one: Curve, two: Curve, lines: Sequence[Curve], darkness_at: DarknessAt) -> float:
    """Natural log of the odds that the first of two marks is the cut and the second its lap line.

    Parameters
    ----------
    lines : other marks on the paper, which tell how wide its pens are.
    darkness_at : darkness of the paper at points (..., 2), mm.
    """
    looks = look_of(one, two, darkness_at), look_of(two, one, darkness_at)
    first, second = (_says(look, mark, lines) for look, mark in zip(looks, (one, two), strict=True))
    bends = (_strays(one, two), STRAYED_MM), ((_bend(one), _bend(two)), BENT_MM)
    bent = next((_log_ratio(b, a) for (a, b), least in bends if max(a, b) > least), 0.0)
    return first - second + PER_BEND * bent


def surely_cut(
    odds: float, cut: Curve, lap_line: Curve, lines: Sequence[Curve], darkness_at: DarknessAt
) -> float:
    """How sure odds (their natural log, of 0 and more) are of which is which, 0.5 to 1.

    No surer than either way where the cut is as dark as a pen's lines are and the lap line is not:
    ink is darker than a cut in which the floor shows, and is taken for it. Nor where it is plainly
    wider at its tip than the lap line, as no cut is: it begins with nothing, a pen with its width.

    Parameters
    ----------
    lines : other marks on the paper, which tell how dark its pens are.
    darkness_at : darkness of the paper at points (..., 2), mm.
    """
    wide = width_at_tip(cut, lap_line, darkness_at)
    narrow = width_at_tip(lap_line, cut, darkness_at)
    if wide > MOST_WIDER_AT_TIP * narrow:
        return LIKE_EITHER
    pens = [line.weight / line.width for line in lines]
    one, other = (_off_pens(mark.weight / mark.width, pens, lines) for mark in (cut, lap_line))
    return LIKE_EITHER if other - one > MOST_UNLIKE_PEN else float(expit(odds))


def _says(look: Look, mark: Curve, lines: Sequence[Curve]) -> float:
    """What a mark's own look says for its being a cut."""
    unlike = _off_pens(mark.width, [line.width for line in lines], lines)
    return (
        PER_SHADE * min(look.shade, MOST_SHADE)
        + PER_WOBBLE_MM * min(look.wobble_mm, MOST_WOBBLE_MM)
        + PER_DARKNESS * math.log(max(look.darkness, LEAST_DARKNESS))
        + PER_UNLIKE_WIDTH * unlike
    )


def _off_pens(value: float, pens: Sequence[float], lines: Sequence[Curve]) -> float:
    """By which factor, as its logarithm, a value is other than a pen's that drew some of the lines.

    Of what is drawn WHICH_LIKE_SHARE is as like it or more: there may be two pens on a paper.

    Parameters
    ----------
    pens : the value of each line.
    """
    if not lines:
        return 0.0
    ratios = np.abs(np.log(np.maximum(pens, 1e-3) / max(value, 1e-3)))
    order = np.argsort(ratios)
    drawn = np.cumsum([lines[k].length for k in order.tolist()])
    return float(ratios[order][np.searchsorted(drawn, WHICH_LIKE_SHARE * drawn[-1])])


def _log_ratio(one: float, two: float) -> float:
    return math.log((one + 0.1) / (two + 0.1))


def _strays(one: Curve, two: Curve) -> tuple[float, float]:
    """How far the ends of the two lie off the straight way on from their common first stretch."""
    longer, shorter = (one, two) if one.length > two.length else (two, one)
    start = shorter.points[0]
    common = longer.points[: int(np.linalg.norm(longer.points - start, axis=1).argmin())]
    if len(common) < COMMON_POINTS:
        return 0.0, 0.0
    centre = common.mean(axis=0)
    ahead = np.linalg.svd(common - centre)[2][0]
    off = [abs(float(cross(ahead, p))) for p in (one.points[-1] - centre, two.points[-1] - centre)]
    return off[0], off[1]


def _bend(curve: Curve) -> float:
    """How far a curve strays from its chord, mm."""
    chord = curve.points[-1] - curve.points[0]
    away = curve.points - curve.points[0]
    return float(np.abs(cross(away, chord)).max() / (np.linalg.norm(chord) + 1e-9))
