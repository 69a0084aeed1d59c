"""The paper cut from the floor: the division of the picture that all its places agree on best.

Each place says how likely it is to be paper by its look; neighbours are the likelier to be of one
kind the less the picture changes between them. The best division of both together is found, and
the looks are then learned again from that division.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray
from skimage.filters import threshold_otsu
from skimage.measure import find_contours

from digitize.errors import NoPaper
from digitize.floor import Grid, Raster, values_at
from digitize.paper.divide import divided
from digitize.paper.looks import Looks, Often, how_often, likelier_floor, looks_of, of_one_colour
from digitize.paper.thresholds import (
    AGREED,
    AGREED_THOUGH_IT_GREW,
    BESIDE_CARD_MM,
    BEYOND_MM,
    BURNT,
    BURNT_FLOOR,
    CLOSING_MM,
    CORE_MM,
    CUT_BORDER_COST,
    CUT_BORDER_STEP,
    CUT_LEAST_COST,
    CUT_OPENING_MM,
    CUT_RIM_MM,
    CUT_ROUNDS,
    GAINED,
    GLOW_MM,
    LEAST,
    LEAST_AREA_MM2,
    LEAST_OF_MIDDLE,
    LOOKED_AT_MM,
    LOOKS_MOST_LIKELY,
    MIDDLE_SHARE,
    MOST_STARTS,
    NARROWEST_MM,
    SHRINK,
    STRANGE,
    THROUGH_WHITE,
)

Floats = NDArray[np.float64]
Colours = NDArray[np.float32]
Flags = NDArray[np.bool_]
Mask = NDArray[np.uint8]
OUT_OF_PICTURE = (
    "the paper runs out of the picture; step back or move it, so that all of its edge shows"
)
NOTHING_STANDS_OUT = (
    "no sheet of paper stands out from the floor; lay it on a floor of another colour or a rougher "
    "one, whole in the picture, with the cards beside it and not on it"
)
LESS_LIGHT = (
    "turn the flash off, shade the sun, or tap on the paper so that the phone makes the picture "
    "darker, and lower its exposure by a step or two if that is not enough"
)
BURNT_OUT = (
    "no sheet of paper stands out from the floor, and a part of the picture is burnt out white, "
    f"where neither edges nor lines show; {LESS_LIGHT}"
)


@dataclass(frozen=True)
class LaidCard:
    """A card as it lies: (N, 2) round its sheet, what is seen of it, and that surely, mm."""

    sheet: Floats
    seen: Floats
    surely: Floats


@dataclass(frozen=True)
class Field(Grid):
    """A figure for each place of the floor: ``values`` (H, W) on a grid."""

    values: Colours

    def at(self, points: Floats) -> Floats:
        """(...) the figure at points (..., 2), mm; beyond the grid, that of its edge."""
        column, row = np.moveaxis(self.to_px(points).astype(np.float32), -1, 0)
        return values_at(self.values, column, row)


@dataclass(frozen=True)
class Cut:
    """The paper on a coarse raster.

    Attributes
    ----------
    ring : (N, 2) its border, mm.
    floor_like : log of how much likelier each place looks the floor's than the paper's.
    other : 1 where there is neither: cards, and things that look like nothing known.
    unknown : 1 where looks say nothing: by a card, or at the picture's edge.
    cards : those that lie there.
    burnt_out : whether some or all of it was told by its white, of what is burnt out: a patch of
        sun looks like that too. ``burnt_beyond`` is whether floor is burnt out beside it.
    """

    ring: Floats
    floor_like: Field
    other: Field
    unknown: Field
    cards: tuple[LaidCard, ...]
    burnt_out: bool = False
    burnt_beyond: bool = False


def cut_paper(coarse: Raster, cards: Sequence[LaidCard]) -> Cut:
    """The paper on a coarse raster (of about 2 mm a pixel), to within a few millimetres.

    Raises
    ------
    NoPaper
        If nothing like a sheet of paper stands out, or it is burnt out, or runs out of the picture.
    """
    scene = _scene_of(coarse, cards)
    found, why = _best_cut(scene, cards)
    if scene.burnt.any() and (found is None or _through(scene.burnt, found.paper) > THROUGH_WHITE):
        white, _ = _best_cut(_white_shown(scene), cards)
        if white is not None and white.agreed > AGREED and _more(white.paper, found):
            px = 1 / scene.grid.mm_per_px
            near = cv2.dilate(white.paper.astype(np.uint8), disc(BEYOND_MM * px)) > 0
            beyond = inside(scene.burnt, GLOW_MM * px) & scene.usable & ~near
            return replace(white.cut, burnt_out=True, burnt_beyond=bool(beyond.any()))
    if found is None:
        raise why
    return found.cut


def told_paper(coarse: Raster, cards: Sequence[LaidCard], corners: Floats) -> Cut:
    """The paper where somebody says it is, by its corners (N, 2) in mm; how it looks is learned.

    Raises
    ------
    NoPaper
        If the corners enclose nothing that is in the picture.
    """
    scene = _scene_of(coarse, cards)
    told = filled([corners], scene.grid, scene.seen.shape)
    core = inside(told > 0, CORE_MM / scene.grid.mm_per_px) & scene.usable
    if (core & ~scene.burnt).any():
        core &= ~scene.burnt
    else:
        scene = _white_shown(scene)
    near = cv2.dilate(told, disc(BEYOND_MM / scene.grid.mm_per_px)) > 0
    if not core.any() or not (scene.usable & ~near).any():
        raise NoPaper("the corners told for the paper enclose nothing of it in the picture")
    of_paper = how_often(scene.looks, of_one_colour(scene.looks, core))
    of_floor = how_often(scene.looks, scene.usable & ~near)
    return Cut(corners, *_as_known(scene, of_floor, of_paper), tuple(cards))


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
    grid: Grid


def _scene_of(coarse: Raster, laid: Sequence[LaidCard]) -> _Scene:
    shown = _shown(coarse)
    size = shown.shape[1] // SHRINK, shown.shape[0] // SHRINK
    middle, mm_per_px = (SHRINK - 1) / 2 * coarse.mm_per_px, coarse.mm_per_px * SHRINK
    grid = Grid(coarse.left + middle, coarse.top - middle, mm_per_px)
    seen = cv2.resize(shown.astype(np.uint8), size, interpolation=cv2.INTER_NEAREST) > 0
    cards = filled([card.seen for card in laid], grid, seen.shape)
    beside = cv2.dilate(cards, disc(BESIDE_CARD_MM / mm_per_px)) > 0
    usable = seen & ~beside
    looks = looks_of(coarse, size, seen)
    small = cv2.resize(coarse.pixels, size, interpolation=cv2.INTER_AREA)
    # What is burnt out has lost its hue, and its rim is no thing's edge.
    white = (np.median(small, axis=2) >= BURNT).astype(np.uint8)
    burnt = cv2.dilate(white, disc(GLOW_MM / mm_per_px)) > 0
    costs = _border_costs(looks)
    costs[burnt] = CUT_BORDER_COST
    if (white > 0)[usable].mean() > BURNT_FLOOR:
        burnt[:] = False  # then to be burnt out is how the floor looks
    rim = usable & ~inside(seen | (cards > 0), CUT_RIM_MM / mm_per_px)
    of_rim = how_often(looks, rim)
    return _Scene(looks, costs, seen, usable, cards > 0, burnt, of_rim, grid)


def _shown(coarse: Raster) -> Flags:
    """(H, W) what of a raster is in the picture."""
    grey = cv2.cvtColor(coarse.pixels, cv2.COLOR_RGB2GRAY) > 0
    return cv2.erode(grey.astype(np.uint8), np.ones((5, 5), np.uint8), borderValue=0) > 0


def _as_known(scene: _Scene, of_floor: Often, of_paper: Often) -> tuple[Field, Field, Field]:
    """How floor-like each place is, what is neither floor nor paper, and what is unknown."""
    floor_like = likelier_floor(of_floor, of_paper, scene.burnt)
    floor_like[~scene.usable] = 0
    floor_like[scene.cards] = LOOKS_MOST_LIKELY
    # A thing that lies beside the paper alone is no floor, though its look is learned as one.
    strange = np.maximum(scene.of_rim.as_thing, of_paper.as_thing) < STRANGE
    other = (strange & ~scene.burnt) | scene.cards
    grid = scene.grid
    floor, neither, unknown = (
        Field(grid.left, grid.top, grid.mm_per_px, each.astype(np.float32))
        for each in (floor_like, other, ~scene.usable)
    )
    return floor, neither, unknown


def _settled(scene: _Scene, core: Flags) -> tuple[Flags, Often, Often, bool]:
    """The paper, and how often each look is the floor's and the paper's; from a first guess.

    Paper that grows out of the picture only while its looks are learned has met floor of a look
    much like its own: it is given as it was before, and the last is True.
    """
    looks, mm_per_px = scene.looks, scene.grid.mm_per_px
    burnt = scene.burnt
    of_floor = scene.of_rim
    paper, of_paper = core, of_floor
    never = ~scene.seen | scene.cards
    first: tuple[Flags, Often, Often] | None = None
    before: Flags | None = None
    runs_out = False
    for _ in range(CUT_ROUNDS):
        of_paper = how_often(looks, core)
        floor_like = likelier_floor(of_floor, of_paper, burnt)
        floor_like[~scene.usable] = 0
        paper = _whole(divided(floor_like, scene.costs, never), mm_per_px)
        if paper.sum() * mm_per_px**2 < LEAST_AREA_MM2:
            raise NoPaper(NOTHING_STANDS_OUT)
        core = inside(paper, CORE_MM / mm_per_px) & scene.usable & ~burnt
        near = cv2.dilate(paper.astype(np.uint8), disc(BEYOND_MM / mm_per_px)) > 0
        beyond = scene.usable & ~near
        if not core.any() or not beyond.any():
            raise NoPaper(NOTHING_STANDS_OUT)
        core, of_floor = of_one_colour(looks, core), how_often(looks, beyond)
        runs_out = _runs_out(scene, paper)
        if first is None and not runs_out:
            first = paper, of_floor, of_paper
        if before is not None and np.array_equal(paper, before):
            break  # it is learned from as it was, and would come out again
        before = paper
    if not runs_out:
        return paper, of_floor, of_paper, False
    if first is None:
        raise NoPaper(OUT_OF_PICTURE)
    return *first, True


def _runs_out(scene: _Scene, paper: Flags) -> bool:
    """Whether some of a paper lies at the picture's edge."""
    return bool((paper & ~inside(scene.seen, 1)).any())


@dataclass(frozen=True)
class _Found:
    """A cut, its paper (H, W), and how well looks on either side of its border agree with it."""

    cut: Cut
    paper: Flags
    agreed: float


def _best_cut(scene: _Scene, cards: Sequence[LaidCard]) -> tuple[_Found | None, NoPaper]:
    """The cut that looks agree with best, and why there is none if so."""
    best: _Found | None = None
    white = _whole(scene.burnt & scene.usable, scene.grid.mm_per_px)
    sheet = white.sum() * scene.grid.mm_per_px**2 > LEAST_AREA_MM2
    why = NoPaper(BURNT_OUT if sheet else NOTHING_STANDS_OUT)
    for start in _starts(scene):
        try:
            paper, of_floor, of_paper, ran_out = _settled(scene, start)
        except NoPaper as error:
            why = why if sheet else error
            continue
        cut = Cut(border_of(paper, scene.grid), *_as_known(scene, of_floor, of_paper), tuple(cards))
        share = _agreement(cut, paper)
        if ran_out and share < AGREED_THOUGH_IT_GREW:
            why = why if sheet else NoPaper(OUT_OF_PICTURE)
            continue
        if best is None or share > best.agreed:
            best = _Found(cut, paper, share)
        if best.agreed > AGREED:
            break
    return best, why


def _through(burnt: Flags, paper: Flags) -> float:
    """The share of a paper's border that runs through what is burnt out."""
    return float(burnt[paper & ~inside(paper, 1)].mean())


def _more(paper: Flags, found: _Found | None) -> bool:
    """Whether a paper is what was found, and more."""
    if found is None:
        return True
    size = int(found.paper.sum())
    gained, lost = int((paper & ~found.paper).sum()), int((found.paper & ~paper).sum())
    return gained > GAINED * size and lost < gained


def _white_shown(scene: _Scene) -> _Scene:
    """The scene with white, of what is burnt out, as a look like any other."""
    return replace(scene, burnt=np.zeros_like(scene.burnt), costs=_border_costs(scene.looks))


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
        if left.sum() * scene.grid.mm_per_px**2 < LEAST_AREA_MM2:
            break
        alike = of_one_colour(looks, left)
        left &= ~alike
        sheet = _whole(alike, scene.grid.mm_per_px)
        if not sheet.any() or _runs_out(scene, sheet):
            continue
        hull = cv2.convexHull(np.argwhere(sheet)[:, None].astype(np.int32))
        size = int(sheet.sum())
        sheets.append((size * size / max(cv2.contourArea(hull), 1.0), sheet & alike))
    for _, sheet in sorted(sheets, key=lambda pair: -pair[0])[:2]:
        yield sheet
    # A white sheet may differ from a pale floor by its light alone.
    seldom = np.log(scene.of_rim.as_lit + LEAST)
    rare = usable & (seldom < threshold_otsu(seldom[usable]))
    sheet = _whole(rare, scene.grid.mm_per_px)
    if sheet.any() and not _runs_out(scene, sheet):
        yield sheet & rare


def _agreement(cut: Cut, paper: Flags) -> float:
    """The share of the border that has paper inside and floor outside, by their looks."""
    near, floor_like = round(LOOKED_AT_MM / cut.floor_like.mm_per_px), cut.floor_like.values
    grown, shrunk = cv2.dilate(paper.astype(np.uint8), disc(near)) > 0, inside(paper, near)
    known = (floor_like != 0) & (cut.other.values == 0)
    beside, within = grown & ~paper & known, paper & ~shrunk & known
    if not beside.any() or not within.any():
        return 0.0
    return float((floor_like[beside] > 1).mean() * (floor_like[within] < -1).mean())


def _border_costs(looks: Looks) -> Colours:
    """(H, W) what a border costs there: little where the look changes."""
    change = np.zeros(looks.cells[0].shape, np.float32)
    for cells, weight in zip(looks.cells, (1.0, 1.0, 0.7, 0.5), strict=True):
        smooth = cv2.GaussianBlur(cells.astype(np.float32), (0, 0), 0.8)
        for way in ((1, 0), (0, 1)):
            change += weight * cv2.Sobel(smooth, cv2.CV_32F, *way, ksize=3, scale=0.125) ** 2
    return np.asarray(CUT_BORDER_COST / (1 + change / CUT_BORDER_STEP) + CUT_LEAST_COST, np.float32)


def _whole(mask: Flags, mm_per_px: float) -> Flags:
    """The largest connected part that is no mere strip, without bridges and holes."""
    # Pencil and slits are no gaps of it.
    closed = cv2.morphologyEx(
        mask.astype(np.uint8), cv2.MORPH_CLOSE, disc(CLOSING_MM / 2 / mm_per_px)
    )
    opened = cv2.morphologyEx(closed, cv2.MORPH_OPEN, disc(CUT_OPENING_MM / 2 / mm_per_px))
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


def filled(rings: Sequence[Floats], grid: Grid, shape: tuple[int, ...]) -> Mask:
    """(H, W) 1 within rings (N, 2), mm."""
    mask = np.zeros(shape, np.uint8)
    for ring in rings:
        cv2.fillPoly(mask, [np.round(grid.to_px(ring)).astype(np.int32)], 1)
    return mask


def border_of(mask: Flags, grid: Grid) -> Floats:
    """(N, 2) round the largest part of a mask, mm: half way between pixels in and out of it."""
    borders = find_contours(np.pad(mask, 1).astype(np.float32), 0.5)
    longest = max(borders, key=len)
    return grid.to_mm(longest[:-1, ::-1] - 1)
