"""The joint solution's residuals: their derivatives, and what cards' terms do to cards."""

import numpy as np
import pytest

from digitize.card.find import FoundCard
from digitize.floor.problem import Problem, Sight
from digitize.floor.start import View
from tests.floor.by_hand import SIZE, camera_over

CORNERS = np.array([[-84.0, -126], [84, -126], [84, 126], [-60, 90], [12, 30]])


def two_cards():
    """A photo of card 1, turned and out of shape, and of card 2; and parameters."""
    camera = camera_over((40.0, -30.0, 1000.0), lens=(5.0, -3.0, 0.02, -0.01, 0.0, 1e-3, -2e-3))
    rng = np.random.default_rng(3)
    root, shape_root = np.triu(rng.normal(size=(8, 8))), np.triu(rng.normal(size=(7, 7)))
    problem = Problem(
        views=(View((FoundCard(1, "a4", CORNERS, CORNERS),), SIZE),),
        sights=(Sight(0, 1, CORNERS, CORNERS), Sight(0, 0, CORNERS[:3], CORNERS[:3])),
        lens_of=(0,),
        lens_priors=((camera.lens + rng.normal(size=8), root),),
        free=np.ones(34, bool),
        shape_prior=(rng.normal(size=7), shape_root),
    )
    shapes = [0] * 10, [300, 200, 0.6, 0.01, 1.5, 0.02, -0.03, 0.4, -0.2, 0.3]
    return problem, np.concatenate([camera.lens, camera.pose, *shapes])


def differences(values, at, step=1e-6):
    units = np.eye(len(at)) * step
    return np.stack([(values(at + unit) - values(at - unit)) / (2 * step) for unit in units], 1)


def test_the_derivatives_of_all_residuals_are_their_differences():
    problem, at = two_cards()
    misses, slopes = problem.misses_px(at)
    assert len(misses) == 16
    found = differences(lambda some: problem.misses_px(some)[0], at)
    assert slopes == pytest.approx(found, rel=1e-4, abs=2e-3)
    _, prior_slopes = problem.prior_misses(at)
    found = differences(lambda some: problem.prior_misses(some)[0], at)
    assert prior_slopes == pytest.approx(found, abs=1e-5)


def test_a_card_lies_where_its_place_and_shape_say():
    # A camera straight above sees 1.5 px to a mm, and y runs down.
    camera = camera_over((0.0, 0.0, 1000.0))
    corner = np.array([[80.0, 60.0]])
    problem = Problem(
        views=(View((), SIZE),),
        sights=(Sight(0, 0, corner, np.zeros((1, 2))),),
        lens_of=(0,),
        lens_priors=((camera.lens, np.eye(8)),),
        free=np.ones(24, bool),
    )

    def seen(*card):
        terms = np.concatenate([camera.lens, camera.pose, card])
        return problem.misses_px(terms)[0] - [1008, 756]

    # A quarter turn carries (80, 60) to (-60, 80); then (100, 20) is added.
    assert seen(100, 20, np.pi / 2, 0, 0, 0, 0, 0, 0, 0) == pytest.approx([60, -150])
    # Ten percent larger: (-66, 88).
    assert seen(100, 20, np.pi / 2, 0.1, 0, 0, 0, 0, 0, 0) == pytest.approx([51, -162])
    # The card stands 7 high; tilts of 0.5 and 0.25 lift the corner by 40 + 15 more, bends by 64 and
    # twice 48 and thrice 36 %.
    high = 7 + 55 + 0.64 + 2 * 0.48 + 3 * 0.36
    lifted = np.array([60, -150]) * 1000 / (1000 - high)
    assert seen(100, 20, np.pi / 2, 0, 7, 0.5, 0.25, 1, 2, 3) == pytest.approx(lifted)
