"""Marks laid on marks, where the best fit and how sure it is can be worked out by hand.

The marks are straight lines along the axes, so that each says something of one direction only.
"""

import numpy as np
import pytest

from digitize.plane import Marks, Placement, laid_on, nearest_in, rotation


def straight(start, end, count, sigma, kind):
    """Points (count, 2) from a place to another with the normal to the left, sigma and kind."""
    a, b = np.array(start, float), np.array(end, float)
    ahead = (b - a) / np.linalg.norm(b - a)
    points = a + np.linspace(0, 1, count)[:, None] * (b - a)
    normals = np.tile([-ahead[1], ahead[0]], (count, 1))
    return points, normals, np.full(count, sigma), np.full(count, kind)


def marks(*lines):
    """Marks of lines as ``straight`` gives them."""
    points, normals, sigma, kinds = (np.concatenate(parts) for parts in zip(*lines, strict=True))
    of = np.repeat(np.arange(len(lines)), [len(line[0]) for line in lines])
    return Marks(points, normals, sigma, kinds, of)


def ladder(lower=(0.0, 0.05), upper=(0.0, 0.05), post=(0.0, 0.05)):
    """Two rungs of 200 mm, 100 mm apart, and a post between: each (how far off, sigma)."""
    return marks(
        straight((0, lower[0]), (200, lower[0]), 101, lower[1], 0),
        straight((0, 100 + upper[0]), (200, 100 + upper[0]), 101, upper[1], 1),
        straight((100 + post[0], 20), (100 + post[0], 80), 31, post[1], 2),
    )


def test_tangents_run_so_that_normals_lie_to_their_left():
    found = marks(straight((0, 0), (30, 40), 3, 0.1, 0)).tangents
    assert found == pytest.approx(np.tile([0.6, 0.8], (3, 1)))


def test_a_placement_turns_and_then_shifts():
    placement = Placement(
        rotation(np.pi / 6), np.array([10.0, -5.0]), np.zeros(2), np.zeros((3, 3))
    )
    assert placement(np.array([[2.0, 0.0], [0.0, 4.0]])) == pytest.approx(
        np.array([[10 + np.sqrt(3), -4], [8, -5 + 2 * np.sqrt(3)]])
    )


def test_a_fits_variance_grows_with_the_arm_about_its_middle():
    covariance = np.diag([1e-6, 0.01, 0.04])
    covariance[0, 1] = covariance[1, 0] = 2e-5
    placement = Placement(np.eye(2), np.zeros(2), np.array([100.0, 50.0]), covariance)
    points = np.array([[300.0, 50.0], [100.0, 350.0]])
    normals = np.array([[0.0, 1.0], [1.0, 0.0]])
    # A turn moves the first by 200 along its normal: 200^2 1e-6 + 0.04. The second by -300:
    # 300^2 1e-6 + 0.01 - 2 x 300 x 2e-5.
    assert placement.variance(points, normals) == pytest.approx([0.08, 0.088])


def test_a_fits_variance_with_growth_has_its_strains():
    covariance = np.diag([0.0, 0.0, 0.0, 1e-6, 4e-6, 9e-6])
    placement = Placement(np.eye(2), np.zeros(2), np.array([100.0, 50.0]), covariance)
    points = np.array([[300.0, 100.0], [300.0, 100.0]])
    normals = np.array([[1.0, 0.0], [0.0, 1.0]])
    # Arm (200, 50). Along x the strain in x moves it by 200 and the shear by 50; along y the
    # strain in y by 50 and the shear by 200.
    assert placement.variance(points, normals) == pytest.approx(
        [200**2 * 1e-6 + 50**2 * 9e-6, 50**2 * 4e-6 + 200**2 * 9e-6]
    )


def test_the_nearest_is_of_the_same_kind():
    target = marks(straight((0, 0), (10, 0), 2, 0.1, 7), straight((3, 4), (3, 9), 2, 0.1, 5))
    points = np.array([[0.0, 0.0], [0.0, 0.0], [3.0, 8.0], [0.0, 0.0]])
    distance, which = nearest_in(target)(points, np.array([5, 7, 5, 6]))
    assert distance.tolist() == [5, 0, 1, np.inf] and which[:3].tolist() == [2, 0, 3]


@pytest.mark.parametrize("turn_deg", [35.0, 130.0, -100.0])
def test_a_lopsided_set_of_marks_is_found_at_any_turn(turn_deg):
    lopsided = marks(
        straight((0, 0), (200, 0), 101, 0.1, 0),
        straight((0, 0), (0, 90), 46, 0.1, 0),
        straight((150, 30), (180, 80), 30, 0.1, 1),
    )
    matrix, shift = rotation(np.radians(turn_deg)), np.array([70.0, -400.0])
    target = Marks(
        lopsided.points @ matrix.T + shift,
        lopsided.normals @ matrix.T,
        lopsided.sigma,
        lopsided.kinds,
        lopsided.lines,
    )
    placement = laid_on(lopsided, target)
    assert placement.matrix == pytest.approx(matrix, abs=1e-6)
    assert placement.shift == pytest.approx(shift, abs=1e-3)


def test_marks_weigh_by_their_variance():
    # Sigmas of both readings together: 0.03 and 0.04 make 0.05 at the lower rung, 0.08 and 0.06
    # make 0.1 at the upper one. Weights 400 and 100; the lower one lies 0.05 off, the upper one
    # nowhere, so the shift is 0.05 x 400 / 500.
    source = ladder(lower=(0.05, 0.03), upper=(0.0, 0.08))
    target = ladder(lower=(0.0, 0.04), upper=(0.0, 0.06))
    placement = laid_on(source, target)
    assert placement.shift == pytest.approx([0, -0.04], abs=1e-5)
    assert placement.matrix == pytest.approx(np.eye(2), abs=1e-8)


def test_a_fits_covariance_counts_a_mark_every_two_centimetres():
    placement = laid_on(ladder(), ladder())
    # 1.03 is the weight of a mark that agrees, 0.005 = 2 x 0.05^2 its variance in both, and one
    # in ten (2 mm of 20) is independent. Up and down 202 marks, across 31. A turn: both
    # rungs 2 x 343 400 mm^2 (2 x 4 x the sum of the squares up to 50), the post 9920 (to 15).
    each = 0.005 * 10 / 1.03
    wanted = np.diag([each / (2 * 343_400 + 9920), each / 31, each / 202])
    assert placement.middle == pytest.approx([100, 50])
    assert placement.covariance == pytest.approx(wanted, rel=1e-6, abs=1e-15)


def test_marks_that_scatter_more_than_they_say_make_the_fit_less_sure():
    def zigzag(size):
        # Pairs up and down, even in number and alike from both ends: nothing is shifted or turned.
        wave = size * np.array([1, -1] * 25 + [-1, 1] * 25)
        rung = straight((1, 0), (199, 0), 100, 0.05, 0)
        rung[0][:, 1] += wave
        upper = straight((1, 100), (199, 100), 100, 0.05, 1)
        upper[0][:, 1] += wave
        post = straight((100, 2), (100, 98), 100, 0.05, 2)
        post[0][:, 0] += wave
        return marks(rung, upper, post)

    placement = laid_on(zigzag(0.2), zigzag(0.0))
    # Each lies 0.2 off, at a sigma of both of 0.0707: 2.83 of them, whose scatter by the median
    # is 1.4826 x 2.83 = 4.19; each weighs 1.345 / 2.83 + 0.03 = 0.5055, over 0.005.
    assert placement.shift == pytest.approx([0, 0], abs=1e-6)
    assert placement.covariance[2, 2] == pytest.approx(
        4.1934**2 * 10 * 0.005 / 0.50553 / 200, rel=1e-3
    )


def frame(left=0.0, right=0.0, low=0.0, high=0.0, sigma=1.4142):
    """Sides of a frame 100 by 60 mm, some way off, two of them short and two of them long."""
    return marks(
        straight((left, 10), (left, 50), 21, sigma, 0),
        straight((100 + right, -10), (100 + right, 70), 41, sigma, 1),
        straight((10, low), (90, low), 41, sigma, 2),
        straight((30, 60 + high), (70, 60 + high), 21, sigma, 3),
    )


def test_growth_is_believed_as_far_as_the_marks_outweigh_what_paper_does():
    # Facing sides have their middles opposite, so that nothing is turned or sheared. Across, sides
    # of 21 and 41 marks are 100 mm apart: a strain weighs 1.03 / 4 x 21 x 41 / 62 x 100^2 = 35 760,
    # against 0.1 / 0.005^2 = 4000 for none. Upwards, 41 and 21 marks 60 mm apart: 12 874.
    grown = frame(left=-0.2, right=0.2, low=0.06, high=-0.06)
    placement = laid_on(grown, frame(), growing=True)
    across, upwards = placement.matrix[0, 0] - 1, placement.matrix[1, 1] - 1
    assert across == pytest.approx(-0.004 * 35_760 / 39_760, rel=0.02)
    assert upwards == pytest.approx(0.002 * 12_874 / 16_874, rel=0.02)
    assert placement.covariance[3, 3] == pytest.approx(10 / 39_760, rel=0.05)
