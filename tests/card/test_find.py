import cv2
import numpy as np
import pypdfium2
import pytest

from digitize.card.find import _cell_size, _is_checker, _markers, find_cards, why_no_card
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


def printed(number, px_per_mm):
    """A flat picture of a card, and where its corners are in it."""
    page = pypdfium2.PdfDocument(card_pdf([number], "a4"))[0]
    fine = page.render(scale=25.4 / 72 * 8).to_numpy()[..., 0]
    size = tuple(round(side * each) for side, each in zip((210, 297), px_per_mm, strict=True))
    picture = cv2.resize(fine, size, interpolation=cv2.INTER_AREA)
    layout = card_layout("a4")
    share = np.array(size) / layout.sheet_mm
    pixels = (layout.corners_mm * [1, -1] + np.array(layout.sheet_mm) / 2) * share - 0.5
    return picture, pixels


def test_a_card_that_runs_out_of_the_picture_is_read_as_far_as_it_shows():
    # At the right edge of a wide picture, cut off 8 px beyond the last column of corners.
    card, corners = printed(4, (2.0, 2.0))
    picture = np.full((700, 1100), 130, np.uint8)
    left, top = 1100 - 386, 60
    picture[top : top + len(card), left:] = card[:, :386]
    (found,) = find_cards(picture)
    corners += np.array([left, top])
    truth = dict(zip(map(tuple, card_layout("a4").corners_mm), corners, strict=True))
    for mm, pixel in zip(found.corners_mm, found.pixels, strict=True):
        assert pixel == pytest.approx(truth[tuple(mm)], abs=0.1)
    # The last column's window of 7 px and a rim of 2 do not fit in: it is left out, 20 of 66.
    assert len(found.pixels) == 46 and found.corners_mm[:, 0].max() == 72


def test_a_corner_that_is_not_where_the_rest_of_its_card_has_it_is_not_believed():
    # A scrap with the four cells round one corner slips a quarter of a cell, 6 of 24 px.
    card, corners = printed(4, (2.0, 2.0))
    picture = np.full((700, 600), 130, np.uint8)
    picture[60 : 60 + len(card), 80 : 80 + card.shape[1]] = card
    slipped = int(np.argmin(np.linalg.norm(card_layout("a4").corners_mm - [12, 126], axis=1)))
    x, y = np.round(corners[slipped] + [80, 60]).astype(int)
    scrap = picture[y - 14 : y + 14, x - 14 : x + 14].copy()
    picture[y - 14 : y + 14, x - 14 + 6 : x + 14 + 6] = scrap
    (found,) = find_cards(picture)
    assert len(found.pixels) == 65
    assert [12.0, 126.0] not in found.corners_mm.tolist()


def test_markers_looked_for_in_a_smaller_picture_are_placed_in_the_whole_one():
    # 5 px to a mm; the picture is shrunk from 1485 px to 600 to look for them.
    card, _ = printed(2, (5.0, 5.0))
    markers = _markers(card, 0.03, 600)
    assert sorted(markers) == [marker_identifier(2, "a4", slot) for slot in range(8)]
    layout = card_layout("a4")
    for slot in range(8):
        corners = layout.marker_corners_mm(slot) * [1, -1] + [105, 148.5]
        found = markers[marker_identifier(2, "a4", slot)]
        assert found == pytest.approx(corners * 5 - 0.5, abs=3)


def test_a_card_foreshortened_to_cells_too_small_to_measure_is_left_out():
    for across, expected in ((0.45, ()), (0.8, (6,))):
        card, _ = printed(6, (across, 2.4))
        picture = np.full((900, 600), 130, np.uint8)
        picture[80 : 80 + card.shape[0], 100 : 100 + card.shape[1]] = card
        assert tuple(found.number for found in find_cards(picture)) == expected


def test_a_cell_is_as_large_as_its_shorter_side():
    # 2 px to a mm across and 0.5 along: a cell of 12 mm is 24 by 6.
    homography = np.diag([2.0, 0.5, 1.0])
    assert _cell_size(homography, np.array([[10.0, 20.0]])) == pytest.approx([6.0])


def test_four_cells_are_a_checker_only_if_opposite_ones_are_alike():
    corner = np.array([[30.0, 30.0]])

    def is_checker(*tones):
        """Cells by their place in the picture: upper left, upper right, lower left, lower right."""
        picture = np.zeros((60, 60), np.uint8)
        for tone, place in zip(tones, ((0, 0), (0, 30), (30, 0), (30, 30)), strict=True):
            picture[place[0] : place[0] + 30, place[1] : place[1] + 30] = tone
        return bool(_is_checker(picture, np.eye(3), corner, np.zeros((1, 2)))[0])

    assert is_checker(200, 20, 20, 200) and is_checker(20, 200, 200, 20)
    assert not is_checker(200, 200, 20, 20)  # an edge
    assert not is_checker(200, 20, 20, 20)  # the corner of a patch
    assert not is_checker(20, 200, 200, 200)
    assert not is_checker(200, 180, 180, 200)  # too faint
