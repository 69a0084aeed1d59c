"""One photo of a sheet whose end rolls up, by rays that know nothing of the program's geometry."""

import numpy as np
import pytest
from scipy.spatial import cKDTree

from digitize.floor import Photo
from digitize.plane import evenly, rigid_fit, rotation
from digitize.reading.scene import Asked, see_scene
from tests.bench.rolled import CARDS, LENS, PIXELS_PER_MM, Roll, photograph
from tests.scene import Floor, Shot

WIDTH, HEIGHT = 640.0, 420.0
pytestmark = pytest.mark.slow


def outline_of(high: float) -> tuple[np.ndarray, bool]:
    """(N, 2) the outline of brown paper whose right end rises so high; whether it was seen to."""
    ground = Floor(800)
    for number, x, y, turn in CARDS:
        ground.lay_card(number, x, y, turn)
    size = round(HEIGHT * PIXELS_PER_MM), round(WIDTH * PIXELS_PER_MM)
    grain = np.random.default_rng(3).normal(0, 3, (*size, 1))
    colour = np.clip(np.array([186, 160, 120]) + grain, 0, 255).astype(np.uint8)
    sheet = colour, np.full(size, 255, np.uint8)
    shot = Shot(eye=(-300, -260, 1100), **LENS)
    picture = photograph(
        shot, ground, sheet, Roll(high, 140.0, np.array([1.0, 0]), WIDTH / 2 - 140)
    )
    photo = Photo("rolled", picture, "rolled", None, "bench", None)
    scene = see_scene([photo], Asked(), lambda stage: None)
    return scene.outline, scene.surface is not None


def off_mm(outline: np.ndarray) -> float:
    """How far 95 % of an outline's places are off the flat sheet's edge, rigidly laid on it."""
    half = np.array([WIDTH, HEIGHT]) / 2
    edge = evenly(half * [[-1, -1], [1, -1], [1, 1], [-1, 1]], 0.25, closed=True)
    tree, laid = cKDTree(edge), outline - outline.mean(axis=0)
    for _ in range(30):
        turn, shift = rigid_fit(laid, edge[tree.query(laid)[1]])
        laid = laid @ rotation(turn).T + shift
    return float(np.quantile(tree.query(laid)[0], 0.95))


def test_an_end_that_rolls_up_is_laid_flat_in_one_photo():
    """12 mm at a slant of up to 0.75 are 9 mm."""
    outline, rolled = outline_of(12.0)
    assert rolled
    assert off_mm(outline) < 1.2, off_mm(outline)


def test_of_a_sheet_that_lies_flat_none_is_seen_to():
    outline, rolled = outline_of(1e-4)
    assert not rolled
    assert off_mm(outline) < 1.2, off_mm(outline)
