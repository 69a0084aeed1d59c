"""Too much light, and light on a part: burnt-out paper, and a patch of sun that is no paper."""

import numpy as np
import pytest
from shapely import Polygon, contains_xy

from digitize.errors import NoPaper
from digitize.floor import Photo
from digitize.reading import read_pattern, scene
from tests.scene import Floor, Shot

# Each reads photos of 3 megapixels.
pytestmark = pytest.mark.slow

SHEET = np.array([[-250, -180], [250, -190], [240, 190], [-255, 175]], float)
CARDS = ((1, -400, 0, 3), (2, 400, 20, -2), (3, 0, 350, 90), (4, 10, -350, 91))
SHOT = Shot(eye=(20, -60, 1150), focal_px=1700, size=(2000, 1500))
LINES = [np.array([(-200.0, y), (200.0, y + 30.0)]) for y in (-120, -60, 0, 60)]


def seen(floor):
    """(H, W, 3) a floor with lines and cards on it."""
    for line in LINES:
        floor.draw(line, 0.9, (60, 60, 60))
    for card in CARDS:
        floor.lay_card(*card)
    return floor.photograph(SHOT)


def read(pixels):
    return read_pattern([Photo("light", pixels, "", None, None, None)], "light").pattern


@pytest.mark.parametrize("moved", [0.0, 1.0])
def test_paper_that_is_burnt_out_is_read_and_its_edge_named_all_round(moved, monkeypatch):
    # Where its edge came to lie far from the rough cut it is learned anew, and is as white.
    monkeypatch.setattr(scene, "_moved", lambda *_: moved)
    floor = Floor(700)
    floor.lay_sheet(SHEET, (238, 238, 236))
    pattern = read(np.minimum(seen(floor) * 1.15, 255).astype(np.uint8))
    assert len(pattern.lines) == len(LINES)
    (remark,) = [each for each in pattern.remarks if each.kind == "outline-unsure"]
    assert "burnt out white" in remark.words and "patch of sun" in remark.words
    around = Polygon(pattern.outline)
    (unsure,) = pattern.outline_unsure
    assert len(unsure) > len(pattern.outline)
    assert around.area == pytest.approx(Polygon(SHEET).area, rel=0.01)
    sides = [np.hypot(*(b - a)) for a, b in zip(SHEET, np.roll(SHEET, -1, axis=0), strict=True)]
    assert around.length == pytest.approx(sum(sides), rel=0.02)


def test_a_patch_of_sun_on_paper_that_looks_like_the_floor_is_not_taken_for_the_paper():
    floor = Floor(700)
    floor.picture[:] = 140
    pixels = seen(floor).astype(float)
    patch = Polygon(SHOT.project(np.array([[-150, -150], [120, -150], [120, 150], [-150, 150]])))
    rows, columns = np.indices(pixels.shape[:2])
    pixels[contains_xy(patch, columns, rows)] *= 1.6
    with pytest.raises(NoPaper, match="patch of light"):
        read(np.clip(pixels, 0, 255).astype(np.uint8))
