"""Words drawn on a picture, with a pale rim that keeps them readable over pencil and floor."""

from functools import lru_cache
from pathlib import Path

import numpy as np
import reportlab
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont

FONT = Path(reportlab.__file__).parent / "fonts" / "Vera.ttf"  # has letters with accents
CAPITAL = 0.73  # of the font's size, a capital's height


def write_on(
    picture: NDArray[np.uint8], words: str, at: tuple[float, float], height_px: float, colour: str
) -> None:
    """Write words on a picture (H, W, 3) with their line's left end at a pixel.

    Parameters
    ----------
    height_px : of a capital letter.
    """
    letters, rim, (left, top) = _drawn(
        words, round(height_px / CAPITAL), max(round(height_px / 8), 1)
    )
    x, y = round(at[0]) + left, round(at[1]) + top
    x0, y0 = max(x, 0), max(y, 0)
    part = picture[y0 : max(y + rim.height, 0), x0 : max(x + rim.width, 0)]
    if part.size == 0:
        return
    image = Image.fromarray(part)
    for mask, ink in ((rim, "#ffffff"), (letters, colour)):
        image.paste(ink, (x - x0, y - y0), mask)
    part[:] = np.asarray(image)


def width_px(words: str, height_px: float) -> float:
    """How wide words are whose capitals are so high, without their rim."""
    return float(_font(round(height_px / CAPITAL)).getlength(words))


@lru_cache(1000)  # the same names are drawn anew whenever a fact is told
def _drawn(words: str, size: int, rim: int) -> tuple[Image.Image, Image.Image, tuple[int, int]]:
    """How far words cover each pixel, alone and with their rim; and where the first pixel lies from
    the left end of their line.
    """
    font = _font(size)
    left, top, right, low = (
        int(each) for each in font.getbbox(words, anchor="ls", stroke_width=rim)
    )
    masks = []
    for width in (0, rim):
        mask = Image.new("L", (right - left + 1, low - top + 1))
        ImageDraw.Draw(mask).text(
            (-left, -top), words, fill=255, font=font, anchor="ls", stroke_width=width
        )
        masks.append(mask)
    return masks[0], masks[1], (left, top)


@lru_cache(32)
def _font(size: int) -> ImageFont.FreeTypeFont:
    return ImageFont.truetype(FONT, max(size, 1))
