"""Copies of photos, and shots that are none though they show nearly the same."""

from dataclasses import replace

import cv2
import numpy as np
import pytest

from digitize.card import FoundCard, card_layout
from digitize.floor.photo import Photo
from digitize.floor.repeats import Repeat, set_repeats_aside
from digitize.floor.start import View, turned
from tests.scene import Floor, Shot

SHOT = Shot(eye=(40, -60, 900), focal_px=600, size=(800, 600))
PLACES = {1: (-260.0, 20.0, 0.1), 2: (250.0, -40.0, 2.0)}
PAPER = np.array([[-120, -90], [130, -90], [130, 110], [-120, 110]], float)


def floor_with(lines):
    """A rough floor with a sheet of paper, and pencil lines on it."""
    floor = Floor(600)
    floor.lay_sheet(PAPER, (205, 190, 150))
    for line in lines:
        floor.draw(np.array(line, float), 2.0, (70, 70, 70))
    return floor


LINES = [[(-100, 60), (100, 80)], [(-90, -60), (60, -70)], [(20, -50), (40, 60)]]
FLOOR = floor_with(LINES)


def shown(name, shot, floor=FLOOR):
    """A photo and its view; the cards' corners are where the camera has them."""
    corners = card_layout("a4").corners_mm
    cards = tuple(
        FoundCard(number, "a4", corners, shot.project(turned(corners, np.array(place))))
        for number, place in PLACES.items()
    )
    pixels = floor.photograph(shot)
    return Photo(name, pixels, name, None, None, None), View(cards, shot.size)


def copied(photo, view, name, size=None, turns=0):
    """A photo as another program may leave it: of another size, turned clockwise, re-encoded."""
    pixels = np.rot90(photo.pixels, -turns)
    width, height = view.size_px[::-1] if turns % 2 else view.size_px
    size = size or (width, height)
    pixels = cv2.resize(np.ascontiguousarray(pixels), size, interpolation=cv2.INTER_AREA)
    pixels = cv2.imdecode(cv2.imencode(".jpg", pixels, [cv2.IMWRITE_JPEG_QUALITY, 40])[1], 1)
    cards = []
    for card in view.cards:
        x, y = card.pixels.T
        w, h = view.size_px
        for _ in range(turns):
            x, y, w, h = h - 1 - y, x, h, w
        at = (np.stack([x, y], axis=1) + 0.5) * (np.array(size) / [w, h]) - 0.5
        cards.append(replace(card, pixels=at))
    return replace(photo, name=name, picture=pixels, sha256=name), View(tuple(cards), size)


def kept(*shots):
    photos, views, repeats = set_repeats_aside(*zip(*shots, strict=True))
    assert len(photos) == len(views)
    assert all(photo.pixels.shape[1::-1] == v.size_px for photo, v in zip(photos, views))  # noqa: B905
    return [photo.name for photo in photos], repeats


@pytest.mark.parametrize(
    ("size", "turns"), [(None, 0), ((720, 540), 0), (None, 1), ((450, 600), 3), (None, 2)]
)
def test_a_copy_of_any_size_quality_and_turn_is_set_aside(size, turns):
    first = shown("a", SHOT)
    names, repeats = kept(first, copied(*first, "b", size, turns))
    assert names == ["a"] and repeats == (Repeat("b", "a"),)


def test_the_same_file_is_set_aside_each_time():
    first = shown("a", SHOT)
    again = replace(first[0], name="b"), first[1]
    names, repeats = kept(first, again, again)
    assert names == ["a"] and repeats == (Repeat("b", "a"), Repeat("b", "a"))


# Half a mm of the floor is a third of a pixel here: the pictures hardly differ.
@pytest.mark.parametrize(
    "other",
    [
        replace(SHOT, eye=(40.5, -60, 900), aim=(0.5, 0.0)),
        replace(SHOT, aim=(0.0, 0.5)),
        replace(SHOT, eye=(40, -60, 901)),
    ],
)
def test_a_second_shot_from_nearly_the_same_place_is_kept(other):
    names, repeats = kept(shown("a", SHOT), shown("b", other))
    assert names == ["a", "b"] and not repeats


def test_another_paper_seen_from_the_same_place_is_kept():
    moved = [[(x + 5, y - 5) for x, y in line] for line in LINES]
    names, repeats = kept(shown("a", SHOT), shown("b", SHOT, floor_with(moved)))
    assert names == ["a", "b"] and not repeats


def test_photos_of_other_cards_are_kept():
    photo, view = shown("a", SHOT)
    other = replace(view, cards=tuple(replace(c, number=c.number + 5) for c in view.cards))
    names, _ = kept((photo, view), (replace(photo, name="b", sha256="b"), other))
    assert names == ["a", "b"]
