"""A line through ticks runs where it likeliest does, however its ticks scatter."""

import numpy as np
import pytest
from scipy.spatial import cKDTree

from digitize.pencil.fair import fair
from digitize.pencil.thresholds import MIDDLE_SIGMA_MM
from digitize.pencil.tick_courses import TO_SIGMA, likely_courses
from digitize.plane import rotation
from tests.pencil.test_pencil import arc


def bent_row(seed, sigma_mm, count=12, every_mm=25.0):
    """Middles (N, 2) along a wave of a few mm, and the wave, densely."""
    rng = np.random.default_rng(seed)
    wave, start = rng.uniform(90, 200), rng.uniform(0, 6)

    def course(x):
        return np.stack([x, 4 * np.sin(x / wave + start)], axis=1)

    middles = course(every_mm * np.arange(count))
    middles[:, 1] += rng.normal(0, sigma_mm, count)
    return middles, course(np.arange(0.0, every_mm * (count - 1)))


def likely(rows):
    """Their courses and scatter, all read as well as can be."""
    return likely_courses(rows, [np.zeros(len(row)) for row in rows])


def off(line, course):
    return cKDTree(line).query(course)[0]


@pytest.mark.parametrize("sigma_mm", [0.3, 0.8])
def test_a_course_is_nearer_than_the_simplest_that_the_scatter_allows(sigma_mm):
    likeliest, simplest = [], []
    for seed in range(5):
        rows = [bent_row(10 * seed + k, sigma_mm) for k in range(6)]
        courses, found = likely([middles for middles, _ in rows])
        assert found == pytest.approx(sigma_mm, rel=0.35)
        for line, (middles, course) in zip(courses, rows, strict=True):
            likeliest.append(off(line, course))
            simplest.append(off(fair(middles, sigma_mm).points, course))
    likely_mm, simplest_mm = (np.sqrt(np.mean(np.square(each))) for each in (likeliest, simplest))
    # Of twelve places each good to sigma, five say how the course bends.
    assert likely_mm < np.sqrt(5 / 12) * sigma_mm + 0.1
    assert likely_mm < 0.85 * simplest_mm


def test_places_to_one_side_and_the_other_in_turn_are_scatter_and_a_circle_is_none():
    places = np.stack([20.0 * np.arange(13), 0.4 * (-1.0) ** np.arange(13)], axis=1)
    for turn_deg in (0.0, 35.0, 90.0):
        turn = rotation(np.radians(turn_deg))
        (course,), sigma = likely([places @ turn.T])
        # Thirteen places off a line by 0.4 mm, two of which say where it lies, and three by 0.5.
        expected = np.sqrt((13 * 0.4**2 + 3 * 0.5**2) / (13 - 2 + 3))
        assert sigma == pytest.approx(TO_SIGMA * expected, rel=0.1)
        assert np.ptp((course @ turn)[:, 1]) < 0.2
    circle = arc(300, 0, 60, (0, 0), 12)
    (course,), _ = likely([circle])
    # From tick to tick a straight way would lie 0.33 mm inside it.
    assert np.abs(np.linalg.norm(course, axis=1) - 300).max() < 0.2


def test_a_place_far_off_moves_little_at_an_end_too():
    places = np.stack([20.0 * np.arange(12), np.zeros(12)], axis=1)
    rng = np.random.default_rng(2)
    for wrong in (5, 11):
        rows = [places + np.stack([np.zeros(12), rng.normal(0, 0.2, 12)], axis=1) for _ in range(5)]
        rows[2][wrong, 1] += 4.0
        courses, _ = likely(rows)
        assert np.abs(courses[2][:, 1]).max() < 1.0


def test_few_ticks_say_nothing_of_their_scatter():
    places = np.array([[0.0, 0.0], [20.0, 0.1], [40.0, -0.1], [60.0, 0.0]])
    (course, pair), sigma = likely([places, places[:2]])
    assert 0.7 * MIDDLE_SIGMA_MM < sigma < MIDDLE_SIGMA_MM
    assert np.abs(course[:, 1]).max() < 0.15
    assert pair[[0, -1]] == pytest.approx(places[:2])
    assert len(pair) == 21


def test_ticks_that_hardly_show_move_a_course_less():
    """Every third is 2 mm off its place, as one read in part may be, and known to be so."""
    rng = np.random.default_rng(4)
    plain, doubted = [], []
    for _ in range(8):
        off_mm = np.where(np.arange(12) % 3 == 0, 2.0, 0.2)
        places = np.stack([20.0 * np.arange(12), rng.normal(0, off_mm)], axis=1)
        (course,), _ = likely([places])
        plain.append(course[:, 1])
        (course,), _ = likely_courses([places], [off_mm])
        doubted.append(course[:, 1])
    plain, doubted = np.concatenate(plain), np.concatenate(doubted)
    assert np.std(doubted) < 0.6 * np.std(plain)
    assert np.std(doubted) < 0.3
