"""Words drawn on a picture, with a pale rim that keeps them readable over pencil and floor."""

import math
from functools import lru_cache
from pathlib import Path

import numpy as np
import reportlab
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont

FONT = Path(reportlab.__file__).parent / "fonts" / "Vera.ttf"  # has letters with accents
CAPITAL = 0.73  # of the font's size, a capital's height
Cover = NDArray[np.uint8]  # (H, 3 W) how far each pixel's red, green and blue are covered, of 255
Drawn = tuple[Cover, Cover, tuple[int, int]]


def write_on(
    picture: NDArray[np.uint8], words: str, at: tuple[float, float], height_px: float, colour: str
) -> None:
    """Write words on a picture (H, W, 3) with their line's left end at a pixel.

    Parameters
    ----------
    height_px : of a capital letter.
    """
    size, rim = round(height_px / CAPITAL), max(round(height_px / 8), 1)
    x, y = round(at[0]), round(at[1])
    drawn = [
        (_drawn(word, size, rim, along % 1), x + math.floor(along))
        for word, along in _apart(words, size)
    ]
    ink = tuple(int(colour[k : k + 2], 16) for k in (1, 3, 5))
    for (_, rims, (left, top)), first in drawn:
        _cover(picture, rims, first + left, y + top, (255, 255, 255))
    for (letters, _, (left, top)), first in drawn:
        _cover(picture, letters, first + left, y + top, ink)


def width_px(words: str, height_px: float) -> float:
    """How wide words are whose capitals are so high, without their rim."""
    return float(_font(round(height_px / CAPITAL)).getlength(words))


def _cover(
    picture: NDArray[np.uint8], cover: Cover, left: int, top: int, ink: tuple[int, ...]
) -> None:
    """Lay an ink on a picture as far as each pixel is covered, from its first pixel on."""
    x, y = max(left, 0), max(top, 0)
    part = picture[y : max(top + cover.shape[0], 0), x : max(left + cover.shape[1] // 3, 0)]
    if part.size == 0:
        return
    high, wide = part.shape[:2]
    own = cover[y - top :, 3 * (x - left) :][:high, : 3 * wide].astype(np.uint16)
    mixed = own * _row(ink, wide)
    mixed += (255 - own) * part.reshape(high, 3 * wide)
    mixed += 128
    mixed += mixed >> 8
    mixed >>= 8  # a 255th, rounded
    part[:] = mixed.reshape(part.shape)


@lru_cache(2000)
def _row(ink: tuple[int, ...], wide: int) -> NDArray[np.uint16]:
    """(3 W,) an ink's red, green and blue, over and over."""
    return np.tile(np.array(ink, np.uint16), wide)


@lru_cache(2000)
def _apart(words: str, size: int) -> list[tuple[str, float]]:
    """Each word by itself, and how far along the line it begins, pixels."""
    found, end = [], 0
    for word in words.split(" "):
        if word:
            found.append((word, float(_font(size).getlength(words[:end]))))
        end += len(word) + 1
    return found


@lru_cache(2000)  # what a line is changes oftener than the words that say it
def _drawn(word: str, size: int, rim: int, begin: float) -> Drawn:
    """How far a word covers each pixel, alone and with its rim; and where the first pixel lies from
    the one in which it begins, ``begin`` of a pixel further on.
    """
    font = _font(size)
    left, top, right, low = (
        int(each) for each in font.getbbox(word, anchor="ls", stroke_width=rim)
    )
    masks = []
    for width in (0, rim):
        mask = Image.new("L", (right - left + 2, low - top + 1))
        ImageDraw.Draw(mask).text(
            (begin - left, -top), word, fill=255, font=font, anchor="ls", stroke_width=width
        )
        masks.append(np.repeat(np.asarray(mask), 3, axis=1))
    return masks[0], masks[1], (left, top)


@lru_cache(32)
def _font(size: int) -> ImageFont.FreeTypeFont:
    return ImageFont.truetype(FONT, max(size, 1))
