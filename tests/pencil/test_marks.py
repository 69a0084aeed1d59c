"""What a mark is: rubbed, doubled, coloured, a crease, or what an eraser left."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.ndimage import gaussian_filter1d

from digitize.floor.raster import Raster
from digitize.lines.traces import without_traces
from tests.marks import curve_of
from tests.pencil.test_pencil import MM_PER_PX, furthest, paper_with, read


def shaded(across, place=60.0, seed=0):
    """Paper whose brightness is changed by ``across`` (a function of mm) over an upright line."""
    raster, outline = paper_with([], seed=seed)
    x = (np.arange(raster.pixels.shape[1]) + 0.5) * MM_PER_PX - place
    factor = gaussian_filter1d(across(x), 1.0)
    pixels = np.clip(raster.pixels * factor[None, :, None], 0, 255).astype(np.uint8)
    return Raster(raster.left, raster.top, raster.mm_per_px, pixels), outline


def test_a_rubbed_edge_lies_on_its_sharp_side():
    fading = shaded(lambda x: 1 - 0.3 * (x > 0) * np.clip(1 - x / 2.6, 0, 1))
    (curve,) = [c for c in read(*fading) if c.length > 40]
    assert curve.rubbed > 0.9
    assert np.abs(curve.points[3:-3, 0] - 60).max() < 0.3


def test_a_line_rubbed_for_part_of_its_length_has_no_jog_where_that_begins_and_ends():
    thin = np.array([[60, 5], [60, 115]])
    raster, outline = paper_with([thin], width=0.8)
    x = (np.arange(raster.pixels.shape[1]) + 0.5) * MM_PER_PX - 60
    for first, last in ((40, 90), (30, 100)):
        band = gaussian_filter1d(1 - 0.3 * (x > 0) * np.clip(1 - x / 1.8, 0, 1), 1.0)
        pixels = raster.pixels.astype(float)
        rows = slice(int((120 - last) / MM_PER_PX), int((120 - first) / MM_PER_PX))
        bare = paper_with([])[0].pixels[rows]
        pixels[rows] = bare * band[None, :, None]
        partly = replace(raster, pixels=pixels.astype(np.uint8))
        (curve,) = [c for c in read(partly, outline) if c.length > 40]
        assert curve.rubbed == pytest.approx((last - first) / 110, abs=0.06)
        assert np.abs(curve.points[3:-3, 0] - 60).max() < 0.35


def test_a_line_gone_over_twice_is_one():
    x = np.linspace(20, 130, 200)
    first = np.stack([x, 60 + 0 * x], axis=1)
    again = np.stack([x, 60.3 + 0.5 * np.sin(x / 12)], axis=1)[60:160]
    (curve,) = [c for c in read(*paper_with([first, again])) if c.length > 10]
    assert furthest(curve, first) < 0.9 and curve.length > 105


def test_a_crease_and_what_an_eraser_left_are_no_lines():
    crease = [c for c in read(*shaded(lambda x: 1 + 0.12 * x * np.exp(-((x / 0.8) ** 2)))) if c]
    line = curve_of([[20, 60], [120, 60]], 0.4)
    ghost = curve_of([[20, 30], [120, 30]], 0.05)
    assert without_traces([line, ghost]) == (line,)
    assert not [c for c in without_traces([line, *crease]) if c is not line]


INKS = {
    "black": (0.10, 0.10, 0.10),
    "red": (0.50, 0.06, 0.06),
    "blue": (0.07, 0.13, 0.45),
    "green": (0.06, 0.30, 0.10),
}


@pytest.mark.parametrize("ink", INKS)
@pytest.mark.parametrize("paper", [(0.72, 0.71, 0.67), (0.50, 0.335, 0.19)])
def test_an_ink_is_told_on_white_paper_and_on_brown(ink, paper):
    raster, outline = paper_with([np.array([[20, 60], [130, 60]])], width=0.9, dark=1.0, grain=0)
    cover = 0.8 * (1 - raster.pixels[..., :1] / raster.pixels[..., :1].max())
    light = (1 - cover) * np.array(paper) + cover * np.array(INKS[ink])
    rng = np.random.default_rng(2)
    pixels = 255 * light ** (1 / 2.2) + rng.normal(0, 2, light.shape)
    pixels = np.clip(pixels, 0, 255).astype(np.uint8)
    drawn = Raster(raster.left, raster.top, raster.mm_per_px, pixels)
    (curve,) = [c for c in read(drawn, outline) if c.length > 40]
    assert curve.ink == ink
