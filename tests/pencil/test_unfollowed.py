"""Lines too faint to be followed from place to place, on ridge maps made by hand."""

import cv2
import numpy as np
from scipy.spatial import cKDTree

from digitize.floor import Grid
from digitize.pencil.ridges import ANGLES, RidgeMap
from digitize.pencil.unfollowed import unfollowed_places

STEP = 0.4
ROWS, COLUMNS = 500, 600
GRID = Grid(0.0, ROWS * STEP, STEP)
COLUMN, ROW = np.meshgrid(np.arange(COLUMNS), np.arange(ROWS))
X, Y = GRID.left + STEP * COLUMN, GRID.top - STEP * ROW
RIM = [np.array([[4, 4], [236, 4], [236, 196], [4, 196]], float)]


def curve():
    """A gentle arc across the paper, every mm."""
    x = np.arange(30.0, 210.0)
    return np.stack([x, 100 + 0.002 * (x - 120) ** 2], axis=1)


def blank(seed=0):
    """Grain's strengths, of deviation 1, each as wide as the filter; and their directions."""
    rng = np.random.default_rng(seed)
    strength = cv2.GaussianBlur(rng.normal(0, 1, (ROWS, COLUMNS)).astype(np.float32), (0, 0), 1.2)
    wide = [cv2.GaussianBlur(rng.normal(0, 1, (ROWS, COLUMNS)), (0, 0), 1.2) for _ in "xy"]
    return strength / strength.std(), np.arctan2(wide[0], wide[1]) / 2


def ridges_of(strength, direction):
    nearest = np.round(direction / np.pi * len(ANGLES)).astype(int) % len(ANGLES)
    numbers = np.argsort(ANGLES)[nearest].astype(np.uint8)
    return RidgeMap(np.zeros((1, 1), np.float32), GRID, strength, numbers, GRID, 0.0, 1.0)


def with_line(strong):
    """Grain, and a line of so much mean strength along the arc."""
    strength, direction = blank()
    along = curve()
    distance, nearest = cKDTree(along).query(np.stack([X.ravel(), Y.ravel()], axis=1))
    distance, nearest = distance.reshape(X.shape), nearest.reshape(X.shape)
    on = distance < 0.8
    slope = np.gradient(along, axis=0)
    heading = np.arctan2(slope[:, 1], slope[:, 0])
    strength = strength + np.where(on, strong, 0)
    return ridges_of(strength, np.where(on & (strength > 1), heading[nearest], direction))


def test_of_grain_alone_no_line_is_made():
    for seed in range(3):
        assert len(unfollowed_places(ridges_of(*blank(seed)), RIM, [])) == 0


def test_a_line_that_is_below_what_is_followed_is_seen_along_most_of_its_way():
    """3.5 times the noise is followed, and here a place has 2.7 in the middle."""
    places = unfollowed_places(with_line(2.7), RIM, [])
    away, _ = cKDTree(places).query(curve())
    assert (away < 3).mean() > 0.8
    assert cKDTree(curve()).query(places)[0].max() < 8


def test_what_was_followed_is_not_named_again():
    assert len(unfollowed_places(with_line(2.7), RIM, [curve()])) == 0


def test_beyond_the_rim_nothing_is_looked_for():
    right = [np.array([[80, 4], [236, 4], [236, 196], [80, 196]], float)]
    places = unfollowed_places(with_line(2.7), right, [])
    assert places[:, 0].min() > 79
    assert places[:, 0].max() > 190


def level(strong, places):
    """Grain, and level strokes of so much strength from and to (mm) at half the height."""
    strength, direction = blank()
    for start, end in places:
        on = (np.abs(Y - 100) < 0.8) & (start < X) & (end > X)
        strength = strength + np.where(on, strong, 0)
        direction = np.where(on, 0.0, direction)
    return ridges_of(strength, direction)


def test_what_is_short_is_not_named_nor_one_run_alone():
    """Of two runs each is 60 mm, and together they are 120; grain makes one by chance."""
    short = [(20.0, 40.0), (60.0, 80.0), (100.0, 120.0), (140.0, 160.0), (180.0, 200.0)]
    assert len(unfollowed_places(level(4.0, short), RIM, [])) == 0
    assert len(unfollowed_places(level(4.0, [(100.0, 160.0)]), RIM, [])) == 0
    assert len(unfollowed_places(level(4.0, [(40.0, 100.0), (130.0, 190.0)]), RIM, [])) > 0


def test_dark_specks_in_a_row_are_no_line():
    """Each fills a sixth of what is averaged over, and counts for no more than 5 there."""
    specks = [(at - 1.0, at + 1.0) for at in np.arange(60.0, 150.0, 12.0)]
    assert len(unfollowed_places(level(60.0, specks), RIM, [])) == 0
