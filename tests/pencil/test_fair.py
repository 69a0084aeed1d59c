"""Fair curves: which is the simplest that will do, how sure it is, and where it ends."""

import numpy as np
import pytest
from shapely import LineString, Point

from digitize.pencil.fair import fair, fair_pieces, scatter_of


def zigzag(count, aside, step=1.0):
    """Points along x, by turns to the left and to the right of it."""
    x = step * np.arange(count)
    return np.column_stack([x, aside * (-1.0) ** np.arange(count)])


def on_circle(radius, start_deg, stop_deg, count):
    turn = np.radians(np.linspace(start_deg, stop_deg, count))
    return radius * np.column_stack([np.cos(turn), np.sin(turn)])


def test_the_scatter_of_values_by_turns_high_and_low():
    values = 0.1 * (-1.0) ** np.arange(40)
    # Third differences of 1, -1, 1, -1 are 8; 1.4826 * 8 * 0.1 over the root of 20.
    assert scatter_of(values) == pytest.approx(0.2652, abs=1e-4)
    course = 0.02 * np.arange(40.0) ** 2 - 3 * np.arange(40.0)  # third differences are nil
    assert scatter_of(values + course) == pytest.approx(0.2652, abs=1e-4)


def test_scatter_is_the_standard_deviation_of_normal_noise():
    noise = np.random.default_rng(2).normal(0.0, 0.07, 5000)
    assert scatter_of(noise + np.sin(np.arange(5000) / 80)) == pytest.approx(0.07, rel=0.05)


@pytest.mark.parametrize(
    ("points", "kind"),
    [
        (zigzag(18, 0.0), "line"),  # 2 of 18: the root of a ninth
        (on_circle(60, 10, 80, 27), "arc"),  # 3 of 27
    ],
)
def test_a_curves_sigma_falls_with_the_root_of_how_many_points_settle_it(points, kind):
    curve = fair(points, 0.06)
    assert [piece.kind for piece in curve.pieces] == [kind]
    assert curve.sigma == pytest.approx(0.02, abs=1e-9)


def test_a_splines_sigma_is_that_of_as_many_freedoms_as_it_has():
    x = np.arange(0.0, 200.0, 2.0)
    points = np.column_stack([x, 12 * np.sin(x / 25)])
    points[:, 1] += np.random.default_rng(3).normal(0, 0.05, len(x))
    curve = fair(points, 0.05)
    assert {piece.kind for piece in curve.pieces} == {"cubic"}
    # Of n cubics that go on smoothly in each other n + 3 numbers are free by axis.
    freedoms = len(curve.pieces) + 3
    assert curve.sigma == pytest.approx(0.05 * np.sqrt(freedoms / 100), rel=1e-6)


@pytest.mark.parametrize(("sigmas", "kind"), [(1.15, "line"), (1.25, "cubic")])
def test_points_a_little_further_off_than_their_sigma_are_still_a_line(sigmas, kind):
    # 50 squares may sum to 50 and twice the root of 100, 70 in all: 1.18 sigma each.
    curve = fair(zigzag(50, sigmas * 0.04), 0.04)
    assert {piece.kind for piece in curve.pieces} == {kind}


def test_a_place_that_cannot_be_relied_on_neither_bends_nor_shortens_a_line():
    points = zigzag(31, 0.0)
    points[0, 1], points[12, 1] = 0.8, 5.0
    weights = np.ones(31)
    weights[[0, 12]] = 0.0
    curve = fair(points, 0.05, weights=weights)
    assert [piece.kind for piece in curve.pieces] == ["line"]
    assert np.abs(curve.points[:, 1]).max() < 1e-9
    assert curve.points[[0, -1], 0] == pytest.approx([0.0, 30.0], abs=1e-9)


def test_an_arc_over_the_left_of_its_circle_goes_no_further_than_its_points():
    curve = fair(on_circle(80, 150, 220, 60), 0.03)
    assert [piece.kind for piece in curve.pieces] == ["arc"]
    turns = np.degrees(np.arctan2(curve.points[:, 1], curve.points[:, 0])) % 360
    assert [turns.min(), turns.max()] == pytest.approx([150, 220], abs=0.1)
    assert np.hypot(*curve.pieces[0].points[1]) == pytest.approx(80, abs=0.01)


def test_a_beziers_middle_lies_on_the_curve():
    x = np.arange(0.0, 240.0, 2.0)
    curve = fair(np.column_stack([x, 9 * np.sin(x / 22) + x**2 / 300]), 0.02)
    path = LineString(curve.points)
    assert len(curve.pieces) > 2
    for piece in curve.pieces:
        middle = np.array([1, 3, 3, 1]) @ piece.points / 8
        assert path.distance(Point(*middle)) < 0.05


def test_pieces_begin_and_end_where_the_line_does():
    leg = zigzag(41, 0.01)
    up = np.column_stack([np.full(30, 40.0), np.arange(1.0, 31.0)])
    up[-1] += [0.012, 0.0]
    line = np.concatenate([leg, up])
    found = fair_pieces(line, 0.02)
    assert [piece.kind for piece in found.pieces] == ["line", "line"]
    for place in (found.points[0], found.pieces[0].points[0]):
        assert place == pytest.approx(line[0], abs=1e-9)
    for place in (found.points[-1], found.pieces[-1].points[-1]):
        assert place == pytest.approx(line[-1], abs=1e-9)
    assert found.pieces[0].points[-1] == pytest.approx(line[40], abs=1e-9)


def test_a_closed_line_of_four_corners_has_each_place_once():
    side = np.arange(30.0)
    nought, far = np.zeros(30), np.full(30, 30.0)
    square = np.concatenate(
        [
            np.column_stack([side, nought]),
            np.column_stack([far, side]),
            np.column_stack([30 - side, far]),
            np.column_stack([nought, 30 - side]),
        ]
    )
    found = fair_pieces(square, 0.01, closed=True)
    assert [piece.kind for piece in found.pieces] == ["line"] * 4
    assert len(found.points) == 120
    assert len(np.unique(found.points.round(6), axis=0)) == 120
