"""How sharp a photo is at a card: blur that is known is measured."""

import cv2
import numpy as np
import pytest

from digitize.card.find import find_cards
from digitize.card.sharpness import blur_mm
from tests.scene import Floor, Shot


@pytest.fixture(scope="module")
def grey():
    floor = Floor(400)
    floor.lay_card(3, 20, -10, 25)
    shot = Shot(eye=(20, -10, 620), aim=(20, -10), focal_px=1500)
    return cv2.cvtColor(floor.photograph(shot), cv2.COLOR_RGB2GRAY)


def test_a_gaussian_blur_is_measured_in_mm_on_the_card(grey):
    px_per_mm = 1500 / 620  # focal length over distance, looking straight down
    own = blur_mm(grey, find_cards(grey)[0])
    assert 0 < own < 1 / px_per_mm
    for sigma_px in (1.5, 2.5):
        blurred = cv2.GaussianBlur(grey, (0, 0), sigma_px)
        expected = np.hypot(own, sigma_px / px_per_mm)
        assert blur_mm(blurred, find_cards(blurred)[0]) == pytest.approx(expected, rel=0.1)


def test_too_few_borders_say_nothing(grey):
    card = find_cards(grey)[0]
    some = type(card)(card.number, card.paper, card.corners_mm[:2], card.pixels[:2])
    assert blur_mm(grey, some) is None
