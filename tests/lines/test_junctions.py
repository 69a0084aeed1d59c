"""Where lines meet: on a bar, at a corner, and where they must not."""

from dataclasses import replace

import numpy as np
import pytest

from digitize.lines.junctions import meet_at_corners, meet_at_tees
from tests.marks import curve_of
from tests.pencil.test_pencil import paper_with, read


def from_apex(apex, turn_deg, first, last):
    """A line on a ray from an apex, from one distance from it to another."""
    turn = np.radians(turn_deg)
    ray = np.array([np.cos(turn), np.sin(turn)])
    return curve_of([np.array(apex) + first * ray, np.array(apex) + last * ray])


def nearest_to(place, curve):
    return np.linalg.norm(curve.points - np.array(place), axis=1).min()


@pytest.mark.parametrize("turned", [False, True])
def test_either_end_of_a_slanting_stem_is_put_on_its_bar(turned):
    # Along the way (3, 4) / 5 from the origin: 2 mm past the bar y = 0, 2 short of y = 80.
    stem = curve_of([[-1.2, -1.6], [58.8, 78.4]])
    bars = [curve_of([[-30, 0], [90, 0]]), curve_of([[-30, 80], [90, 80]])]
    met, *_ = meet_at_tees([stem.reversed() if turned else stem, *bars], [])
    ends = met.points[[-1, 0] if turned else [0, -1]]
    assert ends == pytest.approx(np.array([[0, 0], [60, 80]]), abs=1e-6)
    assert met.length == pytest.approx(100.0, abs=1e-6)


@pytest.mark.parametrize(("short_mm", "ends_at"), [(2.0, 48.0), (0.7, 50.0), (-2.0, 50.0)])
def test_an_end_two_millimetres_short_of_a_tuck_is_a_lap_away_from_it(short_mm, ends_at):
    stem, tuck = curve_of([[50, 0], [50, 50 - short_mm]]), curve_of([[0, 50], [100, 50]])
    (met,) = meet_at_tees([stem], [tuck])
    assert met.points[-1] == pytest.approx([50, ends_at], abs=1e-6)


def test_of_two_bars_the_nearer_one_is_met():
    stem = curve_of([[50, 0], [50, 50.4]])
    bars = [curve_of([[0, y], [100, y]]) for y in (48, 50)]
    met, *_ = meet_at_tees([stem, *bars], [])
    assert met.points[-1] == pytest.approx([50, 50], abs=1e-6)


@pytest.mark.parametrize("turned", [(False, False), (False, True), (True, False), (True, True)])
def test_a_corner_is_where_both_lines_would_meet_whichever_way_they_were_drawn(turned):
    lines = [from_apex((110, 30), 180, 1, 90), from_apex((110, 30), 60, 1.5, 40)]
    lines = [c.reversed() if back else c for c, back in zip(lines, turned, strict=True)]
    (curve,) = meet_at_corners(lines)
    assert nearest_to((110, 30), curve) < 0.01
    assert curve.length == pytest.approx(90 + 40, abs=0.01)
    ends = {tuple(end.round(2)) for end in curve.points[[0, -1]]}
    assert ends == {(20.0, 30.0), (130.0, 64.64)}


def test_a_sharp_corner_is_not_cut_off():
    (curve,) = meet_at_corners(
        [from_apex((150, 60), 170, 1.2, 80), from_apex((150, 60), 190, 1.2, 60)]
    )
    assert nearest_to((150, 60), curve) < 0.01  # the ends' middle lies 1.2 mm from it


def test_a_line_that_goes_on_after_a_gap_is_joined_over_its_middle():
    (curve,) = meet_at_corners(
        [curve_of([[10, 40], [70, 40]]), curve_of([[72, 40.4], [150, 56]])]  # turned by 11 degrees
    )
    assert nearest_to((71, 40.2), curve) < 1e-6


def test_what_becomes_one_at_a_corner_has_its_parts_widths_and_weights_by_their_lengths():
    long = replace(curve_of([[20, 30], [110, 30]], 0.5, 0.8), rubbed=1.0)
    short = replace(curve_of([[110, 30.2], [110, 60.2]], 0.1, 0.4), rubbed=0.2)
    for pair in ([long, short], [short, long]):
        (curve,) = meet_at_corners(pair)
        # 90 mm and 30 mm: three quarters of the one, one quarter of the other.
        assert curve.width == pytest.approx(0.7, abs=1e-6)
        assert curve.weight == pytest.approx(0.4, abs=1e-6)
        assert curve.rubbed == pytest.approx(0.8, abs=1e-6)


@pytest.mark.parametrize(("away_mm", "count"), [(2.0, 2), (6.0, 1)])
def test_lines_that_end_at_a_slit_stay_apart(away_mm, count):
    lines = [curve_of([[20, 50], [100, 50]]), curve_of([[101, 50], [170, 50]])]
    slit = curve_of([[100.5 + away_mm, 20], [100.5 + away_mm, 80]])
    assert len(meet_at_corners(lines, [slit])) == count


def test_two_stems_that_end_on_one_bar_from_either_side_stay_apart():
    stems = [curve_of([[50, 0], [50, 49.5]]), curve_of([[51, 50.5], [51, 90]])]
    bar = curve_of([[0, 50], [120, 50]])
    assert len(meet_at_corners([*stems, bar])) == 3


def test_a_line_whose_ends_meet_is_closed():
    turn = np.linspace(0.0, 2 * np.pi - 0.02, 200)
    ring = curve_of(50 * np.column_stack([np.cos(turn), np.sin(turn)]))
    (closed,) = meet_at_corners([ring])
    assert closed.closed


def test_lines_meeting_at_a_corner_become_one_with_the_corner_kept():
    corner = [np.array([[20, 30], [120, 30]]), np.array([[120, 30], [120, 100]])]
    marks = [curve for curve in read(*paper_with(corner)) if curve.length > 20]
    (curve,) = meet_at_corners(marks)
    assert min(np.linalg.norm(curve.points - [120, 30], axis=1)) < 0.3
