"""The paper against the floor.

Colour alone is fooled by shadows and texture alone by plain floors, so the first, coarse cut
looks at both: hue and chroma (which a shadow hardly moves) and fine texture. GrabCut (Rother,
Kolmogorov, Blake, "GrabCut: interactive foreground extraction using iterated graph cuts", 2004)
does the cut, started from the largest smooth area. The edge is then placed on the fine raster,
along normals, where the colour steps from the paper's to the floor's.
"""

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import median_filter
from shapely import Polygon

from digitize.floor.raster import Raster

Floats = NDArray[np.float64]
COARSE_MM = 2.0
TEXTURE_MM = 10.0
LEAST_AREA_MM2 = 100.0 * 100.0
BAND_MM = 24.0
EDGE_SEARCH_MM = 5.0
EDGE_STEP_MM = 2.0


class PaperError(Exception):
    """The paper cannot be told from the floor; the message says what to change."""


def find_paper(coarse: Raster, cards: list[Floats]) -> Floats:
    """(N, 2) mm: the paper's edge to within a few millimetres.

    Parameters
    ----------
    coarse : raster at about COARSE_MM.
    cards : (4, 2) corners of each card's sheet, which are not paper.

    Raises
    ------
    PaperError
        If nothing like a sheet of paper stands out.
    """
    valid = coarse.pixels.max(axis=2) > 0
    valid = cv2.erode(valid.astype(np.uint8), np.ones((5, 5), np.uint8), borderValue=0) > 0
    on_card = np.zeros(valid.shape, np.uint8)
    for corners in cards:
        cv2.fillPoly(on_card, [np.round(coarse.to_px(corners)).astype(np.int32)], 1)
    features, texture = _features(coarse, valid)
    usable = valid & (on_card == 0)
    seed = _largest_smooth(texture, usable, coarse.mm_per_px)
    if seed.sum() * coarse.mm_per_px**2 < LEAST_AREA_MM2:
        raise PaperError(
            "no sheet of paper stands out from the floor; lay it on a floor of another colour or "
            "a rougher one, whole in the picture, with the cards beside it and not on it"
        )
    # GrabCut's mixture models need clean starts: sure paper deep inside the smooth area, sure
    # floor well away from it, and the strip between left open.
    labels = np.full(valid.shape, cv2.GC_PR_BGD, np.uint8)
    near = cv2.dilate(seed, np.ones((15, 15), np.uint8))
    labels[near > 0] = cv2.GC_PR_FGD
    labels[cv2.erode(seed, np.ones((9, 9), np.uint8)) > 0] = cv2.GC_FGD
    # A card is floor too, but the paper may lie over part of it: that is left to the cut.
    labels[(cv2.dilate(seed, np.ones((61, 61), np.uint8)) == 0) | ~valid] = cv2.GC_BGD
    labels[(on_card > 0) & (labels == cv2.GC_PR_FGD)] = cv2.GC_PR_BGD
    paper = _cut(features, labels)
    # Texture is blurred over a window, which rounds corners off and takes in a smooth tile that
    # the paper touches: settle the edge by colour alone.
    width = 2 * round(BAND_MM / coarse.mm_per_px) + 1
    band = np.ones((width, width), np.uint8)
    labels = np.where(paper > 0, cv2.GC_PR_FGD, cv2.GC_PR_BGD).astype(np.uint8)
    labels[cv2.erode(paper, band) > 0] = cv2.GC_FGD
    labels[(cv2.dilate(paper, band) == 0) | ~valid] = cv2.GC_BGD
    lab = cv2.cvtColor(coarse.pixels, cv2.COLOR_RGB2LAB)
    paper = _cut(np.asarray(lab, np.uint8), labels)
    contours, _ = cv2.findContours(paper, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    if not contours:
        raise PaperError("the paper cannot be told from the floor; use a floor of another colour")
    largest = max(contours, key=cv2.contourArea)[:, 0].astype(float)
    rows, columns = valid.shape
    if (largest.min(axis=0) < 3).any() or (largest.max(axis=0) > [columns - 4, rows - 4]).any():
        raise PaperError(
            "the paper runs out of the picture; step back or move it, so that all of its edge shows"
        )
    return coarse.to_mm(largest)


def _cut(features: NDArray[np.uint8], labels: NDArray[np.uint8]) -> NDArray[np.uint8]:
    cv2.setRNGSeed(1)
    models = np.zeros((1, 65)), np.zeros((1, 65))
    cv2.grabCut(features, labels, (0, 0, 1, 1), *models, 4, cv2.GC_INIT_WITH_MASK)
    paper = np.isin(labels, (cv2.GC_FGD, cv2.GC_PR_FGD)).astype(np.uint8)
    closed = cv2.morphologyEx(paper, cv2.MORPH_CLOSE, np.ones((7, 7), np.uint8))
    return np.asarray(cv2.morphologyEx(closed, cv2.MORPH_OPEN, np.ones((3, 3), np.uint8)), np.uint8)


def _features(coarse: Raster, valid: NDArray[np.bool_]) -> tuple[NDArray[np.uint8], Floats]:
    lab = cv2.cvtColor(coarse.pixels, cv2.COLOR_RGB2LAB).astype(np.float32)
    light = np.log(lab[..., 0] + 8)
    window = max(int(TEXTURE_MM / coarse.mm_per_px) | 1, 3)
    detail = light - cv2.medianBlur(light, 5)
    slope = cv2.magnitude(cv2.Sobel(light, cv2.CV_32F, 1, 0), cv2.Sobel(light, cv2.CV_32F, 0, 1))
    # The median ignores thin pencil lines and the edge of one cast shadow.
    rough = np.clip(slope * 200 + np.abs(detail) * 200, 0, 255).astype(np.uint8)
    texture = cv2.medianBlur(rough, window).astype(np.float32)
    chroma = cv2.GaussianBlur(lab[..., 1:], (0, 0), 1.0)
    ratio = np.clip((chroma - 128) * 3 + 128, 0, 255)
    features = np.dstack([ratio, np.clip(texture * 2, 0, 255)]).astype(np.uint8)
    features[~valid] = 0
    return features, texture.astype(float)


def _largest_smooth(
    texture: Floats, usable: NDArray[np.bool_], mm_per_px: float
) -> NDArray[np.uint8]:
    """The largest area that is smooth against the rest (Otsu's threshold on texture)."""
    scaled = np.clip(texture * 4, 0, 255).astype(np.uint8)
    cut, _ = cv2.threshold(scaled[usable][:, None], 0, 255, cv2.THRESH_OTSU)
    smooth = ((scaled <= cut) & usable).astype(np.uint8)
    size = max(int(12 / mm_per_px) | 1, 3)
    opened = cv2.morphologyEx(smooth, cv2.MORPH_OPEN, np.ones((size, size), np.uint8))
    count, labels, stats, _ = cv2.connectedComponentsWithStats(opened, connectivity=4)
    if count < 2:
        return np.zeros_like(smooth)
    best = 1 + int(np.argmax(np.asarray(stats)[1:, cv2.CC_STAT_AREA]))
    return np.asarray(np.asarray(labels) == best, np.uint8)


def place_edge(fine: Raster, rough: Floats) -> Floats:
    """(M, 2) the paper's edge as the fine raster shows it, near a rough edge (N, 2).

    Counter-clockwise, not closed on itself.
    """
    ring = Polygon(rough).buffer(0)
    count = int(ring.exterior.length / EDGE_STEP_MM)
    line = ring.exterior
    points = np.array(
        [line.interpolate(i / count, normalized=True).coords[0] for i in range(count)]
    )
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
    lab = cv2.cvtColor(fine.pixels, cv2.COLOR_RGB2LAB)
    profile = cv2.remap(lab, at[..., 0], at[..., 1], cv2.INTER_LINEAR).astype(float)
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
