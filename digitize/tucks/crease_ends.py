"""Creases carried on to where they end: at the paper's edge, and at their tip.

A crease is faint, and its trace stops where it is lost in the paper's grain. Its course is known,
and along that it shows further.
"""

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import uniform_filter1d
from shapely import LineString, Point

from digitize.pencil import Curve, DarknessAt
from digitize.plane import places_along, places_beside, robust_sigma, running_length
from digitize.tucks.thresholds import (
    FADED_MM,
    HIDDEN_MM,
    LEAST_TO_BEND_MM,
    LOOK_STEP_MM,
    MOST_ASIDE_MM,
    MOST_LOST_MM,
    OFF_CREASE_MM,
    ON_CREASE_MM,
    SEEN_OVER_MM,
    SETS_IN_MM,
    TIP_OFF_MM,
    TIP_SHARE,
    TIP_WINDOW_MM,
    TRUNK_POINTS,
)

Floats = NDArray[np.float64]


def carried_to_edge(curve: Curve, ring: LineString, darkness_at: DarknessAt) -> Curve:
    """A crease carried on to the paper's edge: paper creases right through.

    Straight, or bent evenly to where it shows best. Where it does not show, its end at the edge is
    all that is added, so that nothing is measured on the way.

    Parameters
    ----------
    darkness_at : darkness of the paper at points (..., 2), mm.
    """
    run = curve.points[-1] - curve.points[-min(30, len(curve.points))]
    ahead = run / (np.linalg.norm(run) + 1e-12)
    way = LineString([curve.points[-1], curve.points[-1] + FADED_MM * ahead])
    hit = ring.intersection(way)
    if hit.is_empty:
        return curve
    reach = min(Point(*curve.points[-1]).distance(p) for p in getattr(hit, "geoms", [hit]))
    further = np.arange(1.0, reach)
    bend = _bend_onwards(curve.points[-1], ahead, further, darkness_at)
    if bend is None:
        further, bend = further[-1:], 0.0
    aside = bend * further**2
    normal = np.array([-ahead[1], ahead[0]])
    way_on = curve.points[-1] + further[:, None] * ahead + aside[:, None] * normal
    return replace(curve, points=np.concatenate([curve.points, way_on]))


def _bend_onwards(
    end: Floats, ahead: Floats, further: Floats, darkness_at: DarknessAt
) -> float | None:
    """How a crease bends beyond its traced end, mm aside over its square; None if unseen."""
    if len(further) < LEAST_TO_BEND_MM:
        return 0.0
    normal = np.array([-ahead[1], ahead[0]])
    along = np.concatenate([np.arange(-float(TRUNK_POINTS), 0.0), further])
    beyond = np.clip(along, 0.0, None)
    bends = np.arange(-MOST_ASIDE_MM, MOST_ASIDE_MM + 0.1, 0.25) / further[-1] ** 2
    aside = np.multiply.outer(bends, beyond**2)
    at = end + along[:, None] * ahead + aside[..., None] * normal
    shows = shown_at(at.reshape(-1, 2), normal, darkness_at).reshape(aside.shape)
    usual = usually_shown(shows[0, along < 0])
    seen = np.clip(shows[:, along > 0], -usual, 1.5 * usual).mean(axis=1)
    best, straight = int(np.argmax(seen)), int(np.argmin(np.abs(bends)))
    if usual <= 0 or seen[best] < 0.4 * usual:
        return None
    return float(bends[best]) if seen[best] > seen[straight] + 0.1 * usual else 0.0


def shown_at(points: Floats, normal: Floats, darkness_at: DarknessAt) -> Floats:
    """(N,) how much darker a crease is at points (N, 2) than the paper beside it."""
    dark = darkness_at(places_beside(points, normal, np.array(ON_CREASE_MM + OFF_CREASE_MM)))
    on = len(ON_CREASE_MM)
    return np.asarray(dark[:, :on].mean(axis=1) - dark[:, on:].mean(axis=1))


def usually_shown(shows: Floats) -> float:
    """How dark a crease shows where it was traced; 0 if that is no more than it varies by."""
    usual = float(np.median(shows))
    varies = robust_sigma(shows, usual)  # robust: pencil lines cross it
    return usual if usual > varies else 0.0


def carried_to_tip(curve: Curve, darkness_at: DarknessAt) -> Curve:
    """A crease begun at its tip: carried straight on inwards as far as it shows, or cut there.

    Near its tip a crease may be lost in tracing, or hidden by writing; its course is known.

    Parameters
    ----------
    darkness_at : darkness of the paper at points (..., 2), mm.
    """
    near = curve.points[:TRUNK_POINTS]
    first, ahead = near[0], near[0] - near[-1]
    ahead /= np.linalg.norm(ahead)
    furthest = MOST_LOST_MM + TIP_WINDOW_MM
    along = np.arange(-float(TRUNK_POINTS), furthest, LOOK_STEP_MM)
    way = places_along(curve.points, -along) + np.clip(along, 0.0, None)[:, None] * ahead
    shows = shown_at(way, np.array([-ahead[1], ahead[0]]), darkness_at)
    usual = usually_shown(shows[along < 0])
    if usual <= 0:
        return curve
    reach = _set_in(along, shows, _seen_to(along, shows, usual), usual)
    length = running_length(curve.points)
    if reach >= 0:
        begin = first + ahead * np.append(reach, np.arange(reach - 1.0, 0.5, -1.0))[:, None]
    else:
        begin = places_along(curve.points, np.array([-reach]))
    return replace(curve, points=np.concatenate([begin, curve.points[length > -reach]]))


def _seen_to(along: Floats, shows: Floats, usual: float) -> float:
    """How far a crease shows without a gap that is longer than what writing hides, mm."""
    smooth = uniform_filter1d(shows, round(SEEN_OVER_MM / LOOK_STEP_MM))
    looked = (along > -SEEN_OVER_MM) & (along < MOST_LOST_MM)
    seen = along[looked & (smooth > 0.5 * usual)]
    return float(seen[np.argmax(np.append(np.diff(seen) > HIDDEN_MM, True))]) if len(seen) else 0.0


def _set_in(along: Floats, shows: Floats, about: float, usual: float) -> float:
    """Where a crease's darkness sets in (least squares), near where it seems to, mm along."""
    near = np.abs(along - about) < TIP_WINDOW_MM
    shown = np.clip(shows[near], -usual, 2 * usual)  # lest a pencil line counts for more
    begins = np.arange(about - TIP_OFF_MM, about + TIP_OFF_MM, LOOK_STEP_MM)
    dark = np.clip((begins[:, None] - along[near]) / SETS_IN_MM, 0.0, 1.0)
    fitted = np.clip(dark @ shown, 0.0, None) ** 2 / (dark**2).sum(axis=1)
    return float(begins[np.argmax(fitted)]) - TIP_SHARE * SETS_IN_MM
