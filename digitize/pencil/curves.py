"""Strokes to curves: fair, in mm, through the middle of the mark, with its width and weight."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d

from digitize.floor import Raster
from digitize.pencil.fair import fair, scatter_of
from digitize.pencil.ink import inks_of
from digitize.pencil.profile import (
    edge_wander,
    middle_of,
    profiles_along,
    sharp_side,
    sheens_of,
    sides_of,
    widths_of,
)
from digitize.pencil.ridges import RidgeMap
from digitize.pencil.thresholds import (
    BROAD_MM,
    BROAD_REACH_MM,
    CREST_SIGMA_MM,
    CURVE_GROUND_MM,
    CURVE_TWO_SIDED,
    END_POINTS,
    END_SHARE,
    LEAST_TWO_SIDED,
    NEAR_GROUND_MM,
    OFFSET_STEP_MM,
    PLACE_SIGMA_MM,
    PROFILE_REACH_MM,
    SETTLED_MM,
    SURE_NOISE,
)
from digitize.pencil.trace import Stroke
from digitize.plane import length_of

Floats = NDArray[np.float64]


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
    ticks : never drawn itself, but by short marks across it.
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
    ticks: bool = False
    rubbed: float = 0.0
    sheen: float = 0.0
    sure: float = 1.0

    @cached_property
    def length(self) -> float:
        """Length in mm."""
        return length_of(self.points)

    def reversed(self) -> "Curve":
        """The same curve, run the other way."""
        return replace(self, points=self.points[::-1])


def fit_curves(strokes: Sequence[Stroke], ridges: RidgeMap, raster: Raster) -> tuple[Curve, ...]:
    """A curve for each stroke that is a line: marks with paper on one side only are dropped."""
    placed = _placed(strokes, ridges, raster.mm_per_px)
    placed = [each for each in _with_true_ends(placed, ridges) if len(each.points) >= 4]
    if not placed:
        return ()
    curves = [each.points for each in placed]
    profiles = profiles_along(curves, [each.stroke.closed for each in placed], ridges)
    runs = profiles.runs
    peak, lighter, darker = sides_of(profiles)
    two_sided = runs.means((peak - darker > CURVE_TWO_SIDED * (peak - lighter)).astype(float))
    near = np.abs(profiles.offsets) < 1.0
    weight = np.clip(profiles.darkness - lighter[:, None], 0, None)[:, near].sum(axis=1)
    weights = runs.quantiles(weight) * OFFSET_STEP_MM
    inks, sheens = inks_of(profiles, raster), sheens_of(profiles)
    found = []
    for k, each in enumerate(placed):
        if two_sided[k] < LEAST_TWO_SIDED:
            continue
        red, green, blue = np.median(raster.colours_at(each.points), axis=0)
        sure = two_sided[k] * (1 - np.exp(-each.stroke.strength.mean() / SURE_NOISE))
        found.append(
            Curve(
                points=each.points,
                closed=each.stroke.closed,
                width=each.width,
                weight=float(weights[k]),
                two_sided=float(two_sided[k]),
                sigma=float(np.hypot(each.sigma, PLACE_SIGMA_MM)),
                colour=(int(red), int(green), int(blue)),
                ink=inks[k],
                dashed=each.stroke.dashed,
                rubbed=each.rubbed,
                sheen=float(sheens[k]),
                sure=float(sure),
            )
        )
    return tuple(found)


@dataclass(frozen=True)
class _Placed:
    """A stroke's curve (N, 2), mm; its sigma and the mark's width, mm; the share rubbed."""

    stroke: Stroke
    points: Floats
    sigma: float = CREST_SIGMA_MM
    width: float = 0.0
    rubbed: float = 0.0


def _placed(strokes: Sequence[Stroke], ridges: RidgeMap, mm_per_px: float) -> list[_Placed]:
    """Each stroke's curve, on its mark's middle or sharp side."""
    found = [_Placed(stroke, _along_crest(stroke)) for stroke in strokes]
    found = _settled(found, range(len(found)), ridges, mm_per_px, PROFILE_REACH_MM)
    # The usual profile ends in a broad mark's foot, and what is cut off there draws the middle.
    broad = [index for index, each in enumerate(found) if each.width > BROAD_MM]
    again = _settled(found, broad, ridges, mm_per_px, BROAD_REACH_MM)
    # What is thin by the longer profile is no broad mark: a row of letters, say.
    return [new if new.width > BROAD_MM else old for old, new in zip(found, again, strict=True)]


def _settled(
    placed: Sequence[_Placed],
    which: Sequence[int],
    ridges: RidgeMap,
    mm_per_px: float,
    reach_mm: float,
) -> list[_Placed]:
    """The curves, with some put where profiles of such a reach have them."""
    found = list(placed)
    unsettled = list(which)
    for _ in range(2):
        if not unsettled:
            break
        some = [found[index] for index in unsettled]
        closed = [each.stroke.closed for each in some]
        profiles = profiles_along([each.points for each in some], closed, ridges, reach_mm)
        runs = profiles.runs
        widths, full = widths_of(profiles, mm_per_px, ridges.light)
        wander = edge_wander(profiles, full)
        offset = middle_of(profiles, full)
        edge, rubbed = sharp_side(profiles, full)
        share = runs.blurred(rubbed.astype(float), 1.0)
        offset = (1 - share) * offset + share * edge
        peak, _, darker = sides_of(profiles)
        contrast = peak - darker
        # Where the pencil skipped there is nothing to go by; where a mark meets it, little.
        usual = np.maximum(runs.quantiles(contrast, 0.7), 1e-3)
        sure = np.clip(contrast / runs.spread(usual), 0.0, 1.0)
        shares_rubbed = runs.means(rubbed.astype(float))
        for k, (start, size) in enumerate(zip(runs.starts, runs.sizes, strict=True)):
            own = slice(start, start + size)
            curve = _faired(
                some[k], profiles.points[own], profiles.normals[own], offset[own], sure[own]
            )
            width, sigma = float(widths[k]), curve.sigma
            if width > BROAD_MM:
                sigma = float(np.hypot(sigma, wander[k]))
            found[unsettled[k]] = replace(
                curve, width=width, sigma=sigma, rubbed=float(shares_rubbed[k])
            )
        # Where little was moved, the profiles were as good as square to the line already.
        far = np.maximum.reduceat(np.abs(offset), runs.starts) >= SETTLED_MM
        unsettled = [index for index, moved in zip(unsettled, far, strict=True) if moved]
    return found


def _along_crest(stroke: Stroke) -> Floats:
    # Neighbouring crest points share their grain: every third says as much.
    some = stroke.points[::3] if len(stroke.points) > 60 else stroke.points
    return fair(some, CREST_SIGMA_MM, stroke.closed).points


def _faired(
    before: _Placed, points: Floats, normals: Floats, offset: Floats, sure: Floats
) -> _Placed:
    """A fair curve through the places that lie so far (N,), mm, off the curve before.

    Parameters
    ----------
    points, normals : (N, 2) on the curve before.
    sure : (N,) from 0 to 1, how far each place can be relied on.
    """
    if len(points) < 4:
        return before
    scatter = scatter_of(offset)
    if not before.stroke.closed:
        # The outermost blocks lie half a block inside the ends.
        points = np.concatenate([before.points[:1], points, before.points[-1:]])
        normals, offset, sure = (
            np.concatenate([each[:1], each, each[-1:]]) for each in (normals, offset, sure)
        )
    curve = fair(points + offset[:, None] * normals, scatter, before.stroke.closed, sure)
    return replace(before, points=curve.points, sigma=curve.sigma)


def _with_true_ends(placed: Sequence[_Placed], ridges: RidgeMap) -> list[_Placed]:
    """The curves cut or lengthened to where their darkness ends.

    The ridge filter looks along the line and so blurs its ends. A pencil is set down and lifted
    gently, so the line ends where somewhat less than half of its darkness is left.
    """
    result = list(placed)
    for _ in range(2):
        by_reach: dict[int, list[int]] = {}
        for index, each in enumerate(result):
            if not each.stroke.closed:
                reach = min(END_POINTS, len(each.points) - 1)
                by_reach.setdefault(reach, []).append(index)
        for reach, indices in by_reach.items():
            lines = [result[index].points for index in indices]
            beside = np.array([result[index].width / 2 for index in indices]) + CURVE_GROUND_MM
            ended = _true_ends(lines, reach, np.maximum(beside, NEAR_GROUND_MM), ridges)
            for index, line in zip(indices, ended, strict=True):
                result[index] = replace(result[index], points=line[::-1])
    return result


def _true_ends(
    lines: Sequence[Floats], reach: int, beside: Floats, ridges: RidgeMap
) -> list[Floats]:
    """Lines with their last ends put right; what the last ``reach`` points run past tells how.

    Parameters
    ----------
    beside : (K,) how far off each line's middle, mm, its ground is looked at.
    """
    tails = np.stack([line[-1 - reach :] for line in lines])
    ahead = tails[:, -1] - tails[:, -1 - min(6, reach)]
    ahead /= np.linalg.norm(ahead, axis=1, keepdims=True) + 1e-12
    beyond = tails[:, -1:] + ahead[:, None] * np.arange(0.1, 3.0, 0.1)[:, None]
    along = np.linspace(0, reach, reach * 10 + 1)
    before = np.minimum(along.astype(int), reach - 1)
    step = tails[:, before + 1] - tails[:, before]
    inner = tails[:, before] + (along - before)[:, None] * step
    path = np.concatenate([inner, beyond], axis=1)
    normals = np.stack([-ahead[:, 1], ahead[:, 0]], axis=1)
    inside = np.tile([-0.2, 0.0, 0.2], (len(lines), 1))
    offsets = np.column_stack([inside, -beside, beside])
    away = offsets[:, None, :, None] * normals[:, None, None]
    tone = ridges.darkness_at(path[:, :, None] + away)
    # Against the lighter side: shading at a crease is no pencil, a line beside this one no ground.
    ground = gaussian_filter1d(tone[..., 3:], 12.0, axis=1).min(axis=2)
    dark = tone[..., :3].mean(axis=2) - ground
    body = dark[:, : len(along) // 2 + 1].mean(axis=1, keepdims=True)
    # Where the sum of what exceeds that share is highest: one dark or light speck decides nothing.
    stops = np.argmax(np.cumsum(dark - END_SHARE * body, axis=1), axis=1)
    ended = []
    for line, way, stop in zip(lines, path, stops.tolist(), strict=True):
        on = len(line) - reach + int(along[stop]) if stop < len(along) else len(line)
        ended.append(np.concatenate([line[:on], way[stop : stop + 1]]))
    return ended
