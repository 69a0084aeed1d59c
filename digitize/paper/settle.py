"""The paper's border settled by how paper and floor look close by, in a band along it.

Over the whole floor some planks or tiles may look like the sheet; close by they seldom do. Both
sides' colours and grain are taken as normally distributed about a mean that changes slowly along
the border, learned from what lies on either side, and again as it moves (after X. Bai, J. Wang,
D. Simons, G. Sapiro, "Video SnapCut: robust video object cutout using localized classifiers",
2009). Where a card's sheet goes on beyond what is surely seen of it, the other side is the card,
whose colours are known; what is likely to be seen of it has to look plainly like paper to be paper.
"""

from dataclasses import dataclass
from functools import partial
from itertools import combinations_with_replacement

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter

from digitize.floor import Grid, Raster
from digitize.paper.cut import Cut, Field, border_of, disc, filled
from digitize.paper.divide import divided
from digitize.paper.thresholds import (
    A_WORD,
    ALL_SHARE,
    BIN,
    BINS,
    CARD_EDGE_MM,
    FAR_SHARE,
    FAR_TIMES,
    GRAIN_STEPS,
    INWARD_MM,
    MODEL_SHRINK,
    NEAR_MM,
    OUTWARD_MM,
    RARE,
    SEEN_LOG,
    SETTLE_BORDER_COST,
    SETTLE_BORDER_STEP,
    SETTLE_GAP_MM,
    SETTLE_GRAIN_MM,
    SETTLE_LEAST_COST,
    SETTLE_LEAST_SPREAD,
    SETTLE_MOST_LIKELY,
    SETTLE_OPENING_MM,
    SETTLE_PIXEL_MM,
    SETTLE_ROUNDS,
    SETTLE_STRAY_LOG,
    SETTLED_MM2,
    STRAY_FLOOR,
    STRAY_PAPER,
    UNDER_MM,
)
from digitize.workers import side_by_side

Floats = NDArray[np.float64]
Colours = NDArray[np.float32]
Flags = NDArray[np.bool_]
Mask = NDArray[np.uint8]
Places = tuple[NDArray[np.int64], ...]
STRIP_ROWS = 64  # of its pixels, whose looks are told at once


@dataclass(frozen=True)
class Settled:
    """The paper's border (N, 2), mm, and log of how much likelier floor than paper is beside it."""

    ring: Floats
    floor_like: Field


def settle(fine: Raster, cut: Cut) -> Settled:
    """A cut's border as the fine raster has it, to within a millimetre or two."""
    shrink = max(round(SETTLE_PIXEL_MM / fine.mm_per_px), 1)
    looks = _looks(fine, shrink)
    shape, middle = looks.shape[:2], (shrink - 1) / 2 * fine.mm_per_px
    grid = Grid(fine.left + middle, fine.top - middle, fine.mm_per_px * shrink)
    px = 1 / grid.mm_per_px
    shown = _shown(fine, shape)
    cards = filled([card.surely for card in cut.cards], grid, shape)
    likely_card = (filled([card.seen for card in cut.cards], grid, shape) > 0) & (cards == 0)
    sheets = filled([card.sheet for card in cut.cards], grid, shape)
    hidden = cv2.morphologyEx(sheets & ~cards & 1, cv2.MORPH_OPEN, disc(CARD_EDGE_MM * px)) > 0
    never = ~shown | (cards > 0)
    beside = cv2.dilate(cards, disc(CARD_EDGE_MM * px)) > 0
    usable = ~never & (hidden | ~beside)
    card_like = _card_like(looks, (cards > 0) & shown)
    change, moments = _change(looks), _moments(looks)
    paper = filled([cut.ring], grid, shape)
    reach, gap = disc(OUTWARD_MM * px), disc(SETTLE_GAP_MM * px)
    under = hidden & (_eroded(1 - paper, UNDER_MM * px) == 0) if hidden.any() else hidden
    deep = _eroded(paper, INWARD_MM * px) > 0
    band = ((cv2.dilate(paper, reach) > 0) & ~deep) | under
    at = np.nonzero(band & usable)
    seen = looks[at]
    floor_like = np.where(paper > 0, -SETTLE_MOST_LIKELY, SETTLE_MOST_LIKELY).astype(np.float32)
    floor_like[band] = 0
    margin = reach  # at first, as a thing that lies at the edge may be taken for paper too
    for _ in range(SETTLE_ROUNDS):
        # What of a card is taken for paper would teach itself; the rest of the paper is enough.
        within = (cv2.erode(paper, margin) > 0) & usable & ~hidden
        beyond = (cv2.dilate(paper, gap) == 0) & usable & ~hidden
        if not within.any() or not beyond.any():
            break
        likely = partial(_likely, seen, moments, at=at)
        as_paper, as_floor = side_by_side(likely, (within, beyond))
        as_floor = np.where(under[at], card_like[at], as_floor)
        as_paper = np.logaddexp(as_paper, np.log(STRAY_PAPER) + SETTLE_STRAY_LOG)
        as_floor = np.logaddexp(as_floor, np.log(STRAY_FLOOR) + SETTLE_STRAY_LOG)
        likelier = as_floor - as_paper + SEEN_LOG * likely_card[at]
        floor_like[at] = np.clip(likelier, -SETTLE_MOST_LIKELY, SETTLE_MOST_LIKELY)
        usual = SETTLE_BORDER_STEP * float(np.median(change[within])) + 1e-3
        costs = np.asarray(
            SETTLE_BORDER_COST / (1 + change / usual) + SETTLE_LEAST_COST, np.float32
        )
        before, margin = paper, gap
        paper = _largest(divided(A_WORD * floor_like, costs, never), px)
        if not paper.any():
            paper = before
            break
        if (paper != before).sum() < SETTLED_MM2 * px**2:
            break
    return Settled(border_of(paper > 0, grid), Field(grid.left, grid.top, 1 / px, floor_like))


def _looks(fine: Raster, shrink: int) -> Colours:
    """(H, W, 4) L, a, b and grain of a raster shrunk by a whole number."""
    rows, columns = (length // shrink * shrink for length in fine.pixels.shape[:2])
    size = columns // shrink, rows // shrink
    colour, grain = np.empty((*size[::-1], 3), np.uint8), np.empty(size[::-1], np.float32)
    beside = int(np.ceil(4 * SETTLE_GRAIN_MM / fine.mm_per_px)) + 1  # as far as the blur reaches

    def put(first: int) -> None:
        own = slice(first, min(first + STRIP_ROWS, size[1]))
        top, bottom = own.start * shrink, own.stop * shrink
        above = max(top - beside, 0)
        part = fine.pixels[above : min(bottom + beside, rows), :columns]
        lab = np.asarray(cv2.cvtColor(part, cv2.COLOR_RGB2LAB), np.uint8)
        light = np.ascontiguousarray(lab[..., 0])
        detail = cv2.absdiff(
            light, cv2.GaussianBlur(light, (0, 0), SETTLE_GRAIN_MM / fine.mm_per_px)
        )
        inner, some = slice(top - above, bottom - above), (size[0], own.stop - own.start)
        colour[own] = cv2.resize(lab[inner], some, interpolation=cv2.INTER_AREA)
        shown = np.asarray(detail[inner], np.float32)
        grain[own] = cv2.resize(shown, some, interpolation=cv2.INTER_AREA)

    side_by_side(put, range(0, size[1], STRIP_ROWS))
    # The median takes pencil lines out.
    colour = np.asarray(cv2.medianBlur(colour, 3))
    grain = np.asarray(cv2.blur(cv2.medianBlur(grain, 5), (3, 3)))
    return np.dstack([colour.astype(np.float32), GRAIN_STEPS * np.log(grain + 0.5)])


def _eroded(mask: Mask, radius_px: float) -> Mask:
    """(H, W) what of a mask lies with all of a disc about it within the mask, or off the picture.

    Row by row of the disc, which of a large one costs a fifth of ``cv2.erode``.
    """
    left = mask.copy()
    widths = disc(radius_px).sum(axis=1).tolist()
    for width in set(widths):
        row = np.asarray(cv2.erode(mask, np.ones((1, width), np.uint8)), np.uint8)
        for down in (at - len(widths) // 2 for at, each in enumerate(widths) if each == width):
            low, high = max(down, 0), max(-down, 0)
            own = left[high : max(len(mask) - low, 0)]
            own &= row[low : max(len(mask) - high, 0)]
    return left


def _shown(fine: Raster, shape: tuple[int, ...]) -> Flags:
    """(H, W) what of a raster is in the picture."""
    small = cv2.resize(fine.pixels, shape[1::-1], interpolation=cv2.INTER_NEAREST)
    seen = np.asarray(small.any(axis=2), np.uint8)
    return cv2.erode(seen, np.ones((5, 5), np.uint8)) > 0


def _change(looks: Colours) -> Colours:
    """(H, W) how much the colour changes there, squared."""
    change = np.zeros(looks.shape[:2], np.float32)
    for channel in range(3):
        smooth = cv2.GaussianBlur(np.ascontiguousarray(looks[..., channel]), (0, 0), 0.7)
        for way in ((1, 0), (0, 1)):
            change += cv2.Sobel(smooth, cv2.CV_32F, *way, ksize=3, scale=0.125) ** 2
    return change


def _moments(looks: Colours) -> dict[tuple[int, ...], Colours]:
    """(H, W) each look, and the product of each two, by their numbers."""
    each = {(i,): np.ascontiguousarray(looks[..., i]) for i in range(looks.shape[2])}
    pairs = combinations_with_replacement(range(looks.shape[2]), 2)
    return each | {(i, j): each[i,] * each[j,] for i, j in pairs}


def _likely(
    seen: Colours, moments: dict[tuple[int, ...], Colours], learned: Flags, at: Places
) -> Floats:
    """(N,) log density of looks (N, 4) at places (rows, columns) by those learned (H, W) close by.

    The means and spreads that they are held against are those of cells of MODEL_SHRINK places.
    """
    (rows, columns), count = learned.shape, seen.shape[1]
    counted = learned.astype(np.float32)
    size = max(columns // MODEL_SHRINK, 1), max(rows // MODEL_SHRINK, 1)

    def gathered(values: Colours) -> Colours:
        small = cv2.resize(values, size, interpolation=cv2.INTER_AREA)
        near = NEAR_MM / SETTLE_PIXEL_MM / MODEL_SHRINK
        far = cv2.GaussianBlur(small, (0, 0), FAR_TIMES * near)
        everywhere = ALL_SHARE * small.mean()
        return np.asarray(
            cv2.GaussianBlur(small, (0, 0), near) + FAR_SHARE * far + everywhere, np.float32
        )

    weight = gathered(counted) + 1e-9
    means = np.stack([gathered(moments[i,] * counted) / weight for i in range(count)], axis=-1)
    spread = np.zeros((*weight.shape, count, count), np.float32)
    for i, j in combinations_with_replacement(range(count), 2):
        together = gathered(moments[i, j] * counted) / weight
        spread[..., i, j] = spread[..., j, i] = together - means[..., i] * means[..., j]
    spread += np.diag(SETTLE_LEAST_SPREAD**2).astype(np.float32)
    # Only where the band passes; a triangle gives the distance and the determinant.
    down = np.minimum(at[0] * size[1] // rows, size[1] - 1)
    across = np.minimum(at[1] * size[0] // columns, size[0] - 1)
    cell = down * size[0] + across
    passed = np.zeros(weight.size, np.bool_)
    passed[cell] = True
    which = (np.cumsum(passed) - 1)[cell]
    triangles = np.linalg.cholesky(spread.reshape(-1, count, count)[passed])
    roots = np.linalg.inv(triangles)
    away = seen.T - means.reshape(-1, count)[passed].T.take(which, axis=1)
    distance = np.zeros(len(cell), np.float32)
    for i in range(count):
        # By itself each figure of a triangle is had sooner than all of them place by place.
        off = sum(roots[:, i, j].take(which) * away[j] for j in range(i + 1))
        distance += off * off
    size_of = np.log(np.diagonal(triangles, axis1=1, axis2=2)).sum(axis=1)[which]
    return np.asarray(-distance / 2 - size_of, np.float64)


def _card_like(looks: Colours, seen: Flags) -> Floats:
    """(H, W) log density of places' looks by those seen of the cards, less what ``_likely`` omits.

    A card is printed: its colours are counted, and only its grain is taken as normal.
    """
    if not seen.any():
        return np.zeros(seen.shape)
    counted, _ = np.histogramdd(looks[seen][:, :3], BINS, ((0, BIN * BINS),) * 3)
    share = gaussian_filter(counted, 0.8) / counted.sum() / BIN**3
    cell = np.clip(looks[..., :3] // BIN, 0, BINS - 1).astype(np.int64)
    colour = np.log(share[cell[..., 0], cell[..., 1], cell[..., 2]] + RARE) + 1.5 * np.log(
        2 * np.pi
    )
    grain, mean = looks[..., 3], looks[seen][:, 3].mean()
    spread = np.hypot(looks[seen][:, 3].std(), SETTLE_LEAST_SPREAD[3])
    return np.asarray(colour - ((grain - mean) / spread) ** 2 / 2 - np.log(spread))


def _largest(mask: Flags, px: float) -> Mask:
    """(H, W) the largest part without threads and holes."""
    opened = cv2.morphologyEx(mask.astype(np.uint8), cv2.MORPH_OPEN, disc(SETTLE_OPENING_MM * px))
    contours, _ = cv2.findContours(opened, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    whole = np.zeros(mask.shape, np.uint8)
    if contours:
        cv2.drawContours(whole, [max(contours, key=cv2.contourArea)], -1, 1, cv2.FILLED)
    return whole
