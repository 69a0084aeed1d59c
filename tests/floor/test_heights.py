"""A drawn sheet that stands off the floor by known heights, seen by three cameras."""

import cv2
import numpy as np
import pytest

from digitize.floor.frame import Frame, Surface
from digitize.floor.heights import laid_flat, solve_heights
from digitize.floor.solve import solve_floor
from tests.floor.test_solve import PLACES, view
from tests.scene import Shot

SHOTS = [Shot(eye=(60, 40, 1150)), Shot(eye=(-520, -260, 1100)), Shot(eye=(500, -280, 1100))]
PAPER = np.array([[-200, -150], [200, -150], [200, 150], [-200, 150]], float)
MM_PER_PX = 0.4


def height_at(x):
    """A roll's curl: 4 mm up at the right edge, nothing on the left."""
    return 4.0 * np.clip(x / 200, 0, None) ** 2


def photograph(shot, grain):
    """A grained sheet that stands ``height_at`` over the floor, its rays met by iteration."""
    width, height = shot.size
    u, v = np.meshgrid(np.arange(width, dtype=float), np.arange(height, dtype=float))
    rays = cv2.undistortPoints(
        np.stack([u.ravel(), v.ravel()], axis=1)[:, None], shot.matrix, shot.lens
    )[:, 0]
    solid = np.column_stack([rays, np.ones(len(rays))]) @ shot.rotation
    at = np.zeros(len(solid))
    for _ in range(4):
        floor = np.array(shot.eye)[:2] + solid[:, :2] / solid[:, 2:] * (at[:, None] - shot.eye[2])
        at = np.where((np.abs(floor) < [200, 150]).all(axis=1), height_at(floor[:, 0]), 0.0)
    place = (floor * [1, -1] + [300, 300]) / MM_PER_PX
    place = place.reshape(height, width, 2).astype(np.float32)
    picture = cv2.remap(grain, place[..., 0], place[..., 1], cv2.INTER_LINEAR)
    noise = np.random.default_rng(int(abs(shot.eye[0]))).normal(0, 2, picture.shape)
    return np.clip(picture + noise, 1, 255).astype(np.uint8)


pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def surface():
    rng = np.random.default_rng(4)
    grain = cv2.GaussianBlur(rng.normal(0, 1, (1500, 1500)).astype(np.float32), (0, 0), 2.0)
    grain = np.clip(150 + 8 * grain / grain.std(), 0, 255).astype(np.float32)
    solution = solve_floor([view(shot, PLACES, 1500.0, 0.05) for shot in SHOTS])
    # The first card holds the floor's frame; go to the frame that it was placed in.
    x, y, turn = PLACES[solution.cards[0].number]
    turn = -np.radians(turn)
    cos, sin = np.cos(turn), np.sin(turn)
    origin = np.array([[cos, -sin], [sin, cos]]) @ [-x, -y]
    frame = Frame(*origin.tolist(), turn)
    photos = [photograph(shot, grain) for shot in SHOTS]
    return solve_heights(photos, solution.cameras, frame, PAPER)


def test_the_height_is_found_all_over_the_paper(surface):
    x, y = np.meshgrid(np.linspace(-180, 180, 19), np.linspace(-130, 130, 14))
    points = np.stack([x.ravel(), y.ravel()], axis=1)
    _, height = surface.to_solid(points)
    away = height - height_at(points[:, 0])
    assert np.sqrt((away**2).mean()) < 0.15
    assert np.mean(np.abs(away) < 2 * surface.sigma_at(points)) > 0.9


def test_a_roll_laid_flat_is_as_long_as_its_arc():
    # z = A (1 - cos(kx)): its arc is longer than its chord by A²k²/4 a unit length, on average.
    columns, step, amplitude = 51, 10.0, 8.0
    x = np.arange(columns) * step
    wave = 2 * np.pi / 250.0
    height = np.tile(amplitude * (1 - np.cos(wave * x)), (21, 1))
    flat = Surface(height, np.zeros((21, columns, 2)), np.zeros((21, columns)), 0.0, 200.0, step)
    below, _ = laid_flat(flat).to_solid(np.array([[0.0, 100.0], [500.0, 100.0]]))
    chord = float(below[1, 0] - below[0, 0])
    assert 500.0 - chord == pytest.approx(500 * (amplitude * wave) ** 2 / 4, rel=0.05)
    across, _ = laid_flat(flat).to_solid(np.array([[250.0, 0.0], [250.0, 200.0]]))
    assert np.linalg.norm(across[1] - across[0]) == pytest.approx(200.0, abs=0.02)
