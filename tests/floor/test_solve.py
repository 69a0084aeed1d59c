from dataclasses import replace

import cv2
import numpy as np
import pytest

from digitize.card.find import FoundCard, find_cards
from digitize.card.layout import card_layout
from digitize.errors import CardsApart
from digitize.floor.accuracy import accuracy_at, accuracy_contours, radius_95
from digitize.floor.camera import Camera, project_with_slopes
from digitize.floor.frame import Frame
from digitize.floor.problem import Sight
from digitize.floor.raster import rectify, upright_frame, view_bounds
from digitize.floor.solve import PrintScale, _scatter, corner_scatter, solve_floor
from digitize.floor.start import View, turned
from tests.bench.compare import rigid
from tests.floor.by_hand import camera_over, solution_of
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


def view(shot, numbers, focal_px=None, sigma=0.0, seed=0, **more):
    return View(tuple(sights(shot, numbers, sigma, seed)), shot.size, focal_px, **more)


def distances(cards):
    centres = np.array([card.centre for card in cards])
    return np.linalg.norm(centres[:, None] - centres[None], axis=2)


TRUE = np.array([PLACES[n][:2] for n in PLACES])
TRUE_DISTANCES = np.linalg.norm(TRUE[:, None] - TRUE[None], axis=2)


def test_four_cards_give_the_lens_and_every_place():
    solution = solve_floor([view(SHOT, PLACES)])
    assert solution.reprojection_px < 0.01
    assert solution.cameras[0].lens[3:5] == pytest.approx(SHOT.radial, abs=3e-4)
    assert distances(solution.cards) == pytest.approx(TRUE_DISTANCES, abs=0.02)


def test_photos_are_tied_together_by_the_cards_they_share():
    other = Shot(eye=(-300, 250, 1000), aim=(-100, 100))
    solution = solve_floor([view(SHOT, [1, 2], 1500.0), view(other, [2, 3, 4], 1500.0)])
    order = [list(PLACES).index(card.number) for card in solution.cards]
    assert distances(solution.cards) == pytest.approx(TRUE_DISTANCES[np.ix_(order, order)], abs=0.3)


def test_photos_that_share_no_card_are_refused():
    with pytest.raises(CardsApart, match="photo 2"):
        solve_floor([view(SHOT, [1, 2]), view(SHOT, [3, 4])])


def seen_at(sizes, numbers=PLACES, sigma=0.0):
    """A view of cards that were printed at other sizes across and along."""
    rng = np.random.default_rng(1)
    found = []
    for card in sights(SHOT, numbers):
        x, y, turn_deg = PLACES[card.number]
        pixels = SHOT.project(
            turned(card.corners_mm * sizes, np.array([x, y, np.radians(turn_deg)]))
        )
        pixels = pixels + rng.normal(0, sigma, pixels.shape)
        found.append(FoundCard(card.number, "a4", card.corners_mm, pixels))
    return View(tuple(found), SHOT.size, 1500.0)


def test_a_print_that_came_out_small_is_corrected_each_way_by_its_own_rule():
    # The cards lie turned by 10, 170, 95 and 85 degrees, so that neither way is the floor's.
    solution = solve_floor([seen_at([0.98, 1.01])], PrintScale(x=0.98, y=1.01))
    assert solution.reprojection_px < 0.01
    assert distances(solution.cards) == pytest.approx(TRUE_DISTANCES, abs=0.05)
    # Both ways alike: uncorrected, all would be read two percent too large.
    solution = solve_floor([seen_at([0.98, 0.98])], PrintScale(x=0.98, y=0.98))
    assert distances(solution.cards) == pytest.approx(TRUE_DISTANCES, abs=0.05)


def test_cards_lie_and_turn_as_they_were_laid():
    solution = solve_floor([view(SHOT, PLACES, 1500.0)])
    first = solution.cards[0]
    assert first.centre == (0, 0) and first.turn == 0
    x, y, turn_deg = PLACES[first.number]
    frame = Frame(x, y, np.radians(turn_deg))
    for card in solution.cards[1:]:
        x, y, laid_deg = PLACES[card.number]
        assert frame.to_floor(np.array([card.centre]))[0] == pytest.approx([x, y], abs=0.05)
        away = np.degrees(card.turn) - (laid_deg - turn_deg)
        assert (away + 180) % 360 - 180 == pytest.approx(0, abs=0.01)


def test_the_reprojection_error_is_the_rms_distance_from_where_corners_are_shown():
    seen = view(SHOT, PLACES, 1500.0, 0.1)
    solution = solve_floor([seen], finer=False)
    misses = []
    for card, placed in zip(
        seen.cards, sorted(solution.cards, key=lambda c: c.number), strict=True
    ):
        floor = turned(card.corners_mm, np.array([*placed.centre, placed.turn]))
        misses.append(solution.cameras[0].to_pixels(floor) - card.pixels)
    rms = np.sqrt((np.concatenate(misses) ** 2).sum(axis=1).mean())
    assert solution.reprojection_px == pytest.approx(rms, rel=1e-3)
    assert rms == pytest.approx(0.1 * np.sqrt(2), rel=0.1)


def test_a_card_seen_from_straight_above_leaves_the_focal_length_to_exif():
    # EXIF rounds to a mm and phones crop: 4 %, so 60 px of 1500. Height makes up for all of it.
    solution = solve_floor([view(Shot(eye=(-350, 60.1, 1200), aim=(-350, 60)), [1], 1500.0)])
    assert np.sqrt(solution.fit.covariance[0, 0]) == pytest.approx(60, rel=0.03)


def test_the_corners_scatter_is_over_the_freedom_that_the_fit_left_them():
    # 24 misses of 0.3 px; six terms of a pose are set by them and the lens is held by its prior.
    problem = replace(
        solution_of([camera_over((0.0, 0.0, 1000.0))]).fit.problem,
        lens_priors=((np.zeros(8), 1e9 * np.eye(8)),),
        free=np.arange(23) < 14,
    )
    rng = np.random.default_rng(0)
    misses = 0.3 * rng.choice([-1.0, 1.0], 24)
    found = _scatter(misses, rng.normal(size=(24, 23)), problem, np.zeros(23), 0.3)
    assert found == pytest.approx(0.3 * np.sqrt(24 / (24 - 6)), rel=1e-6)


def test_a_cards_own_scatter_is_over_the_freedom_that_a_homography_leaves():
    # Eight terms of a homography take a third of what 12 corners scatter.
    corners = np.array([[12.0 * x, 15.0 * y] for x in range(4) for y in range(3)])
    rng = np.random.default_rng(0)
    squares = [
        corner_scatter([Sight(0, 0, corners, 5 * corners + rng.normal(0, 0.2, (12, 2)))]) ** 2
        for _ in range(300)
    ]
    assert np.sqrt(np.mean(squares)) == pytest.approx(0.2, rel=0.06)


def test_stated_accuracy_holds_the_true_error():
    paper = np.array([[x, y] for x in (-250, 0, 250) for y in (-200, 0, 200)], float)
    held = []
    for seed in range(12):
        solution = solve_floor([view(SHOT, PLACES, 1500.0, 0.1, seed)])
        floor = solution.cameras[0].to_floor(SHOT.project(paper))
        first = np.zeros(len(paper), int)
        stated = accuracy_at(solution, floor, first, floor, first).cards_mm
        rotation, shift = rigid(floor, paper)
        held.append(np.linalg.norm(floor @ rotation.T + shift - paper, axis=1) < stated)
        assert ((stated > 0.005) & (stated < 0.3)).all()
    assert np.mean(held) >= 0.9


@pytest.mark.slow
def test_the_raster_is_true_to_size():
    floor = Floor(500)
    for number, (x, y, turn) in {1: (-250.0, 0.0, 0.0), 2: (250.0, 30.0, 180.0)}.items():
        floor.lay_card(number, x, y, turn)
    floor.lay_sheet(np.array([[-60, -50], [60, -50], [60, 50], [-60, 50]]), (250, 60, 60))
    photo = floor.photograph(Shot(eye=(40, -150, 900)))
    grey = cv2.cvtColor(photo, cv2.COLOR_RGB2GRAY)
    solution = solve_floor([View(find_cards(grey), (2016, 1512), 1500.0)])
    camera = solution.cameras[0]
    frame = upright_frame(camera)
    raster = rectify(photo, camera, frame, view_bounds([camera], frame), 0.5)
    red = (raster.pixels[..., 0] > 170) & (raster.pixels[..., 1] < 130)
    assert red.sum() * 0.5**2 == pytest.approx(100 * 120, rel=0.01)


def test_the_derivatives_of_the_projection_are_its_differences():
    rng = np.random.default_rng(1)
    lens = np.array([1500, 9, -6, 0.03, -0.02, 0.01, 0.001, -0.002])
    pose = np.array([0.2, 2.9, 0.1, 30, 40, 1200.0])
    solid = np.column_stack([rng.uniform(-400, 400, (20, 2)), rng.uniform(-5, 5, 20)])
    for turns in range(4):

        def pixels(terms, turns=turns):
            camera = Camera(terms[:8], terms[8:14], (2016, 1512), turns)
            return project_with_slopes(camera, solid + terms[14:])[0]

        at = np.concatenate([lens, pose, np.zeros(3)])
        _, *slopes = project_with_slopes(Camera(lens, pose, (2016, 1512), turns), solid)
        step = 1e-5
        differences = [
            (pixels(at + step * unit) - pixels(at - step * unit)) / (2 * step)
            for unit in np.eye(len(at))
        ]
        assert np.concatenate(slopes, axis=2) == pytest.approx(
            np.stack(differences, axis=2), rel=1e-4, abs=1e-4
        )


@pytest.mark.parametrize("turns", range(4))
def test_a_photo_turned_upright_keeps_its_sensors_lens(turns):
    # The sensor's picture has its middle off by (9, -6); the upright one is turned clockwise.
    shot = Shot(eye=(80, -200, 1150), focal_px=1500, offset=(9.0, -6.0))
    width, height = shot.size
    found = []
    for card in sights(shot, PLACES):
        x, y = card.pixels.T
        for turn in range(turns):
            x, y = (height if turn % 2 == 0 else width) - 1 - y, x
        found.append(FoundCard(card.number, "a4", card.corners_mm, np.stack([x, y], axis=1)))
    size = (height, width) if turns % 2 else (width, height)
    solution = solve_floor([View(tuple(found), size, 1500.0, turns)])
    assert solution.cameras[0].lens[:3] == pytest.approx([1500, 9, -6], abs=2.0)


def test_a_lens_grows_finer_only_where_the_corners_ask_for_it():
    plain = solve_floor([view(SHOT, PLACES, 1500.0, 0.1)])
    assert plain.fit.problem.free[:8].sum() == 5
    askew = Shot(eye=(80, -200, 1150), focal_px=1500, askew=(0.002, -0.0015))
    grown = solve_floor([view(askew, PLACES, 1500.0, 0.05)])
    assert grown.fit.problem.free[:8].sum() == 8
    assert grown.cameras[0].lens[6:] == pytest.approx([0.002, -0.0015], abs=5e-4)


def test_a_focal_length_that_exif_does_not_give_is_found():
    for focal in (900.0, 1500.0, 2600.0):
        shot = Shot(eye=(80, -400, 1150 * focal / 1500), focal_px=focal)
        solution = solve_floor([view(shot, PLACES, None, 0.1)])
        assert solution.cameras[0].lens[0] == pytest.approx(focal, rel=0.02)


def test_the_95_percent_radius_of_a_long_and_of_a_round_scatter():
    rng = np.random.default_rng(2)
    for ratio in (0.02, 0.4, 1.0):
        (radius,) = radius_95(np.array([np.diag([4.0, 4.0 * ratio**2])]))
        points = rng.normal(size=(200_000, 2)) * [2.0, 2.0 * ratio]
        assert np.mean(np.linalg.norm(points, axis=1) < radius) == pytest.approx(0.95, abs=0.002)


def test_contours_lie_where_the_accuracy_is_theirs():
    solution = solve_floor([view(SHOT, [1], 1500.0, 0.1)])
    outline = np.array([[-250, -200], [250, -200], [250, 200], [-250, 200]], float)

    def accuracy(points):
        first, edge = np.zeros(len(points), int), np.zeros(len(outline), int)
        return accuracy_at(solution, points, first, outline, edge)

    contours = accuracy_contours(accuracy, outline)
    assert contours
    for contour in contours:
        assert accuracy(contour.points).total_mm == pytest.approx(contour.mm, rel=0.03)
