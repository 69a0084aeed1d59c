"""The same photo given twice: as the same file, or as a copy of other size, quality or turn.

Two shots by hand are never taken from the same place to half a mm, so the cards' corners lie
elsewhere in the second. In a copy they lie where they did, reckoned from the picture's middle and
in its own size, and what the picture shows agrees all over.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from digitize.floor.camera import QUARTER_TURN
from digitize.floor.photo import Photo
from digitize.floor.start import View

Floats = NDArray[np.float64]
Picture = NDArray[np.float32]
SAME_PLACE_MM = 0.2  # on the floor; corners are found to about a tenth of that
SHARED_CORNERS = 0.5  # of the corners of the photo that shows fewer
SAME_SHAPE = 0.005  # by which a copy's sides may differ from the original's, to be whole pixels
LOOK_PX = 1600  # of the longer side, to which both pictures are brought
TILE_PX = 50
DETAIL_PX = 3.0  # what is broader than this is light and not drawing
LEAST_DETAIL = 3.0  # grey levels; tiles with less of it are blank, and their noise is a copy's own
ALIKE = 0.7  # correlation of a tile's detail
ALIKE_SHARE = 0.99  # of the tiles; lines elsewhere on the paper spoil more than that


@dataclass(frozen=True)
class Repeat:
    """A photo, by name, that is a copy of an earlier one."""

    photo: str
    of: str


def set_repeats_aside(
    photos: Sequence[Photo], views: Sequence[View]
) -> tuple[tuple[Photo, ...], tuple[View, ...], tuple[Repeat, ...]]:
    """The photos without copies of earlier ones, their views, and what was set aside."""
    kept: list[int] = []
    repeats = []
    for later, photo in enumerate(photos):
        for first in kept:
            if _same(photos[first], views[first], photo, views[later]):
                repeats.append(Repeat(photo.name, photos[first].name))
                break
        else:
            kept.append(later)
    return tuple(photos[i] for i in kept), tuple(views[i] for i in kept), tuple(repeats)


def _same(photo: Photo, view: View, other: Photo, other_view: View) -> bool:
    if photo.sha256 and photo.sha256 == other.sha256:
        return True
    for turns in range(4):
        away = _corners_away_mm(view, other_view, turns)
        if away is not None and away < SAME_PLACE_MM:
            return _alike(photo, other, turns)
    return False


def _corners_away_mm(view: View, other: View, turns: int) -> float | None:
    """How far the corners of the other's cards lie from this one's, on the floor, if it is a copy.

    ``turns``: clockwise quarter turns that bring the other upright as this one. None if it cannot
    be a copy by its shape or cards.
    """
    size, other_size = np.array(view.size_px), np.array(other.size_px)
    upright = other_size[::-1] if turns % 2 else other_size
    share = size / upright
    if abs(share[0] / share[1] - 1) > SAME_SHAPE:
        return None
    quarter = np.linalg.matrix_power(QUARTER_TURN, turns)
    there = {card.number: card for card in other.cards}
    away, shared = [], 0
    for card in view.cards:
        twin = there.get(card.number)
        if twin is None:
            continue
        gaps = np.abs(card.corners_mm[:, None] - twin.corners_mm[None]).max(axis=2)
        own, its = np.nonzero(gaps < 0.01)
        arms = (twin.pixels[its] - (other_size - 1) / 2) @ quarter.T
        pixels = arms * share + (size - 1) / 2
        px_per_mm = np.sqrt(card.pixels.var(axis=0).sum() / card.corners_mm.var(axis=0).sum())
        away.append(np.linalg.norm(pixels - card.pixels[own], axis=1) / px_per_mm)
        shared += len(own)
    fewest = min(sum(len(card.pixels) for card in each.cards) for each in (view, other))
    if shared < SHARED_CORNERS * fewest:
        return None
    return float(np.sqrt((np.concatenate(away) ** 2).mean()))


def _alike(photo: Photo, other: Photo, turns: int) -> bool:
    """Whether what two pictures show agrees all over; the other is turned so often first."""
    width, height = photo.size_px
    share = min(LOOK_PX / max(height, width), 1.0)
    size = round(width * share), round(height * share)
    one, two = (_detail(pixels, size) for pixels in (photo.pixels, np.rot90(other.pixels, -turns)))
    spread, its_spread = _tiles(one * one), _tiles(two * two)
    drawn = np.sqrt(np.maximum(spread, its_spread)) > LEAST_DETAIL
    like = _tiles(one * two) / np.sqrt(np.maximum(spread * its_spread, 1e-6))
    return bool(drawn.any() and (like[drawn] > ALIKE).mean() > ALIKE_SHARE)


def _detail(pixels: NDArray[np.uint8], size: tuple[int, int]) -> Picture:
    small = cv2.resize(np.ascontiguousarray(pixels), size, interpolation=cv2.INTER_AREA)
    grey = cv2.cvtColor(small, cv2.COLOR_RGB2GRAY).astype(np.float32)
    return np.asarray(grey - cv2.GaussianBlur(grey, (0, 0), DETAIL_PX), np.float32)


def _tiles(values: Picture) -> Floats:
    """The mean over each whole tile."""
    rows, columns = (side // TILE_PX for side in values.shape)
    cut = values[: rows * TILE_PX, : columns * TILE_PX]
    return np.asarray(cut.reshape(rows, TILE_PX, columns, TILE_PX).mean(axis=(1, 3)), np.float64)
