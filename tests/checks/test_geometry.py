"""The floor's geometry against other libraries.

Sources: scikit-image's ProjectiveTransform (another implementation of the homography); OpenCV's
projection.
"""

import cv2
import numpy as np
import pytest
from skimage.transform import ProjectiveTransform

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
