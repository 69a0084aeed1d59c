"""How large a card's sheet looks in a photo, measured in its own print.

What a printer did to a card, no corner of the card can tell; but the sheet it is printed on was cut
to a standard size. So the sheet's edges are looked for outside the printed frame, white against the
floor, along straight lines, and the sheet's width and height come out in the print's nominal mm: a
sheet that looks too large was printed too small.

Inside an edge the sheet is as white as the white cells beside it; of a line across that strip, what
lies on its two sides has to bear it out along most of the edge. A white floor bears out nothing,
and then nothing is said. Where the sheet's white is burnt out, half way up a blurred step whose top
is cut off lies too far out, by up to a pixel and a half, and the edge is told less surely.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from digitize.card import CELL_MM, FoundCard, card_layout
from digitize.floor.camera import Camera
from digitize.plane import MEDIAN_TO_SIGMA, robust_sigma

Floats = NDArray[np.float64]
CLEAR_MM = 1.2  # outside the frame: where its black no longer blurs into the sheet
OUTERMOST = 1.11  # of where the edge should be, how far out it is looked for
ALONG_MM, ACROSS_MM = 3.0, 0.25
FIRST_MM = 1.0  # of the strip, which has to be sheet
WHITE_CELL_MM = 3.0  # to either side of a white cell's middle, its white is measured
BESIDE_MM = 4.0  # beyond the edge, so much of the floor bears it out
STEEPEST = 0.012  # an edge's slope against the print: how askew a printer takes its paper
SLOPES = 25
LEAST_NOISE = 0.02  # of the sheet's white, log units
MOST_EVIDENCE = 3.0  # log units: one place says no more than that
LEAST_UNLIKE = 0.1  # log units: floor that differs less from the sheet shows no edge at one place
# Places whose light is averaged where single ones show too little: a pale floor differs from the
# sheet by less than its own grain, and the average of n places has a root of n less of that.
POOLED = 8
FEWEST_PLACES = 4
FAINT_MM = 0.4  # sigma of such an edge: the sheet's own shadow is as strong a step as the floor
BURNT = 0.95  # light, of 1, in any colour
# How far too far out the edge of burnt white is, and sigma, of opposite edges alike: from nothing,
# where it is just burnt out, to what a blur of a pixel brings a stop or two over that.
BURNT_OUT_PX, BURNT_SIGMA_PX = 0.7, 0.75
MOST_UNEVEN = 0.2  # of the sheet along a line out, as a share of the step to the floor
NOT_SHEET = 0.25  # log units: so far from the white cells' white it is something on the card
LEAST_SHARE = 0.6  # of an edge's places that have to bear it out
LEAST_ALONG = 0.4  # of an edge that has to be in sight
# mm, and pixels if that is more: round the line, where each place's edge is put; and to either side
# of the edge, where blur mixes the sheet with the floor.
NEAR, FLANK = (2.5, 4.5), (0.7, 2.5)
PASSES = 3
STRAY_MM = 0.5
STRETCH_MM = 12.0  # places nearer to one another than this err alike
EDGE_PX = 0.25  # sigma of what all places of an edge have in common: blur, the sheet's own shadow
MOST_SHIFT_MM = 2.5  # of a print on its sheet; common practice, no source
SAME_SCALE = 0.01  # by which a print that was scaled differs across and along at most; likewise
MOST_ASKEW_MM = 1.0  # by which opposite edges may be out of parallel, over their length


@dataclass(frozen=True)
class SheetSide:
    """A side of a sheet as seen: its length in the print's nominal mm, and its sigma."""

    length_mm: float
    sigma_mm: float


@dataclass(frozen=True)
class SheetSeen:
    """A card's sheet in one photo: how wide (across) and high (along) it looks, where both of the
    opposite edges were found.
    """

    number: int
    paper: str
    across: SheetSide | None
    along: SheetSide | None


@dataclass(frozen=True)
class _Edge:
    """A straight edge: how far out it is at the middle of its side (nominal mm from the card's
    centre), its slope, and the offset's sigma.
    """

    offset: float
    slope: float
    sigma: float


@dataclass(frozen=True)
class _Strip:
    """What lies outside the frame along one edge.

    Attributes
    ----------
    along : (N,) places along the edge, mm from its middle.
    outward : (M,) distances from the card's centre, mm.
    tones : (N, M, 3) light there, in units of the sheet's own white; not a number out of sight.
    burnt : whether most of that white is burnt out.
    mm_per_px : of the photo, across the edge.
    """

    along: Floats
    outward: Floats
    tones: Floats
    burnt: bool
    mm_per_px: float


def see_sheet(pixels: NDArray[np.uint8], camera: Camera, card: FoundCard) -> SheetSeen:
    """How large a card's sheet looks.

    Parameters
    ----------
    pixels : the photo (H, W, 3), sRGB.
    camera : the photo's, as solved.
    card : as found in it.
    """
    matrix, shares = _print_on_floor(camera, card)

    def to_pixels(printed: Floats) -> Floats:
        return camera.to_pixels(printed @ matrix[:2] + matrix[2])

    sides, central = [], []
    for axis in (0, 1):
        low, high = (_find_edge(_strip(pixels, to_pixels, card, axis, sign)) for sign in (-1, 1))
        sides.append(_side(low, high, card, axis, float(shares[axis])))
        central.append(_is_central(low, high))
    if not _scaled_alike(sides, card):
        # Something over one side of a card looks like its edge, but leaves the other way alone.
        sides = [side if middle else None for side, middle in zip(sides, central, strict=True)]
    return SheetSeen(card.number, card.paper, sides[0], sides[1])


def _is_central(low: _Edge | None, high: _Edge | None) -> bool:
    """Whether opposite edges lie as far out as each other, but for what a printer shifts."""
    if low is None or high is None:
        return False
    return abs(high.offset - low.offset) < 2 * MOST_SHIFT_MM


def _scaled_alike(sides: Sequence[SheetSide | None], card: FoundCard) -> bool:
    """Whether both ways are seen and tell one scale: a print may be scaled from its corner."""
    across, along = sides
    if across is None or along is None:
        return False
    shape = along.length_mm / across.length_mm * _half_sheet(card, 0) / _half_sheet(card, 1)
    return bool(abs(np.log(shape)) < SAME_SCALE)


def _half_sheet(card: FoundCard, axis: int) -> float:
    return card_layout(card.paper).sheet_mm[axis] / 2


def _side(
    low: _Edge | None, high: _Edge | None, card: FoundCard, axis: int, share: float
) -> SheetSide | None:
    """The distance of opposite edges, if they can belong to one sheet; ``share`` is the sigma of
    the print that measures it.
    """
    if low is None or high is None:
        return None
    # Outward is the other way at the low edge: parallel edges have opposite slopes.
    askew = abs(low.slope + high.slope) * 2 * _half_sheet(card, 1 - axis)
    if askew > MOST_ASKEW_MM:
        return None
    # A sheet that lies askew of its print is cut aslant by the print's own direction.
    square = float(np.cos(np.arctan((high.slope - low.slope) / 2)))
    length = (low.offset + high.offset) * square
    return SheetSide(length, float(np.linalg.norm([low.sigma, high.sigma, share * length])))


def _strip(
    pixels: NDArray[np.uint8],
    to_pixels: Callable[[Floats], Floats],
    card: FoundCard,
    axis: int,
    sign: int,
) -> _Strip:
    """The light along lines out of the frame, on one side of the card."""
    frame = -card_layout(card.paper).cells_mm.min(axis=0)
    along = np.arange(-frame[1 - axis] + ALONG_MM, frame[1 - axis], ALONG_MM)
    far = max(OUTERMOST * _half_sheet(card, axis), frame[axis] + BESIDE_MM) + BESIDE_MM
    outward = np.arange(frame[axis] + CLEAR_MM, far, ACROSS_MM)

    def places(out: Floats, beside: Floats) -> Floats:
        """(N, M, 2) pixels of places so far out at places so far along."""
        at = np.empty((len(beside), len(out), 2))
        at[..., axis], at[..., 1 - axis] = sign * out, beside[:, None]
        return to_pixels(at.reshape(-1, 2)).reshape(at.shape)

    cells = np.arange(-frame[1 - axis], frame[1 - axis], CELL_MM) + CELL_MM / 2
    middles = card_layout(card.paper).cells_mm + CELL_MM / 2
    outer = np.abs(middles[:, axis] - sign * (frame[axis] - CELL_MM / 2)) < CELL_MM / 2
    black = middles[outer, 1 - axis]
    white = cells[np.abs(cells[:, None] - black).min(axis=1) > CELL_MM / 2]
    spot = np.linspace(-WHITE_CELL_MM, WHITE_CELL_MM, 5)
    near = _light(pixels, places(frame[axis] - CELL_MM / 2 + spot, np.repeat(white, 5)))
    levels = np.median(near.reshape(len(white), -1, 3), axis=1)
    seen = np.isfinite(levels).all(axis=1)
    strip = places(outward, along)
    tones = np.full((*strip.shape[:2], 3), np.nan)
    burnt = False
    if seen.any():
        level = np.stack([np.interp(along, white[seen], each) for each in levels[seen].T], axis=1)
        tones = _light(pixels, strip) / level[:, None]
        burnt = bool(np.median(level.max(axis=1)) >= BURNT)
    middle = len(along) // 2
    reach = float(np.linalg.norm(strip[middle, -1] - strip[middle, 0]))
    return _Strip(along, outward, tones, burnt, float(outward[-1] - outward[0]) / max(reach, 1e-9))


def _print_on_floor(camera: Camera, card: FoundCard) -> tuple[Floats, Floats]:
    """The affine map (3, 2) of the print's own nominal mm to the floor, and sigmas of its scale.

    Whatever the print's size, and however it differs across and along, it is the print itself that
    measures the sheet. The sigmas (2,) are shares, across and along: few corners, or corners on one
    side of the card alone, measure its far side less surely.
    """
    terms = np.column_stack([card.corners_mm, np.ones(len(card.corners_mm))])
    on_floor = camera.to_floor(card.pixels)
    matrix = np.asarray(np.linalg.lstsq(terms, on_floor, rcond=None)[0], np.float64)
    scatter = np.sqrt(np.sum((on_floor - terms @ matrix) ** 2) / (2 * len(terms) - matrix.size))
    return matrix, np.asarray(scatter * np.sqrt(np.diag(np.linalg.inv(terms.T @ terms))[:2]))


def _light(pixels: NDArray[np.uint8], at: Floats) -> Floats:
    """(..., 3) linear light (IEC 61966-2-1) at pixels (..., 2); not a number outside the photo."""
    places = at.astype(np.float32)
    seen = cv2.remap(
        pixels, places[..., 0], places[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE
    )
    part = np.arange(256) / 255
    levels = np.where(part <= 0.04045, part / 12.92, ((part + 0.055) / 1.055) ** 2.4)
    light = np.take(levels + 1e-3, np.asarray(seen, np.uint8))
    height, width = pixels.shape[:2]
    light[~np.all((at >= 0) & (at <= [width - 1, height - 1]), axis=-1)] = np.nan
    return light


def _find_edge(strip: _Strip) -> _Edge | None:
    """The sheet's edge in a strip, if the strip shows one."""
    unlike = np.sqrt(np.mean(np.log(strip.tones) ** 2, axis=2))
    first = strip.outward < strip.outward[0] + FIRST_MM
    strip_like = np.median(unlike[:, first], axis=1)
    usable = np.isfinite(unlike).all(axis=1) & (strip_like < NOT_SHEET)
    if usable.mean() < LEAST_ALONG:
        return None
    along, unlike, tones = strip.along[usable], unlike[usable], strip.tones[usable]
    noise = max(MEDIAN_TO_SIGMA * float(np.median(unlike[:, first])) / 1.5, LEAST_NOISE)
    line = _best_line(along, strip.outward, _evidence(unlike, noise))
    if not strip.outward[0] + 0.5 < line[0] < strip.outward[-1] - BESIDE_MM - 1:
        return None
    found = _placed(strip, along, tones, line, 1)
    if strip.burnt and found is not None:
        out, sigma = (px * strip.mm_per_px for px in (BURNT_OUT_PX, BURNT_SIGMA_PX))
        return _Edge(found.offset - out, found.slope, float(np.hypot(found.sigma, sigma)))
    # Of a white that is burnt out, half way to a pale floor is anywhere.
    if found is None and not strip.burnt:
        found = _placed(strip, *_pooled(along, tones), line, POOLED)
    return found


def _pooled(along: Floats, tones: Floats) -> tuple[Floats, Floats]:
    """Places along an edge, and the light at them, each an average of places next to another."""
    which = np.round((along - along[0]) / ALONG_MM).astype(int) // POOLED
    # Of a stretch of which less than half is in sight there is no average.
    enough = [index for index in np.unique(which) if 2 * (which == index).sum() >= POOLED]
    parts = [which == index for index in enough]
    return (
        np.array([along[part].mean() for part in parts]),
        np.array([tones[part].mean(axis=0) for part in parts]),
    )


def _evidence(unlike: Floats, noise: float) -> Floats:
    """(N, M) how much more likely each place is floor than sheet, log units.

    The sheet is normal about its white; of the floor it is only known that it may look like
    anything within one and a half log units.
    """
    at_most = np.log(noise * np.sqrt(np.pi / 2) / 1.5)
    likely = at_most + unlike**2 / (2 * noise**2)
    return np.asarray(np.clip(likely, -MOST_EVIDENCE, MOST_EVIDENCE))


def _best_line(along: Floats, outward: Floats, evidence: Floats) -> tuple[float, float]:
    """Offset (mm) and slope of the line that parts sheet from floor best."""
    beside = round(BESIDE_MM / ACROSS_MM)
    total = np.pad(np.cumsum(evidence, axis=1), ((0, 0), (1, 0)))
    index = np.arange(len(outward) + 1)
    beyond = np.minimum(index + beside, len(outward))
    inner = total[:, index]
    # As much of the sheet as of the floor, so that far edges have no more to say than near ones.
    within = np.maximum(index - beside, 0)
    score = (total[:, beyond] - inner) - (inner - total[:, within])
    # Whatever on the way out is no sheet tells against every line beyond it.
    score -= np.cumsum(np.pad(np.maximum(evidence, 0), ((0, 0), (1, 0))), axis=1)
    best, found = -np.inf, (0.0, 0.0)
    rows = np.arange(len(along))[:, None]
    for slope in np.linspace(-STEEPEST, STEEPEST, SLOPES):
        shifted = index + np.round(slope * along / ACROSS_MM).astype(int)[:, None]
        inside = (shifted >= 0) & (shifted < len(index))
        sums = np.where(inside, score[rows, np.clip(shifted, 0, len(index) - 1)], 0).mean(axis=0)
        top = int(np.argmax(sums))
        if sums[top] > best:
            best = float(sums[top])
            found = float(outward[0] + (top - 0.5) * ACROSS_MM), float(slope)
    return found


def _placed(
    strip: _Strip, along: Floats, tones: Floats, line: tuple[float, float], pooled: int
) -> _Edge | None:
    """The line through each place's own edge, half way between the sheet's light and the floor's.

    None unless most places have such an edge near the line; each is an average of ``pooled``. The
    line it begins with lies where the sheet's white begins to fade; so it is gone over again from
    where the edges are.
    """
    least = max(LEAST_SHARE * len(along), LEAST_ALONG * len(strip.along) / pooled, FEWEST_PLACES)
    least_unlike = LEAST_UNLIKE / np.sqrt(pooled)
    fit = np.array(line)
    sigma = 0.0
    for _ in range(PASSES):
        from_line = strip.outward - (fit[0] + fit[1] * along)[:, None]
        away = _edges_in(from_line, tones, strip.mm_per_px, least_unlike)
        shown = np.isfinite(away)
        if shown.sum() < least:
            return None
        moved, kept = _fitted(along[shown], away[shown])
        if kept.sum() < least:
            return None
        fit = fit + moved
        terms = np.stack([np.ones(kept.sum()), along[shown][kept]], axis=1)
        scatter = float(np.std(away[shown][kept] - terms @ moved))
        spread = np.linalg.inv(terms.T @ terms)[0, 0] * max(STRETCH_MM / ALONG_MM / pooled, 1)
        common = np.hypot(EDGE_PX * strip.mm_per_px, FAINT_MM if pooled > 1 else 0.0)
        sigma = float(np.hypot(scatter * np.sqrt(spread), common))
    return _Edge(float(fit[0]), float(fit[1]), sigma)


def _fitted(along: Floats, away: Floats) -> tuple[Floats, NDArray[np.bool_]]:
    """Offset and slope (2,) of the line through edges that lie ``away`` mm, and which lie on it."""
    terms = np.stack([np.ones_like(along), along], axis=1)
    fit = np.array([float(np.median(away)), 0.0])
    kept = np.ones(len(along), bool)
    for _ in range(4):
        off = away - terms @ fit
        kept = np.abs(off) < max(3 * robust_sigma(off), STRAY_MM)
        fit = np.asarray(np.linalg.lstsq(terms[kept], away[kept], rcond=None)[0])
    return fit, kept


def _edges_in(at: Floats, light: Floats, mm_per_px: float, least_unlike: float) -> Floats:
    """(N,) where light (N, M, 3) along lines out (N, M) steps from sheet to floor.

    Not a number where it does not.
    """
    near_mm, flank_mm = (max(mm, px * mm_per_px) for mm, px in (NEAR, FLANK))
    inside = (at > -near_mm) & (at < -flank_mm)
    outside = (at > flank_mm) & (at < near_mm)
    # Close to the frame there is no sheet to look at; its white is that of the white cells.
    shown = inside.sum(axis=1) >= 3
    sheet = np.where(shown[:, None], _medians(light, inside), 1.0)
    usable = outside.sum(axis=1) >= 3
    floor = np.where(usable[:, None], _medians(light, outside), sheet)
    usable &= np.sqrt(np.mean(np.log(floor / sheet) ** 2, axis=1)) >= least_unlike
    step = np.where(usable[:, None], floor - sheet, 1.0)
    share = np.einsum("nmc,nc->nm", light - sheet[:, None], step) / np.sum(step**2, axis=1)[:, None]
    spread = np.std(share, axis=1, where=inside | ~shown[:, None])
    usable &= ~shown | (spread <= MOST_UNEVEN)
    near = np.abs(at) < near_mm
    rising = near[:, :-1] & near[:, 1:] & (share[:, :-1] < 0.5) & (share[:, 1:] >= 0.5)
    usable &= rising.any(axis=1)
    before = np.argmin(np.where(rising, np.abs(at[:, :-1]), np.inf), axis=1)
    rows = np.arange(len(at))
    low, high = share[rows, before], share[rows, before + 1]
    part = (0.5 - low) / np.where(usable, high - low, 1.0)
    edge = at[rows, before] + part * (at[rows, before + 1] - at[rows, before])
    return np.where(usable, edge, np.nan)


def _medians(light: Floats, those: NDArray[np.bool_]) -> Floats:
    """(N, 3) medians of those (N, M) of some colours (N, M, 3); infinite where there are none."""
    ordered = np.sort(np.where(those[..., None], light, np.inf), axis=1)
    count, rows = those.sum(axis=1), np.arange(len(light))
    return np.asarray(
        (ordered[rows, np.maximum(count - 1, 0) // 2] + ordered[rows, count // 2]) / 2
    )
