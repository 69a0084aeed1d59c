"""A drawn sheet that stands off the floor by known heights, seen by three cameras."""

import cv2
import numpy as np
import pytest
from scipy.sparse import csr_matrix

from digitize import workers
from digitize.floor.camera import Camera
from digitize.floor.frame import Frame, Surface
from digitize.floor.heights import (
    WINDOW_MM,
    _climbs,
    _fitted,
    _inverse_diagonal,
    _lean,
    _peaks,
    _unexplained,
    _unseen,
    _Windows,
    laid_flat,
    solve_heights,
)
from digitize.floor.raster import lattice_of
from digitize.floor.solve import solve_floor
from tests.floor.by_hand import camera_over
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


@pytest.fixture(scope="module")
def seen():
    """Three photos, their cameras and the frame."""
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
    return photos, solution.cameras, frame


@pytest.fixture(scope="module")
def surface(seen):
    return solve_heights(*seen, PAPER)


@pytest.mark.slow
@pytest.mark.parametrize("count", [1, 3])
def test_heights_are_the_same_to_the_last_bit_however_many_work_on_them(
    seen, surface, count, monkeypatch
):
    workers._pool.cache_clear()
    monkeypatch.setattr(workers, "worker_count", lambda: count)
    again = solve_heights(*seen, PAPER)
    workers._pool.cache_clear()
    assert np.array_equal(again.height, surface.height)
    assert np.array_equal(again.sigma, surface.sigma)
    assert np.array_equal(again.shift, surface.shift)


@pytest.mark.slow
def test_the_height_is_found_all_over_the_paper(surface):
    x, y = np.meshgrid(np.linspace(-180, 180, 19), np.linspace(-130, 130, 14))
    points = np.stack([x.ravel(), y.ravel()], axis=1)
    _, height = surface.to_solid(points)
    away = height - height_at(points[:, 0])
    assert np.sqrt((away**2).mean()) < 0.15
    assert np.mean(np.abs(away) < 2 * surface.sigma_at(points)) > 0.9


def test_what_two_photos_show_round_each_node_is_their_mean_there():
    """Against OpenCV's filter over the whole picture; the paper ends inside the raster."""
    lattice = lattice_of(Frame(0.0, 0.0, 0.0), (0.0, -90.0, 120.0, 0.0), 0.5)
    rng = np.random.default_rng(2)
    one, two = rng.integers(0, 255, (2, *lattice.shape), np.uint8)
    paper = np.zeros(lattice.shape, bool)
    paper[30:-30, 30:-30] = True
    flat = Surface(np.zeros((5, 7)), np.zeros((5, 7, 2)), np.ones((5, 7)), 0.0, 0.0, 20.0)
    found = _Windows.round_nodes(flat, lattice).sums(paper, one, two)
    both = (paper & (one > 0) & (two > 0)).astype(float)
    side = round(WINDOW_MM / 0.5) | 1
    for kind, values in enumerate(
        (1.0, one, two, one * 1.0 * one, two * 1.0 * two, one * 1.0 * two)
    ):
        mean = cv2.boxFilter(
            both * values, cv2.CV_64F, (side, side), borderType=cv2.BORDER_CONSTANT
        )
        assert found[kind] == pytest.approx(mean[::40, ::40][:5, :7], rel=1e-5, abs=1e-9)


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


def level(rows, columns, height, step=20.0):
    """A surface with heights at its nodes; ``height`` is a function of x and y from the first."""
    x, y = np.meshgrid(step * np.arange(columns), -step * np.arange(rows))
    flat, nothing = np.zeros((rows, columns, 2)), np.zeros((rows, columns))
    return Surface(np.asarray(height(x, y), float) + nothing, flat, nothing, 0.0, 0.0, step)


def test_a_board_that_slopes_both_ways_keeps_its_lengths_by_pythagoras():
    surface = laid_flat(level(8, 12, lambda x, y: 0.06 * x - 0.03 * y))
    ends = np.array([[20.0, -20], [200, -20], [20, -120], [200, -120], [80, -140], [160, -40]])
    below, height = surface.to_solid(ends)
    for a in range(len(ends)):
        for b in range(a):
            flat, chord = (np.linalg.norm(at[a] - at[b]) for at in (ends, below))
            rise = height[a] - height[b]
            # To the fourth power of the slope, so to a few thousandths of a mm.
            assert chord == pytest.approx(np.sqrt(flat**2 - rise**2), abs=0.004)


def test_the_height_is_where_a_parabola_through_the_likeness_is_highest():
    steps = np.arange(0.0, 3.0, 0.5)
    tops = np.array([[1.3, 0.8, 2.1]])
    likeness = 0.9 - 0.4 * (steps[:, None, None] - tops) ** 2
    likeness[:, 0, 2] -= 0.7  # too unlike to be believed
    offset, weight = _peaks(likeness, steps)
    assert offset[0, :2] == pytest.approx([1.3, 0.8])
    # Twice the parabola's factor is how sharply it bends.
    assert weight == pytest.approx(np.array([[0.8, 0.8, 0.0]]))


def test_paper_curled_at_a_usual_radius_is_followed_not_flattened():
    def roll(x, y):
        return (0.6 * x - y - 100) ** 2 / (2 * 3000)

    curled = level(9, 11, roll)
    fitted = _fitted(level(9, 11, lambda x, y: 0), curled.height, np.ones((9, 11)))
    assert fitted.height == pytest.approx(curled.height, abs=0.02)
    # Where heights are exact, what is left is the floor's own unevenness of 0.1 mm.
    assert fitted.sigma == pytest.approx(0.1, abs=0.005)


def test_an_edge_that_rolls_up_steeply_is_followed_and_a_stray_height_is_not():
    def roll(x, y):
        return 20.0 * np.clip((x - 140) / 160, 0, None) ** 2 + 0 * y

    rolled = level(9, 16, roll)
    heights = rolled.height + np.random.default_rng(2).normal(0, 0.05, (9, 16))
    heights[4, 3] += 9.0
    fitted = _fitted(level(9, 16, lambda x, y: 0), heights, np.ones((9, 16)))
    away = np.abs(fitted.height - rolled.height)
    assert away[4, 3] < 1.5  # a sixth of what it strays
    away[4, 3] = 0.0
    assert away.max() < 0.3


def test_a_corner_that_no_photos_show_goes_on_as_what_is_seen_beside_it():
    def roll(x, y):
        return 20.0 * np.clip((x - 100) / 200, 0, None) ** 2 + 0 * y

    rolled, weight = level(13, 16, roll), np.ones((13, 16))
    weight[:3, 11:] = 0.0
    fitted = _fitted(level(13, 16, lambda x, y: 0), rolled.height, weight)
    away = np.abs(fitted.height - rolled.height)
    assert away[3:].max() < 0.4 and away[0, 15] < 4.0
    assert (away < 1.96 * fitted.sigma)[:3, 11:].all()
    # Where nothing is seen at all, paper lies on the floor, up to 1.5 mm of it (sigma).
    unseen = _fitted(level(9, 11, lambda x, y: 0), np.full((9, 11), 7.0), np.zeros((9, 11)))
    assert not unseen.height.any() and unseen.sigma.max() < 1.6


def test_beyond_the_outermost_heights_paper_may_roll_up():
    used = np.ones((8, 10), bool)
    used[:, 7:] = False
    used[3, 4] = False  # a hole among others is none of it
    # 20, 40 and 60 mm beyond, at a radius of 800 mm (sigma): d^2 / 1600 = 0.25, 1 and 2.25 mm.
    assert np.sqrt(_unseen(used, 20.0)) == pytest.approx(
        np.tile([0.0] * 7 + [0.25, 1.0, 2.25], (8, 1))
    )
    assert not _unseen(np.zeros((8, 10), bool), 20.0).any()


def test_heights_that_lie_to_one_side_of_the_surface_go_into_its_sigma():
    miss, weight = np.full((11, 11), 0.3), np.full((11, 11), 4.0)
    # Of 25 heights that scatter by 3 / sqrt(4) = 1.5 mm the median is known to
    # 1.5 * sqrt(pi / 2 / 25) = 0.376 mm; twice that is chance.
    assert _unexplained(2.4 * miss, weight, 3.0)[5, 5] == 0
    found = np.sqrt(_unexplained(2.6 * miss, weight, 3.0))
    assert found[5, 5] == pytest.approx(0.78)
    # In a corner there are 9: 0.627 mm, of which twice is 1.25.
    assert found[0, 0] == 0
    # A node that was not seen says nothing, nor does one that strays.
    miss[5, 5], weight[5, 5] = 50.0, 0.0
    assert _unexplained(miss, weight, 0.6) == pytest.approx(0.09)
    miss[2, 2] = -9.0
    assert _unexplained(miss, weight, 0.6) == pytest.approx(0.09)
    assert not _unexplained(miss, np.zeros((11, 11)), 0.6).any()


def test_a_roll_is_climbed_while_the_surface_still_moves():
    rose = np.zeros((10, 10))
    rose[0, :2] = -2.5
    assert _climbs(rose) and not _climbs(rose * 0.7) and not _climbs(0 * rose)


def test_an_edge_is_seen_aside_by_the_steepest_look_at_it():
    # The right edge lies 100 off the second foot and 500 off the first, both 1000 high.
    cameras = [camera_over((-300.0, 0, 1000)), camera_over((100.0, 0, 1000))]
    edge = np.array([[200.0, 0], [-250.0, 0], [150.0, 0]])
    assert _lean(cameras, Frame(0, 0, 0), edge) == pytest.approx(0.1)
    assert _lean(cameras, Frame(200, 0, 0), edge) == pytest.approx(0.3)


def test_a_sloping_sheet_is_found_where_it_is_by_small_pictures():
    def height(x, y):
        return 3 + 1.5 * x / 80 + y / 60

    grain = cv2.GaussianBlur(
        np.random.default_rng(4).normal(0, 1, (800, 800)).astype(np.float32), (0, 0), 3.0
    )
    grain = 150 + 25 * grain / grain.std()
    photos, cameras = [], []
    for eye in ((30, 20, 500), (-240, -130, 480), (230, -120, 480)):
        shot = Shot(eye=eye, focal_px=600, size=(640, 480), radial=(0, 0), offset=(0, 0))
        u, v = np.meshgrid(np.arange(640.0), np.arange(480.0))
        rays = np.stack([(u - 319.5) / 600, (v - 239.5) / 600, np.ones_like(u)], axis=-1)
        rays = rays @ shot.rotation
        # Where a ray meets the plane h = 3 + a x + b y.
        a, b = 1.5 / 80, 1 / 60
        slant = rays[..., 2] - a * rays[..., 0] - b * rays[..., 1]
        along = (3 + a * eye[0] + b * eye[1] - eye[2]) / slant
        x, y = eye[0] + along * rays[..., 0], eye[1] + along * rays[..., 1]
        at = np.stack([4 * x + 400, 400 - 4 * y], axis=-1).astype(np.float32)
        seen = cv2.remap(grain, at[..., 0], at[..., 1], cv2.INTER_LINEAR)
        photos.append(np.clip(seen, 1, 255).astype(np.uint8))
        pose = np.concatenate([cv2.Rodrigues(shot.rotation)[0][:, 0], -shot.rotation @ eye])
        cameras.append(Camera(np.array([600.0, *[0] * 7]), pose, shot.size))
    paper = np.array([[-80, -60], [80, -60], [80, 60], [-80, 60]], float)
    surface = solve_heights(photos, cameras, Frame(0.0, 0.0, 0.0), paper)
    points = np.array([[x, y] for x in (-60.0, 0, 60) for y in (-40.0, 0, 40)])
    _, found = surface.to_solid(points)
    assert found == pytest.approx(height(*points.T), abs=0.25)


def test_the_diagonal_of_an_inverse_is_that_of_the_inverse():
    """Of a band of three to either side, with a gap in it as nodes below each other leave."""
    terms = np.random.default_rng(2).normal(size=(3, 12))
    lower = np.diag(3 + terms[0]) + np.diag(terms[1, 1:], -1) + np.diag(terms[2, 3:], -3)
    square = lower @ lower.T
    found = _inverse_diagonal(csr_matrix(square))
    assert found == pytest.approx(np.diag(np.linalg.inv(square)), rel=1e-9)


def test_a_sheet_turned_by_a_quarter_stands_as_it_did():
    """Its band of normal equations then runs the other way about."""
    curled = level(9, 16, lambda x, y: 4.0 * np.clip(x / 150, 0, None) ** 2 + 0.01 * y)
    weight = np.random.default_rng(3).uniform(0, 2, curled.height.shape)
    weight[:, -3:] = 0
    fitted = _fitted(level(9, 16, lambda x, y: 0), curled.height, weight)
    turned = _fitted(level(16, 9, lambda x, y: 0), curled.height.T, weight.T)
    assert np.ptp(fitted.height) > 1
    assert np.abs(turned.height.T - fitted.height).max() < 1e-8
    assert np.abs(turned.sigma.T - fitted.sigma).max() < 1e-8
