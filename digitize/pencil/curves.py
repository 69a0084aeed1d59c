"""Strokes to curves: smooth, in mm, through the middle of the mark, with its width and weight."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import splev, splprep
from scipy.ndimage import gaussian_filter1d, median_filter

from digitize.floor.raster import Raster
from digitize.pencil.ridges import RidgeMap
from digitize.pencil.trace import Stroke

Floats = NDArray[np.float64]
STEP_MM = 1.0
REACH_MM = 3.2
OFFSET_STEP_MM = 0.1
POINT_SIGMA_MM = 0.07  # scatter of a crest point about the line's middle
BLUR_SIGMA_PX = 1.3  # of raster and lens together
FLANK_MM = (0.6, 2.2)
LEAST_TWO_SIDED = 0.55
WIDE_MM = 1.7
EDGE_POINTS = 21
END_SHARE = 0.35


@dataclass(frozen=True)
class Curve:
    """A mark on the paper.

    Attributes
    ----------
    points : (N, 2) mm, about 1 mm apart, from end to end.
    closed : the last point meets the first.
    width : mm.
    weight : darkness integrated across the mark, mm; tells a cut from pencil.
    two_sided : share of the length that has lighter paper on both sides.
    sigma : standard deviation of the curve's place, mm.
    grey : (r, g, b) mean colour at the middle, sRGB.
    """

    points: Floats
    closed: bool
    width: float
    weight: float
    two_sided: float
    sigma: float
    grey: tuple[int, int, int]

    @property
    def length(self) -> float:
        """Length in mm."""
        return float(np.linalg.norm(np.diff(self.points, axis=0), axis=1).sum())

    def reversed(self) -> "Curve":
        """The same curve, run the other way."""
        return replace(self, points=self.points[::-1])


def fit_curves(strokes: Sequence[Stroke], ridges: RidgeMap, raster: Raster) -> tuple[Curve, ...]:
    """A curve for each stroke that is a line: marks with paper on one side only are dropped."""
    curves = (_fit(stroke, ridges, raster) for stroke in strokes)
    return tuple(c for c in curves if c is not None and c.two_sided >= LEAST_TWO_SIDED)


def _fit(stroke: Stroke, ridges: RidgeMap, raster: Raster) -> Curve | None:
    points = raster.to_mm(stroke.points)
    points = smoothed(points, stroke.closed)
    offsets, profile = _profiles(points, ridges, raster)
    points, width = _on_sharp_side(points, offsets, profile, raster.mm_per_px)
    if not stroke.closed:
        points = _true_ends(points, ridges, raster)
        if len(points) < 4:
            return None
    offsets, profile = _profiles(points, ridges, raster)
    sides = []
    for sign in (-1, 1):
        flank = (offsets * sign > FLANK_MM[0]) & (offsets * sign < FLANK_MM[1])
        # The lightest place counts: a neighbouring line must not pass for darker paper.
        sides.append(gaussian_filter1d(profile, 2.0, axis=0)[:, flank].min(axis=1))
    left, right = (gaussian_filter1d(side, 4.0) for side in sides)
    peak = gaussian_filter1d(profile[:, np.abs(offsets) < 0.6].max(axis=1), 4.0)
    two_sided = peak - np.maximum(left, right) > 0.45 * (peak - np.minimum(left, right))
    ground = np.minimum(left, right)[:, None]
    weight = (
        np.clip(profile - ground, 0, None)[:, np.abs(offsets) < 1.0].sum(axis=1) * OFFSET_STEP_MM
    )
    at = np.round(raster.to_px(points)).astype(int)
    rows, columns = raster.pixels.shape[:2]
    at = np.clip(at, 0, [columns - 1, rows - 1])
    colour = np.median(raster.pixels[at[:, 1], at[:, 0]], axis=0)
    return Curve(
        points=points,
        closed=stroke.closed,
        width=width,
        weight=float(np.median(weight)),
        two_sided=float(two_sided.mean()),
        sigma=POINT_SIGMA_MM,
        grey=(int(colour[0]), int(colour[1]), int(colour[2])),
    )


def smoothed(points: Floats, closed: bool = False) -> Floats:
    """A cubic smoothing spline through points, resampled at about STEP_MM.

    The spline is allowed the points' own scatter and no more (Dierckx, Curve and Surface Fitting
    with Splines, 1993: smoothing factor = number of points times their variance).
    """
    along = np.concatenate([[0], np.cumsum(np.linalg.norm(np.diff(points, axis=0), axis=1))])
    keep = np.concatenate([[True], np.diff(along) > 1e-6])
    points, along = points[keep], along[keep]
    count = max(round(along[-1] / STEP_MM), 3)
    at = np.linspace(0, along[-1], count + 1)
    if len(points) < 6:
        return np.column_stack([np.interp(at, along, points[:, axis]) for axis in (0, 1)])
    if closed:
        points = np.concatenate([points, points[:1]])
        along = np.append(along, along[-1] + np.linalg.norm(points[-1] - points[-2]) + 1e-6)
        at = np.linspace(0, along[-1], count + 1)
    spline, _ = splprep(
        points.T, u=along, s=len(points) * 2 * POINT_SIGMA_MM**2, per=int(closed), k=3
    )
    return np.column_stack(splev(at, spline))


def _normals(points: Floats) -> Floats:
    tangent = np.gradient(points, axis=0)
    tangent /= np.linalg.norm(tangent, axis=1, keepdims=True) + 1e-12
    return np.stack([-tangent[:, 1], tangent[:, 0]], axis=1)


def _profiles(points: Floats, ridges: RidgeMap, raster: Raster) -> tuple[Floats, Floats]:
    """Offsets (M,) in mm to the left of the curve, and darkness (N, M) there."""
    offsets = np.arange(-REACH_MM, REACH_MM + OFFSET_STEP_MM / 2, OFFSET_STEP_MM)
    at = points[:, None] + _normals(points)[:, None] * offsets[None, :, None]
    return offsets, _darkness(at, ridges, raster)


def _darkness(at: Floats, ridges: RidgeMap, raster: Raster) -> Floats:
    pixels = raster.to_px(at.reshape(-1, 2)).reshape(at.shape).astype(np.float32)
    return np.asarray(
        cv2.remap(ridges.darkness, pixels[..., 0], pixels[..., 1], cv2.INTER_LINEAR), np.float64
    )


def _on_sharp_side(
    points: Floats, offsets: Floats, profile: Floats, mm_per_px: float
) -> tuple[Floats, float]:
    """Width of the mark; where it is a rubbed band, the curve is moved onto its sharp side.

    Rubbing the side of the lead over the panel's edge leaves a band that is sharp at the edge and
    fades away from it: the edge is what counts (common practice, no source).
    """
    smooth = gaussian_filter1d(profile, 5.0, axis=0)
    base = np.minimum(np.median(smooth[:, :8], axis=1), np.median(smooth[:, -8:], axis=1))
    middle = len(offsets) // 2
    near = np.abs(offsets) < 0.8
    peak = smooth[:, near].max(axis=1)
    half = base + (peak - base) / 2
    above = smooth > half[:, None]
    left = np.array([_run(row[middle::-1]) for row in above]) * OFFSET_STEP_MM
    right = np.array([_run(row[middle:]) for row in above]) * OFFSET_STEP_MM
    full = left + right
    blur = 2.355 * BLUR_SIGMA_PX * mm_per_px
    width = float(np.sqrt(max(np.median(full) ** 2 - blur**2, 0.25**2)))
    wide = (gaussian_filter1d(full, 4.0) > WIDE_MM) & (full < 2 * REACH_MM - 1)
    if wide.sum() * STEP_MM < 10:
        return points, width
    slope = np.gradient(smooth, OFFSET_STEP_MM, axis=1)
    rise, fall = slope.max(axis=1), -slope.min(axis=1)
    asymmetry = gaussian_filter1d((rise - fall) / (rise + fall + 1e-6), 6.0)
    sharp = wide & (np.abs(asymmetry) > 0.15)
    shift = np.where(
        asymmetry > 0, offsets[np.argmax(slope, axis=1)], offsets[np.argmin(slope, axis=1)]
    )
    # A hand's edge has no steps of a millimetre: single points don't decide.
    shift = np.where(sharp, shift, 0.0)
    shift = gaussian_filter1d(median_filter(shift, EDGE_POINTS), EDGE_POINTS / 3)
    return points + shift[:, None] * _normals(points), width


def _run(row: NDArray[np.bool_]) -> int:
    stop = np.flatnonzero(~row)
    return int(stop[0]) if len(stop) else len(row)


def _true_ends(points: Floats, ridges: RidgeMap, raster: Raster) -> Floats:
    """The curve cut or lengthened to where its darkness ends.

    The ridge filter looks along the line and so blurs its ends. A pencil is set down and lifted
    gently, so the line ends where somewhat less than half of its darkness is left.
    """
    for _ in range(2):
        points = _true_end(points, ridges, raster)[::-1]
    return points


def _true_end(points: Floats, ridges: RidgeMap, raster: Raster) -> Floats:
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
    tone = _darkness(path[:, None] + normal * offsets[None, :, None], ridges, raster)
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
