"""Plane and surface geometry against closed forms and another library.

Sources: scikit-image's ProjectiveTransform (another implementation of the homography);
M. do Carmo, Differential Geometry of Curves and Surfaces (1976), sections 4-5 and 4-6: a geodesic
circle of radius r on a sphere of radius R measures 2 pi R sin(r / R), and a cone's flat pattern
lacks the angle 2 pi (1 - sin(half apex angle)).
"""

import cv2
import numpy as np
import pytest
from skimage.transform import ProjectiveTransform

from digitize.floor.solve import solve_floor
from digitize.pattern import Station
from digitize.tucks.laps import lap_at, measure_laps
from digitize.tucks.slits import find_tucks
from digitize.tucks.zones import build_zones
from tests.floor.test_solve import PLACES, view
from tests.pencil.test_pencil import curve_of
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


def blank(points):
    """Paper on which nothing but the marks shows."""
    return np.zeros(points.shape[:-1])


def flat_pattern(take_up, count, tip, depth):
    """Slits on rays about the origin of a round paper, each taking up its share of ``take_up``.

    ``take_up`` gives the whole circle's excess at each distance from the origin.
    """
    marks, trim = [], []
    radius = tip + depth
    outline = (
        1.12
        * radius
        * np.array([[np.cos(a), np.sin(a)] for a in np.linspace(0, 2 * np.pi, 720, endpoint=False)])
    )
    for index in range(count):
        angle = 2 * np.pi * index / count
        r = np.arange(tip, 1.12 * radius, 1.0)
        marks.append(curve_of(_polar(r, np.full_like(r, angle)), 0.6))
        lap = take_up(r) / count
        marks.append(curve_of(_polar(r[1:], angle + lap[1:] / r[1:])))
        start = angle + take_up(np.array([radius]))[0] / count / radius
        stop = angle + 2 * np.pi / count
        trim.append(curve_of(_polar(np.full(200, radius), np.linspace(start, stop, 200))))
    return marks, trim, outline


def _polar(radius, angle):
    return np.stack([radius * np.cos(angle), radius * np.sin(angle)], axis=1)


def test_laps_of_a_paper_cap_on_a_sphere_add_up_to_the_missing_circumference():
    sphere, count, reach = 300.0, 8, 180.0

    def take_up(r):
        return 2 * np.pi * (r - sphere * np.sin(r / sphere))

    marks, trim, outline = flat_pattern(take_up, count, 5.0, reach - 5.0)
    tucks, lines = find_tucks([*marks, *trim], outline, blank)
    assert len(tucks) == count and {tuck.kind for tuck in tucks} == {"slit"}
    laps = [measure_laps(tuck, lines, lines) for tuck in tucks]
    missing = 2 * np.pi * reach - 2 * np.pi * sphere * np.sin(reach / sphere)
    assert sum(lap.lap_at_trim for lap in laps) == pytest.approx(missing, rel=0.02)
    shrink = [station.shrink for zone in build_zones(tucks, laps) for station in zone.stations]
    assert max(shrink) == pytest.approx(1 - sphere / reach * np.sin(reach / sphere), rel=0.08)


def test_a_cone_lacks_the_angle_of_its_apex():
    half_apex = np.radians(80.0)
    lacking = 2 * np.pi * (1 - np.sin(half_apex))

    def take_up(r):
        return lacking * r

    marks, trim, outline = flat_pattern(take_up, 1, 0.5, 160.0)
    tucks, lines = find_tucks([*marks, *trim], outline, blank)
    (lap,) = [measure_laps(tuck, lines, lines) for tuck in tucks]
    assert lap.deficit_deg == pytest.approx(np.degrees(lacking), abs=0.2)


def test_a_cones_lap_grows_straight_with_depth():
    stations = [
        Station(depth=d, lap=0.1 * d, sigma=0.1, evidence="lap-line") for d in range(20, 99, 10)
    ]
    assert [lap_at(stations, d) for d in (25.0, 70.0, 120.0)] == pytest.approx(
        [2.5, 7, 12], rel=0.01
    )


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
