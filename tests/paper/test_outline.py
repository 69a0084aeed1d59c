import cv2
import numpy as np
import pytest
from shapely import Point, Polygon

from digitize.errors import NoPaper
from digitize.floor.raster import Raster
from digitize.paper.outline import COARSE_MM, find_paper, place_edge

FINE_MM = 0.4
SIZE_MM = 700, 900  # rows, columns


def floor_with(shape):
    """Fine and coarse rasters: a rough grey floor with a brown sheet, its corners in mm."""
    rng = np.random.default_rng(1)
    rough = rng.integers(50, 190, (SIZE_MM[0] // 2, SIZE_MM[1] // 2), np.uint8)
    size = int(SIZE_MM[1] / FINE_MM), int(SIZE_MM[0] / FINE_MM)
    picture = cv2.resize(rough, size)[..., None].repeat(3, axis=2)
    top = SIZE_MM[0] - FINE_MM / 2
    fine = Raster(FINE_MM / 2, top, FINE_MM, picture)
    if shape is not None:
        # Drawn four times finer: OpenCV's polygons take in half a pixel round about.
        large = np.zeros((4 * size[1], 4 * size[0]), np.uint8)
        at = (fine.to_px(shape) + 0.5) * 4 - 0.5
        cv2.fillPoly(large, [np.round(at * 16).astype(np.int32)], 255, cv2.LINE_AA, 4)
        cover = cv2.resize(large, size, interpolation=cv2.INTER_AREA)[..., None] / 255.0
        picture[:] = (picture * (1 - cover) + np.array([190, 150, 100]) * cover).astype(np.uint8)
    noisy = picture + rng.normal(0, 3, picture.shape)
    picture[:] = np.clip(noisy, 0, 255).astype(np.uint8)
    coarse_size = int(SIZE_MM[1] / COARSE_MM), int(SIZE_MM[0] / COARSE_MM)
    small = cv2.resize(picture, coarse_size, interpolation=cv2.INTER_AREA)
    return fine, Raster(COARSE_MM / 2, SIZE_MM[0] - COARSE_MM / 2, COARSE_MM, small)


def test_the_edge_is_placed_within_half_a_millimetre():
    shape = np.array([[150, 120], [700, 160], [740, 520], [180, 560]], float)
    fine, coarse = floor_with(shape)
    outline = place_edge(fine, find_paper(coarse, []))
    truth = Polygon(shape)
    assert Polygon(outline).area == pytest.approx(truth.area, rel=0.003)
    misses = [truth.exterior.distance(Point(*p)) for p in outline]
    assert np.percentile(misses, 95) < 0.5


def test_no_paper_and_paper_out_of_the_picture_are_named():
    with pytest.raises(NoPaper):
        find_paper(floor_with(None)[1], [])
    off = np.array([[-100, 120], [500, 160], [500, 520], [-100, 560]], float)
    with pytest.raises(NoPaper, match="runs out of the picture"):
        find_paper(floor_with(off)[1], [])
