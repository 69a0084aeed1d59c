"""Ruled and squared paper: its printed lines are set aside, as no hand drew them.

Print is many thin straight marks of one look, one way and one spacing, over most of the paper.
Hatching is all that but the last, and a line drawn along the squares has another look.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.special import bdtrc
from shapely import MultiPoint, Polygon

from digitize.pencil.curves import Curve
from digitize.pencil.ridges import DarknessAt
from digitize.pencil.runs import Runs
from digitize.pencil.thresholds import (
    IN_STEP,
    LIKE_WEIGHT,
    MOST_STEPS,
    OVER_PAPER,
    PRINT_BY_CHANCE,
    PRINT_FEWEST,
    PRINT_LONG_MM,
    PRINT_MOSTLY,
    PRINT_ON_MM,
    PRINT_STRAIGHT,
    SAME_WAY,
    SHORT_MM,
    SPACINGS_MM,
)
from digitize.plane import headings_along, places_beside, runs_of

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]


@dataclass(frozen=True)
class Ruling:
    """Printed lines one way: which way they run (radians), how far they are apart (mm)."""

    heading: float
    spacing_mm: float


def set_print_aside(
    curves: Sequence[Curve], outline: Floats, darkness_at: DarknessAt
) -> tuple[tuple[Curve, ...], tuple[Ruling, ...]]:
    """The marks that are not printed on the paper inside an outline (N, 2), and what is.

    Where a printed line was traced on into a drawn one, the drawn stretch is kept.
    """
    rulings: list[Ruling] = []
    printed = np.zeros(len(curves), bool)
    for _ in range(2):
        found = _ruling(curves, printed, Polygon(outline).area)
        if found is None:
            break
        ruling, members = found
        rulings.append(ruling)
        printed |= members
    kept = [curve for curve, out in zip(curves, printed, strict=True) if not out]
    drawn = _drawn_on([curves[k] for k in np.flatnonzero(printed).tolist()], darkness_at)
    return (*kept, *drawn), tuple(rulings)


def _drawn_on(prints: Sequence[Curve], darkness_at: DarknessAt) -> list[Curve]:
    """The stretches of printed lines that are much darker than print is."""
    if not prints:
        return []
    runs = Runs(np.array([len(curve.points) for curve in prints]), np.zeros(len(prints), bool))
    normals = [headings_along(curve.points) + np.pi / 2 for curve in prints]
    across = np.concatenate([np.stack([np.cos(n), np.sin(n)], axis=1) for n in normals])
    points = np.concatenate([curve.points for curve in prints])
    dark = runs.blurred(darkness_at(places_beside(points, across, PRINT_ON_MM)).mean(axis=1), 1.0)
    usual = float(np.median(dark))
    pieces = []
    for curve, along in zip(prints, runs.parts(dark), strict=True):
        for a, b in runs_of(along > LIKE_WEIGHT * usual):
            piece = replace(curve, points=curve.points[a:b])
            if b - a > 3 and piece.length > SHORT_MM:
                more = float(np.median(along[a:b]) / np.median(along))
                pieces.append(replace(piece, weight=curve.weight * more))
    return pieces


def _ruling(curves: Sequence[Curve], done: Flags, area: float) -> tuple[Ruling, Flags] | None:
    """Print one way, and which marks are part of it; ``done`` (N,) are no more to be looked at."""
    if not curves:
        return None
    run = np.array([curve.points[-1] - curve.points[0] for curve in curves])
    chord, length = np.linalg.norm(run, axis=1), np.array([curve.length for curve in curves])
    heading = np.arctan2(run[:, 1], run[:, 0])
    weight = np.array([curve.weight for curve in curves])
    straight = ~done & (chord > PRINT_STRAIGHT * length)
    long = np.flatnonzero(straight & (length > PRINT_LONG_MM))
    if len(long) < PRINT_FEWEST:
        return None
    # The way that most of the length runs, and its mean: of doubled angles, as lines have no end.
    turn = np.exp(2j * heading)
    alike = np.abs(np.angle(turn[long][:, None] / turn[long][None, :])) < 2 * SAME_WAY
    most = long[int(np.argmax(alike @ length[long]))]
    way = np.angle((turn[long] * length[long])[alike[list(long).index(most)]].sum()) / 2
    same = np.abs(np.angle(turn * np.exp(-2j * way))) < 2 * SAME_WAY
    usual = float(np.median(weight[long][same[long]]))
    look = (weight < LIKE_WEIGHT * usual) & (weight > usual / LIKE_WEIGHT)
    family = long[(same & look)[long]]
    if len(family) < PRINT_FEWEST:
        return None
    points = np.concatenate([curves[k].points for k in family])
    if MultiPoint(points).convex_hull.area < OVER_PAPER * area:
        return None
    across = np.array([-np.sin(way), np.cos(way)])
    middles = np.array([curve.points.mean(axis=0) for curve in curves])
    told = spacing_of(np.sort(middles[family] @ across))
    if told is None:
        return None
    return Ruling(float(way % np.pi), told), same & look & straight & (length > SHORT_MM)


def spacing_of(offsets: Floats) -> float | None:
    """The spacing (mm) of marks by their offsets (N,), in order, if they have one.

    By gaps between neighbours and not by phase: a sheet that bulges puts far marks out of phase.
    """
    gaps = np.diff(offsets)
    gaps = gaps[gaps > SPACINGS_MM[0] * (1 - IN_STEP)]  # less is one line, read in pieces
    if len(gaps) < PRINT_FEWEST - 1:
        return None
    steps = gaps[:, None] / SPACINGS_MM
    tells = steps < MOST_STEPS + IN_STEP
    off = np.abs(steps - np.maximum(np.round(steps), 1))
    in_step = (off < IN_STEP) & tells
    share = in_step.sum(axis=0) / np.maximum(tells.sum(axis=0), 1)
    share[tells.sum(axis=0) < PRINT_FEWEST - 1] = 0.0
    # Half of a spacing fits as well: of those that fit, the one with most gaps of one step.
    single = (in_step & (np.round(steps) == 1)).sum(axis=0)
    fits = share >= PRINT_MOSTLY
    if not fits.any() or single[fits].max() < PRINT_FEWEST // 2:
        return None
    # A few drawn lines lie in step with some spacing of so many by chance.
    by_chance = bdtrc(in_step.sum(axis=0) - 1.0, tells.sum(axis=0), 2 * IN_STEP)
    fits &= len(SPACINGS_MM) * by_chance < PRINT_BY_CHANCE
    if not fits.any():
        return None
    best = np.flatnonzero(fits & (single == single[fits].max()))
    rough = SPACINGS_MM[best[len(best) // 2]]
    near = gaps[np.abs(gaps / rough - 1) < IN_STEP]
    return float(np.median(near))
