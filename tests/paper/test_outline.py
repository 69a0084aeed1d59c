import cv2
import numpy as np
import pytest
from shapely import LinearRing, Point, Polygon, box

from digitize.errors import NoPaper
from digitize.floor.raster import Raster
from digitize.paper.outline import COARSE_MM, find_paper, place_edge

FINE_MM = 0.4
SIZE_MM = 700, 900  # rows, columns
BROWN, WHITE = (190, 150, 100), (235, 235, 230)


def floor_with(*sheets, size_mm=SIZE_MM):
    """Fine and coarse rasters: a rough grey floor with sheets, each its corners and its colour."""
    rng = np.random.default_rng(1)
    rough = rng.integers(50, 190, (size_mm[0] // 2, size_mm[1] // 2), np.uint8)
    size = int(size_mm[1] / FINE_MM), int(size_mm[0] / FINE_MM)
    picture = cv2.resize(rough, size)[..., None].repeat(3, axis=2)
    top = size_mm[0] - FINE_MM / 2
    fine = Raster(FINE_MM / 2, top, FINE_MM, picture)
    for shape, colour in sheets:
        # Drawn four times finer: OpenCV's polygons take in half a pixel round about.
        large = np.zeros((4 * size[1], 4 * size[0]), np.uint8)
        at = (fine.to_px(np.array(shape, float)) + 0.5) * 4 - 0.5
        cv2.fillPoly(large, [np.round(at * 16).astype(np.int32)], 255, cv2.LINE_AA, 4)
        cover = cv2.resize(large, size, interpolation=cv2.INTER_AREA)[..., None] / 255.0
        picture[:] = (picture * (1 - cover) + np.array(colour) * cover).astype(np.uint8)
    noisy = picture + rng.normal(0, 3, picture.shape)
    picture[:] = np.clip(noisy, 0, 255).astype(np.uint8)
    coarse_size = int(size_mm[1] / COARSE_MM), int(size_mm[0] / COARSE_MM)
    small = cv2.resize(picture, coarse_size, interpolation=cv2.INTER_AREA)
    return fine, Raster(COARSE_MM / 2, size_mm[0] - COARSE_MM / 2, COARSE_MM, small)


LEANING = np.array([[40, 30], [230, 52], [210, 150], [60, 128]], float)


@pytest.fixture(scope="module")
def leaning():
    """A small sheet's fine raster."""
    return floor_with((LEANING, BROWN), size_mm=(180, 270))[0]


def outward(outline, truth):
    """How far points lie outside of a shape (mm, negative inside), those near its corners not."""
    corners = [Point(*corner) for corner in truth.exterior.coords]
    points = [Point(*p) for p in outline]
    clear = [p for p in points if min(p.distance(corner) for corner in corners) > 10]
    signs = [-1 if truth.contains(p) else 1 for p in clear]
    return np.array([s * truth.exterior.distance(p) for s, p in zip(signs, clear, strict=True)])


@pytest.mark.parametrize("clockwise", [False, True])
@pytest.mark.parametrize("rough_mm", [-2.5, 3.5])
def test_the_edge_is_drawn_neither_in_nor_out_wherever_it_was_sought(leaning, rough_mm, clockwise):
    truth = Polygon(LEANING)
    rough = np.array(truth.buffer(rough_mm).exterior.coords)
    turned = LinearRing(rough).is_ccw == clockwise
    outline = place_edge(leaning, rough[::-1] if turned else rough)
    misses = outward(outline, truth)
    assert abs(misses.mean()) < 0.1
    assert np.abs(misses).max() < 0.4


def test_the_outline_runs_counter_clockwise_and_has_each_place_once(leaning):
    rough = np.array(Polygon(LEANING).buffer(1.0).exterior.coords)
    for given in (rough, rough[::-1]):
        outline = place_edge(leaning, given)
        x, y = outline.T
        twice_the_area = (x * np.roll(y, -1) - np.roll(x, -1) * y).sum()
        assert twice_the_area / 2 == pytest.approx(Polygon(LEANING).area, rel=0.01)
        assert len(np.unique(outline, axis=0)) == len(outline)


@pytest.mark.parametrize(
    "shape",
    [
        box(60, 70, 210, 230),  # 240 cm2, of 100 that are the least
        box(60, 90, 350, 165),  # a strip of 75 mm, of 40 that are the least
    ],
)
def test_a_small_sheet_and_a_narrow_one_are_paper(shape):
    corners = np.array(shape.exterior.coords[:-1])
    _, coarse = floor_with((corners, BROWN), size_mm=(300, 420))
    found = Polygon(find_paper(coarse, [])).buffer(0)
    assert found.symmetric_difference(shape).area < 0.06 * shape.area


def test_a_card_larger_than_the_paper_is_not_taken_for_it():
    card, paper = box(300, 60, 510, 357), box(60, 100, 240, 300)
    sheets = [np.array(shape.exterior.coords[:-1]) for shape in (card, paper)]
    _, coarse = floor_with((sheets[0], WHITE), (sheets[1], BROWN), size_mm=(420, 580))
    found = Polygon(find_paper(coarse, [sheets[0]])).buffer(0)
    assert found.symmetric_difference(paper).area < 0.06 * paper.area


def test_no_paper_is_named():
    with pytest.raises(NoPaper):
        find_paper(floor_with(size_mm=(400, 520))[1], [])


@pytest.mark.parametrize(
    "shape",
    [
        [[-60, 70], [300, 90], [300, 300], [-60, 320]],
        [[4, 205], [150, 60], [300, 220], [120, 350]],  # a corner is as good as out
    ],
)
def test_paper_out_of_the_picture_is_named(shape):
    with pytest.raises(NoPaper, match="runs out of the picture"):
        find_paper(floor_with((shape, BROWN), size_mm=(400, 520))[1], [])


def test_the_edge_is_placed_within_half_a_millimetre():
    shape = np.array([[150, 120], [700, 160], [740, 520], [180, 560]], float)
    fine, coarse = floor_with((shape, BROWN))
    outline = place_edge(fine, find_paper(coarse, []))
    truth = Polygon(shape)
    assert Polygon(outline).area == pytest.approx(truth.area, rel=0.003)
    misses = [truth.exterior.distance(Point(*p)) for p in outline]
    assert np.percentile(misses, 95) < 0.5
