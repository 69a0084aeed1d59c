from dataclasses import replace

import numpy as np
import pytest

from digitize.card.find import FoundCard
from digitize.card.layout import card_layout
from digitize.floor.accuracy import accuracy_at
from digitize.floor.advice import _with_card, best_card_place
from digitize.floor.frame import Frame
from digitize.floor.solve import solve, solve_floor
from digitize.floor.start import View, turned
from digitize.floor.uneven import shape_prior
from tests.floor.test_solve import PLACES, SHOT, sights, view

OUTLINE = np.array([[-180, -150], [180, -150], [180, 150], [-180, 150]], float)
FIRST = np.zeros(len(OUTLINE), int)


def on_the_paper(solution):
    """The outline in the solution's floor frame, which its first card holds."""
    x, y, turn = PLACES[solution.cards[0].number]
    turn = np.radians(turn)
    cos, sin = np.cos(turn), np.sin(turn)
    back = np.array([[cos, -sin], [sin, cos]])
    return Frame(*(-np.array([x, y]) @ back).tolist(), -turn)


def test_the_card_advised_brings_what_is_foretold_and_others_bring_less():
    one = solve_floor([view(SHOT, [1], 1500.0, 0.1)], finer=False)
    frame = on_the_paper(one)
    words, foretold = best_card_place(one, frame, OUTLINE, FIRST)
    assert words == "below the paper"
    came = {}
    for number in (2, 3, 4):  # right of the paper, above it, below it
        two = solve_floor([view(SHOT, [1, number], 1500.0, 0.1)], finer=False)
        floor = on_the_paper(two).to_floor(OUTLINE)
        came[number] = accuracy_at(two, floor, FIRST, floor, FIRST).cards_mm.max()
    assert min(came, key=came.get) == 4
    assert came[4] == pytest.approx(foretold, rel=0.15)


def laid(number, place):
    """Card 9 as SHOT sees it at a place in the frame that card ``number`` holds."""
    x, y, turn = PLACES[number]
    floor = Frame(x, y, np.radians(turn)).to_floor(turned(card_layout("a4").corners_mm, place))
    return FoundCard(9, "a4", card_layout("a4").corners_mm, SHOT.project(floor))


def solved_with(number, place):
    cards = (*sights(SHOT, [number]), laid(number, place))
    return solve_floor([View(cards, SHOT.size, 1500.0)], finer=False)


def test_a_card_foretold_brings_what_a_card_laid_there_brings():
    one = solve_floor([view(SHOT, [1], 1500.0)], finer=False)
    place = np.array([310.0, -220.0, 0.4])
    foretold = _with_card(one, place).fit.covariance[:14, :14]
    came = solved_with(1, place).fit.covariance[:14, :14]
    free = one.fit.problem.free[:14]
    sigmas = [np.sqrt(np.diag(each)[free]) for each in (foretold, came, one.fit.covariance[:14])]
    assert sigmas[0] == pytest.approx(sigmas[1], rel=0.01)
    assert (sigmas[0] < 0.9 * sigmas[2]).sum() >= 6


def as_uneven(solution):
    """A solution of flat cards, solved again with cards of the usual unevenness."""
    problem = solution.fit.problem
    free = problem.free.copy()
    for card in range(problem.cards):
        free[problem.shape_at(card)] = True
    uneven = replace(problem, free=free, shape_prior=shape_prior(1.0))
    return replace(solution, fit=solve(uneven, solution.fit.parameters, 0.05))


def test_an_uneven_card_foretold_brings_what_one_laid_there_brings():
    one = as_uneven(solve_floor([view(SHOT, [1], 1500.0)], finer=False))
    place = np.array([310.0, -220.0, 0.4])
    two = as_uneven(solved_with(1, place))
    # Both at one scatter of the corners.
    foretold = _with_card(replace(one, fit=replace(one.fit, sigma_px=two.fit.sigma_px)), place)
    sigmas = [np.sqrt(np.diag(each.fit.covariance)[8:14]) for each in (foretold, two)]
    assert sigmas[0] == pytest.approx(sigmas[1], rel=0.1)


@pytest.mark.parametrize(
    ("number", "half", "words", "place"),
    [
        # Half the paper and 170 mm more: half a card and a hand's breadth.
        (2, (60, 250), "left of the paper", (-230, 0)),
        (1, (60, 250), "right of the paper", (230, 0)),
        (4, (300, 60), "above the paper", (0, 230)),
        (2, (500, 150), "beyond the paper's lower left corner", (-670, -320)),
    ],
)
def test_the_place_named_is_where_the_card_was_foretold(number, half, words, place):
    outline = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) * half
    one = solve_floor([view(SHOT, [number], 1500.0)], finer=False)
    frame = on_the_paper(one)
    said, foretold = best_card_place(one, frame, outline, FIRST)
    assert said == words
    two = solved_with(number, np.append(frame.to_floor(np.array([place]))[0], 0.0))
    floor = frame.to_floor(outline)
    came = accuracy_at(two, floor, FIRST, floor, FIRST).cards_mm.max()
    assert foretold == pytest.approx(came, rel=0.01)
