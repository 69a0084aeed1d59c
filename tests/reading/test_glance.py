"""What a photo shows at a glance: cards, paper, and what is wrong, with its place."""

from dataclasses import replace

import cv2
import numpy as np
import pytest

from digitize.floor import open_photo
from digitize.reading import glance_at
from tests.conftest import SAMPLES
from tests.scene import Floor, Shot

# Each looks at a photo of 7 megapixels.
pytestmark = pytest.mark.slow

SHEET = np.array([[-250, -180], [250, -190], [240, 190], [-255, 175]])
SHOT = Shot(eye=(20, -60, 1150), focal_px=2600, size=(3024, 2268))


@pytest.fixture(scope="module")
def pixels():
    """A paper with four cards round it."""
    floor = Floor(700)
    floor.lay_sheet(SHEET, (196, 164, 120))
    floor.draw(np.array([[-180, -100], [180, 120]]), 0.6, (70, 60, 50))
    for number, x, y, turn in (
        (1, -400, 0, 3),
        (2, 400, 20, -2),
        (3, 0, 350, 90),
        (4, 10, -350, 91),
    ):
        floor.lay_card(number, x, y, turn)
    return floor.photograph(SHOT)


def photo_of(pixels):
    ok, content = cv2.imencode(".png", cv2.cvtColor(pixels, cv2.COLOR_RGB2BGR))
    assert ok
    return open_photo("photo.png", content.tobytes())


def inside(ring, point):
    return cv2.pointPolygonTest(np.float32(ring), tuple(map(float, point)), False) > 0


def test_a_good_photo_shows_its_cards_where_they_are_and_nothing_wrong(pixels):
    told = []
    glance = glance_at(photo_of(pixels), told.append)
    assert [number for number, _ in glance.cards] == [1, 2, 3, 4] and glance.faults == ()
    assert told and told[0].paper is None and len(told[0].cards) == 4  # cards are known first
    for (_, ring), at in zip(
        glance.cards, [(-400, 0), (400, 20), (0, 350), (10, -350)], strict=True
    ):
        assert np.linalg.norm(ring.mean(axis=0) - SHOT.project(np.array([at]))[0]) < 3
    corners = SHOT.project(SHEET)
    for corner in corners:
        # The rough cut rounds a corner off; a pixel is 0.44 mm.
        assert np.linalg.norm(glance.paper - corner, axis=1).min() < 15 / 0.44
    assert inside(glance.paper, corners.mean(axis=0))


def test_a_card_that_is_out_of_focus_is_named_with_its_place(pixels):
    at = SHOT.project(np.array([[400.0, 20.0]]))[0]
    blurred = cv2.GaussianBlur(pixels, (0, 0), 2.6)
    near = np.zeros(pixels.shape[:2], np.uint8)
    cv2.circle(near, tuple(int(each) for each in at), 460, 1, -1)
    glance = glance_at(photo_of(np.where(near[..., None] > 0, blurred, pixels)))
    (fault,) = [each for each in glance.faults if "blurred" in each.words]
    assert "card 2" in fault.words and inside(fault.around, at) and not fault.stops


@pytest.mark.parametrize(("change", "words"), [("burnt", "burnt out white"), ("dark", "too dark")])
def test_burnt_and_dark_paper_is_named_with_its_place(pixels, change, words):
    at = SHOT.project(np.array([[-120.0, 60.0]]))[0]
    column, row = (int(each) for each in at)
    some = pixels.astype(float)
    if change == "burnt":
        cv2.circle(some, (column, row), 260, (255, 255, 255), -1)
    else:
        some *= 0.25
    glance = glance_at(photo_of(np.clip(some, 0, 255).astype(np.uint8)))
    (fault,) = [each for each in glance.faults if words in each.words]
    assert inside(fault.around, at)


def test_one_card_alone_no_card_and_cut_off_paper_are_said(pixels):
    covered = pixels.copy()
    for x, y in ((400, 20), (0, 350), (10, -350)):
        column, row = SHOT.project(np.array([[x, y]], float))[0].astype(int)
        cv2.circle(covered, (int(column), int(row)), 330, (90, 90, 90), -1)
    assert any("one card alone" in fault.words for fault in glance_at(photo_of(covered)).faults)
    column, row = SHOT.project(np.array([[-400.0, 0.0]]))[0].astype(int)
    cv2.circle(covered, (int(column), int(row)), 330, (90, 90, 90), -1)
    (fault,) = glance_at(photo_of(covered)).faults
    assert fault.stops and "photo.png" not in fault.words
    left = int(SHOT.project(np.array([[-100.0, 0.0]]))[0][0])
    cut = glance_at(photo_of(pixels[:, left:]))
    assert cut.faults[0].stops and "photo.png" not in cut.faults[0].words


def test_a_coarse_copy_is_said_to_be_one():
    photo = open_photo("easy.jpg", (SAMPLES / "easy.jpg").read_bytes())
    small = cv2.resize(photo.pixels, None, fx=0.45, fy=0.45, interpolation=cv2.INTER_AREA)
    glance = glance_at(replace(photo, picture=small, upright_px=None, focal_px=None))
    assert any("pixels per mm" in fault.words for fault in glance.faults)
