"""Faulty cards on simulated floors: named, and the result inside its stated accuracy."""

import numpy as np
import pytest

from digitize.card.find import FoundCard
from digitize.card.layout import card_layout
from digitize.floor.accuracy import accuracy_at
from digitize.floor.faults import CardFault, doubt_of, solve_sound_floor
from digitize.floor.start import View
from tests.bench.compare import rigid
from tests.floor.by_hand import camera_over
from tests.scene import Shot

PLACES = {
    1: (-450.0, 60.0, 10.0),
    2: (440.0, -80.0, 170.0),
    3: (0.0, 420.0, 95.0),
    4: (-20.0, -420.0, 85.0),
}
SHOTS = (
    Shot(eye=(80, -200, 1150), focal_px=1500),
    Shot(eye=(-300, 250, 1200), aim=(-40, 40), focal_px=1500),
)
PAPER = np.array([[x, y] for x in (-300, 0, 300) for y in (-250, 0, 250)], float)


def solid_corners(place, size=1.0, lift=0.0):
    """(66, 3) a card's corners; one corner of the sheet curls up by ``lift`` mm."""
    corners = card_layout("a4").corners_mm
    turn = np.radians(place[2])
    rotation = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
    along = (corners / [105.0, 148.5]).sum(axis=1) / 2  # 1 at the sheet's upper right corner
    height = lift * np.clip(along, 0, None) ** 2
    return np.column_stack([size * corners @ rotation.T + place[:2], height])


def views(cards, shots=SHOTS[:1], moved=None):
    """What each shot sees of cards given as number: (place, size, lift), noise 0.1 px."""
    rng = np.random.default_rng(5)
    found = []
    for index, shot in enumerate(shots):
        seen = []
        for number, (place, size, lift) in cards.items():
            shift = np.array([7.0, -4.0, 2.0]) if (number == moved and index) else np.zeros(3)
            pixels = shot.project_solid(solid_corners(np.array(place) + shift, size, lift))
            pixels = pixels + rng.normal(0, 0.1, pixels.shape)
            seen.append(FoundCard(number, "a4", card_layout("a4").corners_mm, pixels))
        found.append(View(tuple(seen), shot.size, 1500.0))
    return found


def sound(numbers=PLACES):
    return {number: (PLACES[number], 1.0, 0.0) for number in numbers}


def error_and_stated(solution, shot=SHOTS[0]):
    seen = solution.cameras[0].to_floor(shot.project(PAPER))
    first = np.zeros(len(PAPER), int)
    stated = accuracy_at(solution, seen, first, seen, first)
    rotation, shift = rigid(seen, PAPER)
    return np.linalg.norm(seen @ rotation.T + shift - PAPER, axis=1), stated.total_mm


def test_sound_cards_are_left_alone():
    solution, faults = solve_sound_floor(views(sound(), SHOTS))
    assert faults == () and len(solution.cards) == 4


@pytest.mark.parametrize("number", PLACES)
@pytest.mark.parametrize("size", [0.985, 1.006])
def test_a_card_printed_at_another_scale_is_named_and_left_out(number, size):
    cards = sound()
    cards[number] = (PLACES[number], size, 0.0)
    solution, (fault,) = solve_sound_floor(views(cards))
    assert (fault.numbers, fault.kind, fault.left_out) == ((number,), "stretch", True)
    assert fault.size == pytest.approx(size - 1, abs=0.003)
    error, stated = error_and_stated(solution)
    assert (error < stated).all()


@pytest.mark.parametrize("number", PLACES)
def test_a_card_with_one_corner_lifted_is_named_and_left_out(number):
    cards = sound()
    cards[number] = (PLACES[number], 1.0, 15.0)
    solution, (fault,) = solve_sound_floor(views(cards))
    assert (fault.numbers, fault.kind, fault.left_out) == ((number,), "lift", True)
    error, stated = error_and_stated(solution)
    assert (error < stated).all()


def test_two_faulty_cards_are_both_named():
    cards = {**sound(), 5: ((430.0, 380.0, 20.0), 1.0, 15.0), 6: ((-430.0, -380.0, 20.0), 0.97, 0)}
    _, faults = solve_sound_floor(views(cards))
    assert {fault.numbers for fault in faults} == {(5,), (6,)}


def test_of_two_cards_that_disagree_both_are_named():
    cards = {1: (PLACES[1], 1.01, 0.0), 2: (PLACES[2], 1.0, 0.0)}
    _, (fault,) = solve_sound_floor(views(cards))
    assert fault.numbers == (1, 2) and not fault.left_out


def test_a_card_that_was_moved_between_photos_is_named():
    solution, (fault,) = solve_sound_floor(views(sound(), SHOTS, moved=3))
    assert (fault.numbers, fault.kind, fault.left_out) == ((3,), "moved", True)
    assert fault.size == pytest.approx(np.hypot(7, 4), rel=0.3)
    error, stated = error_and_stated(solution)
    assert (error < stated).all()


@pytest.mark.parametrize(
    ("kind", "size", "doubt"),
    [
        ("stretch", -0.012, 0.012),
        ("lift", 11.0, 0.01),  # seen from 1100 mm
        ("moved", 6.0, 0.02),  # over 300 mm
    ],
)
def test_a_faulty_card_that_stays_in_lets_lengths_be_off_by(kind, size, doubt):
    camera = camera_over((250.0, -340.0, 1100.0))
    assert doubt_of(CardFault((1, 2), kind, size, False), camera) == pytest.approx(doubt)
    assert doubt_of(CardFault((1,), kind, size, True), camera) == 0
