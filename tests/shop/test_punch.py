import numpy as np
import pytest
from shapely import Point

from digitize.record import Pattern
from digitize.shop.punch import punch_points
from tests.marks import curve_of
from tests.mend.test_carry import line


@pytest.mark.parametrize("radius", [40.0, 150.0, 900.0])
def test_punch_points_keep_to_the_chord(radius):
    turn = np.linspace(0, 120.0 / radius, 600)
    arc = curve_of(radius * np.column_stack([np.cos(turn), np.sin(turn)])).points
    (found,) = punch_points(pattern_of_lines(line("L1", [(0, 0), (1, 1)], points=arc)))
    strays = [
        max(abs(radius - np.hypot(*(a + t * (b - a)))) for t in np.linspace(0, 1, 21))
        for a, b in zip(found.points[:-1], found.points[1:], strict=True)
    ]
    steps = np.linalg.norm(np.diff(found.points, axis=0), axis=1)
    assert max(strays) < 0.205 and steps.max() < 40.5
    assert found.points[[0, -1]] == pytest.approx(arc[[0, -1]], abs=1e-6)
    assert steps.min() > 5


def test_punch_points_stand_at_corners_and_crossings():
    bent = np.concatenate(
        [np.linspace((50, 50), (150, 50), 101), np.linspace((150, 51), (150, 150), 100)]
    )
    lines = (
        line("L1", [(0, 0), (1, 1)], points=bent),
        line("L2", [(93.0, 20.0), (93.0, 120.0)]),
    )
    corner, crossing = Point(150, 50), Point(93, 50)
    first, second = punch_points(pattern_of_lines(*lines))
    for place, found in ((corner, first), (crossing, first), (crossing, second)):
        assert min(place.distance(Point(p)) for p in found.points) < 0.6


def test_slits_and_lap_lines_are_not_punched(corner):
    punched = {found.line for found in punch_points(corner)}
    roles = {corner.line(name).role for name in punched}
    assert roles == {"trim-edge", "radius-start", "radius-end", "form"}


def pattern_of_lines(*lines):
    return Pattern(name="p", outline=((0, 0), (400, 0), (400, 400), (0, 400)), lines=lines)


def punched(points, **more):
    """The punch points of a lone line."""
    drawn = line("L1", [(0, 0), (1, 1)], points=points).model_copy(update=more)
    (found,) = punch_points(pattern_of_lines(drawn))
    return found.points


@pytest.mark.parametrize("side", [1.0, -1.0])
def test_punch_points_are_no_closer_than_the_chord_asks(side):
    # A chord that strays 0.2 mm from a circle of 150 mm is the root of 8 * 150 * 0.2 = 15.5 mm
    # long: an arc of 120 mm takes eight.
    turn = np.linspace(0, 120.0 / 150.0, 600)
    arc = 150.0 * np.column_stack([np.cos(turn), side * np.sin(turn)])
    found = punched(arc)
    assert len(found) == 9
    assert np.linalg.norm(np.diff(found, axis=0), axis=1) == pytest.approx(15.0, abs=0.5)


def test_a_straight_line_is_punched_every_40_mm_at_most():
    found = punched(curve_of([[20, 30], [320, 30]]).points)
    # 300 mm take eight steps of 37.5.
    assert found == pytest.approx(np.column_stack([np.linspace(20, 320, 9), np.full(9, 30.0)]))


def test_a_corner_is_punched_where_it_is():
    bent = np.array([[50.0, 50.0], [150.0, 50.0], [190.0, 130.0]])
    found = punched(curve_of(bent).points)
    # Lines are looked at every half a millimetre.
    assert np.linalg.norm(found - [150, 50], axis=1).min() <= 0.25


def test_a_closed_line_is_punched_once_all_round():
    # 2 pi 60 = 377 mm in chords of the root of 8 * 60 * 0.2 = 9.8 mm, at most: 39 of them or more.
    turn = np.linspace(0, 2 * np.pi, 400, endpoint=False)
    found = punched(
        np.array([200, 200]) + 60 * np.column_stack([np.cos(turn), np.sin(turn)]), closed=True
    )
    steps = np.linalg.norm(np.diff(found, axis=0, append=found[:1]), axis=1)
    assert found[0] == pytest.approx([260, 200])
    assert 39 <= len(found) <= 43
    assert steps.max() < 9.85 and steps.min() > 8


def test_a_line_s_end_is_punched_though_another_crosses_just_before_it():
    first = line("L1", [(50, 100), (150, 100)])
    found, _ = punch_points(pattern_of_lines(first, line("L2", [(149, 60), (149, 140)])))
    assert found.points[-1] == pytest.approx([150, 100])
    assert np.linalg.norm(np.diff(found.points, axis=0), axis=1).min() > 3


def test_lap_lines_and_creases_are_not_punched():
    ends = [(50, 100), (150, 100)]
    roles = ("slit", "lap", "crease", "form", "unknown", "trim-edge")
    lines = [line(role, ends, role) for role in roles]
    found = punch_points(pattern_of_lines(*lines))
    assert [each.line for each in found] == ["form", "unknown", "trim-edge"]


def test_nothing_is_punched_along_a_line_that_was_struck_out_or_where_it_crosses():
    edge = line("L1", [(0, 0), (100, 0)])
    struck = line("L2", [(33, -50), (33, 50)]).model_copy(update={"withdrawn": True})
    (found,) = punch_points(pattern_of_lines(edge, struck))
    assert found.points == pytest.approx(punch_points(pattern_of_lines(edge))[0].points)
