"""A fold pressed flat again: on which side of a wedge of bare paper its crease in sight lies.

Its creases may be too faint to see at any one place, and lighter than the paper as well as darker:
each is a slope that the light meets aslant. What they look like is told from all of their length at
once (the mean across it, where they stand apart), against what other ways over the same paper give.
"""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d
from scipy.special import expit, softmax
from shapely import LineString, get_coordinates, line_interpolate_point

from digitize.pencil import Curve, DarknessAt
from digitize.plane import robust_sigma
from digitize.tucks.thresholds import (
    BREAK_SIGMA_MM,
    FURTHEST_SIGMAS,
    LEAN_MM,
    LOUD,
    PLACES,
    PRESSED_ACROSS_MM,
    PRESSED_NEAR_MM,
    PRESSED_OTHER_MM,
    PRESSED_OUTER,
    PRESSED_PLAIN,
    PRESSED_STEP_MM,
    RARE,
    ROW_MM,
    SIGMA_MM,
    SPREAD_MM,
    TENTH,
    TIP_STEP_MM,
    WHOLE,
)
from digitize.tucks.wedges import Wedge

Floats = NDArray[np.float64]
GREY = (128, 128, 128)
ASIDES_MM = np.arange(-PRESSED_ACROSS_MM, PRESSED_ACROSS_MM + PRESSED_STEP_MM / 2, PRESSED_STEP_MM)
LEANS_MM = np.arange(-LEAN_MM, LEAN_MM + 0.01, 0.25)


@dataclass(frozen=True)
class Crease:
    """How a straight way looks.

    Attributes
    ----------
    shows : how unlike other ways it is; of those one in ten has more than 2.15.
    end : (2,) where it meets the paper's edge, mm.
    """

    shows: float
    end: Floats


@dataclass(frozen=True)
class _Ways:
    """Straight ways over the paper, side by side and leaning a little: one of them may be a crease.

    Attributes
    ----------
    means : (2, L, N) even and odd part of what each looks like, by its lean and how far aside it
        is; times the square root of its rows, so that the paper's own varying is the same in all.
    """

    means: Floats

    @property
    def varies(self) -> Floats:
        """(2,) sigmas by which the parts of bare paper vary."""
        return np.array([robust_sigma(part, 0.0) for part in self.means])

    def near(self, varies: Floats) -> Floats:
        """(L, N) how unlike bare paper that varies so each is; -1 where it is no crease's place."""
        return np.where(np.abs(ASIDES_MM) < PRESSED_NEAR_MM, self._shows(varies), -1.0)

    def chance(self, varies: Floats) -> float:
        """What one in ten of the ways that are none is unlike bare paper by, at its best lean."""
        others = np.abs(ASIDES_MM) > PRESSED_OTHER_MM
        return float(np.quantile(self._shows(varies).max(axis=0)[others], 0.9))

    def _shows(self, varies: Floats) -> Floats:
        return np.asarray(np.hypot(*(self.means / (varies[:, None, None] + 1e-12))))


def fold_in(wedge: Wedge, darkness_at: DarknessAt) -> tuple[Curve, Curve | None, float]:
    """A fold that a wedge of bare paper tells of: its crease in sight; the other, if that shows.

    And from 0.5 to 1 how likely it is that the crease in sight lies on that side, not the other.

    Parameters
    ----------
    darkness_at : darkness of the paper at points (..., 2), mm.
    """
    tip, sigma_mm = _tip_of(wedge)
    for _ in range(2):
        sides = [shown_along(tip, end, darkness_at) for end in wedge.edges]
        first = 0 if sides[0].shows >= sides[1].shows else 1
        if sides[first].shows <= PRESSED_PLAIN:
            break
        tip, sigma_mm = _tip_seen(wedge, first, tip, sigma_mm, darkness_at), 0.0
    # Chi-square of two degrees; where neither shows more than chance may, nothing is told.
    seen, chance = sides[first].shows, max(sides[1 - first].shows, RARE)
    odds = max(seen**2 - chance**2, 0.0) / 2
    end, beyond = sides[first].end, wedge.edges[1 - first]
    hidden = shown_along(tip, (end + beyond) / 2, darkness_at)
    second = crease_through(tip, hidden.end) if hidden.shows > PRESSED_PLAIN else None
    return crease_through(tip, end), second, float(expit(odds))


def is_creased(wedge: Wedge, among: int, darkness_at: DarknessAt) -> bool:
    """Whether a crease shows on either side of a wedge more plainly than by chance on any of some.

    Parameters
    ----------
    among : how many wedges were looked at.
    darkness_at : darkness of the paper at points (..., 2), mm.
    """
    tip, _ = _tip_of(wedge)
    shows = max(shown_along(tip, end, darkness_at).shows for end in wedge.edges)
    return shows > math.sqrt(2 * math.log(1000 * 2 * PLACES * among))


def _tip_of(wedge: Wedge) -> tuple[Floats, float]:
    """(2,) where the breaks come to nothing: their widths by their depths (least squares), mm.

    And its sigma, mm, for what breaks are off by. Where the line is y = a x + b, that of its root x
    is s / a * sqrt(1 / n + (x - mean x)^2 / sum (x - mean x)^2) (N. R. Draper and H. Smith, Applied
    Regression Analysis, 3rd edition, 1998, section 3.2).
    """
    ahead = wedge.edges.mean(axis=0) - wedge.tip
    ahead /= np.linalg.norm(ahead)
    depths = np.array([(gap.ends.mean(axis=0) - wedge.tip) @ ahead for gap in wedge.gaps])
    slope, width = np.polyfit(depths, [gap.width_mm for gap in wedge.gaps], 1)
    if slope <= 0:
        return wedge.tip, 0.0
    back = float(np.clip(width / slope, -0.9 * depths.min(), depths.min()))
    off = depths - depths.mean()
    share = 1 / len(depths) + (back + depths.mean()) ** 2 / float(off @ off)
    return np.asarray(wedge.tip - back * ahead), BREAK_SIGMA_MM / slope * math.sqrt(share)


def _tip_seen(
    wedge: Wedge, side: int, tip: Floats, sigma_mm: float, darkness_at: DarknessAt
) -> Floats:
    """(2,) where the tip is likeliest to be by all of a crease's length and by the breaks, mm.

    What shows, squared, is a chi-square, as is how many sigmas the tip then is from where the
    breaks have it: half of it is the logarithm of how likely a tip is, by which those looked at
    are weighed. From too far in, a part is bare; from too far out, a part of it is left out.
    """
    axis = wedge.edges.mean(axis=0) - tip
    axis /= np.linalg.norm(axis)
    nearest = min(float((gap.ends.mean(axis=0) - tip) @ axis) for gap in wedge.gaps)
    steps = math.floor(FURTHEST_SIGMAS * sigma_mm / TIP_STEP_MM)
    further = TIP_STEP_MM * np.arange(-steps, steps + 1)
    further = further[further < 0.9 * nearest]
    if steps < 1:
        return tip
    end = wedge.edges[side]
    ways = [_ways_about(at, end, darkness_at, WHOLE) for at in tip + further[:, None] * axis]
    # The paper is one, whichever tip it is looked at from: what it varies by is not told anew for
    # each, or the tip would be where the few ways beside a crease happen to vary least.
    varies = np.median([way.varies for way in ways], axis=0)
    chance = np.median([way.chance(varies) for way in ways])
    if not chance > 0.0:  # no paper is seen there
        return tip
    shows = TENTH / chance * np.array([way.near(varies).max() for way in ways])
    weighed = shows**2 - (further / sigma_mm) ** 2
    likely = softmax(weighed / 2)
    return np.asarray(tip + float(likely @ further) * axis)


def crease_through(*places: Floats) -> Curve:
    """A crease through places (2,), mm, from its tip to the paper's edge."""
    path = LineString(places)
    at = np.linspace(0.0, 1.0, max(round(path.length), 2) + 1)
    points = get_coordinates(line_interpolate_point(path, at, normalized=True))
    return Curve(points, False, 2 * SPREAD_MM, 0.0, 0.0, SIGMA_MM, GREY)


def shown_along(
    tip: Floats, end: Floats, darkness_at: DarknessAt, from_share: float = PRESSED_OUTER
) -> Crease:
    """How a crease from a tip to about a place at the paper's edge shows, from a share of its way.

    Both its even part and its odd one count, each over what such parts come to on ways beside it.
    """
    ways = _ways_about(tip, end, darkness_at, from_share)
    chance = ways.chance(ways.varies)
    if chance <= 0.0:  # no paper is seen there
        return Crease(0.0, end)
    near = TENTH / chance * ways.near(ways.varies)
    lean, column = np.unravel_index(int(np.argmax(near)), near.shape)
    ahead = (end - tip) / np.linalg.norm(end - tip)
    left = np.array([-ahead[1], ahead[0]])
    return Crease(float(near[lean, column]), end + (LEANS_MM[lean] + ASIDES_MM[column]) * left)


def _ways_about(tip: Floats, end: Floats, darkness_at: DarknessAt, from_share: float) -> _Ways:
    """Ways over the paper about that from a tip to a place at its edge, from a share of it."""
    reach = float(np.linalg.norm(end - tip))
    ahead = (end - tip) / reach
    left = np.array([-ahead[1], ahead[0]])
    depths = np.arange(from_share * reach, reach - 2.0, ROW_MM)
    chart = quiet(darkness_at(tip + depths[:, None, None] * ahead + ASIDES_MM[:, None] * left))
    shift = np.rint(np.outer(LEANS_MM, depths) / reach / PRESSED_STEP_MM).astype(np.intp)
    columns = np.clip(np.arange(len(ASIDES_MM)) + shift[..., None], 0, len(ASIDES_MM) - 1)
    rows = np.arange(len(depths))[:, None]
    means = []
    for order in (1, 2):
        seen = gaussian_filter1d(chart, SPREAD_MM / PRESSED_STEP_MM, axis=1, order=order)
        means.append([seen[rows, column].mean(axis=0) for column in columns])
    return _Ways(np.sqrt(len(depths)) * np.array(means))


def quiet(chart: Floats) -> Floats:
    """Darkness, of which what is more than the paper's own varying counts no more than that."""
    middle = float(np.median(chart))
    sigma = robust_sigma(chart, middle)
    return np.asarray(np.clip(chart - middle, -LOUD * sigma, LOUD * sigma))
