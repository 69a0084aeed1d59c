"""A slit on dark paper, where chalk stands out and a cut hardly does: its cut, beside its lap line.

The lap line is as light as all that is drawn there. The cut is darker than the paper, or a little
lighter where the floor shows, and may be too faint to be traced. It begins at the lap line's tip or
a little before, and runs nearly straight to the paper's edge. All along such a way it shows.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import partial

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d
from scipy.special import expit
from shapely import LineString, MultiPoint, Polygon, contains_xy, distance
from shapely import points as points_of

from digitize.pencil import Curve, DarknessAt
from digitize.plane import places_beside, robust_sigma, square_to
from digitize.tucks.crease_ends import carried_to_edge
from digitize.tucks.ends import gap_at, line_ends
from digitize.tucks.lap_lines import lies_along
from digitize.tucks.onsets import is_open_at
from digitize.tucks.pressed import quiet
from digitize.tucks.slits import TuckMarks, cut_at, worked_out
from digitize.tucks.thresholds import (
    ABOUT_CUT_MM,
    AT_CUT_MM,
    BESIDE_CHALK_MM,
    CUT_BLUR_MM,
    CUT_LIKE_CHALK,
    CUT_STEP_MM,
    CUT_WIDTH_MM,
    ENDS_AT_MM,
    LAP_LINES_OTHER_MM,
    LAP_LINES_SHORTEST_MM,
    LEAST_CUT_SIGMA_MM,
    MOST_LATE_MM,
    NEAR_CUT_MM,
    OVERSHOT_MM,
    PRESSED_STEP_MM,
    ROW_MM,
    SETTLED_MM,
    SPREAD_MM,
    STEEPEST_LAP,
    TENTH,
    WAY_ASIDE_MM,
    WAY_BENT,
    WAY_LONG_MM,
    WAY_LONGEST_MM,
    WAY_PARTS,
    WAY_STEP_MM,
)

Floats = NDArray[np.float64]
ACROSS_MM = np.arange(-ABOUT_CUT_MM, ABOUT_CUT_MM + CUT_STEP_MM / 2, CUT_STEP_MM)


@dataclass(frozen=True)
class _Way:
    """A straight or evenly bowed way beside a lap line.

    Attributes
    ----------
    points : (N, 2) ROW_MM apart, from MOST_LATE_MM before the lap line's tip on.
    sure : how likely it is that this one is the cut, and no other on the lap line's other side.
    """

    points: Floats
    sure: float


def cuts_on_dark(
    tucks: Sequence[TuckMarks],
    lines: Sequence[Curve],
    outline: Floats,
    darkness_at: DarknessAt,
) -> tuple[tuple[TuckMarks, ...], tuple[Curve, ...]]:
    """The tucks of a paper that is darker than its marks, each slit with its cut where that shows.

    All others are unsure. And the lines that are no part of one.

    Parameters
    ----------
    lines : what is drawn, cut where it ran across a tuck's marks.
    outline : (N, 2) the paper's edge.
    darkness_at : by how much the paper is lighter at points (..., 2), mm, than around.
    """
    found, rest = [], list(lines)
    for marks in tucks:
        work = partial(_with_cut, marks, rest, outline, darkness_at)
        whole = worked_out(work, None) if marks.kind == "slit" else None
        if whole is not None:
            rest = [line for line in rest if not lies_along(line, whole.main)]
            rest = cut_at(rest, [whole.main])
        found.append(whole or marks.unsure())
    return tuple(found), tuple(rest)


def _with_cut(
    marks: TuckMarks, lines: Sequence[Curve], outline: Floats, darkness_at: DarknessAt
) -> TuckMarks | None:
    """A slit with the cut beside its lap line; None if none shows there that lines bear out."""
    both = [mark for mark in (marks.main, marks.second) if mark is not None]
    lap_line = max(both, key=lambda mark: mark.weight / mark.width)
    if lap_line.length < max(mark.length for mark in both) - MOST_LATE_MM:
        return None  # only its outer part was traced by itself
    way = _way_beside(lap_line, darkness_at) if lines else None
    if way is None:
        return None
    cut = _cut_along(way.points, lap_line, outline, darkness_at)
    usual = float(np.median([line.weight / line.width for line in lines]))
    if cut.weight / cut.width > CUT_LIKE_CHALK * usual:
        return None  # another line that was drawn
    others = [line for line in lines if not lies_along(line, cut)]
    borne_out = _votes(cut, lap_line, others, darkness_at) > 0
    return TuckMarks("slit", cut, lap_line, way.sure) if borne_out else None


def _votes(cut: Curve, lap_line: Curve, lines: Sequence[Curve], darkness_at: DarknessAt) -> int:
    """Votes of the lines about a slit: each ends there, on the lap line's side at that line.

    One that was drawn up to the cut may stop short of it. One that is drawn across votes against.
    """
    votes, path = 0, LineString(cut.points)
    for line in lines:
        crossing = LineString(line.points).intersection(path).centroid
        ends = MultiPoint(line.points[[0, -1]])
        across = not crossing.is_empty and crossing.distance(ends) > ENDS_AT_MM
        votes -= across and not is_open_at(line, crossing, darkness_at)
    for end in line_ends(cut, lines):
        gap = gap_at(cut, lap_line, end.depth)
        if gap is None:
            continue
        expected = max(gap * end.side, 0.0)
        off = abs(end.across - expected)
        short = expected == 0.0 and off < AT_CUT_MM
        votes += 1 if off < ENDS_AT_MM else 0 if short else -1
    return votes


def _way_beside(lap_line: Curve, darkness_at: DarknessAt) -> _Way | None:
    """The way beside a lap line that shows, more than one in a thousand do by chance.

    How much ways show by chance is told from those on the lap line's other side.
    """
    tip, ahead = lap_line.points[0], lap_line.points[-1] - lap_line.points[0]
    reach = float(np.linalg.norm(ahead))
    if not LAP_LINES_SHORTEST_MM <= reach <= WAY_LONGEST_MM:
        return None
    ahead /= reach
    normal = np.array([-ahead[1], ahead[0]])
    # Of long ones as many ways are looked at as of others, or it would take seconds.
    coarser = max(reach / WAY_LONG_MM, 1.0)
    step_mm = coarser * WAY_STEP_MM
    depths = np.arange(0.0, reach - 1.0, coarser * ROW_MM)
    share = depths / reach
    widest, most = STEEPEST_LAP * reach + WAY_ASIDE_MM, WAY_BENT * reach
    half = widest + most + 2 * LAP_LINES_OTHER_MM
    asides = np.arange(-half, half + PRESSED_STEP_MM / 2, PRESSED_STEP_MM)
    chart = quiet(darkness_at(tip + depths[:, None, None] * ahead + asides[:, None] * normal))
    away = lap_line.points - tip
    course = np.interp(depths, away @ ahead, away @ normal)
    beside = BESIDE_CHALK_MM + lap_line.width / 2
    chart[np.abs(asides - course[:, None]) < beside] = 0.0
    # A way by where it begins and ends aside, and its bow halfway.
    begins = np.arange(-WAY_ASIDE_MM, WAY_ASIDE_MM + 0.01, 2 * WAY_STEP_MM)
    bows = np.arange(-most, most + 0.01, step_mm)
    ends = np.arange(-widest, widest, step_mm)
    shapes = [(begin, bow) for begin in begins for bow in bows]
    seen = [
        gaussian_filter1d(chart, SPREAD_MM / PRESSED_STEP_MM, axis=1, order=order)
        for order in (1, 2)
    ]
    rows = np.arange(len(depths))
    means = np.zeros((2, len(shapes), len(ends)))
    for row, (begin, bow) in enumerate(shapes):
        ways = _aside(begin, ends[:, None], bow, share)
        clear = np.abs(ways - course) > beside + SPREAD_MM
        column = np.rint((ways - asides[0]) / PRESSED_STEP_MM).astype(np.intp)
        count = clear.sum(axis=1)
        for part, mean in zip(seen, means, strict=True):
            total = np.where(clear, part[rows, column], 0.0).sum(axis=1)
            mean[row] = np.where(count > len(rows) / 2, total / np.sqrt(np.maximum(count, 1)), 0.0)
    varies = [robust_sigma(mean[mean != 0.0], 0.0) + 1e-12 for mean in means]
    shows = np.hypot(*(mean / sigma for mean, sigma in zip(means, varies, strict=True)))
    shape, end = np.unravel_index(int(np.argmax(shows)), shows.shape)
    others = shows.max(axis=0)[ends * ends[end] < 0]
    others = others[others > 0.0]
    if not others.size:
        return None
    scale = TENTH / float(np.quantile(others, 0.9))
    best, other = scale * float(shows[shape, end]), scale * float(others.max())
    if best < math.sqrt(2 * math.log(2000 * widest / SPREAD_MM)):
        return None
    depths = np.arange(-MOST_LATE_MM, reach - 1.0, ROW_MM)
    begin, bow = shapes[shape]
    aside = _aside(begin, ends[end], bow, depths / reach)
    points = tip + depths[:, None] * ahead + aside[:, None] * normal
    return _Way(points, float(expit((best**2 - other**2) / 2)))


def _aside(begin: float, end: Floats | float, bow: float, share: Floats) -> Floats:
    """How far aside a way is at shares of its length, mm."""
    return np.asarray(begin * (1 - share) + end * share + bow * 4 * share * (1 - share))


def _cut_along(points: Floats, lap_line: Curve, outline: Floats, darkness_at: DarknessAt) -> Curve:
    """The cut along a way, as ``_Way`` has it, from its tip to the paper's edge.

    It is the narrowest mark there, as what a raised flap shades is wider. How well its place is
    known is how far apart lie the places that look half as much like it, or more.
    """
    places, normals = square_to(points, np.arange(0.0, len(points)) * ROW_MM, 2.0)
    across = places_beside(places, normals, ACROSS_MM)
    away = distance(LineString(lap_line.points), points_of(across))
    bare = away > BESIDE_CHALK_MM + lap_line.width / 2
    seen = darkness_at(across)
    rows = np.flatnonzero(bare[:, np.abs(ACROSS_MM) < 2 * NEAR_CUT_MM].all(axis=1))
    if len(rows) < WAY_PARTS:
        raise ValueError("the way is too close to the lap line")
    look = np.median(seen[rows], axis=0)
    likely = np.where(np.abs(ACROSS_MM) <= NEAR_CUT_MM, np.abs(_narrow(look)), 0.0)
    middle = int(np.argmax(likely))
    sign = math.copysign(1.0, _narrow(look)[middle])
    near = np.abs(ACROSS_MM - ACROSS_MM[middle]) <= SETTLED_MM
    parts = np.array_split(rows, WAY_PARTS)
    shows = np.array([sign * _narrow(np.median(seen[part], axis=0))[near] for part in parts])
    course = np.polyfit(
        [part.mean() for part in parts],
        ACROSS_MM[near][shows.argmax(axis=1)],
        1,
        w=shows.max(axis=1).clip(1e-9),
    )
    settled = points + np.polyval(course, np.arange(len(points)))[:, None] * normals
    first = _tip_of(seen, bare, look)
    found = settled[first :: round(1.0 / ROW_MM)]
    inside = contains_xy(Polygon(outline), *found.T)
    found = found[: len(inside) if inside.all() else int(np.argmin(inside))]
    alike = np.clip(likely - likely.max() / 2, 0.0, None)
    spread = math.sqrt(float(np.average((ACROSS_MM - ACROSS_MM[middle]) ** 2, weights=alike)))
    ground = np.interp(ACROSS_MM[middle], ACROSS_MM[[0, -1]], look[[0, -1]])
    cut = replace(
        lap_line,
        points=found,
        width=CUT_WIDTH_MM,
        weight=float(look[middle] - ground) * CUT_WIDTH_MM,
        sigma=max(spread, LEAST_CUT_SIGMA_MM),
    )
    ring = LineString([*outline, outline[0]])
    return carried_to_edge(cut, ring, lambda points: sign * darkness_at(points))


def _tip_of(seen: Floats, bare: NDArray[np.bool_], look: Floats) -> int:
    """The row at which a cut begins that looks much the same from there on, if fainter.

    It is the likeliest: the ratio of a row's likelihood with half of that look to that without, in
    normal scatter, is exp((x look / 2 - look^2 / 8) / sigma^2). No lap line goes before its slit's
    tip, but by what a hand overshoots.

    Parameters
    ----------
    seen, bare : (N, K) darkness across the way, and where the lap line is not.
    look : (K,) what the cut looks like.
    """
    unlike = np.where(bare, quiet(seen), 0.0)
    look = np.where(bare, look - np.median(look), 0.0)
    gained = np.cumsum((unlike * look / 2 - look**2 / 8).sum(axis=1)[::-1])[::-1]
    return int(np.argmax(gained[: round((MOST_LATE_MM + OVERSHOT_MM) / ROW_MM)]))


def _narrow(profile: Floats) -> Floats:
    """How much more a profile over ACROSS_MM is at each place than close by on both sides."""
    return np.asarray(-gaussian_filter1d(profile, CUT_BLUR_MM / CUT_STEP_MM, order=2))
