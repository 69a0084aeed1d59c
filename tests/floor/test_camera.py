"""A camera to the floor and back, also where its lens shows nothing."""

import warnings

import numpy as np
import pytest

from digitize.card import FoundCard, card_layout
from digitize.floor.frame import Frame
from digitize.floor.raster import view_bounds
from digitize.floor.start import View, start_from
from tests.floor.by_hand import SIZE, camera_over

# r (1 - 0.3 r^2) is highest where 0.9 r^2 = 1, at r = 1.0541, and there 0.70273: 1000 px of focal
# length show nothing more than 702.7 px from the middle, and SIZE's corners lie 1260 px from it.
TURNS_BACK = (0.0, 0.0, -0.3, 0.0, 0.0, 0.0, 0.0)


def over(lens=TURNS_BACK):
    return camera_over(np.array([0.0, 0.0, 500.0]), 1000.0, lens=lens)


def test_pixels_come_down_where_their_ray_meets_the_floor():
    # At r = 0.5 the lens puts 0.5 * (1 - 0.3 / 4) = 0.4625: 462.5 px aside of the middle pixel, and
    # from 500 mm up that ray comes down 250 mm aside.
    pixels = np.array([[1008 + 462.5, 756], [1008, 756 + 462.5], [1008 - 462.5, 756]])
    assert over().to_floor(pixels) == pytest.approx(
        np.array([[250.0, 0.0], [0.0, -250.0], [-250.0, 0.0]]), abs=0.01
    )


def test_where_the_lens_shows_nothing_there_is_no_floor_and_no_warning():
    camera = over()
    assert camera.sees_px() == pytest.approx(702.73, abs=0.01)
    x, y = np.meshgrid(np.linspace(0, SIZE[0] - 1, 60), np.linspace(0, SIZE[1] - 1, 45))
    pixels = np.stack([x.ravel(), y.ravel()], axis=1)
    away = np.linalg.norm(pixels - (np.array(SIZE) - 1) / 2, axis=1)
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        floor = camera.to_floor(pixels)
        back = camera.to_pixels(floor)
        low_x, low_y, high_x, high_y = view_bounds([camera], Frame(0.0, 0.0, 0.0))
    assert np.isnan(floor[away > 800]).all()
    assert np.linalg.norm(back - pixels, axis=1)[away < 650].max() < 0.5
    # What is in view ends where the lens does, 1.0541 of the height aside, 527 mm at most.
    assert max(-low_x, high_x, -low_y, high_y) < 528
    assert min(-low_x, high_x, -low_y, high_y) > 400


def test_a_lens_that_shows_the_whole_picture_gives_a_floor_to_all_of_it():
    corners = np.array([[0.0, 0.0], [SIZE[0] - 1, 0.0], [0.0, SIZE[1] - 1]])
    assert np.isfinite(over((0.0, 0.0, -0.05, 0.0, 0.0, 0.0, 0.0)).to_floor(corners)).all()


def test_cards_seen_where_a_guessed_lens_shows_nothing_come_down_nowhere():
    layout = card_layout("a4")

    def missed(aside_mm):
        solid = np.add(layout.corners_mm, [aside_mm, 0.0])
        pixels = over((0.0,) * 7).to_pixels(solid)
        view = View((FoundCard(1, "a4", layout.corners_mm, pixels),), SIZE)
        with warnings.catch_warnings():
            warnings.simplefilter("error")
            return start_from([view], [over().lens], np.ones(2)).miss

    assert missed(0.0) < 0.1  # 140 mm from the middle at most: 280 px
    assert missed(400.0) == np.inf  # 490 mm and more: 980 px
