"""Stated accuracy, worked out by hand for cameras that look straight down from 1000 mm."""

from types import SimpleNamespace

import numpy as np
import pytest

from digitize.floor.accuracy import Accuracy, accuracy_at, accuracy_contours, point_slopes
from tests.floor.by_hand import camera_over, solution_of

FOOT = (300.0, -400.0, 1000.0)
AROUND = np.array([[-100.0, -200.0], [300.0, -200.0], [300.0, 300.0], [-100.0, 300.0]])
MIDDLE = np.array([100.0, 50.0])


def stated(solution, points, seen_by=0, **more):
    points = np.array(points, float)
    seen = np.full(len(points), seen_by)
    return accuracy_at(solution, points, seen, AROUND, np.zeros(len(AROUND), int), **more)


def test_paper_that_stands_off_is_seen_aside_by_its_height_times_the_slant():
    # 600 right of the camera's foot and 800 beyond it is 1000 off, as far as the camera is high.
    known = stated(solution_of([camera_over(FOOT)]), [[900.0, 400.0], [300.0, -400.0]])
    assert known.flatness_mm == pytest.approx([3.0, 0.0], abs=1e-9)
    known = stated(solution_of([camera_over(FOOT)]), [[900.0, -400.0]], lift_mm=2.0)
    assert known.flatness_mm == pytest.approx([1.2])


def test_a_rule_read_to_0_15_mm_in_150_leaves_half_a_millimetre_at_500():
    # (400, 450) lies 300 and 400 off the middle of what the record is fitted over.
    known = stated(solution_of([camera_over(FOOT)]), [[400.0, 450.0], MIDDLE])
    assert known.print_mm == pytest.approx([0.5, 0.0])
    known = stated(solution_of([camera_over(FOOT)]), [[400.0, 450.0]], print_relative=0.004)
    assert known.print_mm == pytest.approx([2.0])


def test_parts_add_up_by_their_squares():
    assert Accuracy(np.array([3.0]), np.array([4.0]), np.array([12.0])).total_mm == pytest.approx(
        13
    )


def test_a_camera_that_may_be_higher_makes_lengths_from_the_middle_longer():
    # 2 mm of 1000 (sigma) let everything grow by 0.2 %: 1 mm at 500 mm, all of it in one direction.
    solution = solution_of([camera_over(FOOT)], known={("pose", 0, 5): 4.0})
    known = stated(solution, [[400.0, 450.0], MIDDLE])
    assert known.cards_mm == pytest.approx([1.96, 0.0], abs=1e-4)


def test_what_only_turns_and_shifts_the_record_is_no_error():
    # Looking down is half a turn about x; more of it about y turns the picture about its middle.
    known = {("pose", 0, 1): 1e-4, ("pose", 0, 3): 25.0, ("pose", 0, 4): 9.0, ("lens", 0, 2): 4.0}
    solution = solution_of([camera_over(FOOT)], known=known)
    points = np.array([[400.0, 450.0], [-250.0, 80.0]])
    assert stated(solution, points).cards_mm == pytest.approx([0, 0], abs=1e-6)
    first = np.zeros(2, int)
    alone = point_slopes(solution, points, first)[:, 9]
    assert np.abs(alone).min() > 10


def test_a_point_is_as_sure_as_the_photo_it_was_read_from():
    cameras = [camera_over(FOOT), camera_over((0.0, 0.0, 1000.0))]
    solution = solution_of(cameras, known={("pose", 1, 5): 4.0})
    # The record is fitted over what the first photo shows, so the second's error stays whole.
    assert stated(solution, [[300.0, 400.0]], 0).cards_mm == pytest.approx([0.0], abs=1e-9)
    assert stated(solution, [[300.0, 400.0]], 1).cards_mm == pytest.approx([1.96], abs=1e-4)


def test_a_point_seen_at_a_pixel_moves_against_the_camera():
    solution = solution_of([camera_over(FOOT, lens=(5.0, 0, 0, 0, 0, 0, 0))])
    slopes = point_slopes(solution, np.array([[500.0, 0.0]]), np.zeros(1, int))
    focal, right, down = slopes[:, 0], slopes[:, 1], slopes[:, 2]
    across, along, depth = slopes[:, 11:14].T
    assert across == pytest.approx([-1, 0])
    assert along == pytest.approx([0, 1])
    # (200, 400) from the foot: 0.2 and 0.4 mm for each mm of height.
    assert depth == pytest.approx([0.2, 0.4])
    assert focal == pytest.approx([-200 / 1500, -400 / 1500])
    # A pixel is 1000 / 1500 mm.
    assert right == pytest.approx([-2 / 3, 0]) and down == pytest.approx([0, 2 / 3])


def test_contours_run_where_the_accuracy_has_their_value():
    # 0.01 mm for each mm to the right: 1 mm on the line x = 100, whatever y is.
    outline = np.array([[20.0, -30.0], [420.0, -30.0], [420.0, 130.0], [20.0, 130.0]])
    contours = accuracy_contours(lambda at: SimpleNamespace(total_mm=0.01 * at[:, 0]), outline)
    (one,) = [contour for contour in contours if contour.mm == 1.0]
    assert one.points[:, 0] == pytest.approx(100.0)
    assert sorted(one.points[[0, -1], 1]) == pytest.approx([-30, 130])
