"""The paper against the floor.

The paper lies whole in the picture, so what is along the picture's edge is floor, and so is what
looks like it round the cards: in its hue (which a shadow hardly moves), its texture and its
brightness. What is unlike that is paper. Its edge is settled by colour alone in a band, with
GrabCut (Rother, Kolmogorov, Blake, "GrabCut: interactive foreground extraction using iterated
graph cuts", 2004), and then placed on the fine raster, along normals, where the colour steps from
the paper's to the floor's.
"""

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import median_filter
from scipy.spatial import cKDTree
from shapely import Polygon

from digitize.errors import NoPaper
from digitize.floor import Raster
from digitize.plane import MEDIAN_TO_SIGMA, length_of, places_along

Floats = NDArray[np.float64]
Mask = NDArray[np.uint8]
COARSE_MM = 2.0
SHRINK = 2  # the first cut's pixels, in coarse ones
TEXTURE_MM = 12.0
LEAST_AREA_MM2 = 100.0 * 100.0
RING_MM = (8.0, 60.0)  # beyond a card's sheet
RIM_MM = 60.0  # inside the picture's edge
FLOOR_SAMPLES = 500
RARE_SHARE, USUAL_SHARE = 0.03, 0.35  # of the floor's samples that have a look
# Spreads below these (log units) are no difference: hue, hue, texture, brightness.
LEAST_SPREAD = np.array([0.035, 0.05, 0.3, 0.25])
UNLIKE, PLAIN_SHARE = 1.5, 0.35
OPENING_MM, NARROWEST_MM = 16.0, 40.0
BAND_MM = 16.0
EDGE_SEARCH_MM = 5.0
EDGE_STEP_MM = 2.0
EDGE_PX = 5  # of the coarse raster: nearer to the picture's edge, the paper runs out of it
OUT_OF_PICTURE = (
    "the paper runs out of the picture; step back or move it, so that all of its edge shows"
)


def find_paper(coarse: Raster, cards: list[Floats]) -> Floats:
    """(N, 2) mm: the paper's edge to within a few millimetres.

    Parameters
    ----------
    coarse : raster at about COARSE_MM.
    cards : (4, 2) corners of each card's sheet, which are not paper.

    Raises
    ------
    NoPaper
        If nothing like a sheet of paper stands out.
    """
    valid = cv2.cvtColor(coarse.pixels, cv2.COLOR_RGB2GRAY) > 0
    valid = cv2.erode(valid.astype(np.uint8), np.ones((5, 5), np.uint8), borderValue=0) > 0
    paper = _unlike_the_floor(coarse, valid, cards)
    paper = _settled_by_colour(coarse, valid, paper)
    contours, _ = cv2.findContours(paper, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    if not contours:
        raise NoPaper("the paper cannot be told from the floor; use a floor of another colour")
    largest = max(contours, key=cv2.contourArea)[:, 0].astype(float)
    inner = _inside(valid, EDGE_PX)
    if not inner[largest[:, 1].astype(int), largest[:, 0].astype(int)].all():
        raise NoPaper(OUT_OF_PICTURE)
    return coarse.to_mm(largest)


def _unlike_the_floor(coarse: Raster, valid: NDArray[np.bool_], cards: list[Floats]) -> Mask:
    """The paper to within a centimetre, on the coarse raster."""
    size = valid.shape[1] // SHRINK, valid.shape[0] // SHRINK
    mm_per_px = coarse.mm_per_px * SHRINK
    usable = cv2.resize(valid.astype(np.uint8), size, interpolation=cv2.INTER_NEAREST) > 0
    sheets = np.zeros(usable.shape, np.uint8)
    for corners in cards:
        cv2.fillPoly(sheets, [np.round(coarse.to_px(corners) / SHRINK).astype(np.int32)], 1)
    on_card, near_card = (cv2.dilate(sheets, _disc(reach / mm_per_px)) > 0 for reach in RING_MM)
    usable &= ~on_card
    ring = near_card & usable
    looks = _looks(coarse, size, mm_per_px)
    rim = usable & ~_inside(usable | on_card, RIM_MM / mm_per_px)
    unlike = _unlikeness(looks, rim, ring)
    # The paper may lie close to a card, or under it: only what looks like the rim is floor.
    unlike = _unlikeness(looks, rim | (ring & (unlike < UNLIKE)), usable)
    seed = _largest((unlike > UNLIKE) & usable, mm_per_px)
    if seed.sum() * mm_per_px**2 < LEAST_AREA_MM2:
        # Paper along the rim makes paper look like floor: then only the rim's usual look counts.
        usual = _unlikeness(looks, rim, usable, USUAL_SHARE)
        cut_off = _largest((usual > UNLIKE) & usable, mm_per_px)
        if cut_off.sum() * mm_per_px**2 > LEAST_AREA_MM2 and (rim & (cut_off > 0)).any():
            raise NoPaper(OUT_OF_PICTURE)
        raise NoPaper(
            "no sheet of paper stands out from the floor; lay it on a floor of another colour or "
            "a rougher one, whole in the picture, with the cards beside it and not on it"
        )
    # A patch of floor a little out of the common is far less unlike the floor than paper is.
    plainly = max(PLAIN_SHARE * float(np.median(unlike[seed > 0])), UNLIKE)
    seed = _largest((unlike > plainly) & usable, mm_per_px)
    return np.asarray(
        cv2.resize(seed, valid.shape[::-1], interpolation=cv2.INTER_NEAREST), np.uint8
    )


def _settled_by_colour(coarse: Raster, valid: NDArray[np.bool_], paper: Mask) -> Mask:
    """The cut settled by colour in a band along it.

    Texture is blurred over a window, which rounds corners off and takes in a smooth tile that the
    paper touches.
    """
    rows, columns = np.nonzero(paper)
    if not len(rows):
        return paper
    pad = 3 * round(BAND_MM / coarse.mm_per_px)
    part = np.s_[
        max(rows.min() - pad, 0) : rows.max() + pad,
        max(columns.min() - pad, 0) : columns.max() + pad,
    ]
    near, band = paper[part], _disc(BAND_MM / coarse.mm_per_px)
    labels = np.where(near > 0, cv2.GC_PR_FGD, cv2.GC_PR_BGD).astype(np.uint8)
    labels[cv2.erode(near, band) > 0] = cv2.GC_FGD
    labels[(cv2.dilate(near, band) == 0) | ~valid[part]] = cv2.GC_BGD
    lab = cv2.cvtColor(coarse.pixels[part], cv2.COLOR_RGB2LAB)
    settled = np.zeros_like(paper)
    settled[part] = _cut(np.asarray(lab, np.uint8), labels)
    return settled


def _cut(features: NDArray[np.uint8], labels: Mask) -> Mask:
    cv2.setRNGSeed(1)
    models = np.zeros((1, 65)), np.zeros((1, 65))
    # Colours are learned from every fourth pixel each way: so many are enough.
    few, their_labels = (np.ascontiguousarray(each[::4, ::4]) for each in (features, labels))
    cv2.grabCut(few, their_labels, (0, 0, 1, 1), *models, 2, cv2.GC_INIT_WITH_MASK)
    cv2.grabCut(features, labels, (0, 0, 1, 1), *models, 1, cv2.GC_EVAL_FREEZE_MODEL)
    paper = np.isin(labels, (cv2.GC_FGD, cv2.GC_PR_FGD)).astype(np.uint8)
    closed = cv2.morphologyEx(paper, cv2.MORPH_CLOSE, np.ones((7, 7), np.uint8))
    # A bright stone that the edge touches, narrower than a centimetre, is no part of the paper.
    return np.asarray(cv2.morphologyEx(closed, cv2.MORPH_OPEN, _disc(2)), np.uint8)


def _inside(mask: NDArray[np.bool_], margin_px: float) -> NDArray[np.bool_]:
    """Where a mask is True for so many pixels round about."""
    return np.asarray(cv2.erode(mask.astype(np.uint8), _disc(margin_px), borderValue=0) > 0)


def _disc(radius_px: float) -> Mask:
    size = 2 * max(round(radius_px), 1) + 1
    return np.asarray(cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (size, size)), np.uint8)


def _looks(coarse: Raster, size: tuple[int, int], mm_per_px: float) -> Floats:
    """(H, W, 4) two hues, texture and brightness, in log units."""
    levels = ((np.arange(256) / 255) ** 2.2 + 0.004).astype(np.float32)
    linear = np.asarray(cv2.LUT(coarse.pixels, levels), np.float32)
    light = np.log(np.asarray(cv2.transform(linear, np.full((1, 3), 1 / 3))))
    # The median takes pencil lines out, which are no part of how the paper looks.
    small = cv2.resize(linear, size, interpolation=cv2.INTER_AREA)
    small = cv2.medianBlur(small, 5)
    red, green, blue = (np.log(small[..., channel]) for channel in range(3))
    hue, other = red - green, blue - green
    detail = np.abs(light - cv2.medianBlur(light, 5))
    detail = cv2.resize(detail, size, interpolation=cv2.INTER_AREA)
    window = 2 * round(TEXTURE_MM / mm_per_px / 2) + 1
    # A median over the window ignores thin lines and the edge of one cast shadow.
    grades = np.clip(np.log(detail + 1e-3) * 20 + 150, 0, 255).astype(np.uint8)
    texture = cv2.medianBlur(grades, window).astype(np.float32) / 20
    brightness = np.log(np.asarray(cv2.transform(small, np.full((1, 3), 1 / 3))))
    return np.dstack([hue, other, texture, brightness]).astype(float)


def _unlikeness(
    looks: Floats, floor: NDArray[np.bool_], wanted: NDArray[np.bool_], share: float = RARE_SHARE
) -> Floats:
    """(H, W) how unlike the known floor each place looks: about 1 and less for floor.

    0 where that is not wanted.

    It is the distance to the nearest looks that such a share of the floor has, in units of what the
    floor's own looks lie apart.
    """
    known = looks[floor]
    rng = np.random.default_rng(1)
    known = known[rng.permutation(len(known))[:FLOOR_SAMPLES]]
    if len(known) < 50:
        return np.zeros(wanted.shape)
    middle = np.median(known, axis=0)
    spread = np.maximum(MEDIAN_TO_SIGMA * np.median(np.abs(known - middle), axis=0), LEAST_SPREAD)
    rare = max(int(share * len(known)), 5)
    tree = cKDTree(known / spread)
    own = tree.query(known / spread, k=[rare])[0][:, 0]
    # Every third pixel each way: looks change slowly.
    near = cv2.dilate(wanted.astype(np.uint8), np.ones((15, 15), np.uint8))[::3, ::3] > 0
    found = np.zeros(near.shape)
    found[near] = tree.query(looks[::3, ::3][near] / spread, k=[rare], workers=2)[0][:, 0]
    size = wanted.shape[::-1]
    distance = cv2.resize(found, size, interpolation=cv2.INTER_LINEAR)
    return np.asarray(np.where(wanted, distance / max(np.percentile(own, 80), 0.5), 0.0))


def _largest(mask: NDArray[np.bool_], mm_per_px: float) -> Mask:
    """The largest connected part that is no mere strip, without bridges and holes."""
    disc = _disc(OPENING_MM / 2 / mm_per_px)
    opened = np.asarray(cv2.morphologyEx(mask.astype(np.uint8), cv2.MORPH_OPEN, disc), np.uint8)
    contours, _ = cv2.findContours(opened, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    wide = [
        contour
        for contour in contours
        if 2 * cv2.contourArea(contour) * mm_per_px > NARROWEST_MM * cv2.arcLength(contour, True)
    ]
    largest = np.zeros_like(opened)
    if wide:
        cv2.drawContours(largest, [max(wide, key=cv2.contourArea)], -1, 1, cv2.FILLED)
    return largest


def place_edge(fine: Raster, rough: Floats) -> Floats:
    """(M, 2) the paper's edge as the fine raster shows it, near a rough edge (N, 2).

    Counter-clockwise, not closed on itself.
    """
    ring = np.array(Polygon(rough).buffer(0).exterior.coords)
    length = length_of(ring)
    at = np.linspace(0.0, length, int(length / EDGE_STEP_MM), endpoint=False)
    points = places_along(ring, at)
    points = _smoothed(points, 2)
    for reach in (EDGE_SEARCH_MM, EDGE_SEARCH_MM / 2):
        points = points + _outward(points) * _edge_offset(fine, points, reach)[:, None]
        points = _smoothed(points, 1)
    shape = Polygon(points).buffer(0)
    if shape.geom_type != "Polygon":
        shape = max(shape.geoms, key=lambda part: part.area)
    coords = np.array(shape.exterior.coords)[:-1]
    if not shape.exterior.is_ccw:
        coords = coords[::-1]
    return coords


def _smoothed(points: Floats, passes: int) -> Floats:
    for _ in range(passes):
        points = (np.roll(points, 1, 0) + 2 * points + np.roll(points, -1, 0)) / 4
    return points


def _outward(points: Floats) -> Floats:
    tangent = np.roll(points, -2, 0) - np.roll(points, 2, 0)
    tangent /= np.linalg.norm(tangent, axis=1, keepdims=True) + 1e-9
    normal = np.stack([tangent[:, 1], -tangent[:, 0]], axis=1)
    area = 0.5 * np.sum(
        points[:, 0] * np.roll(points[:, 1], -1) - np.roll(points[:, 0], -1) * points[:, 1]
    )
    return normal if area > 0 else -normal


def _edge_offset(fine: Raster, points: Floats, reach: float) -> Floats:
    """(N,) how far outward the step in colour lies: the best split of each normal's profile."""
    step = fine.mm_per_px
    along = np.arange(-reach, reach + step / 2, step)
    at = fine.to_px(
        (points[:, None] + _outward(points)[:, None] * along[None, :, None]).reshape(-1, 2)
    )
    at = at.reshape(len(points), len(along), 2).astype(np.float32)
    colours = cv2.remap(fine.pixels, at[..., 0], at[..., 1], cv2.INTER_LINEAR)
    profile = np.asarray(cv2.cvtColor(colours, cv2.COLOR_RGB2LAB), np.float64)
    count = np.arange(1, len(along))
    total = np.cumsum(profile, axis=1)
    squares = np.cumsum(profile**2, axis=1)
    inner = squares[:, :-1] - total[:, :-1] ** 2 / count[:, None]
    rest = total[:, -1:] - total[:, :-1]
    outer = (squares[:, -1:] - squares[:, :-1]) - rest**2 / (len(along) - count)[:, None]
    # The inside is one even sheet: scatter there counts more than the floor's.
    cost = (3 * inner + outer).sum(axis=2)[:, 3:-3]
    offset = along[3 + np.argmin(cost, axis=1) + 1] - step / 2
    return np.asarray(median_filter(offset, 5, mode="wrap"))
