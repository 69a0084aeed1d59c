import numpy as np
import pytest

from digitize.tucks.parting import _Blocks, _followed_in, parted
from digitize.tucks.thresholds import PARTING_ROWS
from digitize.tucks.which import cut_odds
from tests.marks import blank, curve_of


def bar(away, width, height):
    """Darkness across a mark: a bar with soft edges."""
    return height * np.clip((width / 2 - np.abs(away)) / 0.5 + 0.5, 0, 1)


def lap_at(depth):
    return 9.0 * (depth / 100.0) ** 2


@pytest.mark.parametrize("side", [1.0, -1.0])
def test_a_lap_line_is_followed_to_where_it_leaves_the_cut(side):
    """A cut up the y axis, dark and narrow, and a lap line to one side that leaves it slowly."""

    def darkness_at(points):
        x, y = points[..., 0], points[..., 1]
        rng = np.random.default_rng(4)
        clean = bar(x, 0.5, 0.6) + bar(x - side * lap_at(y), 0.6, 0.25)
        return np.minimum(clean, 0.7) + rng.normal(0, 0.01, x.shape)

    depth = np.arange(50.0, 101.0)
    cut = curve_of([[0, 0], [0, 105]], 0.3)
    lap_line = curve_of(np.stack([side * lap_at(depth), depth], axis=1), 0.2)
    found = parted(cut, lap_line, darkness_at)
    inner = found.points[found.points[:, 1] < 48]
    # From about 2 mm down to about half a millimetre.
    lap = side * inner[:, 0]
    assert 0.3 < lap.min() < 0.8
    assert np.abs(lap - lap_at(inner[:, 1])).max() < 0.3
    assert abs((lap - lap_at(inner[:, 1])).mean()) < 0.1
    assert found.points[-1] == pytest.approx(lap_line.points[-1], abs=0.2)


def test_the_straight_mark_is_the_cut_though_the_other_is_twice_as_heavy():
    depth = np.arange(0.0, 101.0)
    bent = curve_of(np.stack([lap_at(depth), depth], axis=1), 0.6)
    straight = curve_of([[0, 30], [0, 100]], 0.3)
    assert cut_odds(straight, bent, [], blank) > 0.3
    assert cut_odds(bent, straight, [], blank) < -0.3


def test_nothing_is_followed_where_the_lines_are_apart_from_the_start():
    depths = np.arange(10.0, 60.0, 5.0)
    places = np.zeros((len(depths), PARTING_ROWS, 2))
    normals = np.tile([0.0, 1.0], (len(depths), PARTING_ROWS, 1))
    blocks = _Blocks(depths, places, normals)

    def even(points):
        return np.zeros(points.shape[:-1])

    assert _followed_in(blocks, np.full(len(depths), 9.0), 9.0, even) == []
