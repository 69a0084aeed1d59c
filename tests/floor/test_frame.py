"""Frames, pictures and surfaces: where a point comes to lie, worked out by hand."""

import numpy as np
import pytest

from digitize.floor.frame import Frame, Grid, Surface
from digitize.floor.start import place_of, turned

QUARTER = np.pi / 2


def test_a_frame_turned_by_a_quarter_carries_points_round_its_origin():
    frame = Frame(10.0, 20.0, QUARTER)
    # Its x runs along the floor's y, and its y against the floor's x.
    assert frame.to_floor(np.array([[3.0, 1.0]])) == pytest.approx(np.array([[9.0, 23.0]]))
    assert frame.from_floor(np.array([[9.0, 23.0]])) == pytest.approx(np.array([[3.0, 1.0]]))


def test_a_shifted_frame_keeps_its_turn():
    frame = Frame(10.0, 20.0, QUARTER).shifted(np.array([3.0, 1.0]))
    assert frame.to_floor(np.array([[0.0, 0.0], [2.0, 0.0]])) == pytest.approx(
        np.array([[9.0, 23.0], [9.0, 25.0]])
    )


def test_a_card_is_carried_to_its_place_and_its_place_is_found():
    card = np.array([[2.0, 1.0], [0.0, 0.0], [-1.0, 5.0]])
    lies = np.array([[9.0, 22.0], [10.0, 20.0], [5.0, 19.0]])
    assert turned(card, np.array([10.0, 20.0, QUARTER])) == pytest.approx(lies)
    assert place_of(card, lies) == pytest.approx([10.0, 20.0, QUARTER])


def test_a_pictures_rows_run_down():
    grid = Grid(left=-50.0, top=200.0, mm_per_px=0.5)
    assert grid.to_px(np.array([[-40.0, 190.0]])) == pytest.approx(np.array([[20.0, 20.0]]))
    assert grid.to_px(np.array([[-50.0, 185.0]])) == pytest.approx(np.array([[0.0, 30.0]]))
    assert grid.to_mm(np.array([[0.0, 30.0]])) == pytest.approx(np.array([[-50.0, 185.0]]))


@pytest.fixture
def slope():
    """Paper that rises to the right and towards the top, and lies off by twice and minus that."""
    x, y = np.meshgrid(100 + 20.0 * np.arange(9), 300 - 20.0 * np.arange(7))
    height = 0.01 * (x - 100) + 0.03 * (y - 180)
    shift = np.stack([0.002 * x, -0.001 * y], axis=-1)
    return Surface(height, shift, 0.1 + 0.001 * (y - 180), left=100.0, top=300.0, mm_per_node=20.0)


def test_a_surface_is_read_between_its_nodes(slope):
    below, height = slope.to_solid(np.array([[170.0, 250.0], [190.0, 230.0]]))
    # Cubic interpolation bends a little towards the rim, so to a twentieth of a mm.
    assert height == pytest.approx([2.8, 2.4], abs=0.05)
    assert below == pytest.approx(np.array([[170.34, 249.75], [190.38, 229.77]]), abs=0.01)
    assert slope.sigma_at(np.array([[175.0, 243.0]])) == pytest.approx([0.163])
    assert slope.lifted(2.0).to_solid(np.array([[170.0, 250.0]]))[1] == pytest.approx(4.8, abs=0.05)


def test_a_surface_stays_where_it_is_when_the_frame_shifts(slope):
    origin, at = np.array([40.0, -70.0]), np.array([[180.0, 220.0]])
    below, height = slope.shifted(origin).to_solid(at - origin)
    there, high = slope.to_solid(at)
    assert below == pytest.approx(there - origin) and height == pytest.approx(high)
