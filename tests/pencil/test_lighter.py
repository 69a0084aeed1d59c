"""Marks that are lighter than the paper, or of the floor's hue."""

import numpy as np
import pytest

from digitize.floor import Raster
from digitize.pencil.lighter import drawn_light, with_gaps
from digitize.pencil.ridges import darkness_of, find_ridges
from digitize.pencil.thresholds import GAP_DARKNESS

MM_PER_PX = 0.25
ROWS, COLUMNS = 480, 480  # 120 mm each way; the paper ends 20 mm below the top
BROWN, BLACK, FLOOR = (150, 115, 75), (45, 45, 48), (150, 150, 155)
PENCIL, CHALK = (80, 70, 60), (190, 190, 190)
EDGE = np.array([[0, -120], [120, -120], [120, -21], [0, -21]], float)  # of the paper, mm
PENCILLED = [(60 + 12 * k, 1, 30, 110, PENCIL) for k in range(4)]


def scene(paper, marks=(), noise=1.0):
    """The raster of a paper with upright marks (left mm, width mm, from mm, to mm, colour)."""
    pixels = np.empty((ROWS, COLUMNS, 3))
    pixels[:] = paper
    pixels[:80] = FLOOR
    for left, width, top, bottom, colour in marks:
        rows = slice(round(top / MM_PER_PX), round(bottom / MM_PER_PX))
        columns = slice(round(left / MM_PER_PX), round((left + width) / MM_PER_PX))
        pixels[rows, columns] = colour
    pixels += np.random.default_rng(5).normal(0, noise, pixels.shape)
    mask = np.zeros((ROWS, COLUMNS), np.bool_)
    mask[84:] = True
    return Raster(0.0, 0.0, MM_PER_PX, np.clip(pixels, 0, 255).astype(np.uint8)), mask


def darkness_in(raster, mask, paper):
    """Log of the paper's light over that at each pixel, as an even paper has it."""
    light = (raster.pixels.mean(axis=2) / 255) ** 2.2
    return (np.log((np.mean(paper) / 255) ** 2.2 / light) * mask).astype(np.float32)


def seen(paper, marks):
    raster, mask = scene(paper, marks)
    before = darkness_in(raster, mask, paper)
    light = drawn_light(before, lambda: -before, mask, MM_PER_PX)
    return before, with_gaps(-before if light else before.copy(), raster, mask)


def at(darkness, x_mm, y_mm):
    """The median over 3 mm by 0.75 mm about a place."""
    row, column = round(y_mm / MM_PER_PX), round(x_mm / MM_PER_PX)
    return float(np.median(darkness[row - 6 : row + 6, column - 1 : column + 2]))


def test_a_gap_through_which_the_floor_shows_is_as_dark_as_a_cut():
    before, after = seen(BROWN, [(50, 2, 20, 70, FLOOR), (80, 0.8, 30, 110, PENCIL)])
    assert at(before, 51, 50) < 0.0  # as light as the floor, which is no darker than the paper
    assert at(after, 51, 50) == pytest.approx(GAP_DARKNESS, abs=0.1)
    # In the shade of its edges the floor has its own hue still.
    shaded = tuple(0.7 * np.array(FLOOR))
    _, after = seen(BROWN, [(50, 2, 20, 70, shaded)])
    assert at(after, 51, 50) > 0.9 * GAP_DARKNESS


@pytest.mark.parametrize(
    "mark",
    [
        (50, 2, 60, 100, FLOOR),  # of the floor's hue, and nowhere near the edge
        (40, 12, 20, 70, FLOOR),  # too wide for a slit
        (50, 2, 20, 70, (150, 105, 40)),  # less like the floor than paper is
        (50, 2, 20, 26, FLOOR),  # a nick in the edge
        (50, 2, 20, 70, tuple(1.2 * np.array(BROWN))),  # of the paper's hue: a sheen
    ],
)
def test_what_is_no_gap_stays_as_it_is(mark):
    before, after = seen(BROWN, [mark, *PENCILLED])
    assert np.array_equal(before, after)


def test_chalk_on_dark_paper_is_turned_about_and_pencil_on_pale_is_not():
    marks = [(30 + 15 * k, 1, 30, 110, CHALK) for k in range(4)]
    before, after = seen(BLACK, marks)
    assert at(before, 30.5, 70) < -1.0
    assert np.array_equal(after, -before)
    before, after = seen(BROWN, [*PENCILLED, (100, 1, 30, 60, CHALK)])
    assert np.array_equal(before, after)


def test_specks_make_no_pencil_and_chalk_is_no_gap():
    marks = [(30 + 15 * k, 1, 20, 110, CHALK) for k in range(4)]
    specks = [
        (25 + 5 * (k % 16), 2.5, 30 + 8 * (k // 16), 33 + 8 * (k // 16), (8, 8, 8))
        for k in range(160)
    ]
    raster, mask = scene(BLACK, [*specks, *marks])
    before = darkness_in(raster, mask, BLACK)
    assert drawn_light(before, lambda: -before, mask, MM_PER_PX)
    # Chalk from the paper's edge, of the floor's own hue, is as light as it is and no cut.
    marks = [(30 + 15 * k, 1, 20, 110, FLOOR) for k in range(4)]
    dark = (75, 57, 37)
    raster, mask = scene(dark, marks)
    before = darkness_in(raster, mask, dark)
    assert at(with_gaps(before.copy(), raster, mask), 30.5, 60) > 0.5 > at(before, 30.5, 60)
    lightness = 0.3 * -before  # paler than a cut is taken to be
    after = with_gaps(lightness.copy(), raster, mask, light=True)
    assert at(after, 30.5, 60) == pytest.approx(at(lightness, 30.5, 60))


def test_the_paper_beside_chalk_is_not_dark_nor_that_beside_a_felt_pen_light():
    sheen = (90, 0.5, 40, 50, tuple(1.6 * np.array(BROWN)))
    for paper, mark, more, light in (
        (BLACK, CHALK, [], True),
        (BROWN, (20, 20, 20), [sheen], False),
    ):
        raster, mask = scene(paper, [(30, 1.5, 30, 110, mark), (36, 1.5, 30, 110, mark), *more])
        between = np.s_[200:360, 132:138]
        found = find_ridges(raster, EDGE)
        assert found.light is light
        assert abs(float(np.median(found.darkness[between]))) < 0.05
        other = darkness_of(raster, mask, lightness=not light)
        assert float(np.median(other[between])) > 0.05


def test_where_no_marks_are_light_nobody_asks_how_light_dark_ones_are():
    raster, mask = scene(
        (200, 170, 130), [(30 + 15 * k, 1, 20, 110, (90, 80, 70)) for k in range(4)]
    )

    def asked():
        raise AssertionError

    assert not drawn_light(darkness_in(raster, mask, (200, 170, 130)), asked, mask, MM_PER_PX)
