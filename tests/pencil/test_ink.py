"""Inks by the light that they take away, on white paper and on brown, pale or strong."""

from dataclasses import dataclass

import numpy as np
import pytest

from digitize.floor.raster import Raster
from digitize.pencil.ink import inks_of
from digitize.pencil.profile import profiles_along

# Linear reflectance, as pencils have it; from memory.
INKS = {
    "black": (0.10, 0.10, 0.10),
    "red": (0.50, 0.06, 0.06),
    "orange": (0.70, 0.22, 0.04),
    "blue": (0.07, 0.13, 0.45),
    "green": (0.06, 0.30, 0.10),
    "violet": (0.22, 0.06, 0.33),
}
WHITE, BROWN = (0.72, 0.71, 0.67), (0.50, 0.335, 0.19)
UP = np.column_stack([np.zeros(101), np.arange(101.0)])


@dataclass(frozen=True)
class Blank:
    """Where nothing but colour counts."""

    def darkness_at(self, points):
        return np.zeros(points.shape[:-1])


def drawn(ink, paper, cover):
    """A raster with an upright mark of 0.8 mm that covers so much of the paper."""
    x = -20 + 0.3 * np.arange(134)
    share = cover * np.clip((0.4 - np.abs(x)) / 0.5 + 0.5, 0, 1)[None, :, None]
    light = (1 - share) * np.array(paper) + share * np.array(INKS[ink])
    pixels = np.round(255 * light ** (1 / 2.2)).astype(np.uint8)
    return Raster(-20.0, 110.0, 0.3, np.repeat(pixels, 400, axis=0))


@pytest.mark.parametrize("ink", INKS)
@pytest.mark.parametrize(("paper", "cover"), [(WHITE, 0.3), (WHITE, 0.9), (BROWN, 0.9)])
def test_a_pencil_is_told_whether_it_covers_thinly_or_well(ink, paper, cover):
    profiles = profiles_along([UP], [False], Blank())
    assert inks_of(profiles, drawn(ink, paper, cover)) == [ink]


@pytest.mark.parametrize("ink", INKS)
def test_of_a_mark_that_hardly_covers_the_paper_no_colour_is_told(ink):
    profiles = profiles_along([UP], [False], Blank())
    assert inks_of(profiles, drawn(ink, WHITE, 0.1)) == ["black"]
