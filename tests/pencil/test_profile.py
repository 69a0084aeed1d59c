"""Marks whose darkness across is known by formula: their width, their middle, their sharp side."""

from dataclasses import dataclass

import numpy as np
import pytest
from scipy.special import erf

from digitize.pencil.profile import (
    middle_of,
    profiles_along,
    sharp_side,
    sheens_of,
    sides_of,
    widths_of,
)

BLUR_MM = 0.27  # 0.9 of a pixel of 0.3 mm
MM_PER_PX = 0.3
UP = np.column_stack([np.zeros(101), np.arange(101.0)])  # a line up the y axis


@dataclass(frozen=True)
class Paper:
    """Darkness by formula, in place of a picture's."""

    darkness: object

    def darkness_at(self, points):
        return self.darkness(points[..., 0], points[..., 1])


def read(darkness, line=UP, light=False):
    profiles = profiles_along([line], [False], Paper(darkness))
    return profiles, *widths_of(profiles, MM_PER_PX, light)


def step(x):
    """From 0 to 1 at x = 0, blurred as a picture is."""
    return (1 + erf(x / BLUR_MM / np.sqrt(2))) / 2


def bar(x, place, half, left, right, peak):
    """A bar about a place on ground that is as dark as ``left`` and ``right`` on its sides."""
    return left + (peak - left) * step(x - place + half) - (peak - right) * step(x - place - half)


@pytest.mark.parametrize("ground", [0.0, 0.25])
def test_a_marks_width_is_that_at_half_its_darkness_without_the_blur(ground):
    sigma = np.hypot(0.4, BLUR_MM)  # a mark of sigma 0.4 mm, blurred
    _, (width,), _ = read(lambda x, y: ground + 0.5 * np.exp(-((x / sigma) ** 2) / 2))
    assert width == pytest.approx(2.355 * 0.4, abs=0.06)


@pytest.mark.parametrize("times", [3.0, 20.0])
def test_a_light_marks_width_is_that_at_half_of_its_light(times):
    """A bell's width at half its height, whose logarithm is wider: at 20 times the paper, 1.6."""
    sigma = np.hypot(0.4, BLUR_MM)
    _, (width,), _ = read(
        lambda x, y: np.log1p((times - 1) * np.exp(-((x / sigma) ** 2) / 2)), light=True
    )
    assert width == pytest.approx(2.355 * 0.4, abs=0.06)


def test_normals_point_to_the_left_of_the_way_a_line_runs():
    profiles, *_ = read(lambda x, y: x)
    assert profiles.normals == pytest.approx(np.tile([-1.0, 0.0], (50, 1)), abs=1e-9)
    assert profiles.darkness == pytest.approx(np.tile(-profiles.offsets, (50, 1)), abs=1e-9)
    # Fifty blocks of 2 mm, their middles from 1 mm to 99.
    assert profiles.points[:, 1] == pytest.approx(np.arange(1.0, 100.0, 2.0), abs=1e-9)


@pytest.mark.parametrize("place", [-0.23, 0.13])
def test_a_bars_middle_is_found_to_a_fraction_of_a_profiles_step(place):
    profiles, _, full = read(lambda x, y: bar(x, place, 0.5, 0.0, 0.0, 0.6))
    # To the left of a line up the y axis x is negative.
    assert middle_of(profiles, full) == pytest.approx(np.full(50, -place), abs=0.015)


@pytest.mark.parametrize(("left", "right"), [(0.05, 0.3), (0.24, 0.0)])
def test_darker_ground_on_one_side_does_not_draw_the_middle_to_it(left, right):
    profiles, _, full = read(lambda x, y: bar(x, 0.3, 0.5, left, right, 0.6))
    middle = middle_of(profiles, full)[5:-5]
    assert middle == pytest.approx(np.full(40, -0.3), abs=0.04)


def rubbed(x, place, side):
    """Sharp at a place, fading away over 2.4 mm to one side; blurred as a picture is."""
    away = side * (x - place)
    bell = BLUR_MM / np.sqrt(2 * np.pi) * np.exp(-((away / BLUR_MM) ** 2) / 2)
    return 0.5 * np.clip(step(away) * (1 - away / 2.4) - bell / 2.4, 0, 1)


@pytest.mark.parametrize("side", [-1, 1])
@pytest.mark.parametrize("place", [-0.34, 0.43])
def test_a_rubbed_band_lies_on_its_sharp_side_whichever_that_is(place, side):
    profiles, _, full = read(lambda x, y: rubbed(x, place, side))
    edge, is_rubbed = sharp_side(profiles, full)
    assert is_rubbed.all()
    # The fade moves the steepest place outwards: by the blur's variance over the 2.4 mm of it,
    # (0.27^2 + 0.15^2) / 2.4 = 0.04 mm, of the picture's and the reader's blur.
    assert edge == pytest.approx(np.full(50, -(place - 0.04 * side)), abs=0.01)


@pytest.mark.parametrize(("length_mm", "share"), [(18.0, 0.18), (6.0, 0.0)])
def test_a_band_is_rubbed_that_is_a_centimetre_long(length_mm, share):
    def darkness(x, y):
        thin = bar(x, 0.0, 0.3, 0.0, 0.0, 0.5)
        return np.where(np.abs(y - 50) < length_mm / 2, rubbed(x, 0.0, 1), thin)

    profiles, _, full = read(darkness)
    _, is_rubbed = sharp_side(profiles, full)
    assert is_rubbed.mean() == pytest.approx(share, abs=0.05)


def test_of_a_marks_two_sides_the_lighter_comes_first():
    profiles, *_ = read(lambda x, y: bar(x, 0.0, 0.5, 0.3, 0.1, 0.6))
    peak, lighter, darker = sides_of(profiles)
    assert peak == pytest.approx(np.full(50, 0.6), abs=0.06)
    assert lighter == pytest.approx(np.full(50, 0.1), abs=0.01)
    assert darker == pytest.approx(np.full(50, 0.3), abs=0.01)


def test_a_creases_sheen_is_the_light_beside_it_over_its_shade():
    def darkness(x, y):
        return 0.4 * np.exp(-((x / 0.4) ** 2)) - 0.1 * np.exp(-(((x - 1.4) / 0.4) ** 2))

    (sheen,) = sheens_of(read(darkness)[0])
    assert sheen == pytest.approx(0.1 / 0.4, abs=0.03)
