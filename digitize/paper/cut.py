"""The paper cut from the floor: the division of the picture that all its places agree on best.

Each place says how likely it is to be paper by its look; neighbours are the likelier to be of one
kind the less the picture changes between them. The best division of both together is found as the
least total variation (A. Chambolle, T. Pock, "A first-order primal-dual algorithm for convex
problems with applications to imaging", 2011), which has no better division than the one its relaxed
form gives (T. Chan, S. Esedoglu, M. Nikolova, "Algorithms for finding global minimizers of image
segmentation and denoising models", 2006). The looks are then learned again from that division.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from digitize.errors import NoPaper
from digitize.floor import Raster
from digitize.paper.looks import (
    BURNT,
    MOST_LIKELY,
    STRANGE,
    Looks,
    Often,
    how_often,
    likelier_floor,
    looks_of,
    of_one_colour,
)

Floats = NDArray[np.float64]
Colours = NDArray[np.float32]
Flags = NDArray[np.bool_]
Mask = NDArray[np.uint8]
SHRINK = 2  # the cut's pixels, in the coarse raster's
LEAST_AREA_MM2 = 100.0 * 100.0
GLOW_MM = 8.0  # round what is burnt out
BURNT_FLOOR = 0.4  # of what is seen: more is no patch of sun
RIM_MM = 60.0  # inside the picture's edge
BESIDE_CARD_MM = 4.0
MIDDLE_SHARE = 0.22  # of the picture each way from its middle: where the paper is looked for first
LEAST_OF_MIDDLE = 0.15
ROUNDS, STEPS_A_ROUND = 4, 80
MOST_STARTS, AGREED, LOOKED_AT_MM = 6, 0.85, 12.0
CORE_MM, BEYOND_MM = 10.0, 16.0  # surely paper, so far inside; surely not, so far outside
BAND_MM = 16.0
OPENING_MM, NARROWEST_MM = 10.0, 40.0
BORDER_COST, LEAST_COST, BORDER_STEP = 1.2, 0.05, 0.3
OUT_OF_PICTURE = (
    "the paper runs out of the picture; step back or move it, so that all of its edge shows"
)
NOTHING_STANDS_OUT = (
    "no sheet of paper stands out from the floor; lay it on a floor of another colour or a rougher "
    "one, whole in the picture, with the cards beside it and not on it"
)


@dataclass(frozen=True)
class Cut:
    """The paper on a coarse raster.

    Attributes
    ----------
    ring : (N, 2) its border, mm.
    floor_like : (H, W) log of how much likelier each place looks the floor's than the paper's.
    other : (H, W) what is neither: cards, and things that look like nothing known.
    unknown : (H, W) where looks say nothing: by a card, or at the picture's edge.
    on_cards : (N, 2) rings round what is seen of each card, mm.
    left, top, mm_per_px : mm at the first pixel's middle, and a pixel's side.
    """

    ring: Floats
    floor_like: Colours
    other: Flags
    unknown: Flags
    on_cards: tuple[Floats, ...]
    left: float
    top: float
    mm_per_px: float

    def floor_like_at(self, points: Floats) -> Floats:
        """(N, M) how much likelier points (N, M, 2), mm, look the floor's than the paper's."""
        return self._at(points, self.floor_like)

    def other_at(self, points: Floats) -> Floats:
        """(N, M) how much of what is round points (N, M, 2), mm, is neither."""
        return self._at(points, self.other.astype(np.float32))

    def unknown_at(self, points: Floats) -> Floats:
        """(N, M) how much of what is round points (N, M, 2), mm, is by a card or at the rim."""
        return self._at(points, self.unknown.astype(np.float32))

    def _at(self, points: Floats, values: Colours) -> Floats:
        at = (points - [self.left, self.top]) / [self.mm_per_px, -self.mm_per_px]
        column, row = np.moveaxis(at.astype(np.float32), -1, 0)
        return np.asarray(
            cv2.remap(values, column, row, cv2.INTER_LINEAR, None, cv2.BORDER_REPLICATE), np.float64
        )


def cut_paper(coarse: Raster, on_cards: list[Floats]) -> Cut:
    """The paper on a coarse raster (of about 2 mm a pixel), to within a few millimetres.

    Parameters
    ----------
    on_cards : rings (N, 2) in mm round what is seen of each card, which is no paper.

    Raises
    ------
    NoPaper
        If nothing like a sheet of paper stands out, or it runs out of the picture.
    """
    scene = _scene_of(coarse, on_cards)
    place = _place_of(coarse)
    best: Cut | None = None
    agreed, why = 0.0, NoPaper(NOTHING_STANDS_OUT)
    whole = np.zeros(scene.seen.shape, bool)
    for start in _starts(scene):
        try:
            paper, of_floor, of_paper = _settled(scene, start)
        except NoPaper as error:
            why = error
            continue
        cut = Cut(np.empty((0, 2)), *_as_known(scene, of_floor, of_paper), tuple(on_cards), *place)
        share = _agreement(cut, paper)
        if best is None or share > agreed:
            best, whole, agreed = cut, paper, share
        if agreed > AGREED:
            break
    if best is None:
        raise why
    return replace(best, ring=_settled_by_colour(coarse, best, whole))


def told_paper(coarse: Raster, on_cards: list[Floats], corners: Floats) -> Cut:
    """The paper where somebody says it is, by its corners (N, 2) in mm; how it looks is learned.

    Raises
    ------
    NoPaper
        If the corners enclose nothing that is in the picture.
    """
    scene = _scene_of(coarse, on_cards)
    place = _place_of(coarse)
    at = (corners - place[:2]) / [place[2], -place[2]]
    told = np.zeros(scene.seen.shape, np.uint8)
    cv2.fillPoly(told, [np.round(at).astype(np.int32)], 1)
    core = inside(told > 0, CORE_MM / scene.mm_per_px) & scene.usable & ~scene.burnt
    near = cv2.dilate(told, disc(BEYOND_MM / scene.mm_per_px)) > 0
    if not core.any() or not (scene.usable & ~near).any():
        raise NoPaper("the corners told for the paper enclose nothing of it in the picture")
    of_paper = how_often(scene.looks, of_one_colour(scene.looks, core))
    of_floor = how_often(scene.looks, scene.usable & ~near)
    return Cut(corners, *_as_known(scene, of_floor, of_paper), tuple(on_cards), *place)


@dataclass(frozen=True)
class _Scene:
    """What the cut is made of, all (H, W): looks, borders' costs, and what is known of places.

    ``of_rim`` is how often each look is found along the picture's edge, where there is no paper.
    """

    looks: Looks
    costs: Colours
    seen: Flags
    usable: Flags
    cards: Flags
    burnt: Flags
    of_rim: Often
    mm_per_px: float


def _scene_of(coarse: Raster, on_cards: list[Floats]) -> _Scene:
    shown = _shown(coarse)
    size = shown.shape[1] // SHRINK, shown.shape[0] // SHRINK
    mm_per_px = coarse.mm_per_px * SHRINK
    seen = cv2.resize(shown.astype(np.uint8), size, interpolation=cv2.INTER_NEAREST) > 0
    cards = np.zeros(seen.shape, np.uint8)
    for ring in on_cards:
        at = np.round((coarse.to_px(ring) + 0.5) / SHRINK - 0.5).astype(np.int32)
        cv2.fillPoly(cards, [at], 1)
    beside = cv2.dilate(cards, disc(BESIDE_CARD_MM / mm_per_px)) > 0
    usable = seen & ~beside
    looks = looks_of(coarse, size, seen)
    small = cv2.resize(coarse.pixels, size, interpolation=cv2.INTER_AREA)
    # What is burnt out has lost its hue, and its rim is no thing's edge.
    white = (np.median(small, axis=2) >= BURNT).astype(np.uint8)
    burnt = cv2.dilate(white, disc(GLOW_MM / mm_per_px)) > 0
    costs = _border_costs(looks)
    costs[burnt] = BORDER_COST
    if (white > 0)[usable].mean() > BURNT_FLOOR:
        burnt[:] = False  # then to be burnt out is how the floor looks
    rim = usable & ~inside(seen | (cards > 0), RIM_MM / mm_per_px)
    of_rim = how_often(looks, rim)
    return _Scene(looks, costs, seen, usable, cards > 0, burnt, of_rim, mm_per_px)


def _shown(coarse: Raster) -> Flags:
    """(H, W) what of a raster is in the picture."""
    grey = cv2.cvtColor(coarse.pixels, cv2.COLOR_RGB2GRAY) > 0
    return cv2.erode(grey.astype(np.uint8), np.ones((5, 5), np.uint8), borderValue=0) > 0


def _place_of(coarse: Raster) -> tuple[float, float, float]:
    """Left, top and a pixel's side (mm) of the cut's pixels."""
    middle = (SHRINK - 1) / 2 * coarse.mm_per_px
    return coarse.left + middle, coarse.top - middle, coarse.mm_per_px * SHRINK


def _as_known(scene: _Scene, of_floor: Often, of_paper: Often) -> tuple[Colours, Flags, Flags]:
    """How floor-like each place is, what is neither floor nor paper, and what is unknown."""
    floor_like = likelier_floor(of_floor, of_paper, scene.burnt)
    floor_like[~scene.usable] = 0
    floor_like[scene.cards] = MOST_LIKELY
    # A thing that lies beside the paper alone is no floor, though its look is learned as one.
    strange = np.maximum(scene.of_rim.as_thing, of_paper.as_thing) < STRANGE
    return floor_like, (strange & ~scene.burnt) | scene.cards, ~scene.usable


def _settled(scene: _Scene, core: Flags) -> tuple[Flags, Often, Often]:
    """The paper, and how often each look is the floor's and the paper's; from a first guess."""
    looks, mm_per_px = scene.looks, scene.mm_per_px
    burnt = scene.burnt
    of_floor = scene.of_rim
    paper, of_paper = core, of_floor
    never = ~scene.seen | scene.cards
    for _ in range(ROUNDS):
        of_paper = how_often(looks, core)
        floor_like = likelier_floor(of_floor, of_paper, burnt)
        floor_like[~scene.usable] = 0
        paper = _whole(_divided(floor_like, scene.costs, never), mm_per_px)
        if paper.sum() * mm_per_px**2 < LEAST_AREA_MM2:
            raise NoPaper(NOTHING_STANDS_OUT)
        core = inside(paper, CORE_MM / mm_per_px) & scene.usable & ~burnt
        near = cv2.dilate(paper.astype(np.uint8), disc(BEYOND_MM / mm_per_px)) > 0
        beyond = scene.usable & ~near
        if not core.any() or not beyond.any():
            raise NoPaper(NOTHING_STANDS_OUT)
        core, of_floor = of_one_colour(looks, core), how_often(looks, beyond)
    if (paper & ~inside(scene.seen, 1)).any():
        raise NoPaper(OUT_OF_PICTURE)
    return paper, of_floor, of_paper


def _starts(scene: _Scene) -> Iterator[Flags]:
    """Places that may be paper, the likeliest first."""
    usable, looks = scene.usable, scene.looks
    of_rim = scene.of_rim.as_thing
    rows, columns = np.nonzero(usable)
    down, across = np.indices(usable.shape)
    middle = usable & (
        (
            ((down - (rows.min() + rows.max()) / 2) / (MIDDLE_SHARE * np.ptp(rows))) ** 2
            + ((across - (columns.min() + columns.max()) / 2) / (MIDDLE_SHARE * np.ptp(columns)))
            ** 2
        )
        < 1
    )
    unlike = middle & (of_rim < STRANGE)
    if unlike.sum() > LEAST_OF_MIDDLE * middle.sum():
        yield of_one_colour(looks, unlike)
    else:
        yield of_one_colour(looks, middle & (of_rim <= np.median(of_rim[middle])))
    # Then each look that is common somewhere: a sheet is of one colour, whole, and compact.
    left, sheets = usable.copy(), []
    for _ in range(MOST_STARTS):
        if left.sum() * scene.mm_per_px**2 < LEAST_AREA_MM2:
            break
        alike = of_one_colour(looks, left)
        left &= ~alike
        sheet = _whole(alike, scene.mm_per_px)
        if not sheet.any() or (sheet & ~inside(scene.seen, 1)).any():
            continue
        hull = cv2.convexHull(np.argwhere(sheet)[:, None].astype(np.int32))
        size = int(sheet.sum())
        sheets.append((size * size / max(cv2.contourArea(hull), 1.0), sheet & alike))
    for _, sheet in sorted(sheets, key=lambda pair: -pair[0])[:2]:
        yield sheet


def _agreement(cut: Cut, paper: Flags) -> float:
    """The share of the border that has paper inside and floor outside, by their looks."""
    near = round(LOOKED_AT_MM / cut.mm_per_px)
    grown, shrunk = cv2.dilate(paper.astype(np.uint8), disc(near)) > 0, inside(paper, near)
    known = (cut.floor_like != 0) & ~cut.other
    beside, within = grown & ~paper & known, paper & ~shrunk & known
    if not beside.any() or not within.any():
        return 0.0
    floor, paper = cut.floor_like[beside] > 1, cut.floor_like[within] < -1
    return float(floor.mean() * paper.mean())


def _settled_by_colour(coarse: Raster, cut: Cut, paper: Flags) -> Floats:
    """(N, 2) the border of the cut, mm, settled by colour alone in a band along it.

    Looks are taken of a window, which rounds corners off (C. Rother, V. Kolmogorov, A. Blake,
    "GrabCut: interactive foreground extraction using iterated graph cuts", 2004).
    """
    shown = _shown(coarse)
    size = shown.shape[::-1]
    rough = cv2.resize(paper.astype(np.uint8), size, interpolation=cv2.INTER_NEAREST)
    cards = np.zeros(size[::-1], np.uint8)
    for ring in cut.on_cards:
        cv2.fillPoly(cards, [np.round(coarse.to_px(ring)).astype(np.int32)], 1)
    rows, columns = np.nonzero(rough)
    pad = 3 * round(BAND_MM / coarse.mm_per_px)
    part = np.s_[
        max(rows.min() - pad, 0) : rows.max() + pad,
        max(columns.min() - pad, 0) : columns.max() + pad,
    ]
    near, band = rough[part], disc(BAND_MM / coarse.mm_per_px)
    labels = np.where(near > 0, cv2.GC_PR_FGD, cv2.GC_PR_BGD).astype(np.uint8)
    labels[cv2.erode(near, band) > 0] = cv2.GC_FGD
    never = (cv2.dilate(near, band) == 0) | ~shown[part] | (cards[part] > 0)
    labels[never] = cv2.GC_BGD
    lab = np.asarray(cv2.cvtColor(coarse.pixels[part], cv2.COLOR_RGB2LAB), np.uint8)
    cv2.setRNGSeed(1)
    models = np.zeros((1, 65)), np.zeros((1, 65))
    # Colours are learned from every fourth pixel each way: so many are enough.
    few, their_labels = (np.ascontiguousarray(each[::4, ::4]) for each in (lab, labels))
    cv2.grabCut(few, their_labels, (0, 0, 1, 1), *models, 2, cv2.GC_INIT_WITH_MASK)
    cv2.grabCut(lab, labels, (0, 0, 1, 1), *models, 1, cv2.GC_EVAL_FREEZE_MODEL)
    settled = np.isin(labels, (cv2.GC_FGD, cv2.GC_PR_FGD)).astype(np.uint8)
    closed = cv2.morphologyEx(settled, cv2.MORPH_CLOSE, np.ones((5, 5), np.uint8))
    opened = cv2.morphologyEx(closed, cv2.MORPH_OPEN, disc(1))
    contours, _ = cv2.findContours(opened, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    if not contours:
        raise NoPaper(NOTHING_STANDS_OUT)
    border = max(contours, key=cv2.contourArea)[:, 0].astype(float)
    return coarse.to_mm(border + np.array([part[1].start, part[0].start]))


def _border_costs(looks: Looks) -> Colours:
    """(H, W) what a border costs there: little where the look changes."""
    change = np.zeros(looks.cells[0].shape, np.float32)
    for cells, weight in zip(looks.cells, (1.0, 1.0, 0.7, 0.5), strict=True):
        smooth = cv2.GaussianBlur(cells.astype(np.float32), (0, 0), 0.8)
        for way in ((1, 0), (0, 1)):
            change += weight * cv2.Sobel(smooth, cv2.CV_32F, *way, ksize=3, scale=0.125) ** 2
    return np.asarray(BORDER_COST / (1 + change / BORDER_STEP) + LEAST_COST, np.float32)


def _divided(floor_like: Colours, costs: Colours, never: Flags) -> Flags:
    """(H, W) the division with the least sum of places' own costs and its border's."""
    paper = (floor_like < 0).astype(np.float32)
    paper[never] = 0
    ahead, across, down = paper.copy(), np.zeros_like(paper), np.zeros_like(paper)
    step = np.float32(0.35)  # its square times 8 is under 1, as the scheme needs it
    for _ in range(STEPS_A_ROUND):
        across[:, :-1] += step * (ahead[:, 1:] - ahead[:, :-1])
        down[:-1] += step * (ahead[1:] - ahead[:-1])
        over = np.maximum(cv2.magnitude(across, down) / costs, 1)
        across /= over
        down /= over
        inflow = across + down
        inflow[:, 1:] -= across[:, :-1]
        inflow[1:] -= down[:-1]
        before = paper
        paper = np.clip(paper + step * (inflow - floor_like), 0, 1)
        paper[never] = 0
        ahead = 2 * paper - before
    return np.asarray(paper > 0.5)


def _whole(mask: Flags, mm_per_px: float) -> Flags:
    """The largest connected part that is no mere strip, without bridges and holes."""
    opened = cv2.morphologyEx(
        mask.astype(np.uint8), cv2.MORPH_OPEN, disc(OPENING_MM / 2 / mm_per_px)
    )
    contours, _ = cv2.findContours(opened, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    wide = [
        contour
        for contour in contours
        if 2 * cv2.contourArea(contour) * mm_per_px > NARROWEST_MM * cv2.arcLength(contour, True)
    ]
    whole = np.zeros(mask.shape, np.uint8)
    if wide:
        cv2.drawContours(whole, [max(wide, key=cv2.contourArea)], -1, 1, cv2.FILLED)
    return whole > 0


def inside(mask: Flags, margin_px: float) -> Flags:
    """Where a mask is True for so many pixels round about."""
    return np.asarray(cv2.erode(mask.astype(np.uint8), disc(margin_px), borderValue=0) > 0)


def disc(radius_px: float) -> Mask:
    """A round neighbourhood."""
    size = 2 * max(round(radius_px), 1) + 1
    return np.asarray(cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (size, size)), np.uint8)
