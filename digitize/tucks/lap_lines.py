"""A slit's lap line that was not traced: it is too faint for that, dashed, or beneath tape.

It leaves the slit at its tip, and stands off it as the lap grows, no slower than the depth. Along
the whole of such a way pencil shows that is too faint, or too broken, to be traced anywhere.
"""

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d
from shapely import LineString, distance
from shapely import points as points_of

from digitize.pencil import Curve, DarknessAt
from digitize.plane import places_beside, square_to
from digitize.tucks.ends import gap_at, line_ends
from digitize.tucks.onsets import is_open_at, where_begun
from digitize.tucks.pressed import quiet
from digitize.tucks.thresholds import (
    ALONG_MM,
    AT_CUT_MM,
    BESIDE_CUT_MM,
    ENDS_AT_MM,
    EVENLY,
    LAP_LINES_INNER,
    LAP_LINES_OTHER_MM,
    LAP_LINES_PARTS,
    LAP_LINES_SHORTEST_MM,
    LAP_LINES_SOUGHT_SIGMA_MM,
    LAP_LINES_WIDEST_MM,
    MOSTLY,
    POWERS,
    PRESSED_STEP_MM,
    ROW_MM,
    SETTLED_MM,
    SPREAD_MM,
    STEEPEST_LAP,
    TENTH,
)

Floats = NDArray[np.float64]


def sought_lap_line(cut: Curve, lines: Sequence[Curve], darkness_at: DarknessAt) -> Curve | None:
    """The lap line that shows beside a slit, from where it stands clear; None if none plainly does.

    It shows if what looks like a line along a way from the tip is more than one in a thousand
    slits would have by chance, told from the other ways over the same paper, and all along it.

    Parameters
    ----------
    lines : what was traced; only pieces that lie on the way itself count for it.
    darkness_at : darkness of the paper at points (..., 2), mm.
    """
    depths = np.arange(LAP_LINES_INNER * cut.length, cut.length - 1.0, ROW_MM)
    widest = min(STEEPEST_LAP * cut.length, LAP_LINES_WIDEST_MM)
    if cut.length < LAP_LINES_SHORTEST_MM or not lines:
        return None
    asides = np.arange(-widest - LAP_LINES_OTHER_MM, widest + LAP_LINES_OTHER_MM, PRESSED_STEP_MM)
    places, normals = square_to(cut.points, depths, 2.0)
    chart = quiet(darkness_at(places_beside(places, normals, asides)))
    seen = -gaussian_filter1d(chart, SPREAD_MM / PRESSED_STEP_MM / 2, axis=1, order=2)
    ends = asides[np.abs(asides) < widest]
    share = depths / cut.length
    # One power after the other: the ways of all beside a long mark are more than memory holds.
    shows = np.array([_shows(*_along(seen, asides, share, ends, each)[1:]) for each in POWERS])
    power, end = np.unravel_index(int(np.argmax(shows)), shows.shape)
    others = np.abs(ends - ends[end]) > LAP_LINES_OTHER_MM
    usual = shows[:, others & (np.abs(ends) > BESIDE_CUT_MM)]
    if not usual.size:
        return None
    chance = float(np.quantile(usual.max(axis=0), 0.9))
    plain = math.sqrt(2 * math.log(1000 * len(ends) * PRESSED_STEP_MM / SPREAD_MM))
    if chance <= 0.0 or shows[power, end] * TENTH / chance < plain:
        return None
    only = _along(seen, asides, share, ends[[end]], POWERS[power])
    way, own, kept = (each[0] for each in only)
    parts = [part.mean() for part in np.array_split(own[kept], LAP_LINES_PARTS)]
    if min(parts) < EVENLY * float(own[kept].mean()):
        return None
    near = np.abs(asides - way[:, None]) < SETTLED_MM
    weight = np.where(near, np.clip(gaussian_filter1d(seen, 4.0, axis=0), 0.0, None), 0.0) ** 2
    total = weight.sum(axis=1)
    found = np.where(total > 0, weight @ asides / (total + 1e-12), way)
    rows = np.flatnonzero(kept)
    course = np.polyfit(share[rows], found[rows], 2, w=np.sqrt(total[rows] + 1e-12))
    points = places[rows] + np.polyval(course, share[rows])[:, None] * normals[rows]
    usual_width = float(np.median([line.width for line in lines]))
    darkness = float(np.median(darkness_at(points)))
    return replace(
        cut,
        points=points[:: round(1.0 / ROW_MM)],
        width=usual_width,
        weight=max(darkness, 0.0) * usual_width,
        sigma=math.hypot(cut.sigma, LAP_LINES_SOUGHT_SIGMA_MM),
    )


def _along(
    seen: Floats, asides: Floats, share: Floats, ends: Floats, power: float
) -> tuple[Floats, Floats, NDArray[np.bool_]]:
    """(M, N) how far off the slit the ways to some ends are, mm, what shows there, and where they
    are clear of it.

    Parameters
    ----------
    seen : (N, K) what shows at depths so many mm aside (K,).
    share : (N,) depths over the slit's length, to whose power the ways grow.
    ends : (M,) how far off they are where the slit ends, mm.
    """
    ways = ends[:, None] * share ** np.array([power])
    columns = np.clip(
        np.rint((ways - asides[0]) / PRESSED_STEP_MM).astype(np.intp), 0, len(asides) - 1
    )
    clear = np.abs(ways) > BESIDE_CUT_MM
    return ways, np.where(clear, seen[np.arange(len(share)), columns], 0.0), clear


def _shows(along: Floats, clear: NDArray[np.bool_]) -> Floats:
    """(M,) how plainly ways show, by what does along each (M, N) and where they are clear."""
    shows = along.sum(axis=1) / np.sqrt(np.maximum(clear.sum(axis=1), 1.0))
    shows[clear.mean(axis=1) < 0.5] = 0.0
    return np.asarray(shows)


def lies_along(curve: Curve, lap_line: Curve) -> bool:
    """Whether most of a traced piece lies on a lap line."""
    away = distance(LineString(lap_line.points), points_of(curve.points))
    return bool(np.mean(away < ALONG_MM) > MOSTLY)


def borne_out(cut: Curve, lap_line: Curve, lines: Sequence[Curve], darkness_at: DarknessAt) -> int:
    """Votes of the lines that end at a slit on a lap line's side: more than 0 if they bear it out.

    Each that goes on at the lap line votes for it; each that goes on elsewhere, or is drawn where
    the upper flap lay, against it. One that was traced to the slit goes on where it begins to be
    dark; if that cannot be told, bare paper on half of the way says nothing.

    Parameters
    ----------
    lines : cut where they ran across the slit.
    darkness_at : darkness of the paper at points (..., 2), mm.
    """
    votes = 0
    ends = line_ends(cut, lines)
    for end, begun in zip(ends, where_begun(ends, cut, lines, darkness_at), strict=True):
        gap = gap_at(cut, lap_line, end.depth)
        if gap is None or gap * end.side <= 0:
            continue
        line = lines[end.line]
        if abs(begun.across - abs(gap)) < ENDS_AT_MM:
            votes += 1
        elif begun.across > AT_CUT_MM:
            votes -= 1
        elif not line.dashed and not line.ticks:  # those are bare all along
            onward = line.points if np.allclose(line.points[0], end.point) else line.points[::-1]
            near = LineString(onward).interpolate(abs(gap) / 2)
            votes -= not is_open_at(line, near, darkness_at)
    return votes
