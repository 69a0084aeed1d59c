"""Polylines against closed forms: a circle's chords, a rectangle, triangles with whole sides."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as some

from digitize.plane import (
    evenly,
    headings_along,
    length_of,
    places_along,
    places_beside,
    running_length,
    runs_of,
    square_to,
    turn_between,
)

# 3, 4, 5 and then 12 up: 5 and 17 mm along.
BENT = np.array([[0.0, 0.0], [3.0, 4.0], [3.0, 16.0]])
RECTANGLE = np.array([[0.0, 0.0], [40.0, 0.0], [40.0, 30.0], [0.0, 30.0]])


def circle(radius, count, step):
    """Points on a circle about the origin, so many radians apart, from the x axis on."""
    angle = step * np.arange(count)
    return radius * np.column_stack([np.cos(angle), np.sin(angle)])


def test_lengths_run_from_nothing_to_the_whole():
    assert running_length(BENT).tolist() == [0, 5, 17]
    assert length_of(BENT) == 17
    both = np.stack([BENT, BENT[::-1]])
    assert running_length(both).tolist() == [[0, 5, 17], [0, 12, 17]]


@pytest.mark.parametrize("count", [7, 200])
def test_a_circles_length_is_that_of_its_chords(count):
    points = circle(50.0, count + 1, 2 * np.pi / count)
    assert length_of(points) == pytest.approx(count * 2 * 50 * np.sin(np.pi / count))


def test_places_lie_so_far_along():
    assert places_along(BENT, np.array([2.5, 5.0, 11.0])) == pytest.approx(
        np.array([[1.5, 2.0], [3.0, 4.0], [3.0, 10.0]])
    )
    # The lengths as given go before those of the points.
    twice = np.array([0.0, 10.0, 34.0])
    assert places_along(BENT, np.array([5.0]), twice) == pytest.approx(np.array([[1.5, 2.0]]))


def test_even_steps_reach_both_ends():
    line = np.array([[1.0, 2.0], [1.0, 12.0]])
    # 10 mm in steps of about 4: 2.5 steps, to the even number 2.
    assert evenly(line, 4.0) == pytest.approx(np.array([[1, 2], [1, 7], [1, 12]]))
    assert evenly(line, 3.0)[:, 1] == pytest.approx([2, 2 + 10 / 3, 2 + 20 / 3, 12])
    assert len(evenly(line, 900.0)) == 2


def test_even_steps_round_a_rectangle_come_back_to_its_start():
    # 140 mm round in 20 steps of 7: the ninth ends at 63 mm, 23 mm up the right side; the
    # nineteenth at 133, 7 mm from the start.
    points = evenly(RECTANGLE, 7.0, closed=True)
    assert len(points) == 21
    assert points[[0, 9, 19, 20]] == pytest.approx(np.array([[0, 0], [40, 23], [0, 7], [0, 0]]))
    assert evenly(RECTANGLE, 10.0)[-1] == pytest.approx([0, 30])


def test_square_to_a_line_is_to_its_left_as_it_runs_on_both_sides_of_the_place():
    corner = np.array([[0.0, 0.0], [10.0, 0.0], [10.0, 10.0]])
    places, normals = square_to(corner, np.array([4.0, 9.0, 15.0]), 2.0)
    assert places == pytest.approx(np.array([[4, 0], [9, 0], [10, 5]]))
    # At 9 it runs from (7, 0) to (10, 1): ahead (3, 1), square to it (-1, 3), over root 10.
    wanted = np.array([[0, 1], [-1 / np.sqrt(10), 3 / np.sqrt(10)], [-1, 0]])
    assert normals == pytest.approx(wanted, abs=1e-9)


def test_square_to_a_circle_run_counter_clockwise_is_inwards():
    points = circle(80.0, 100, 0.01)
    places, normals = square_to(points, np.array([20.0, 37.0, 50.0]), 6.0)
    inwards = -places / np.linalg.norm(places, axis=1, keepdims=True)
    assert normals == pytest.approx(inwards, abs=1e-3)


def test_places_beside_lie_out_along_each_points_own_normal():
    points = np.array([[1.0, 2.0], [5.0, 7.0]])
    normals, offsets = np.array([[0.6, 0.8], [0.0, -1.0]]), np.array([-5.0, 0.0, 10.0])
    beside = places_beside(points, normals, offsets)
    assert beside[0] == pytest.approx(np.array([[-2, -2], [1, 2], [7, 10]]))
    assert beside[1] == pytest.approx(np.array([[5, 12], [5, 7], [5, -3]]))
    alike = places_beside(points, np.array([0.6, 0.8]), offsets)
    assert alike[1] == pytest.approx(np.array([[2, 3], [5, 7], [11, 15]]))


def test_a_circle_heads_square_to_its_radius():
    # Over 4 points before and after, the chord is square to the radius between; at the ends it
    # runs over 4 points on one side, so it is square to the radius two points on.
    heading = headings_along(circle(30.0, 12, 0.1))
    turn = 0.1 * np.array([2, 2.5, 3, 3.5, 4, 5, 6, 7, 7.5, 8, 8.5, 9])
    assert heading == pytest.approx(turn + np.pi / 2)
    assert headings_along(np.array([[0.0, 0.0], [-1.0, 1.0]])) == pytest.approx(
        [3 * np.pi / 4, 3 * np.pi / 4]
    )


@pytest.mark.parametrize(
    ("one", "two", "apart"), [(10, 175, 15), (350, 20, 30), (0, 90, 90), (200, 20, 0), (5, 50, 45)]
)
def test_a_turn_between_lines_knows_no_direction(one, two, apart):
    found = turn_between(np.radians([float(one)]), np.radians([float(two)]))
    assert np.degrees(found) == pytest.approx([apart], abs=1e-9)


def test_runs_end_one_past_their_last():
    assert runs_of(np.array([1, 1, 0, 1, 0, 0, 1], bool)) == [(0, 2), (3, 4), (6, 7)]
    assert runs_of(np.zeros(3, bool)) == []


@settings(max_examples=50, deadline=None, derandomize=True, database=None)
@given(some.lists(some.booleans(), max_size=30))
def test_runs_cover_what_is_true_and_nothing_else(mask):
    covered = np.zeros(len(mask), bool)
    for start, stop in runs_of(np.array(mask, bool)):
        assert start < stop
        covered[start:stop] = True
    assert covered.tolist() == mask
