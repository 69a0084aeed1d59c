"""Rings that a wet cup left: pale or of a hue, and broader or rounder than a hand draws."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from digitize.pencil.curves import Curve
from digitize.pencil.thresholds import (
    AROUND,
    BROADER,
    HALF_BROADER,
    LEAST_ARC_MM,
    OFF_MM,
    PALER,
    RADIUS_MM,
    RING_MOSTLY,
    RING_ROUND_MM,
    RING_ROUNDER_MM,
    SECTORS,
)

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Ring:
    """A ring's middle and radius, mm."""

    middle: tuple[float, float]
    radius: float


def set_rings_aside(curves: Sequence[Curve]) -> tuple[tuple[Curve, ...], tuple[Ring, ...]]:
    """The marks that are no cups' rings, and those rings."""
    if not curves:
        return (), ()
    width = float(np.median([curve.width for curve in curves]))
    darkness = float(np.median([curve.weight / curve.width for curve in curves]))
    # Coffee, tea and rust have a hue, so that no ring of theirs looks like the lines, only paler.
    usual_ink = Counter(curve.ink for curve in curves).most_common(1)[0][0]
    rest, rings = list(curves), []
    for curve in sorted(curves, key=lambda curve: -curve.length):
        if curve.length < LEAST_ARC_MM or all(curve is not other for other in rest):
            continue
        ring = circle_through(curve.points)
        if not RADIUS_MM[0] < ring.radius < RADIUS_MM[1] or not _on(ring, curve):
            continue
        if curve.width < BROADER * width and _off_mm(ring, curve) > RING_ROUND_MM:
            continue
        # Rounder than any hand draws, and broader than its pencil: a foot's as dark as that may be.
        foot = curve.width > HALF_BROADER * width and _off_mm(ring, curve) < RING_ROUNDER_MM
        own = [
            other
            for other in rest
            if _on(ring, other)
            and other.weight / other.width
            < (1.0 if foot or other.ink != usual_ink else PALER) * darkness
        ]
        if any(other is curve for other in own) and _around(ring, own) > AROUND:
            rest = [other for other in rest if all(other is not each for each in own)]
            rings.append(ring)
    return tuple(rest), tuple(rings)


def circle_through(points: Floats) -> Ring:
    """The circle through points (N, 2): x2 + y2 = 2 a x + 2 b y + c (least squares)."""
    centre = points.mean(axis=0)
    away = points - centre
    terms = np.column_stack([2 * away, np.ones(len(away))])
    a, b, c = np.linalg.lstsq(terms, (away**2).sum(axis=1), rcond=None)[0]
    x, y = centre + np.array([a, b])
    return Ring((float(x), float(y)), float(np.sqrt(max(c + a**2 + b**2, 0.0))))


def _on(ring: Ring, curve: Curve) -> bool:
    return bool(np.mean(np.abs(_off(ring, curve)) < OFF_MM) > RING_MOSTLY)


def _off_mm(ring: Ring, curve: Curve) -> float:
    """RMS of how far a curve lies off a ring's circle, mm."""
    return float(np.sqrt(np.mean(_off(ring, curve) ** 2)))


def _off(ring: Ring, curve: Curve) -> Floats:
    """(N,) how far a curve's points lie outside a ring's circle, mm."""
    return np.asarray(np.linalg.norm(curve.points - ring.middle, axis=1) - ring.radius)


def _around(ring: Ring, curves: Sequence[Curve]) -> float:
    """Share of a circle's sectors in which some curve lies."""
    x, y = (np.concatenate([curve.points for curve in curves]) - ring.middle).T
    sectors = np.floor((np.arctan2(y, x) / (2 * np.pi) % 1.0) * SECTORS)
    return len(np.unique(sectors)) / SECTORS
