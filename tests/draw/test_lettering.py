import numpy as np
import pytest
from PIL import Image, ImageDraw, ImageFont

from digitize.draw.lettering import CAPITAL, FONT, write_on


@pytest.mark.parametrize("at", [(40, 60), (-12, 60), (150, 8), (300, 300)])
@pytest.mark.parametrize("words", ["radius start é", "T1 3/8 in ?", "gj|Å"])
def test_words_look_alike_each_time_and_as_a_font_draws_them(words, at):
    ground = np.random.default_rng(1).integers(0, 255, (90, 160, 3)).astype(np.uint8)
    image = Image.fromarray(ground)
    font = ImageFont.truetype(FONT, round(20 / CAPITAL))
    looks = {"fill": "#b34e00", "font": font, "anchor": "ls"}
    ImageDraw.Draw(image).text(at, words, stroke_width=2, stroke_fill="#ffffff", **looks)
    for _ in range(2):
        picture = ground.copy()
        write_on(picture, words, at, 20.0, "#b34e00")
        np.testing.assert_array_equal(picture, np.asarray(image))
