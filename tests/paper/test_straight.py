"""Straight sides: their middle, which way they run, and what is none."""

import numpy as np
import pytest

from digitize.paper.straight import lines_of, straight
from digitize.paper.thresholds import STRAIGHT_MM


@pytest.mark.parametrize("degrees", [0, 30, 90, 140, 200, 305])
def test_a_side_that_wavers_is_straight_the_way_its_points_run(degrees):
    turn = np.radians(degrees)
    way, left = np.array([np.cos(turn), np.sin(turn)]), np.array([-np.sin(turn), np.cos(turn)])
    off = 0.7 * STRAIGHT_MM * np.cos(np.arange(15) * np.pi)
    points = np.array([300.0, -40.0]) + 2.0 * np.arange(15)[:, None] * way + off[:, None] * left
    at, along = straight(points)
    assert at == pytest.approx(points.mean(axis=0))
    assert along @ way == pytest.approx(1.0, abs=0.01)
    assert straight(points + 1.2 * off[:, None] * left) is None


def test_many_at_once_are_as_each_alone():
    rng = np.random.default_rng(3)
    steps = rng.normal(0, 0.5, (40, 15, 2)) + rng.normal(0, 2, (40, 1, 2))
    runs = np.cumsum(steps, axis=1)
    found = lines_of(runs)
    assert set(found.bent.tolist()) == {True, False}
    for run, middle, way, bent in zip(runs, found.middles, found.ways, found.bent, strict=True):
        centred = run - run.mean(axis=0)
        axis = np.linalg.svd(centred)[2][0]
        aside = np.abs(centred @ np.array([-axis[1], axis[0]])).max()
        assert bent == (aside > STRAIGHT_MM) == (straight(run) is None)
        assert middle == pytest.approx(run.mean(axis=0))
        if not bent:
            assert abs(way @ axis) == pytest.approx(1.0)
