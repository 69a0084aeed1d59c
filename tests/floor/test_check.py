import numpy as np
import pytest

from digitize.errors import CheckError
from digitize.floor.check import CheckDistance, compare_checks, use_checks
from digitize.floor.solve import solve_floor
from tests.floor.test_solve import PLACES, SHOT, TRUE, view
from tests.scene import Floor

NO_PICTURE = np.zeros((0, 0), np.uint8)
APART = float(np.linalg.norm(TRUE[0] - TRUE[1]))


def solved():
    return solve_floor([view(SHOT, PLACES, 1500.0, 0.1)])


def test_a_right_distance_agrees_and_a_wrong_one_does_not():
    right, wrong = compare_checks(
        solved(),
        [CheckDistance((1, 2), APART), CheckDistance((1, 2), APART + 6)],
        NO_PICTURE,
    )
    assert right.read_mm == pytest.approx(APART, abs=0.1)
    assert abs(right.read_mm - right.taped_mm) < right.limit_mm < 3
    assert abs(wrong.read_mm - wrong.taped_mm) > wrong.limit_mm


def test_a_used_distance_pulls_the_size_and_narrows_it():
    # Cards printed 0.2 % too small: everything reads 0.2 % too large.
    taped = APART * 0.998
    solution, stretch, relative = use_checks(
        solved(), [CheckDistance((1, 2), taped)] * 4, NO_PICTURE
    )
    centres = np.array([card.centre for card in solution.cards[:2]])
    assert np.linalg.norm(centres[0] - centres[1]) == pytest.approx(taped, abs=0.6)
    assert 0.998 < stretch < 0.9992 and relative < 0.0008
    sizes = [np.ptp([card.centre for card in s.cards], axis=0) for s in (solution, solved())]
    assert sizes[0] / sizes[1] == pytest.approx(stretch, abs=1e-4)


def test_a_cross_is_found_near_the_pixel_given():
    floor = Floor(600)
    crosses = np.array([[-220.0, 40.0], [180.0, -110.0]])
    for x, y in crosses:
        patch = np.array([[x + i, y + j] for i, j in ((-20, -20), (20, -20), (20, 20), (-20, 20))])
        floor.lay_sheet(patch, (205, 190, 150))
        floor.draw(np.array([[x - 8, y], [x + 8, y]]), 1.0, (60, 60, 60))
        floor.draw(np.array([[x, y - 8], [x, y + 8]]), 1.0, (60, 60, 60))
    grey = floor.photograph(SHOT)[..., 1]
    marks = tuple((x + 3.0, y - 2.0) for x, y in SHOT.project(crosses))
    (check,) = compare_checks(solved(), [CheckDistance(marks, 400.0)], np.ascontiguousarray(grey))
    assert check.read_mm == pytest.approx(np.linalg.norm(crosses[0] - crosses[1]), abs=0.4)


def test_a_card_that_was_not_seen_is_named():
    with pytest.raises(CheckError, match="card 9"):
        compare_checks(solved(), [CheckDistance((1, 9), 500.0)], NO_PICTURE)
