import cv2
import numpy as np
import pytest

from digitize.card.find import FoundCard, find_cards
from digitize.card.layout import card_layout
from digitize.floor.accuracy import accuracy_over
from digitize.floor.raster import rectify, upright_frame, view_bounds
from digitize.floor.solve import CardsApart, PrintScale, solve_floor
from tests.scene import Floor, Shot

PLACES = {
    1: (-350.0, 60.0, 10.0),
    2: (340.0, -80.0, 170.0),
    3: (0.0, 380.0, 95.0),
    4: (-20.0, -370.0, 85.0),
}
SHOT = Shot(eye=(80, -200, 1150), focal_px=1500)


def sights(shot, numbers, sigma=0.0, seed=0):
    rng = np.random.default_rng(seed)
    found = []
    for number in numbers:
        x, y, turn_deg = PLACES[number]
        turn = np.radians(turn_deg)
        corners = card_layout("a4").corners_mm
        rotation = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
        pixels = shot.project(corners @ rotation.T + [x, y])
        found.append(FoundCard(number, "a4", corners, pixels + rng.normal(0, sigma, pixels.shape)))
    return found


def distances(cards):
    centres = np.array([card.centre for card in cards])
    return np.linalg.norm(centres[:, None] - centres[None], axis=2)


TRUE = np.array([PLACES[n][:2] for n in PLACES])
TRUE_DISTANCES = np.linalg.norm(TRUE[:, None] - TRUE[None], axis=2)


def test_four_cards_give_the_lens_and_every_place():
    solution = solve_floor([sights(SHOT, PLACES)], [SHOT.size], [None], PrintScale())
    assert solution.reprojection_px < 0.01
    assert solution.cameras[0].lens[3:] == pytest.approx(SHOT.radial, abs=3e-4)
    assert distances(solution.cards) == pytest.approx(TRUE_DISTANCES, abs=0.02)


def test_photos_are_tied_together_by_the_cards_they_share():
    other = Shot(eye=(-300, 250, 1000), aim=(-100, 100))
    found = [sights(SHOT, [1, 2]), sights(other, [2, 3, 4], seed=1)]
    solution = solve_floor(found, [SHOT.size, other.size], [1500.0, 1500.0], PrintScale())
    order = [list(PLACES).index(card.number) for card in solution.cards]
    assert distances(solution.cards) == pytest.approx(TRUE_DISTANCES[np.ix_(order, order)], abs=0.3)


def test_photos_that_share_no_card_are_refused():
    found = [sights(SHOT, [1, 2]), sights(SHOT, [3, 4])]
    with pytest.raises(CardsApart, match="photo 2"):
        solve_floor(found, [SHOT.size] * 2, [None] * 2, PrintScale())


def test_a_print_that_came_out_small_is_corrected():
    scale = PrintScale(x=0.99, y=1.005)
    solution = solve_floor([sights(SHOT, PLACES)], [SHOT.size], [None], scale)
    ratio = distances(solution.cards)[0, 1] / TRUE_DISTANCES[0, 1]
    assert 0.985 < ratio < 1.01 and abs(ratio - 1) > 0.001


def test_stated_accuracy_holds_the_true_error():
    paper = np.array([[x, y] for x in (-250, 0, 250) for y in (-200, 0, 200)], float)
    held = []
    for seed in range(12):
        solution = solve_floor(
            [sights(SHOT, PLACES, 0.1, seed)], [SHOT.size], [1500.0], PrintScale()
        )
        camera = solution.cameras[0]
        floor = camera.to_floor(SHOT.project(paper))
        stated = accuracy_over(solution, floor).cards_mm
        a, b = floor - floor.mean(axis=0), paper - paper.mean(axis=0)
        turn = np.arctan2((a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]).sum(), (a * b).sum())
        turned = a @ np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])
        held.append(np.linalg.norm(turned - b, axis=1).max() < 1.5 * stated)
        assert 0.005 < stated < 0.3
    assert np.mean(held) >= 0.9


def test_the_raster_is_true_to_size():
    floor = Floor(500)
    for number, (x, y, turn) in {1: (-250.0, 0.0, 0.0), 2: (250.0, 30.0, 180.0)}.items():
        floor.lay_card(number, x, y, turn)
    floor.lay_sheet(np.array([[-60, -50], [60, -50], [60, 50], [-60, 50]]), (250, 60, 60))
    photo = floor.photograph(Shot(eye=(40, -150, 900)))
    grey = cv2.cvtColor(photo, cv2.COLOR_RGB2GRAY)
    solution = solve_floor([find_cards(grey)], [(2016, 1512)], [1500.0], PrintScale())
    camera = solution.cameras[0]
    frame = upright_frame(camera)
    raster = rectify(photo, camera, frame, view_bounds(camera, frame), 0.5)
    red = (raster.pixels[..., 0] > 170) & (raster.pixels[..., 1] < 130)
    assert red.sum() * 0.5**2 == pytest.approx(100 * 120, rel=0.01)
