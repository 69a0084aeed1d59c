"""How unevenly cards lie: their usual shape by hand, and unevenness that was put in found again."""

import numpy as np
import pytest

from digitize.card.find import FoundCard
from digitize.card.layout import card_layout
from digitize.floor.accuracy import accuracy_at
from digitize.floor.problem import Problem, Sight, card_heights
from digitize.floor.solve import KeptLens, solve_floor
from digitize.floor.start import View, turned
from digitize.floor.uneven import shape_prior, unevenness_of, usual_shape
from tests.floor.by_hand import SIZE, camera_over
from tests.scene import Shot

CORNERS = card_layout("a4").corners_mm
SHOTS = (
    Shot(eye=(80, -500, 1150), focal_px=1500),
    Shot(eye=(-400, 350, 1200), aim=(-40, 40), focal_px=1500),
)


def test_a_usual_card_is_a_cylinder_of_paper_that_lies_on_the_floor():
    mean, covariance = usual_shape()
    sigmas = np.sqrt(np.diag(covariance))
    # A curvature of 1e-4 a mm is half a millimetre at 100 mm. Over all directions cos^4 is 3/8 in
    # the mean and (2 sin cos)^2 is 1/2; sin^2 cos^2 is 1/8, so bends xx and yy hang together by a
    # third. Forty steps of a normal distribution lack a percent of its tails.
    assert sigmas[4:] == pytest.approx(0.5 * np.sqrt([3 / 8, 1 / 2, 3 / 8]), rel=0.02)
    assert covariance[4, 6] / covariance[4, 4] == pytest.approx(1 / 3, rel=1e-6)
    # Half of all sheets hump: the middle of one stands at half the curvature times the square of
    # how far it reaches, which over all directions is (105^2 + 148.5^2) / 2 + 4 / pi * 105 * 148.5
    # / 2; the mean of a normal curvature's size is sqrt(2 / pi) of its sigma.
    reach = (105**2 + 148.5**2) / 2 + 2 / np.pi * 105 * 148.5
    assert mean[1] == pytest.approx(0.5 * np.sqrt(2 / np.pi) * 1e-4 / 2 * reach, rel=0.01)
    assert mean[[0, 2, 3, 4, 5, 6]] == pytest.approx(0, abs=1e-9)
    # A hump bends down, so a card that bends down stands high.
    assert covariance[1, 4] < 0 and covariance[1, 6] < covariance[1, 4]


def test_twice_as_uneven_is_twice_as_far_off():
    usual, root = shape_prior(2.0)
    mean, covariance = usual_shape()
    assert usual == pytest.approx(2 * mean)
    assert np.linalg.inv(root.T @ root) == pytest.approx(4 * covariance, rel=1e-6, abs=1e-12)


def solved(amount, seed, cards=6, shots=SHOTS, **more):
    """Cards with random shapes of the usual kind, times an amount, as the shots see them."""
    rng = np.random.default_rng(seed)
    mean, covariance = usual_shape()
    around = [(-450, 300), (450, 300), (0, 420), (0, -420), (-450, -300), (450, -300)]
    places = [np.array([x, y, rng.uniform(-3, 3)], float) for x, y in around[:cards]]
    shapes = amount * rng.multivariate_normal(mean, covariance, cards)
    views = []
    for shot in shots:
        found = []
        for number, (place, shape) in enumerate(zip(places, shapes, strict=True), 1):
            flat = turned(CORNERS * (1 + shape[0]), place)
            solid = np.column_stack([flat, card_heights(CORNERS, shape[1:])])
            pixels = shot.project_solid(solid) + rng.normal(0, 0.1, (len(CORNERS), 2))
            found.append(FoundCard(number, "a4", CORNERS, pixels))
        views.append(View(tuple(found), shot.size, 1500.0))
    return solve_floor(views, **more), shapes


@pytest.mark.parametrize("amount", [0.5, 1.0, 2.0])
def test_unevenness_that_was_put_in_is_found(amount):
    found = [solved(amount, seed)[0].unevenness for seed in range(3)]
    assert np.exp(np.mean(np.log(found))) == pytest.approx(amount, rel=0.2)


def test_flat_cards_are_found_to_be_flat():
    assert solved(0.0, 1)[0].unevenness < 0.15


def test_bends_that_the_corners_carry_are_solved():
    solution, shapes = solved(1.0, 4)
    problem = solution.fit.problem
    found = np.array([solution.fit.parameters[problem.shape_at(card)] for card in range(6)])
    order = [card.number - 1 for card in solution.cards]
    away = found[:, 4:] - shapes[order][:, 4:]
    assert np.sqrt((away**2).mean()) < 0.25 * np.sqrt((shapes[:, 4:] ** 2).mean())


def test_one_card_alone_is_stated_to_be_off_by_how_it_may_lie():
    lens = np.array([1500.0, 0.5, 0.5, 0.03, -0.02, 0, 0, 0])
    known = KeptLens(lens, np.diag([1e-6] + [0.0] * 7))
    shot = (Shot(eye=(-450, 300.1, 1000), aim=(-450, 300)),)
    points = np.array([[x, y] for x in (-400.0, 400.0) for y in (-300.0, 300.0)])
    first = np.zeros(4, int)

    def stated(solution):
        return accuracy_at(solution, points, first, points, first).cards_mm

    flat, _ = solved(0.0, 2, 1, shot, kept_lens=known, finer=False)
    uneven, _ = solved(0.0, 2, 1, shot, kept_lens=known)
    # A tilt t moves (x, y), seen from 1000 mm, by t x (x, y) / 1000. Of that t x^2 is the same at
    # all corners, a shift; t x y, 120 mm of tilt, is not. Both tilts do so, one each way: a round
    # scatter. What the card may be larger or higher by, with that bend's height, comes on top.
    tilt = 2.448 * 0.003 * uneven.unevenness * 400 * 300 / 1000
    size = 1.96 * uneven.unevenness * np.sqrt(usual_shape()[1][1, 1]) * 500 / 1000
    most = np.sqrt(tilt**2 + size**2 + stated(flat).max() ** 2)
    assert 2 * stated(flat).max() < tilt < stated(uneven).max() < most


def test_cards_that_stand_as_high_as_is_usual_are_less_uneven_than_sunk_ones():
    # Straight above, with everything else known, height alone tells: 1.5 px to a mm.
    camera = camera_over((0.0, 0.0, 1000.0))
    found = {}
    for side in (1, -1):
        shape = 2 * side * usual_shape()[0]
        high = card_heights(CORNERS, shape[1:])
        problem = Problem(
            views=(View((), SIZE),),
            sights=(Sight(0, 0, CORNERS, camera.to_pixels(CORNERS, high)),),
            lens_of=(0,),
            lens_priors=((camera.lens, np.eye(8)),),
            free=np.zeros(24, bool),
        )
        flat = np.concatenate([camera.lens, camera.pose, np.zeros(10)])
        kept = np.ones(2 * len(CORNERS), bool)
        found[side] = unevenness_of(problem, flat, 0.02, kept)
    assert found[1] < 0.9 * found[-1]
