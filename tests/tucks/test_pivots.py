"""Turning back about a pivot, and where that lies."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from digitize.tucks.pivots import pivot_sigma, pivots_of, turned_back
from digitize.tucks.slits import TuckMarks
from tests.marks import curve_of


def tuck(tip, way, length=60.0):
    """A slit from its tip along a way."""
    tip, way = np.array(tip, float), np.array(way, float)
    return TuckMarks("slit", curve_of([tip, tip + length * way / np.linalg.norm(way)]), None)


def test_a_place_is_turned_back_about_its_pivot():
    # From the pivot it is 40 along and 30 square to that, so 50 mm: 30 mm beyond the tip.
    reached, lap = turned_back(np.array([20.0]), np.array([30.0]), 20.0)
    assert reached == pytest.approx([30.0])
    assert lap == pytest.approx([math.hypot(10.0, 30.0)])  # from (20, 30) to (30, 0)


@settings(max_examples=60, deadline=None, database=None, derandomize=True)
@given(
    depth=st.floats(1.0, 300.0),
    across=st.floats(-60.0, 60.0),
    pivot_mm=st.floats(0.0, 5000.0),
)
def test_turning_back_keeps_the_way_from_the_pivot_and_the_lap_is_the_chord(
    depth, across, pivot_mm
):
    reached, lap = (v[0] for v in turned_back(np.array([depth]), np.array([across]), pivot_mm))
    assert pivot_mm + reached == pytest.approx(math.hypot(pivot_mm + depth, across))
    assert lap == pytest.approx(math.hypot(reached - depth, across), abs=1e-6)


def test_the_pivot_of_tucks_that_fan_out_from_a_point_is_that_point():
    rays = [(math.cos(turn), math.sin(turn)) for turn in np.radians([-80, -62, -50, -20])]
    fan = [tuck(150 * np.array(ray), ray) for ray in rays]
    assert pivots_of(fan) == pytest.approx([150.0] * 4, rel=1e-6)


def test_a_pivot_is_as_far_behind_as_both_neighbours_say_together():
    # The first two are parallel, the third is turned by 30 degrees; 100 mm from tip to tip.
    turn = math.radians(30)
    row = [
        tuck((0, 0), (0, -1)),
        tuck((100, 0), (0, -1)),
        tuck((200, 0), (math.sin(turn), -math.cos(turn))),
    ]
    level = 2 * math.sin(turn / 2) / 100
    assert pivots_of(row) == pytest.approx([1e5, 2 / level, 1 / level], rel=1e-6)


def test_a_lone_tuck_turns_about_its_tip_and_tucks_that_close_up_about_no_point():
    assert pivots_of([tuck((0, 0), (0, -1))]) == [0.0]
    closing = [tuck((0, 0), (0.3, -1)), tuck((100, 0), (-0.3, -1))]
    assert pivots_of(closing) == [1e5, 1e5]


def test_what_is_not_known_of_the_pivot_is_half_of_what_it_changes():
    # 16 mm aside of 100 mm: about the tip 101.272 mm deep, half a turn of 4.5451 degrees, a chord
    # of 16.0505 mm, which at 100 mm are 15.8489 mm; about a pivot far away it is 16 mm.
    (sigma,) = pivot_sigma(np.array([100.0]), np.array([16.0]), 1e7)
    assert sigma == pytest.approx((16.0 - 15.8489) / 2, abs=1e-4)
    assert pivot_sigma(np.array([100.0]), np.array([16.0]), 0.0) == pytest.approx([0.0])
