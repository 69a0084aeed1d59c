"""Photos put together: a drawn floor, seen by two cameras of different exposure."""

import cv2
import numpy as np
import pytest

from digitize.floor.frame import Frame
from digitize.floor.raster import choose_photos, put_together, rectify
from digitize.floor.solve import solve_floor
from tests.floor.test_solve import view
from tests.scene import Floor, Shot

SHOTS = [Shot(eye=(-260, -60, 700), aim=(-240, 0)), Shot(eye=(270, 40, 720), aim=(240, 0))]
BOUNDS = (-300.0, -180.0, 300.0, 180.0)


@pytest.fixture(scope="module")
def together():
    floor = Floor(340)
    edge = np.array([[-320, -200], [320, -200], [320, 200], [-320, 200]], float)
    floor.lay_sheet(edge, (190, 160, 120))
    floor.draw(np.array([[-290, 0], [290, 0]], float), 2.0, (60, 60, 60))
    photos = [floor.photograph(shot, noise=1.0) for shot in SHOTS]
    photos[1] = np.clip(photos[1] * 0.8, 0, 255).astype(np.uint8)
    # The cards are not drawn: where they would be seen is known.
    solution = solve_floor([view(shot, [1, 2, 3, 4], 1500.0) for shot in SHOTS])
    x, y, turn = -350.0, 60.0, np.radians(10.0)
    cos, sin = np.cos(turn), np.sin(turn)
    origin = -np.array([x, y]) @ np.array([[cos, -sin], [sin, cos]])
    assert solution.cards[0].number == 1
    frame = Frame(*origin.tolist(), -turn)
    choice, _ = choose_photos(photos, solution.cameras, frame, BOUNDS)
    rasters = [
        rectify(photo, camera, frame, BOUNDS, 0.4)
        for photo, camera in zip(photos, solution.cameras, strict=True)
    ]
    return choice, put_together(rasters, choice)


def test_each_place_is_taken_from_the_photo_that_sees_it_best(together):
    choice, _ = together
    ends = choice.at(np.array([[-250.0, 100.0], [250.0, 100.0]]))
    assert ends.tolist() == [0, 1]


def test_a_line_goes_straight_on_over_the_seam(together):
    _, raster = together
    grey = cv2.cvtColor(raster.pixels, cv2.COLOR_RGB2GRAY).astype(float)
    x = np.arange(-280, 280, 4.0)
    at = raster.to_px(np.stack([x, np.zeros_like(x)], axis=1)).round().astype(int)
    middles = []
    for column, row in at:
        dark = 160 - grey[row - 8 : row + 9, column].clip(0, 150)
        dark -= dark.min()
        middles.append(float((dark * np.arange(-8, 9)).sum() / dark.sum() * raster.mm_per_px))
    assert np.abs(middles - np.median(middles)).max() < 0.25


def test_brightness_is_matched(together):
    _, raster = together
    rows = raster.to_px(np.array([[-200.0, 90.0], [200.0, 90.0]])).round().astype(int)
    tones = [raster.pixels[y - 20 : y + 20, x - 20 : x + 20].mean() for x, y in rows]
    assert tones[0] / tones[1] == pytest.approx(1.0, abs=0.05)
