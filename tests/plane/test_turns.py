"""Turns by hand, and fits of points whose turn is known."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as some

from digitize.plane import cross, evenly, rigid_fit, rotation, sharp_turns, signed_angle


def test_a_cross_product_is_positive_to_the_left():
    one, two = np.array([[1.0, 0.0], [2.0, 3.0]]), np.array([[0.0, 1.0], [5.0, -1.0]])
    # 2 x -1 less 3 x 5.
    assert cross(one, two).tolist() == [1, -17]


@pytest.mark.parametrize(
    ("one", "two", "degrees"),
    [((1, 0), (0, 2), 90), ((1, 1), (1, -1), -90), ((0, 2), (-3, -3), 135), ((2, 1), (4, 2), 0)],
)
def test_an_angle_is_positive_counter_clockwise(one, two, degrees):
    found = signed_angle(np.array(one, float), np.array(two, float))
    assert np.degrees(found) == pytest.approx(degrees)


def test_a_turn_by_thirty_degrees():
    assert rotation(np.pi / 6) @ [2.0, 0.0] == pytest.approx([np.sqrt(3), 1])
    assert rotation(np.pi / 6) @ [0.0, 2.0] == pytest.approx([-1, np.sqrt(3)])


def test_a_triangle_turned_by_a_right_angle():
    points = np.array([[0.0, 0.0], [4.0, 0.0], [0.0, 2.0]])
    targets = np.array([[10.0, -3.0], [10.0, 1.0], [8.0, -3.0]])
    turn, shift = rigid_fit(points, targets)
    assert turn == pytest.approx(np.pi / 2) and shift == pytest.approx([10, -3])


def test_a_fit_weighs_what_is_left_by_its_square():
    # Two places agree, the third is 3 mm off to the right: the middle moves by a third of that.
    points = np.array([[0.0, 0.0], [300.0, 0.0], [150.0, 0.0]])
    targets = np.array([[0.0, 0.0], [300.0, 0.0], [153.0, 0.0]])
    turn, shift = rigid_fit(points, targets)
    assert turn == pytest.approx(0) and shift == pytest.approx([1, 0])


@settings(max_examples=50, deadline=None, derandomize=True, database=None)
@given(some.floats(-3.1, 3.1), some.floats(-900, 900), some.floats(-900, 900))
def test_a_known_turn_and_shift_are_found_again(turn, x, y):
    points = np.array([[0.0, 0.0], [400.0, 30.0], [120.0, 260.0], [-50.0, 90.0]])
    found, shift = rigid_fit(points, points @ rotation(turn).T + [x, y])
    assert found == pytest.approx(turn, abs=1e-9) and shift == pytest.approx([x, y], abs=1e-6)


def test_a_ring_turns_sharply_at_its_corners_alone():
    """A rectangle of 40 by 20 mm in steps of 1; each corner's neighbours turn too, by less."""
    corners = np.array([[0.0, 0.0], [40.0, 0.0], [40.0, 20.0], [0.0, 20.0]])
    ring = evenly(corners, 1.0, closed=True)[:-1]
    for within in (1, 2):
        assert ring[sharp_turns(ring, 6.0, 40.0, within)].tolist() == corners.tolist()
    assert not len(sharp_turns(ring, 6.0, 91.0, 1))
