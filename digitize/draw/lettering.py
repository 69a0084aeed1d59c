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
    font, rim = _font(round(height_px / CAPITAL)), max(round(height_px / 8), 1)
    x, y = round(at[0]), round(at[1])
    left, top, right, low = font.getbbox(words, anchor="ls", stroke_width=rim)
    x0, y0 = max(int(x + left), 0), max(int(y + top), 0)
    part = picture[y0 : max(int(y + low) + 1, 0), x0 : max(int(x + right) + 1, 0)]
    if part.size == 0:
        return
    image = Image.fromarray(part)
    ImageDraw.Draw(image).text(
        (x - x0, y - y0),
        words,
        fill=colour,
        font=font,
        anchor="ls",
        stroke_width=rim,
        stroke_fill="#ffffff",
    )
    part[:] = np.asarray(image)


def width_px(words: str, height_px: float) -> float:
    """How wide words are whose capitals are so high, without their rim."""
    return float(_font(round(height_px / CAPITAL)).getlength(words))


@lru_cache(32)
def _font(size: int) -> ImageFont.FreeTypeFont:
    return ImageFont.truetype(FONT, max(size, 1))
