"""The floor's geometry against other libraries.

Sources: scikit-image's ProjectiveTransform (another implementation of the homography); OpenCV's
projection. The radius that holds 95 % of a normal scatter: SciPy's quantiles of the normal and of
the chi-square distribution, 1.960 and 2.448 in tables (from memory).
"""

import cv2
import numpy as np
import pytest
from scipy.integrate import dblquad
from scipy.stats import chi2, norm
from skimage.transform import ProjectiveTransform

from digitize.floor.accuracy import NORMAL_95, radius_95
from digitize.floor.camera import Camera, project_with_slopes
from digitize.floor.solve import solve_floor
from tests.floor.test_solve import PLACES, view
from tests.scene import Shot


def test_a_distortionless_camera_is_the_homography_that_scikit_image_fits():
    shot = Shot(eye=(80, -200, 1150), focal_px=1500, radial=(0.0, 0.0))
    solution = solve_floor([view(shot, PLACES, 1500.0)])
    camera = solution.cameras[0]
    floor = np.array([[x, y] for x in (-300, 0, 300) for y in (-250, 0, 250)], float)
    pixels = camera.to_pixels(floor)
    if hasattr(ProjectiveTransform, "from_estimate"):  # scikit-image 0.26 and later
        transform = ProjectiveTransform.from_estimate(floor, pixels)
    else:
        transform = ProjectiveTransform()
        transform.estimate(floor, pixels)
    elsewhere = np.array([[123.0, -77.0], [-210.0, 140.0], [40.0, 310.0]])
    assert camera.to_pixels(elsewhere) == pytest.approx(transform(elsewhere), abs=0.02)
    assert camera.to_floor(transform(elsewhere)) == pytest.approx(elsewhere, abs=0.02)


def test_the_lens_agrees_with_opencvs_own_projection():
    shot = Shot(eye=(80, -200, 1150), focal_px=1500)
    solution = solve_floor([view(shot, PLACES, 1500.0)])
    camera = solution.cameras[0]
    focal, dx, dy, k1, k2 = camera.lens[:5]
    width, height = shot.size
    x, y = (width - 1) / 2 + dx, (height - 1) / 2 + dy
    matrix = np.array([[focal, 0, x], [0, focal, y], [0, 0, 1]])
    points = np.array([[200.0, 150.0], [-300.0, 80.0]])
    solid = np.column_stack([points, np.zeros(2)])
    seen = cv2.projectPoints(
        solid, camera.pose[:3], camera.pose[3:], matrix, np.array([k1, k2, 0, 0])
    )
    assert camera.to_pixels(points) == pytest.approx(seen[0][:, 0], abs=1e-6)


@pytest.mark.parametrize("turns", range(4))
def test_every_lens_term_and_height_is_opencvs_in_a_photo_turned_upright(turns):
    width, height = 2016, 1512
    focal, dx, dy, k1, k2, k3, p1, p2 = 1500.0, 9.0, -6.0, 0.05, -0.03, 0.02, 0.004, -0.007
    matrix = np.array([[focal, 0, 1007.5 + dx], [0, focal, 755.5 + dy], [0, 0, 1.0]])
    rotation = cv2.Rodrigues(np.array([2.7, 0.4, -0.3]))[0]
    shift = np.array([60.0, -90.0, 1100.0])
    solid = np.array(
        [[-310.0, 140.0, 0], [250.0, -220.0, 0], [330.0, 260.0, 0], [40.0, 90.0, 25.0]]
    )
    turning = cv2.Rodrigues(rotation)[0]
    seen = cv2.projectPoints(solid, turning, shift, matrix, np.array([k1, k2, p1, p2, k3]))[0][:, 0]
    # Each clockwise quarter turn of the picture turns the camera's own x and y with it.
    quarter = np.array([[0.0, -1, 0], [1, 0, 0], [0, 0, 1]])
    size = (width, height)
    for _ in range(turns):
        seen = np.stack([size[1] - 1 - seen[:, 1], seen[:, 0]], axis=1)
        size = size[::-1]
        rotation, shift = quarter @ rotation, quarter @ shift
    pose = np.concatenate([cv2.Rodrigues(rotation)[0].ravel(), shift])
    camera = Camera(np.array([focal, dx, dy, k1, k2, k3, p1, p2]), pose, size, turns)
    assert camera.to_pixels(solid[:, :2], solid[:, 2]) == pytest.approx(seen, abs=1e-6)
    assert project_with_slopes(camera, solid)[0] == pytest.approx(seen, abs=1e-6)
    assert camera.to_floor(seen[:3]) == pytest.approx(solid[:3, :2], abs=1e-4)
    # What the camera sees of its own foot is its own place, at no distance.
    assert rotation @ camera.foot() + shift == pytest.approx(0, abs=1e-9)


def test_the_95_percent_radii_are_those_of_the_tables():
    assert pytest.approx(norm.ppf(0.975), abs=1e-5) == NORMAL_95
    line, ring = radius_95(np.array([[[9.0, 0], [0, 0]], [[9.0, 0], [0, 9.0]]]))
    assert line == pytest.approx(3 * norm.ppf(0.975), abs=1e-4)
    assert ring == pytest.approx(3 * np.sqrt(chi2.ppf(0.95, 2)), abs=1e-3)
    # Between them by the scatter itself: its density over a disc, by another's integration.
    (radius,) = radius_95(np.array([np.diag([1.0, 0.09])]))

    def density(angle, away):
        x, y = away * np.cos(angle), away * np.sin(angle) / 0.3
        return away * np.exp(-(x**2 + y**2) / 2) / (2 * np.pi * 0.3)

    assert dblquad(density, 0, radius, 0, 2 * np.pi)[0] == pytest.approx(0.95, abs=1e-6)
