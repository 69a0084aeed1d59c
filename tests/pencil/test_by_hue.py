"""Grey pencil told by its hue from brown paper's grain."""

from dataclasses import replace

import cv2
import numpy as np
import pytest

from digitize.floor import DARKEST, GAMMA
from digitize.floor.raster import Raster
from digitize.pencil.by_hue import by_hue
from digitize.pencil.ridges import darkness_of, find_ridges
from digitize.pencil.visibility import UnseenArea, mostly_faint

MM_PER_PX = 0.25
SIDE = 120.0
OUTLINE = np.array([[0, 0], [SIDE, 0], [SIDE, SIDE], [0, SIDE]], float)
COUNT = round(SIDE / MM_PER_PX)
X, Y = np.meshgrid(
    (np.arange(COUNT) + 0.5) * MM_PER_PX, SIDE - (np.arange(COUNT) + 0.5) * MM_PER_PX
)
BROWN = np.array([0.45, 0.30, 0.14])
# By how much grain scatters by colour, all of it together: as on photographed board.
FIBRES = np.array([0.05, 0.06, 0.085])


def paper(light=BROWN, fibres=FIBRES, line=(0.12, 0.10, 0.0), alone=0.012, seed=5):
    """A paper with grain and an upright line at x = 60, so much darker by colour."""
    rng = np.random.default_rng(seed)

    def rough():
        noise = cv2.GaussianBlur(rng.normal(0, 1, (COUNT, COUNT)), (0, 0), 1.5)
        return noise / noise.std()

    log = np.log(light) + rough()[..., None] * fibres
    log += alone * np.stack([rough() for _ in range(3)], axis=-1)
    log -= np.array(line) * np.exp(-(((X - 60.0) / 0.35) ** 2))[..., None]
    level = 255 * np.clip(np.exp(log) - DARKEST, 0, 1) ** (1 / GAMMA)
    return Raster(X[0, 0], Y[0, 0], MM_PER_PX, np.rint(level).astype(np.uint8))


def line_over_grain(raster, toned=None):
    """How dark the line is in the middle, over the scatter of the paper."""
    darkness = darkness_of(toned or raster, np.ones((COUNT, COUNT), bool))
    inner = darkness[80:-80]
    return inner[:, COUNT // 2 - 1 : COUNT // 2 + 1].mean() / inner[:, 80:200].std()


def test_pencil_that_drowns_in_brown_grain_stands_out_by_its_hue():
    raster = paper()
    toned = by_hue(raster, OUTLINE)
    # By hand: of (a, b, c) that add up to 1, 0.085 c is to cancel 0.05 a + 0.06 b.
    assert line_over_grain(raster) < 2.5
    assert line_over_grain(raster, toned) > 2 * line_over_grain(raster)
    ridges = find_ridges(raster, OUTLINE, toned), find_ridges(raster, OUTLINE)
    along = np.column_stack([np.full(80, 60.0), np.arange(20.0, 100.0)])
    by_its_hue, by_brightness = (np.median(each.strength_at(along)) for each in ridges)
    assert by_its_hue > 2 * by_brightness


def test_a_line_as_dark_in_all_colours_is_as_dark_by_hue():
    raster = paper(line=(0.3, 0.3, 0.3), fibres=0.2 * FIBRES, alone=0.003)
    whole = np.ones((COUNT, COUNT), bool)
    seen = [
        darkness_of(each, whole)[80:-80, COUNT // 2] for each in (raster, by_hue(raster, OUTLINE))
    ]
    assert np.median(seen[1]) == pytest.approx(np.median(seen[0]), abs=0.03)


def test_on_white_paper_hue_tells_no_more_than_brightness():
    white = np.array([0.6, 0.6, 0.59])
    assert by_hue(paper(white, np.array([0.03, 0.03, 0.03])), OUTLINE) is None


def test_a_grey_picture_and_one_without_grain_have_no_hue_to_tell_by():
    brown = paper()
    grey = cv2.cvtColor(cv2.cvtColor(brown.pixels, cv2.COLOR_RGB2GRAY), cv2.COLOR_GRAY2RGB)
    assert by_hue(replace(brown, pixels=grey), OUTLINE) is None
    assert by_hue(replace(brown, pixels=np.full_like(grey, 120)), OUTLINE) is None


def test_a_paper_too_small_to_know_its_grain_is_left_as_it_is():
    assert by_hue(paper(), OUTLINE / 12) is None


@pytest.mark.parametrize(
    ("reason", "side", "mostly"), [("faint", 90, True), ("faint", 80, False), ("dark", 110, False)]
)
def test_paper_is_mostly_faint_where_more_than_half_of_it_is(reason, side, mostly):
    """90 mm square of 120 mm square is 56 %, 80 mm 44 %."""
    square = np.array([[0, 0], [side, 0], [side, side], [0, side]], float)
    assert mostly_faint([UnseenArea(square, reason)], OUTLINE) is mostly
