import numpy as np
import pytest

from digitize.floor.raster import Raster
from digitize.paper.looks import Looks, Often, how_often, likelier_floor, looks_of, of_one_colour
from digitize.paper.thresholds import BY_LIGHT, LOOKS_MOST_LIKELY

SEEN = np.ones((60, 90), bool)


def halves(left, right):
    """A picture of two colours, side by side, as a raster of 2 mm a pixel."""
    pixels = np.zeros((120, 180, 3), np.uint8)
    pixels[:, :90], pixels[:, 90:] = left, right
    rng = np.random.default_rng(3)
    noisy = pixels + rng.normal(0, 1.5, pixels.shape)
    return Raster(0.0, 240.0, 2.0, np.clip(noisy, 0, 255).astype(np.uint8))


def told_apart(left, right):
    """How floor-like the middle of each half is, if the left is known as paper."""
    looks = looks_of(halves(left, right), (90, 60), SEEN)
    paper, floor = SEEN.copy(), SEEN.copy()
    paper[:, 40:], floor[:, :50] = False, False
    burnt = np.zeros_like(SEEN)
    likely = likelier_floor(how_often(looks, floor), how_often(looks, paper), burnt)
    return float(np.median(likely[:, 20])), float(np.median(likely[:, 70]))


def test_another_hue_tells_paper_from_floor():
    paper, floor = told_apart((190, 150, 100), (150, 150, 150))
    assert paper < -2
    assert floor > 2


def test_another_brightness_alone_says_little():
    """A shadow of 0.8 in code values is one of 0.8 ** 2.2 = 0.61 in light."""
    paper, floor = told_apart((225, 205, 185), (180, 164, 148))
    assert -BY_LIGHT - 0.5 <= paper < 0
    assert 0 < floor <= BY_LIGHT + 0.5


def test_nothing_says_more_than_its_share_and_what_is_burnt_out_says_nothing():
    # Hand-worked: ln((0.9 * 0.2 + 1e-4) / (0.001 + 1e-6)) = 5.19, held to 3; by light
    # ln((0.9 * 0.1 + 1e-6) / (0.002 + 1e-6)) = 3.81, less 5.19 is -1.39, held to -1.
    floor = Often(np.full((1, 2), 0.2), np.full((1, 2), 0.1))
    paper = Often(np.full((1, 2), 0.001), np.full((1, 2), 0.002))
    likely = likelier_floor(floor, paper, np.array([[False, True]]))
    assert likely.tolist() == [[LOOKS_MOST_LIKELY - BY_LIGHT, 0.0]]


def test_a_look_that_neither_has_is_no_paper():
    # Hand-worked: ln(1e-4 / 1e-6) = 4.6, held to 3; by light ln(1e-6 / 1e-6) - 4.6, held to -1.
    never = Often(np.zeros((1, 1)), np.zeros((1, 1)))
    assert likelier_floor(never, never, np.zeros((1, 1), bool)).tolist() == [[2.0]]


def test_how_often_is_a_share():
    """All places alike: three quarters of them stay where they are, before the scatter."""
    cells = tuple(np.full((10, 10), 8) for _ in range(4))
    often = how_often(Looks(cells, (17, 17, 17, 17)), np.ones((10, 10), bool))
    at_rest = (1 / np.sqrt(2 * np.pi)) ** 4  # the peak of a normal scatter of one cell, four ways
    assert often.as_lit[0, 0] == pytest.approx(at_rest, rel=0.03)
    assert often.as_thing[0, 0] == pytest.approx(0.75 * at_rest ** (3 / 4), rel=0.25)


def test_a_sheet_is_of_one_colour():
    looks = looks_of(halves((190, 150, 100), (90, 150, 150)), (90, 60), SEEN)
    mixed = SEEN.copy()
    mixed[:, 60:] = False
    kept = of_one_colour(looks, mixed)
    assert kept[:, 5:40].mean() > 0.95
    assert not kept[:, 50:].any()


def test_a_rare_hue_beyond_all_others_is_not_that_of_the_outermost():
    """A scrap of blue, less than 2 in 1000 of what is seen, beside a bluish white sheet."""
    raster = halves((150, 140, 125), (215, 220, 228))
    raster.pixels[50:56, 120:126] = (60, 140, 200)
    seen = np.ones((120, 180), bool)
    looks = looks_of(raster, (180, 120), seen)
    bluer = looks.cells[1]
    assert bluer[53, 123] - np.median(bluer[:, 100:]) > 4
    assert all(cell.max() < count for cell, count in zip(looks.cells, looks.counts, strict=True))
    assert min(cell.min() for cell in looks.cells) >= 0
