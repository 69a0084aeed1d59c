"""Whether the picture bears an edge out close by: paper just within it, floor just beyond it.

A careful eye compares what lies within a few millimetres of the edge with what lies further in and
further out, and over more than a pixel: a pixel of wood may have a pixel of cardboard's colour, a
thumb's breadth seldom has its colour and its grain. Along the edge patches are taken. The looks of
those on either side, a centimetre and more away, are taken to follow Student's distribution of four
degrees of freedom, which allows for outliers (K. Lange, R. Little, J. Taylor, "Robust statistical
modeling using the t distribution", 1989). A strip of floor that was taken for paper, a thing that
lies there, or two sides that look alike, show by how little likelier the patch next to the edge
looks what it should be than what lies on the other side, or than anything at all.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial
from itertools import pairwise

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import uniform_filter1d
from shapely import Polygon, contains_xy, union_all

from digitize.floor import Grid, Raster
from digitize.paper.band import places_across
from digitize.paper.cut import LaidCard, filled
from digitize.paper.dents import Aside
from digitize.paper.thresholds import (
    BESIDE_ACROSS_MM,
    BESIDE_GRAIN_MM,
    BESIDE_LEARNED_MM,
    BESIDE_LEAST_SPREAD,
    BESIDE_STRAY_LOG,
    BESIDE_WINDOW_MM,
    BURNT,
    CARD_EDGE_MM,
    DARKEST,
    FOLDED_MM,
    FREEDOM,
    FURTHEST,
    HUE_FAR_MM,
    HUE_NEAR_MM,
    HUE_WINDOW_MM,
    LEARNED_EVERY,
    LEAST_HUE,
    LEAST_LEARNED,
    LEAST_SEEN,
    LIGHT,
    NEXT_MM,
    OWN_SHARE,
    PATCH_MM,
    RIVAL_SHARE,
)
from digitize.plane import MEDIAN_TO_SIGMA
from digitize.workers import side_by_side

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]
PLACES_AT_ONCE = 64


def sides_told(
    fine: Raster,
    points: Floats,
    step_mm: float,
    cards: Sequence[LaidCard],
    asides: Sequence[Aside] = (),
) -> tuple[Floats, Floats, Floats, Flags]:
    """How much likelier the sides of an edge look what they should be than anything else.

    Parameters
    ----------
    points : (N, 2) a counter-clockwise ring in even steps of ``step_mm``, mm.
    cards : of what lies on them, or beneath them, nothing is said.
    asides : where the edge runs beside its straight line.

    Returns
    -------
    within, beyond : (N,) log of how much likelier the look of the patch next to the edge is as its
        own side's than as the other's or a stray thing's; infinite where that side is not seen.
    as_usual : (N,) the same, of what lies between the edge and its straight line, as floor or paper
        anywhere else along the edge: a ruler's looks are its own. Infinite elsewhere.
    light : (N,) whether the edge is the sun's or a shadow's, by hue.
    """
    along = np.arange(
        -BESIDE_LEARNED_MM[1], BESIDE_LEARNED_MM[1] + BESIDE_ACROSS_MM / 2, BESIDE_ACROSS_MM
    )
    places = places_across(points, along)
    own = _own(fine, points, places, along, cards)
    looks, seen = _patches(fine, places, own, step_mm)
    good = seen > LEAST_SEEN
    away = np.abs(along)
    apart = (away >= BESIDE_LEARNED_MM[0]) & (
        np.arange(len(along)) % round(PATCH_MM[0] / BESIDE_ACROSS_MM) == 0
    )
    window = round(BESIDE_WINDOW_MM / step_mm) | 1
    # One after the other: both at once hold more memory than a reading needs elsewhere.
    paper, floor = (_learned(looks, good, apart & side, window) for side in (along < 0, along > 0))
    within, beyond, as_usual = np.full((3, len(points)), np.inf)
    for told, sign, its, others in ((within, -1, paper, floor), (beyond, 1, floor, paper)):
        at = int(np.abs(along - sign * NEXT_MM).argmin())
        beside = looks[:, at]
        otherwise = np.maximum(_log_density(beside, others), BESIDE_STRAY_LOG)
        known = good[:, at] & (its.share > LEAST_LEARNED) & (others.share > LEAST_LEARNED)
        told[known] = (_log_density(beside, its) - otherwise)[known]
        for aside in asides:
            some = aside.places[(aside.outward == (sign < 0)) & known[aside.places]]
            if not len(some):
                continue
            elsewhere = np.setdiff1d(np.arange(len(points)), aside.places)
            usual = _learned_at(looks, good, apart & (sign * along > 0), elsewhere)
            if usual.share[0] > LEAST_LEARNED:
                likely = _log_density(beside[some], usual) - BESIDE_STRAY_LOG
                as_usual[some] = np.minimum(as_usual[some], likely)
    return within, beyond, as_usual, _hue_steps_elsewhere(looks, good, along, step_mm)


def _hue_steps_elsewhere(looks: Floats, good: Flags, along: Floats, step_mm: float) -> Flags:
    """(N,) where light steps at an edge and hue hardly, but further in or out: it is light's.

    Where the sun's border runs along the paper's, brightness tells of the one and hue of the other.
    """
    lab = looks[..., :3] * [100 / 255, 1, 1] - [0, 128, 128]
    linear = np.maximum(cv2.cvtColor(lab.astype(np.float32), cv2.COLOR_LAB2LRGB), DARKEST)
    logs = np.log(linear)
    hue = np.stack([logs[..., 0] - logs[..., 1], logs[..., 2] - logs[..., 1]], axis=-1)
    values = np.dstack([hue, logs.mean(axis=-1)])
    window = round(HUE_WINDOW_MM / step_mm) | 1

    def seen_at(low_mm: float, high_mm: float) -> tuple[Floats, Floats]:
        some = (along >= low_mm) & (along <= high_mm)
        count = good[:, some].sum(axis=1).astype(float)
        total = (values * good[..., None])[:, some].sum(axis=1)
        count = uniform_filter1d(count, window, mode="wrap")
        total = uniform_filter1d(total, window, axis=0, mode="wrap")
        return total / np.maximum(count, 1e-6)[:, None], count / max(some.sum(), 1)

    (near, far), known = (HUE_NEAR_MM, HUE_FAR_MM), np.ones(len(looks), bool)
    means = []
    for low, high in ((-far[1], -far[0]), (-near[1], -near[0]), near, far):
        mean, share = seen_at(low, high)
        means.append(mean)
        known &= share > LEAST_LEARNED
    further_in, here, further_out = (b - a for a, b in pairwise(means))
    steps = [np.linalg.norm(step[:, :2], axis=1) for step in (further_in, here, further_out)]
    rival = np.maximum(steps[0], steps[2])
    light = np.abs(here[:, 2])
    lit = (light > LIGHT[0]) & (light < LIGHT[1])
    return np.asarray(known & lit & (rival > LEAST_HUE) & (steps[1] < RIVAL_SHARE * rival))


@dataclass(frozen=True)
class _Learned:
    """Looks' mean (N, 4) and spread (N, 4, 4) about each place of an edge, and how many of them."""

    mean: Floats
    spread: Floats
    share: Floats


def _own(
    fine: Raster, points: Floats, places: Floats, along: Floats, cards: Sequence[LaidCard]
) -> Flags:
    """(N, M) which places show their look, nearest their own part of the edge, off cards."""
    low, high = points.min(axis=0) - BESIDE_LEARNED_MM[1], points.max(axis=0) + BESIDE_LEARNED_MM[1]
    columns, rows = np.ceil(high - low).astype(int) + 1
    grid = Grid(float(low[0]), float(high[1]), 1.0)
    paper = filled([points], grid, (rows, columns))
    inward = cv2.distanceTransform(paper, cv2.DIST_L2, 5)
    off = cv2.distanceTransform(1 - paper, cv2.DIST_L2, 5) - inward
    column, row = np.moveaxis(grid.to_px(places).astype(np.float32), -1, 0)
    further = cv2.remap(off, column, row, cv2.INTER_LINEAR, None, cv2.BORDER_REPLICATE)
    own = np.sign(along) * further > OWN_SHARE * np.abs(along) - FOLDED_MM
    column, row = np.moveaxis(fine.to_px(places).astype(np.float32), -1, 0)
    level = cv2.cvtColor(cv2.remap(fine.pixels, column, row, cv2.INTER_NEAREST), cv2.COLOR_RGB2GRAY)
    own &= (level > 0) & (level < BURNT)  # what is burnt out has lost its look
    sheets = union_all([Polygon(card.sheet) for card in cards]).buffer(CARD_EDGE_MM)
    return np.asarray(own & ~contains_xy(sheets, places[..., 0], places[..., 1]))


def _patches(fine: Raster, places: Floats, own: Flags, step_mm: float) -> tuple[Floats, Floats]:
    """(N, M, 4) mean L, a, b and log of grain of the patch about each place; (N, M) share seen."""
    starts = range(0, len(places), PLACES_AT_ONCE)
    some = [places[first : first + PLACES_AT_ONCE] for first in starts]
    values = np.concatenate(side_by_side(partial(_smooth_at, fine), some))
    across, along = round(PATCH_MM[0] / BESIDE_ACROSS_MM), round(PATCH_MM[1] / step_mm) | 1

    def summed(each: Floats) -> Floats:
        every = uniform_filter1d(each, along, axis=0, mode="wrap")
        return np.asarray(uniform_filter1d(every, across, axis=1, mode="constant"))

    seen = summed(own.astype(float))
    looks = summed(values * own[..., None]) / np.maximum(seen, 1e-6)[..., None]
    looks[..., 3] = np.log(looks[..., 3] + 0.3)
    return looks, seen


def _smooth_at(fine: Raster, places: Floats) -> Floats:
    """(N, M, 4) L, a, b and grain about places (N, M, 2), of the part of a raster round them."""
    at = fine.to_px(places).astype(np.float32)
    width = max(round(BESIDE_ACROSS_MM / fine.mm_per_px), 1)
    # As far as a blur reaches.
    beside = int(np.ceil(4 * BESIDE_GRAIN_MM / fine.mm_per_px)) + width + 2
    first = np.maximum(np.floor(at.min(axis=(0, 1))).astype(int) - beside, 0)
    last = np.maximum(np.ceil(at.max(axis=(0, 1))).astype(int) + beside + 1, 0)
    part = fine.pixels[first[1] : last[1], first[0] : last[0]]
    if not part.size:
        return np.zeros((*places.shape[:2], 4))
    lab = np.asarray(cv2.cvtColor(part, cv2.COLOR_RGB2LAB), np.uint8)
    light = np.ascontiguousarray(lab[..., 0])
    grain = cv2.absdiff(light, cv2.GaussianBlur(light, (0, 0), BESIDE_GRAIN_MM / fine.mm_per_px))
    # In 16 bits, as in the dark the grain is less than a level.
    smooth = cv2.blur(np.dstack([lab, grain]).astype(np.uint16) * 64, (width, width))
    column, row = np.moveaxis(at - first.astype(np.float32), -1, 0)
    return np.asarray(cv2.remap(smooth, column, row, cv2.INTER_LINEAR), np.float64) / 64


def _learned(looks: Floats, good: Flags, columns: Flags, window: int) -> _Learned:
    """How some columns' patches look, over a window of places along the edge."""
    count = len(looks)
    some = _learned_about(np.arange(0, count, LEARNED_EVERY), looks, good, columns, window)
    every = np.arange(count) // LEARNED_EVERY
    return _Learned(some.mean[every], some.spread[every], some.share[every])


def _learned_about(
    places: NDArray[np.int64], looks: Floats, good: Flags, columns: Flags, window: int
) -> _Learned:
    """As ``_learned``, about some places alone.

    Patches far from the middle of all are left out: a cable that runs along the edge is no floor.
    """
    count, half = len(looks), window // 2
    seen = good[:, columns]
    some = np.where(seen[..., None], looks[:, columns], np.nan)
    about = (places[:, None] + np.arange(-half, half + 1)) % count
    patches = some[about].reshape(len(places), -1, looks.shape[2])
    known = np.isfinite(patches[..., 0])
    share = known.mean(axis=1)
    patches[share == 0] = 0.0  # nothing is said there
    middle = _median_known(patches)
    scatter = MEDIAN_TO_SIGMA * _median_known(np.abs(patches - middle[:, None]))
    away = (patches - middle[:, None]) / np.hypot(scatter, BESIDE_LEAST_SPREAD)[:, None]
    furthest = np.maximum.reduce(np.moveaxis(np.abs(away), 2, 0))
    weight = (known & (furthest < FURTHEST)).astype(float)
    total = weight.sum(axis=1) + 1e-6
    patches = np.where(known[..., None], patches, 0.0)
    mean = np.einsum("nk,nki->ni", weight, patches) / total[:, None]
    off = patches - mean[:, None]
    spread = np.matmul((weight[..., None] * off).transpose(0, 2, 1), off) / total[:, None, None]
    spread += np.diag(BESIDE_LEAST_SPREAD**2)
    return _Learned(mean, spread, share)


def _median_known(values: Floats) -> Floats:
    """(N, C) the median of those of values (N, K, C) that are known; each N has some."""
    ordered = np.sort(np.ascontiguousarray(values.transpose(0, 2, 1)), axis=2)  # unknown last
    count = np.isfinite(ordered).sum(axis=2, keepdims=True)
    low, high = (np.take_along_axis(ordered, at, axis=2) for at in ((count - 1) // 2, count // 2))
    return np.asarray((low + high)[..., 0] / 2)


def _learned_at(looks: Floats, good: Flags, columns: Flags, rows: NDArray[np.int64]) -> _Learned:
    """How some columns' patches look at all of some places of an edge together."""
    first = np.zeros(1, np.int64)  # from which a window of them all has each
    return _learned_about(first, looks[rows], good[rows], columns, len(rows) | 1)


def _log_density(looks: Floats, learned: _Learned) -> Floats:
    """(N,) log density of looks (N, 4) by those learned there, less what all have in common.

    Of Student's distribution, whose constant for four looks and four degrees of freedom is
    log(gamma(4) / (gamma(2) (4 pi)^2)) = -3.27.
    """
    triangles = np.linalg.cholesky(learned.spread)
    away = np.linalg.solve(triangles, (looks - learned.mean)[..., None])[..., 0]
    size = np.log(np.diagonal(triangles, axis1=1, axis2=2)).sum(axis=1)
    heavy = (FREEDOM + looks.shape[1]) / 2
    return np.asarray(-heavy * np.log1p((away**2).sum(axis=1) / FREEDOM) - size)
