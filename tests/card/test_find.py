import cv2
import numpy as np
import pytest

from digitize.card.find import find_cards, why_no_card
from digitize.card.layout import HIGHEST_NUMBER, card_layout, card_of_marker, marker_identifier
from digitize.card.sheet import card_pdf
from digitize.errors import TooBlurred, TooDark
from tests.scene import Floor, Shot


def test_every_marker_names_one_card():
    seen = {}
    for number in range(1, HIGHEST_NUMBER + 1):
        for paper in ("a4", "letter"):
            for slot in range(8):
                identifier = marker_identifier(number, paper, slot)
                assert identifier not in seen
                assert card_of_marker(identifier) == (number, paper, slot)
                seen[identifier] = True
    assert max(seen) < 1000


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_a_card_has_forty_corners_inside_its_sheet_and_is_half_light(paper):
    layout = card_layout(paper)
    assert len(layout.corners_mm) >= 40
    assert (np.abs(layout.corners_mm) < np.array(layout.sheet_mm) / 2 - 5).all()
    black = len(layout.cells_mm) * 144 + 8 * 24 * 24
    assert black < 0.5 * layout.sheet_mm[0] * layout.sheet_mm[1]


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_corners_are_found_to_a_few_hundredths_of_a_pixel(paper):
    floor = Floor(400)
    floor.lay_card(3, 20, -10, 25, paper)
    shot = Shot(eye=(60, -160, 620), focal_px=1500)
    photo = floor.photograph(shot)
    (card,) = find_cards(cv2.cvtColor(photo, cv2.COLOR_RGB2GRAY))
    assert (card.number, card.paper) == (3, paper)
    turn = np.radians(25)
    rotation = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
    truth = shot.project(card.corners_mm @ rotation.T + [20, -10])
    miss = card.pixels - truth
    assert len(miss) == len(card_layout(paper).corners_mm)
    assert np.sqrt((miss**2).mean()) < 0.06


def test_a_card_with_one_corner_covered_is_still_read():
    floor = Floor(400)
    floor.lay_card(5, 0, 0, 0)
    floor.lay_sheet(np.array([[40, 60], [140, 60], [140, 180], [40, 180]]), (30, 60, 90))
    photo = floor.photograph(Shot(eye=(0, -50, 620)))
    (card,) = find_cards(cv2.cvtColor(photo, cv2.COLOR_RGB2GRAY))
    assert 30 < len(card.pixels) < 66
    covered = (card.corners_mm[:, 0] > 40) & (card.corners_mm[:, 1] > 60)
    assert not covered.any()


def test_what_is_wrong_with_a_photo_is_told_apart():
    floor = Floor(400)
    floor.lay_card(5, 0, 0, 0)
    grey = cv2.cvtColor(floor.photograph(Shot(eye=(0, -50, 620))), cv2.COLOR_RGB2GRAY)
    assert isinstance(why_no_card("p", (grey // 16).astype(np.uint8)), TooDark)
    assert isinstance(why_no_card("p", cv2.GaussianBlur(grey, (0, 0), 9)), TooBlurred)
    assert type(why_no_card("p", grey)).__name__ == "NoCard"


def test_cards_are_numbered_within_the_dictionary():
    with pytest.raises(ValueError, match=str(HIGHEST_NUMBER)):
        card_pdf([HIGHEST_NUMBER + 1], "a4")


def test_in_a_big_picture_a_card_far_off_is_found_beside_a_near_one():
    picture = np.full((3024, 4032), 90, np.uint8)
    for number, px_per_mm, row in ((3, 3.0, 100), (8, 1.6, 2200)):
        floor = Floor(200)
        floor.lay_card(number, 0, 0, 25)
        side = round(400 * px_per_mm)
        grey = cv2.cvtColor(floor.picture, cv2.COLOR_RGB2GRAY)
        picture[row : row + side, 900 : 900 + side] = cv2.resize(
            grey, (side, side), interpolation=cv2.INTER_AREA
        )
    near, far = find_cards(picture)
    assert (near.number, far.number) == (3, 8)
    assert len(near.pixels) == len(far.pixels) == len(card_layout("a4").corners_mm)
