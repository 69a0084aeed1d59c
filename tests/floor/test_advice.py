import numpy as np
import pytest

from digitize.floor.accuracy import accuracy_at
from digitize.floor.advice import best_card_place
from digitize.floor.frame import Frame
from digitize.floor.solve import solve_floor
from tests.floor.test_solve import PLACES, SHOT, view

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
    one = solve_floor([view(SHOT, [1], 1500.0, 0.1)])
    frame = on_the_paper(one)
    words, foretold = best_card_place(one, frame, OUTLINE, FIRST)
    assert words == "below the paper"
    came = {}
    for number in (2, 3, 4):  # right of the paper, above it, below it
        two = solve_floor([view(SHOT, [1, number], 1500.0, 0.1)])
        floor = on_the_paper(two).to_floor(OUTLINE)
        came[number] = accuracy_at(two, floor, FIRST, floor, FIRST).cards_mm.max()
    assert min(came, key=came.get) == 4
    assert came[4] == pytest.approx(foretold, rel=0.15)
