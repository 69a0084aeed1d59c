"""Strokes to curves: fair, in mm, through the middle of the mark, with its width and weight."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d

from digitize.floor.raster import Raster
from digitize.pencil.fair import fair, scatter_of
from digitize.pencil.ink import ink_of
from digitize.pencil.polyline import length_of, places_beside
from digitize.pencil.profile import (
    OFFSET_STEP_MM,
    middle_of,
    profiles_along,
    sharp_side,
    sheen_of,
    sides_of,
    width_of,
)
from digitize.pencil.ridges import RidgeMap
from digitize.pencil.trace import Stroke

Floats = NDArray[np.float64]
CREST_SIGMA_MM = 0.12  # scatter of a crest point about the line's middle
PLACE_SIGMA_MM = 0.03  # what no picture shows: the pencil's own edge, the paper's stretch
LEAST_TWO_SIDED = 0.55
TWO_SIDED = 0.45
SURE_NOISE = 12.0
END_SHARE = 0.35
SETTLED_MM = 0.25


@dataclass(frozen=True)
class Curve:
    """A mark on the paper.

    Attributes
    ----------
    points : (N, 2) mm, about 1 mm apart, from end to end.
    closed : the last point goes on to the first.
    width : mm.
    weight : darkness integrated across the mark, mm; tells a cut from pencil.
    two_sided : share of the length that has lighter paper on both sides.
    sigma : standard deviation of the curve's place, mm.
    colour : (r, g, b) at the middle, sRGB.
    ink : the name of what it was drawn with; black for graphite too, and for a cut.
    dashed : drawn as a row of dashes.
    rubbed : share of the length drawn with the side of the lead; the curve lies on its sharp side.
    sheen : how much lighter it is beside the mark over how much darker on it; tells a crease.
    sure : from 0 to 1, how sure it is that this is a line at all.
    """

    points: Floats
    closed: bool
    width: float
    weight: float
    two_sided: float
    sigma: float
    colour: tuple[int, int, int]
    ink: str = "black"
    dashed: bool = False
    rubbed: float = 0.0
    sheen: float = 0.0
    sure: float = 1.0

    @property
    def length(self) -> float:
        """Length in mm."""
        return length_of(self.points)

    def reversed(self) -> "Curve":
        """The same curve, run the other way."""
        return replace(self, points=self.points[::-1])


def fit_curves(strokes: Sequence[Stroke], ridges: RidgeMap, raster: Raster) -> tuple[Curve, ...]:
    """A curve for each stroke that is a line: marks with paper on one side only are dropped."""
    curves = (_fit(stroke, ridges, raster) for stroke in strokes)
    return tuple(c for c in curves if c is not None and c.two_sided >= LEAST_TWO_SIDED)


def _fit(stroke: Stroke, ridges: RidgeMap, raster: Raster) -> Curve | None:
    # Neighbouring crest points share their grain: every third says as much.
    some = stroke.points[::3] if len(stroke.points) > 60 else stroke.points
    crest = fair(some, CREST_SIGMA_MM, stroke.closed).points
    points, sigma, width, rubbed = _placed(crest, ridges, raster, stroke.closed)
    if not stroke.closed:
        points = _true_ends(points, ridges)
        if len(points) < 4:
            return None
    profiles = profiles_along(points, ridges, stroke.closed)
    peak, lighter, darker = sides_of(profiles)
    two_sided = peak - darker > TWO_SIDED * (peak - lighter)
    near = np.abs(profiles.offsets) < 1.0
    weight = np.clip(profiles.darkness - lighter[:, None], 0, None)[:, near].sum(axis=1)
    colour = np.median(raster.colours_at(points), axis=0)
    strength = float(stroke.strength.mean())
    return Curve(
        points=points,
        closed=stroke.closed,
        width=width,
        weight=float(np.median(weight)) * OFFSET_STEP_MM,
        two_sided=float(two_sided.mean()),
        sigma=float(np.hypot(sigma, PLACE_SIGMA_MM)),
        colour=(int(colour[0]), int(colour[1]), int(colour[2])),
        ink=ink_of(profiles.points, profiles.normals, raster),
        dashed=stroke.dashed,
        rubbed=rubbed,
        sheen=sheen_of(profiles),
        sure=float(two_sided.mean() * (1 - np.exp(-strength / SURE_NOISE))),
    )


def _placed(
    points: Floats, ridges: RidgeMap, raster: Raster, closed: bool
) -> tuple[Floats, float, float, float]:
    """The curve on its mark's middle or sharp side; its sigma, the mark's width, share rubbed."""
    width, rubbed, sigma = 0.0, np.zeros(1, bool), CREST_SIGMA_MM
    for _ in range(2):
        profiles = profiles_along(points, ridges, closed)
        width, full = width_of(profiles, raster.mm_per_px)
        offset = middle_of(profiles, float(np.median(full)))
        edge, rubbed = sharp_side(profiles, full)
        if rubbed.any():
            share = gaussian_filter1d(rubbed.astype(float), 1.0)
            offset = (1 - share) * offset + share * edge
        placed = profiles.points + offset[:, None] * profiles.normals
        if len(placed) < 4:
            return points, CREST_SIGMA_MM, width, 0.0
        scatter = scatter_of(offset)
        peak, _, darker = sides_of(profiles)
        # Where the pencil skipped there is nothing to go by; where a mark meets it, little.
        sure = np.clip((peak - darker) / max(np.percentile(peak - darker, 70), 1e-3), 0.0, 1.0)
        if not closed:
            # The outermost blocks lie half a block inside the ends.
            first = points[:1] + profiles.normals[0] * offset[0]
            last = points[-1:] + profiles.normals[-1] * offset[-1]
            placed = np.concatenate([first, placed, last])
            sure = np.concatenate([sure[:1], sure, sure[-1:]])
        curve = fair(placed, scatter, closed, sure)
        points, sigma = curve.points, curve.sigma
        if np.abs(offset).max() < SETTLED_MM:
            break  # the profiles were as good as square to the line already
    return points, sigma, width, float(rubbed.mean())


def _true_ends(points: Floats, ridges: RidgeMap) -> Floats:
    """The curve cut or lengthened to where its darkness ends.

    The ridge filter looks along the line and so blurs its ends. A pencil is set down and lifted
    gently, so the line ends where somewhat less than half of its darkness is left.
    """
    for _ in range(2):
        points = _true_end(points, ridges)[::-1]
    return points


def _true_end(points: Floats, ridges: RidgeMap) -> Floats:
    reach = min(12, len(points) - 1)
    ahead = points[-1] - points[-1 - min(6, reach)]
    ahead /= np.linalg.norm(ahead) + 1e-12
    beyond = points[-1] + ahead * np.arange(0.1, 3.0, 0.1)[:, None]
    along = np.linspace(0, reach, reach * 10 + 1)
    inner = np.column_stack(
        [np.interp(along, np.arange(reach + 1), points[-1 - reach :, axis]) for axis in (0, 1)]
    )
    path = np.concatenate([inner, beyond])
    normal = np.array([-ahead[1], ahead[0]])
    offsets = np.array([-0.2, 0.0, 0.2, -1.3, 1.3])
    tone = ridges.darkness_at(places_beside(path, normal, offsets))
    # Against the lighter side: shading at a crease is no pencil, a line beside this one no ground.
    dark = tone[:, :3].mean(axis=1) - gaussian_filter1d(tone[:, 3:], 12.0, axis=0).min(axis=1)
    body = float(dark[: len(inner) // 2 + 1].mean())
    # Where the sum of what exceeds that share is highest: one dark or light speck decides nothing.
    stop = int(np.argmax(np.cumsum(dark - END_SHARE * body)))
    end = path[stop]
    if stop >= len(inner):
        return np.concatenate([points, end[None]])
    kept = points[: len(points) - 1 - reach + int(along[stop]) + 1]
    return np.concatenate([kept, end[None]]) if len(kept) else points[:1]
