"""Photos of one paper, of paper that was moved, and of another."""

import cv2
import numpy as np
import pytest

from digitize.errors import PhotosDisagree
from digitize.floor import agreement
from digitize.floor.agreement import Sighting, contradiction_in, refuse_contradiction
from digitize.floor.frame import Frame
from tests.floor.by_hand import camera_over, solution_of

PLACES = np.array([(x, y) for x in (-200.0, -70, 80, 210) for y in (-150.0, 0, 140)])


def sighted(away, slant=(0.5, 0.0), doubt=0.2):
    whole = np.zeros_like(PLACES)
    return Sighting(PLACES, whole + away, whole + slant, np.full(len(PLACES), doubt))


def test_paper_that_stands_up_by_different_heights_is_no_contradiction():
    heights = np.linspace(0, 25, len(PLACES))
    slant = np.array([0.3, -0.4])
    assert contradiction_in(sighted(heights[:, None] * slant, slant)) is None


@pytest.mark.parametrize("shift", [(0.0, 3.0), (0.0, -3.0), (-4.0, 0.0)])
def test_what_no_height_explains_was_moved(shift):
    # Square to the slant, or as if the paper lay 8 mm below the floor.
    found = contradiction_in(sighted(shift))
    assert found.floats_mm is None
    assert found.away_mm == pytest.approx(np.hypot(*shift), abs=1e-6)


def test_what_the_cards_leave_open_is_allowed():
    assert contradiction_in(sighted((0.0, 3.0), doubt=0.9)) is not None
    assert contradiction_in(sighted((0.0, 3.0), doubt=1.1)) is None


def test_paper_that_touches_the_floor_nowhere_was_moved_or_lies_on_something():
    found = contradiction_in(sighted((5.0, 0.0)))
    assert found.away_mm == pytest.approx(5) and found.floats_mm == pytest.approx(10)
    # Of 10 mm the cards leave 2.2 / 0.5 = 4.4 mm open; more than 6 mm is too much.
    assert contradiction_in(sighted((5.0, 0.0), doubt=1.9)) is not None
    assert contradiction_in(sighted((5.0, 0.0), doubt=2.1)) is None
    touching = np.where(PLACES[:, :1] > 200, 0.0, 5.0) * [1.0, 0.0]
    assert contradiction_in(sighted(touching)) is None


def test_a_turned_paper_is_off_by_how_far_its_places_went():
    turn = np.radians(3.0)
    cos, sin = np.cos(turn), np.sin(turn)
    went = PLACES @ np.array([[cos, sin], [-sin, cos]]) + [2.0, -1.0] - PLACES
    found = contradiction_in(sighted(went))
    assert found.away_mm == pytest.approx(np.median(np.linalg.norm(went, axis=1)), abs=1e-6)


def test_lines_that_no_motion_brings_together_are_another_papers():
    away = np.random.default_rng(5).uniform(-40, 40, PLACES.shape)
    assert contradiction_in(sighted(away)).away_mm is None


# Two cameras 1000 mm up look straight down on a sheet; a turned frame lies on the floor.
CAMERAS = [camera_over((-150.0, 30.0, 1000.0), 900.0), camera_over((170.0, -40.0, 1000.0), 900.0)]
SOLUTION = solution_of(CAMERAS)
FRAME = Frame(20.0, -10.0, 0.5)
PAPER = np.array([[-260, -190], [260, -190], [260, 190], [-260, 190]], float)


def drawn(seed):
    """A sheet at 2 px to the mm, its middle in the picture's: grain, and scribbled lines."""
    rng = np.random.default_rng(seed)
    sheet = np.clip(180 + rng.normal(0, 3, (1000, 1300)), 0, 255).astype(np.float32)
    for _ in range(45):
        points = rng.uniform([180, 180], [1120, 820], (1, 2)) + rng.normal(0, 60, (4, 2))
        cv2.polylines(sheet, [points.astype(np.int32)], False, 110.0, 2, cv2.LINE_AA)
    return sheet


def photo(camera, sheet, shift=(0.0, 0.0), height=0.0):
    """What a camera sees of a sheet that lies so many mm further on the frame, and so high."""
    size = camera.size_px
    corners = np.array([[0, 0], [size[0], 0], size, [0, size[1]]], float)
    foot, floor = camera.foot(), camera.to_floor(corners)
    at = foot[:2] + (floor - foot[:2]) * (foot[2] - height) / foot[2]
    place = (FRAME.from_floor(at) - shift) * [2, -2] + [650, 500]
    # These cameras look straight down, so that four corners say where all places are.
    there = cv2.getPerspectiveTransform(place.astype(np.float32), corners.astype(np.float32))
    seen = cv2.warpPerspective(sheet, there, size, flags=cv2.INTER_LINEAR, borderValue=60)
    return np.clip(seen, 1, 255).astype(np.uint8)


SHEET = drawn(1)


def said_of(second, **more):
    first = photo(CAMERAS[0], SHEET, height=more.pop("first_height", 0.0))
    try:
        refuse_contradiction([first, second], ["a.jpg", "b.jpg"], SOLUTION, FRAME, PAPER)
    except PhotosDisagree as error:
        return str(error)
    return ""


def test_one_paper_is_taken_flat_or_standing_up():
    assert not said_of(photo(CAMERAS[1], SHEET))
    assert not said_of(photo(CAMERAS[1], SHEET, height=5.0), first_height=5.0)


@pytest.mark.parametrize("shift", [(7.0, 7.0), (-12.0, 16.0), (8.0, 0.0)])
def test_a_moved_paper_is_refused_with_the_way_it_went(shift):
    said = said_of(photo(CAMERAS[1], SHEET, shift))
    assert said.startswith(f"b.jpg shows the pencil lines {np.hypot(*shift):.0f} mm away from")
    assert "where a.jpg shows them: the paper or the cards were moved between them; take" in said


def test_a_large_paper_is_looked_at_more_coarsely_and_told_as_truly(monkeypatch):
    monkeypatch.setattr(agreement, "MOST_PIXELS", 1.8e5)  # pixels of 1.3 mm
    said = said_of(photo(CAMERAS[1], SHEET, (18.0, 1.0)))
    assert "pencil lines 18 mm away" in said or "pencil lines 19 mm away" in said


def test_paper_high_over_the_cards_is_refused_with_its_height():
    said = said_of(photo(CAMERAS[1], SHEET, height=20.0), first_height=20.0)
    assert "all of it lies 20 mm higher than the cards" in said


def test_another_paper_is_refused():
    assert said_of(photo(CAMERAS[1], drawn(2))).startswith("b.jpg shows another paper than a.jpg")


def test_blank_paper_says_nothing():
    assert not said_of(photo(CAMERAS[1], np.full_like(SHEET, 180.0)))


def test_of_three_photos_the_odd_one_is_named():
    third = camera_over((10.0, 190.0, 1000.0), 900.0)
    photos = [photo(CAMERAS[0], SHEET, (0, -15.0)), photo(CAMERAS[1], SHEET), photo(third, SHEET)]
    solution = solution_of([*CAMERAS, third])
    with pytest.raises(PhotosDisagree, match=r"^a\.jpg shows the pencil lines 1[456] mm away"):
        refuse_contradiction(photos, ["a.jpg", "b.jpg", "c.jpg"], solution, FRAME, PAPER)


def test_where_the_cards_leave_a_photo_s_place_open_less_is_refused():
    # The second camera may stand 3 mm further along y (sigma): 5.9 mm at 95 %.
    second = photo(CAMERAS[1], SHEET, (0.0, 7.0))
    assert said_of(second)
    open_by = solution_of(CAMERAS, known={("pose", 1, 3): 9.0, ("pose", 1, 4): 9.0})
    first = photo(CAMERAS[0], SHEET)
    refuse_contradiction([first, second], ["a.jpg", "b.jpg"], open_by, FRAME, PAPER)
