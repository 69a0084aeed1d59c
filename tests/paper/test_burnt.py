from dataclasses import replace

import numpy as np
import pytest
from shapely import box

from digitize.paper.band import outward
from digitize.paper.burnt import burnt_within
from tests.paper.floors import BROWN, floor_with

SHEET = box(60, 60, 340, 250)


def lit(fine, light):
    """A raster in so much more light (H, W), burnt out where that is too much."""
    pixels = np.clip(fine.pixels * light[..., None], 0, 255).astype(np.uint8)
    return replace(fine, pixels=pixels)


def across(fine):
    """(H, W) how far right each pixel lies, mm."""
    rows, columns = fine.pixels.shape[:2]
    return np.broadcast_to(fine.left + np.arange(columns) * fine.mm_per_px, (rows, columns))


@pytest.fixture(scope="module")
def floor():
    """A pale sheet on a rough floor."""
    pale = np.array(SHEET.exterior.coords[:-1])
    return floor_with((pale, (200, 196, 190)), size_mm=(310, 400))[0]


def told(fine):
    ring = np.array(SHEET.exterior.segmentize(2.0).coords[:-1])
    burnt, own = burnt_within(fine, ring, -outward(ring))
    right = (ring[:, 0] > 330) & (np.abs(ring[:, 1] - 155) < 70)
    left = (ring[:, 0] < 70) & (np.abs(ring[:, 1] - 155) < 70)
    return burnt, own, left, right


def test_paper_that_burns_out_by_degrees_is_paper_where_it_is_burnt_out(floor):
    burnt, own, left, right = told(lit(floor, 1 + np.clip(across(floor) - 100, 0, None) / 500))
    assert burnt[right].all()
    assert own[right].all()
    assert not burnt[left].any()


def test_round_what_burns_out_by_degrees_the_paper_has_lost_its_look_too(floor):
    """Along its upper side: 196 grey levels burn out, at 250, in 1.28 times the light."""
    fine = lit(floor, 1 + np.clip(across(floor) - 100, 0, None) / 500)
    ring = np.array(SHEET.exterior.segmentize(2.0).coords[:-1])
    burnt, own = burnt_within(fine, ring, -outward(ring))
    upper = (ring[:, 1] > 245) & (ring[:, 0] < 330)
    first_burnt, first_own = (ring[upper & each, 0].min() for each in (burnt, own))
    assert abs(first_burnt - 238) < 6
    assert abs(first_burnt - first_own - 8) < 3


def test_what_burns_out_with_a_border_on_the_paper_may_be_a_patch_of_sun(floor):
    burnt, own, _, right = told(lit(floor, np.where(across(floor) > 220, 2.0, 1.0)))
    assert burnt[right].all()
    assert not own.any()


def test_of_paper_that_is_burnt_out_all_over_nothing_is_known(floor):
    burnt, own, left, right = told(lit(floor, np.full(floor.pixels.shape[:2], 1.5)))
    assert burnt[left | right].all()
    assert not own.any()
    shown, _ = floor_with((np.array(SHEET.exterior.coords[:-1]), BROWN), size_mm=(310, 400))
    assert not told(shown)[0].any()
