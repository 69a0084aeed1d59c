import numpy as np
import pytest

from digitize.errors import CheckError
from digitize.floor.check import CheckDistance, compare_checks, use_checks
from digitize.floor.solve import solve_floor
from tests.floor.by_hand import camera_over, solution_of
from tests.floor.test_solve import PLACES, SHOT, TRUE, view
from tests.scene import Floor

NO_PICTURE = np.zeros((0, 0), np.uint8)
APART = float(np.linalg.norm(TRUE[0] - TRUE[1]))


# Card 2 lies 300 across and 400 along from card 1: 500 off. It may be off by half a millimetre in x
# (sigma): 0.6 of it, 0.3 mm, is along the line between them.
FOOT = (80.0, -60.0, 1000.0)
APART_500 = solution_of(
    [camera_over(FOOT)],
    [(0.0, 0.0, 0.0), (300.0, 400.0, 0.7)],
    known={("card", 1, 0): 0.25, ("pose", 0, 3): 9.0, ("pose", 0, 0): 1e-6, ("lens", 0, 0): 16.0},
)
LENS, POSE, SECOND = 0, 8, 24  # where the lens, the pose and the second card begin


def solved():
    return solve_floor([view(SHOT, PLACES, 1500.0, 0.1)], finer=False)


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


def test_the_limit_is_what_cards_print_and_tape_may_be_off_together_at_95_percent():
    (compared,) = compare_checks(APART_500, [CheckDistance((1, 2), 501.0)], NO_PICTURE)
    assert compared.read_mm == pytest.approx(500)
    # Cards 1.96 * 0.3; print 0.15 in 150, so 0.5 in 500; tape 1 mm.
    assert compared.limit_mm == pytest.approx(np.sqrt(0.588**2 + 0.5**2 + 1.0), abs=1e-4)


def test_cards_that_may_be_off_together_are_as_far_apart_as_ever():
    solution = solution_of([camera_over(FOOT)], [(0, 0, 0), (100, 50, 0), (400, 450, 0)])
    together = solution.fit.covariance
    for one in (SECOND, SECOND + 10):
        for other in (SECOND, SECOND + 10):
            together[one, other] = together[one + 1, other + 1] = 100.0
    (compared,) = compare_checks(solution, [CheckDistance((2, 3), 500.0)], NO_PICTURE)
    assert compared.limit_mm == pytest.approx(np.sqrt(0.5**2 + 1.0), abs=1e-4)


def test_a_used_distance_is_shared_out_by_what_each_part_may_be_off():
    solution, stretch, relative = use_checks(APART_500, [CheckDistance((1, 2), 502.0)], NO_PICTURE)
    # Variances along the line; print and tape are known by what they may be off at 95 %.
    cards, printed, tape = 0.09, (0.5 / 1.95996) ** 2, (1 / 1.95996) ** 2
    every = cards + printed + tape
    # Of the 2 mm that are missing the print takes its share, as a share of 500 mm.
    assert stretch == pytest.approx(1 + 2 * printed / every / 500, abs=1e-9)
    assert relative == pytest.approx(0.001 * np.sqrt(1 - printed / every))
    # The card can only go in x: by its covariance with the distance, 0.25 * 0.6.
    x = 300 + 2 * 0.15 / every
    first, second = solution.cards
    assert second.centre == pytest.approx((x * stretch, 400 * stretch), abs=1e-6)
    assert first.centre == (0, 0) and second.turn == pytest.approx(0.7)
    known = np.diag(solution.fit.covariance)
    assert known[SECOND] == pytest.approx((0.25 - 0.15**2 / every) * stretch**2, rel=1e-9)
    # Lengths grow with the cards: the camera stands further off, its lens and turn stay.
    assert solution.cameras[0].foot() == pytest.approx(np.array(FOOT) * stretch)
    assert solution.cameras[0].lens[0] == 1500
    assert known[[LENS, POSE, POSE + 3]] == pytest.approx([16, 1e-6, 9 * stretch**2], rel=1e-9)


def test_distances_used_one_after_the_other_stretch_what_the_first_has_stretched():
    two = [CheckDistance((1, 2), 502.0), CheckDistance((1, 2), 499.0)]
    solution, stretch, _ = use_checks(APART_500, two, NO_PICTURE)
    assert solution.cameras[0].foot() == pytest.approx(np.array(FOOT) * stretch)
    # The card's y, which nothing but the stretch moves, says the same.
    assert solution.cards[1].centre[1] == pytest.approx(400 * stretch)


# Of APART_500 sigma is sqrt(0.09 + (0.5 / 1.96)^2 + (1 / 1.96)^2) = 0.644 mm, five of them 3.22 mm.
@pytest.mark.parametrize("way", [-1, 1])
def test_a_distance_further_off_than_chance_makes_it_is_not_used(way):
    use_checks(APART_500, [CheckDistance((1, 2), 500 + way * 3.1)], NO_PICTURE)
    with pytest.raises(CheckError, match=r"they should agree to 1\.3 mm"):
        use_checks(APART_500, [CheckDistance((1, 2), 500 + way * 3.3)], NO_PICTURE)


def test_what_the_first_distance_settled_the_second_may_not_contradict():
    two = [CheckDistance((1, 2), 502.5), CheckDistance((1, 2), 497.5)]
    for check in two:
        use_checks(APART_500, [check], NO_PICTURE)
    with pytest.raises(CheckError, match=r"taped 497\.5 mm"):
        use_checks(APART_500, two, NO_PICTURE)


THREE = solution_of([camera_over(FOOT)], [(0, 0, 0), (300, 400, 0.7), (300, 0, 0)])


@pytest.mark.parametrize(
    ("taped", "words"),
    [
        (500 / 25.4, "inches taken for mm"),
        (50.0, "cm taken for mm"),
        (0.5, "metres taken for mm"),
        (500 * 25.4, "mm taken for inches"),
        (300.3, "fits cards 1 and 3;"),
        (399.8, "fits cards 2 and 3;"),
        (485.0, "150 mm rules measure 145.5 mm"),
        (620.0, "look at the cards' numbers"),
    ],
)
def test_a_refusal_says_what_is_likely_wrong(taped, words):
    with pytest.raises(CheckError) as refused:
        use_checks(THREE, [CheckDistance((1, 2), taped)], NO_PICTURE)
    said = str(refused.value)
    assert words in said
    assert said.startswith(f"check distance card 1 to card 2: taped {taped:.1f} mm")
    assert "the photos show 500.0 mm" in said
