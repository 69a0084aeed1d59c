"""Pencil as ridges of darkness: how dark, which way the line runs, and where its crest is.

A line's cross profile is read with the second derivative of a Gaussian, as C. Steger does ("An
unbiased detector of curvilinear structures", IEEE PAMI 20, 1998), at three widths. A faint line is
told from the paper's grain by its length, so the derivative across is averaged along each of a
set of directions (a steerable filter: W. T. Freeman and E. H. Adelson, "The design and use of
steerable filters", IEEE PAMI 13, 1991), and the best direction kept.

Ridges are sought on a grid of about DETAIL_MM: fine enough to find a line, whose place is then
read off its profile in the full picture.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial

import cv2
import numpy as np
from numpy.typing import NDArray

from digitize.floor import LOG_LIGHT, Grid, Raster, values_at
from digitize.pencil.lighter import drawn_light, shrunk_whole, with_gaps
from digitize.pencil.thresholds import (
    BROAD_LONG_MM,
    BROAD_MARGIN_MM,
    BROAD_SIGMA_MM,
    COARSE_MM,
    DETAIL_MM,
    EDGE_MARGIN_MM,
    FOLLOW_NOISE,
    GROUND_SIGMA_MM,
    NARROW_SIGMA_MM,
    SOLID,
    WIDE_MARGIN_MM,
    WIDE_SIGMA_MM,
)
from digitize.plane import MEDIAN_TO_SIGMA
from digitize.workers import side_by_side

Floats = NDArray[np.float32]
Shorts = NDArray[np.int16]
Numbers = NDArray[np.uint8]
Doubles = NDArray[np.float64]
Flags = NDArray[np.bool_]
DarknessAt = Callable[[Doubles], Doubles]  # as RidgeMap.darkness_at
DIRECTIONS = 16
# Of each number, in pairs a right angle apart, radians counter-clockwise from x.
PAIRS = DIRECTIONS // 2
ANGLES = np.add.outer(np.arange(PAIRS), [0, PAIRS]).ravel() * np.pi / DIRECTIONS
ANGLES = ANGLES.astype(np.float32)
ROW_PX, SHORT_ROW_PX, ALONG_REACH = 18, 9, 9  # of a row along a line, and to either side
TILE_PX, BAND_ROWS = 512, 256


@dataclass(frozen=True)
class Crests:
    """Points on the crests of ridges.

    Attributes
    ----------
    places : (N, 2) mm.
    headings : (N,) which way the line runs there, radians counter-clockwise from x, mod pi.
    strengths : (N,) in units of the noise on blank paper.
    """

    places: Doubles
    headings: Doubles
    strengths: Doubles


@dataclass(frozen=True)
class RidgeMap:
    """What the ridge filter saw.

    Attributes
    ----------
    darkness : (H, W) log of the paper's brightness around over the brightness here; 0 off paper.
    fine : where its pixels lie.
    strength : (h, w) second derivative across the best direction, times sigma squared, less its
        median on blank paper, in units of its robust standard deviation there.
    direction : (h, w) of the line, its number among ANGLES: a quarter of what these would take.
    grid : where the pixels of both lie.
    blank, noise : that median, and that deviation, as darkness.
    light : the marks are lighter than their paper, and all darkness here is lightness.
    """

    darkness: Floats
    fine: Grid
    strength: Floats
    direction: Numbers
    grid: Grid
    blank: float
    noise: float
    light: bool = False

    @property
    def paper_mm2(self) -> float:
        """Area of the paper, mm squared."""
        return float(np.count_nonzero(self.darkness)) * self.fine.mm_per_px**2

    def darkness_at(self, points: Doubles) -> Doubles:
        """Darkness at points (..., 2), mm."""
        return _sampled(self.darkness, self.fine, points)

    def strength_at(self, points: Doubles) -> Doubles:
        """Strength at points (..., 2), mm."""
        return _sampled(self.strength, self.grid, points)

    def heading_at(self, points: Doubles) -> Doubles:
        """Direction at the nearest pixels to points (..., 2), mm."""
        at = np.round(self.grid.to_px(points)).astype(int)
        rows, columns = self.direction.shape
        at = np.clip(at, 0, [columns - 1, rows - 1])
        return np.asarray(ANGLES[self.direction[at[..., 1], at[..., 0]]], np.float64)


def _sampled(picture: Floats, grid: Grid, points: Doubles) -> Doubles:
    """(...) values at points (..., 2), mm."""
    at = grid.to_px(points).astype(np.float32)
    return values_at(picture, at[..., 0], at[..., 1])


def darkness_of(raster: Raster, paper: NDArray[np.bool_], lightness: bool = False) -> Floats:
    """(H, W) log brightness of the paper round about, less the log brightness here.

    Shadows and shading are wide and drop out; pencil is narrow and stays. With ``lightness``, for
    marks that are lighter than their paper, the other way about.
    """
    grey = cv2.cvtColor(raster.pixels, cv2.COLOR_RGB2GRAY)
    table = -LOG_LIGHT if lightness else LOG_LIGHT
    log = np.asarray(cv2.LUT(grey, table), np.float32)
    shrink = max(round(1.0 / raster.mm_per_px), 1)  # the ground is wide: a pixel a mm will do
    rows, columns = log.shape
    size = max(columns // shrink, 1), max(rows // shrink, 1)
    small = np.asarray(cv2.resize(log, size, interpolation=cv2.INTER_AREA), np.float32)
    inside = cv2.resize(paper.astype(np.float32), size, interpolation=cv2.INTER_AREA)
    weight = (np.asarray(inside) > 0.99).astype(np.float32)
    sigma = GROUND_SIGMA_MM / raster.mm_per_px / shrink
    ground = _weighted(small, weight, sigma)
    # Once more without what is darker than its surroundings, so that lines don't dim the ground.
    weight *= small > ground - 0.06
    ground = _weighted(small, weight, sigma)
    del log  # it is had again sooner than another array so large
    darkness = np.asarray(cv2.resize(ground, (columns, rows)), np.float32)

    def put(band: slice) -> None:
        darkness[band] -= cv2.LUT(grey[band], table)
        darkness[band] *= paper[band]

    side_by_side(put, _spans(rows, BAND_ROWS))
    return darkness


def _weighted(picture: Floats, weight: Floats, sigma: float) -> Floats:
    total = cv2.GaussianBlur(picture * weight, (0, 0), sigma)
    return np.asarray(total / np.maximum(cv2.GaussianBlur(weight, (0, 0), sigma), 1e-3))


def paper_mask(raster: Raster, outline: Doubles, margin_mm: float) -> NDArray[np.bool_]:
    """(H, W) True inside the outline (N, 2), at least ``margin_mm`` from it."""
    mask = np.zeros(raster.pixels.shape[:2], np.uint8)
    ring = [np.round(raster.to_px(outline) * 16).astype(np.int32)]
    cv2.fillPoly(mask, ring, 1, cv2.LINE_8, 4)
    # A line along the edge takes the margin off at a fraction of what an erosion costs.
    thick = 2 * round(margin_mm / raster.mm_per_px)
    cv2.polylines(mask, ring, True, 0, max(thick, 1), cv2.LINE_8, 4)
    return mask > 0


def find_ridges(raster: Raster, outline: Doubles, toned: Raster | None = None) -> RidgeMap:
    """The ridge map of the paper inside the outline (N, 2, mm).

    Parameters
    ----------
    toned : the same picture in a grey that tells pencil from paper better than its brightness.
    """
    paper = paper_mask(raster, outline, EDGE_MARGIN_MM)
    grey = toned or raster
    light = drawn_light(*_coarsely(grey, paper))
    darkness = with_gaps(darkness_of(grey, paper, lightness=light), raster, paper, light)
    detail, grid = _shrunk(darkness, raster, DETAIL_MM)
    size = detail.shape[1::-1]
    off_paper = cv2.resize(paper.view(np.uint8), size, interpolation=cv2.INTER_NEAREST) == 0
    del paper  # a large sheet's pictures are some of the largest arrays there are
    strength, direction = _oriented(detail, NARROW_SIGMA_MM / grid.mm_per_px)
    coarse, wide_grid = _shrunk(detail, grid, 2 * DETAIL_MM)
    _widened(strength, direction, *_oriented(coarse, WIDE_SIGMA_MM / wide_grid.mm_per_px), grid)
    # What is so broad is plain: a short row will do, and leaks less far past a line's end.
    broad, broad_direction = _oriented(coarse, BROAD_SIGMA_MM / wide_grid.mm_per_px, SHORT_ROW_PX)
    del coarse
    _broadened(strength, direction, detail, broad, broad_direction, grid.mm_per_px)
    strength[off_paper] = 0
    blank, noise = _scatter(strength[::5, ::5][strength[::5, ::5] > 0])
    strength -= blank
    strength /= noise
    return RidgeMap(darkness, raster, strength, direction, grid, float(blank), float(noise), light)


def _coarsely(raster: Raster, paper: Flags) -> tuple[Floats, Callable[[], Floats], Flags, float]:
    """Darkness, what gives lightness, and paper, all (h, w), on pixels of about half a mm, and
    their size.

    Of what kind the marks are does not hang on their finest detail.
    """
    shrink = max(round(COARSE_MM / raster.mm_per_px), 1)
    small = shrunk_whole(raster.pixels, shrink)
    coarse = Raster(raster.left, raster.top, raster.mm_per_px * shrink, small)
    there = shrunk_whole(255 * paper.view(np.uint8), shrink) == 255
    lightness = partial(darkness_of, coarse, there, lightness=True)
    return darkness_of(coarse, there), lightness, there, coarse.mm_per_px


def _widened(
    strength: Floats, direction: Numbers, wide: Floats, wide_direction: Numbers, grid: Grid
) -> None:
    """Put in what a wider filter sees on a coarser grid, where a mark suits it better.

    Inside a wide mark the narrow filter sees two edges where there is one line.

    Parameters
    ----------
    strength, direction : (h, w) what the narrow filter sees on a grid; changed in place.
    """
    size = strength.shape[1::-1]
    wide = np.asarray(cv2.resize(wide, size, interpolation=cv2.INTER_LINEAR))
    crest = np.empty(wide.shape, np.bool_)

    def put(band: slice) -> None:
        own = wide[band]
        crest[band] = own >= _highest_about(wide, band, np.ones((5, 5), np.uint8))
        crest[band] &= own > _highest_about(strength, band, np.ones((3, 3), np.uint8))

    side_by_side(put, _spans(len(wide), BAND_ROWS))
    reach = 2 * round(WIDE_MARGIN_MM / grid.mm_per_px) + 1
    round_about = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (reach, reach))
    cv2.dilate(crest.view(np.uint8), round_about, dst=crest.view(np.uint8))
    inside = crest
    strong = _scatter(strength[::5, ::5][strength[::5, ::5] > 0])
    inside &= wide > strong[0] + 2 * FOLLOW_NOISE * strong[1]
    np.copyto(strength, wide, where=inside)
    turned = np.asarray(cv2.resize(wide_direction, size, interpolation=cv2.INTER_NEAREST), np.uint8)
    np.copyto(direction, turned, where=inside)


def _broadened(
    strength: Floats,
    direction: Numbers,
    darkness: Floats,
    broad: Floats,
    broad_direction: Numbers,
    mm_per_px: float,
) -> None:
    """Put in what the broadest filter sees, where a mark suits it better.

    That is where no other sees as much within a sigma: so far beside a line this one sees nothing
    of it, and of two lines close to each other, which it takes for one, the others see more. And
    only on the mark itself: a cut at which it breaks is faint beside it.

    Parameters
    ----------
    strength, direction : (h, w) what the other filters see; changed in place.
    darkness : (h, w).
    broad, broad_direction : the same on a coarser grid.
    """
    size = strength.shape[1::-1]
    # Smoothly, or the crest of a few coarse pixels becomes several.
    broad = np.asarray(cv2.resize(broad, size, interpolation=cv2.INTER_CUBIC))
    usual = _scatter(strength[::5, ::5][strength[::5, ::5] > 0])
    plain = broad > usual[0] + 2 * FOLLOW_NOISE * usual[1]
    near, reach = _disc(BROAD_SIGMA_MM / mm_per_px), _disc(BROAD_MARGIN_MM / mm_per_px)
    suits, inside = plain.copy(), plain

    def put(band: slice) -> None:
        suits[band] &= broad[band] > _highest_about(strength, band, near)
        darkest, own = _highest_about(darkness, band, reach), darkness[band]
        inside[band] &= own > np.multiply(darkest, 0.5, out=darkest)
        suits[band] &= own > np.multiply(darkest, 2 * SOLID, out=darkest)

    side_by_side(put, _spans(len(broad), BAND_ROWS))
    # Where thin marks cross or meet they are broad for a few mm. What lies within one lies in no
    # more of a length.
    whole = suits.view(np.uint8)
    parts, _ = cv2.findContours(whole, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_SIMPLE)
    short = [
        part
        for part in parts
        if math.hypot(*cv2.boundingRect(part)[2:]) * mm_per_px < BROAD_LONG_MM
    ]
    cv2.drawContours(whole, short, -1, 0, cv2.FILLED)
    if not suits.any():
        return
    inside &= broad > strength
    inside &= cv2.dilate(whole, reach).view(np.bool_)
    turned = np.asarray(
        cv2.resize(broad_direction, size, interpolation=cv2.INTER_NEAREST), np.uint8
    )
    np.copyto(strength, broad, where=inside)
    np.copyto(direction, turned, where=inside)


def _highest_about(picture: Floats, band: slice, kernel: NDArray[np.uint8]) -> Floats:
    """The highest value within a kernel of each pixel in a band of a picture's rows.

    A large sheet's pictures are some of the largest arrays there are: another is one too many.
    """
    beside = len(kernel) // 2
    above = min(beside, band.start)
    part = picture[band.start - above : band.stop + beside]
    highest = np.asarray(cv2.dilate(part, kernel), np.float32)
    return highest[above : above + band.stop - band.start]


def _disc(radius_px: float) -> NDArray[np.uint8]:
    across = 2 * round(radius_px) + 1
    return np.asarray(cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (across, across)), np.uint8)


def _scatter(values: Floats) -> tuple[np.float32, np.float32]:
    """Median and robust standard deviation."""
    if not values.size:
        return np.float32(0), np.float32(1)
    middle = np.median(values)
    return middle, np.maximum(
        MEDIAN_TO_SIGMA * np.median(np.abs(values - middle)), np.float32(1e-6)
    )


def _shrunk(picture: Floats, grid: Grid, mm_per_px: float) -> tuple[Floats, Grid]:
    """The picture on about such a grid, if that is coarser than its own."""
    if grid.mm_per_px >= mm_per_px:
        return picture, Grid(grid.left, grid.top, grid.mm_per_px)
    # Square pixels on the same corner: what does not fill a whole pixel is left off.
    step = mm_per_px / grid.mm_per_px
    rows, columns = (int(length / step) for length in picture.shape)
    kept = picture[: round(rows * step), : round(columns * step)]
    small = cv2.resize(kept, (columns, rows), interpolation=cv2.INTER_AREA)
    shift = (mm_per_px - grid.mm_per_px) / 2
    return np.asarray(small), Grid(grid.left + shift, grid.top - shift, mm_per_px)


def _oriented(picture: Floats, sigma: float, row_px: int = ROW_PX) -> tuple[Floats, Numbers]:
    """Strength of the best direction, and its number among ANGLES.

    Parameters
    ----------
    sigma : px.
    row_px : ROW_PX or SHORT_ROW_PX, over which it is averaged along the line.
    """
    strength, best, scale = _in_shorts(picture, sigma, row_px)
    return strength * np.float32(sigma**2 / row_px / scale), best


def _in_shorts(
    picture: Floats, sigma: float, row_px: int
) -> tuple[Shorts, NDArray[np.uint8], float]:
    """The sum of second derivatives along the best direction, that direction's number, and what
    the second derivatives are multiplied by.
    """
    padded = np.pad(picture, ALONG_REACH)
    scale = _scale_of(padded, sigma, row_px)
    strength = np.zeros(picture.shape, np.int16)
    best = np.zeros(picture.shape, np.uint8)
    rows, columns = picture.shape

    def put(band: slice) -> None:
        # With as much around it as the rows along a line reach.
        about = slice(max(band.start - ALONG_REACH, 0), band.stop + ALONG_REACH)
        if not picture[about].any():
            return
        wide = slice(band.start, band.stop + 2 * ALONG_REACH)
        mean, lean, skew = _turning(_within(padded, wide, sigma), scale)
        for tile in _spans(columns, TILE_PX):
            beside = slice(max(tile.start - ALONG_REACH, 0), tile.stop + ALONG_REACH)
            if picture[about, beside].any():
                broad = np.s_[:, tile.start : tile.stop + 2 * ALONG_REACH]
                found = _best_of(mean[broad], lean[broad], skew[broad], row_px)
                strength[band, tile], best[band, tile] = found

    # In tiles that fit the processor's cache; all of a large sheet's derivatives at once would be
    # some of the largest arrays there are.
    side_by_side(put, _spans(rows, BAND_ROWS))
    return strength, best, scale


def _scale_of(padded: Floats, sigma: float, row_px: int) -> float:
    """What second derivatives are multiplied by, to be added up in whole numbers.

    Of these a processor adds up twice as many at a time. No direction's second derivative is higher
    than the highest together, and a row of them still fits in 16 bits.
    """

    def highest(band: slice) -> list[float]:
        return [cv2.norm(each, cv2.NORM_INF) for each in _within(padded, band, sigma)]

    found = side_by_side(highest, _spans(len(padded), BAND_ROWS))
    across, askew, down = np.max(found, axis=0).tolist()
    return float(32767 / row_px / max(max(across, down) + askew, 1e-9))


def _turning(derivatives: tuple[Floats, ...], scale: float) -> tuple[Shorts, Shorts, Shorts]:
    """Mean, lean and skew of second derivatives, multiplied by ``scale``.

    The second derivative across a direction is mean + cos * lean + sin * skew of twice its angle.
    """
    xx, xy, yy = derivatives
    return (
        _combined(xx, -0.5 * scale, yy, -0.5 * scale),
        _combined(xx, 0.5 * scale, yy, -0.5 * scale),
        _combined(xy, scale, xy, 0.0),
    )


def _within(padded: Floats, band: slice, sigma: float) -> tuple[Floats, ...]:
    """The second derivatives of a picture in a band of its rows."""
    above = min(_reach(sigma), band.start)
    part = padded[band.start - above : band.stop + _reach(sigma)]
    return tuple(
        each[above : above + band.stop - band.start] for each in second_derivatives(part, sigma)
    )


def _reach(sigma: float) -> int:
    """How far a Gaussian is looked at, px."""
    return int(np.ceil(4 * sigma))


def _combined(one: Floats | Shorts, a: float, two: Floats | Shorts, b: float) -> Shorts:
    return np.asarray(cv2.addWeighted(one, a, two, b, 0, dtype=cv2.CV_16S), np.int16)


def _spans(length: int, size: int) -> list[slice]:
    return [slice(at, min(at + size, length)) for at in range(0, length, size)]


def _best_of(
    mean: Shorts, lean: Shorts, skew: Shorts, row_px: int
) -> tuple[Shorts, NDArray[np.uint8]]:
    """The highest sum along any direction, and which; ALONG_REACH narrower all round."""
    shape = skew.shape[0] - 2 * ALONG_REACH, skew.shape[1] - 2 * ALONG_REACH
    strength = np.full(shape, -32768, np.int16)
    best = np.zeros(shape, np.uint8)
    for index in range(PAIRS):
        angle = np.pi * index / DIRECTIONS
        x, y = np.cos(angle), np.sin(angle)
        turned = _combined(lean, np.cos(2 * angle), skew, np.sin(2 * angle))
        # Rows run down. A right angle further on, what is added is taken away.
        for which, across, ahead in (
            (2 * index, cv2.add(mean, turned), (x, -y)),
            (2 * index + 1, cv2.subtract(mean, turned), (-y, -x)),
        ):
            response = _summed_along(np.asarray(across), *ahead, row_px)
            better = np.asarray(cv2.compare(response, strength, cv2.CMP_GT), np.uint8)
            # Each is a higher number than all before it.
            cv2.max(best, better & np.uint8(which), dst=best)
            cv2.max(strength, response, dst=strength)
    return strength, best


def _summed_along(picture: Shorts, x: float, y: float, row_px: int) -> Shorts:
    """Sum over a row of so many pixels in direction (x, y), by adding up ever longer rows.

    Each step adds the same on both sides, so that whole pixels move nothing sideways; ALONG_REACH
    narrower all round.
    """
    one = _added(_shifted(picture, 1, 0.0, 0.0), _shifted(picture, 1, x, y))
    one = _added(one, _shifted(picture, 1, -x, -y), one)
    three = _added(_shifted(one, 3, 0.0, 0.0), _shifted(one, 3, 3 * x, 3 * y))
    three = _added(three, _shifted(one, 3, -3 * x, -3 * y), three)
    if row_px == SHORT_ROW_PX:
        return np.asarray(_shifted(three, 5, 0.0, 0.0))
    return _added(_shifted(three, 5, 4.5 * x, 4.5 * y), _shifted(three, 5, -4.5 * x, -4.5 * y))


def _added(one: Shorts, other: Shorts, into: Shorts | None = None) -> Shorts:
    # On parts of pictures twice as fast as numpy's.
    return np.asarray(cv2.add(one, other, dst=into), np.int16)


def _shifted(picture: Shorts, margin: int, x: float, y: float) -> Shorts:
    """The part of a picture less a margin all round, shifted by whole pixels."""
    rows, columns = picture.shape
    down, right = round(y), round(x)
    return picture[margin + down : rows - margin + down, margin + right : columns - margin + right]


def second_derivatives(picture: Floats, sigma: float) -> tuple[Floats, Floats, Floats]:
    """Of a picture blurred by a Gaussian of sigma px: by x, by x and y, by y, with y up."""
    reach = _reach(sigma)
    x = np.arange(-reach, reach + 1)
    plain = np.exp(-(x**2) / (2 * sigma**2))
    plain /= plain.sum()
    first = -x / sigma**2 * plain
    second = (x**2 / sigma**4 - 1 / sigma**2) * plain
    second -= second.mean()

    def filtered(horizontal: Doubles, vertical: Doubles) -> Floats:
        return np.asarray(cv2.sepFilter2D(picture, -1, horizontal[::-1], vertical[::-1]))

    return filtered(second, plain), -filtered(first, first), filtered(plain, second)


def find_crests(ridges: RidgeMap, least: float = FOLLOW_NOISE) -> Crests:
    """Where strength, at least so many times the noise, is highest across the line.

    The place is to a fraction of a pixel: the top of the parabola through three values across.
    """
    strength = ridges.strength
    high = np.zeros(strength.shape, bool)
    high[2:-2, 2:-2] = strength[2:-2, 2:-2] > least
    rows, columns = np.divmod(np.flatnonzero(high), strength.shape[1])
    heading = ANGLES[ridges.direction[rows, columns]].astype(np.float64)
    across = np.stack([-np.sin(heading), -np.cos(heading)], axis=1)  # column, row
    middle = strength[rows, columns]
    pixels = np.stack([columns, rows], axis=1)
    before, after = (
        values_at(strength, *(pixels + side * across).T.astype(np.float32)) for side in (-1, 1)
    )
    on_crest = (middle >= before) & (middle >= after) & (2 * middle > before + after)
    heading, across = heading[on_crest], across[on_crest]
    middle, before, after = middle[on_crest], before[on_crest], after[on_crest]
    offset = 0.5 * (before - after) / (before - 2 * middle + after)
    offset = np.clip(offset, -0.6, 0.6)
    places = pixels[on_crest] + offset[:, None] * across
    return Crests(ridges.grid.to_mm(places), heading, middle.astype(np.float64))
