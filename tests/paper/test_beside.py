from dataclasses import replace

import cv2
import numpy as np
import pytest
from scipy.stats import multivariate_t
from shapely import box

from digitize.paper.beside import _Learned, _learned, _log_density, _own, _smooth_at, sides_told
from digitize.paper.dents import asides_of
from digitize.paper.thresholds import BESIDE_STRAY_LOG, LEAST_USUAL
from tests.paper.floors import BROWN, WHITE, card_at, floor_with

SHEET = box(60, 60, 340, 250)


@pytest.fixture(scope="module")
def floor():
    """A brown sheet on a rough floor, of which a strip along the sheet is lit as it is."""
    fine, _ = floor_with((np.array(SHEET.exterior.coords[:-1]), BROWN), size_mm=(310, 400))
    (left, low), (right, top) = np.round(fine.to_px(np.array([[120, 250.4], [220, 258]]))).astype(
        int
    )
    strip = fine.pixels[top:low, left:right]
    strip[:] = np.clip(strip * np.array([1.2, 1.1, 0.9]), 0, 255).astype(np.uint8)
    return fine


def least_told(*asked):
    """(N,) what is told of the side of which less is."""
    return np.minimum(*sides_told(*asked)[:2])


def ring_of(shape, step=2.0):
    coords = np.array(shape.exterior.segmentize(step).coords[:-1])
    return coords if shape.exterior.is_ccw else coords[::-1]


def on_upper_side(ring, low, high):
    return (ring[:, 1] > 245) & (ring[:, 0] > low) & (ring[:, 0] < high)


def test_an_edge_is_told_where_it_is_and_denied_elsewhere(floor):
    ring = ring_of(SHEET)
    clear = (np.abs(ring[:, 0] - 170) > 80) & (ring[:, 0] > 75) & (ring[:, 0] < 325)
    assert least_told(floor, ring, 2.0, ())[clear].min() > 6
    for off_mm in (-6, 6):  # beyond is paper; within is floor
        away = ring_of(SHEET.buffer(off_mm, join_style="mitre"))
        clear = (np.abs(away[:, 0] - 170) > 80) & (away[:, 0] > 75) & (away[:, 0] < 325)
        assert least_told(floor, away, 2.0, ())[clear].max() < -6


def test_a_strip_of_floor_that_was_taken_for_paper_is_not_told_as_paper(floor):
    taken = SHEET.union(box(120, 250, 220, 258))
    ring = ring_of(taken)
    told = least_told(floor, ring, 2.0, ())
    assert told[on_upper_side(ring, 140, 200)].max() < 3
    assert told[on_upper_side(ring, 260, 320)].min() > 6


def test_what_lies_over_a_straight_edge_does_not_look_like_the_floor_beside_it():
    """A ruler of a grey that the floor has too, but never so evenly, 25 mm wide."""
    ruler = box(120, 238, 280, 263)
    fine, _ = floor_with(
        (ring_of(SHEET), BROWN), (ring_of(ruler), (120, 120, 120)), size_mm=(310, 400)
    )
    ring = ring_of(SHEET.difference(ruler))
    along = (ring[:, 1] > 235) & (np.abs(ring[:, 0] - 200) < 60)
    *told, as_usual, _ = sides_told(fine, ring, 2.0, (), asides_of(ring))
    told = np.minimum(*told)
    assert told[along].min() > 3  # further out it is the ruler still
    assert as_usual[along].max() < LEAST_USUAL
    assert np.isinf(as_usual[ring[:, 1] < 100]).all()
    cut_away, _ = floor_with((ring, BROWN), size_mm=(310, 400))
    *told, as_usual, _ = sides_told(cut_away, ring, 2.0, (), asides_of(ring))
    told = np.minimum(*told)
    assert min(told[along].min(), as_usual[along].min()) > LEAST_USUAL


def sheet_on_grey(beyond=(60, 60, 60), sun_to=None):
    """A brown sheet on an even grey floor, of another colour from 8 mm beyond its upper edge on.

    The sun, half as much again, shines on all up to a height.
    """
    fine, _ = floor_with((ring_of(SHEET), BROWN), size_mm=(310, 400))
    even = np.full(fine.pixels.shape, 60.0)
    rows = fine.top - np.arange(len(even)) * fine.mm_per_px
    columns = fine.left + np.arange(even.shape[1]) * fine.mm_per_px
    even[rows > 258] = beyond
    paper = (rows[:, None] > 60) & (rows[:, None] < 250) & (columns > 60) & (columns < 340)
    even[paper] = (110, 86, 58)
    if sun_to is not None:
        even[rows < sun_to] *= 1.5
    noise = np.random.default_rng(4).normal(0, 3, even.shape)
    return replace(fine, pixels=np.clip(even + noise, 0, 255).astype(np.uint8))


@pytest.mark.parametrize("off_mm", [-8.0, 8.0])
def test_the_suns_border_beside_the_papers_is_not_the_papers(off_mm):
    fine = sheet_on_grey(sun_to=250 + off_mm)
    light = ring_of(box(60, 60, 340, 250 + off_mm))
    assert sides_told(fine, light, 2.0, ())[3][on_upper_side(light, 100, 300)].all()
    assert not sides_told(fine, ring_of(SHEET), 2.0, ())[3].any()


def test_where_both_the_papers_edge_and_a_board_beyond_step_in_hue_the_edge_is_the_papers():
    board = sheet_on_grey(beyond=(75, 60, 50))
    assert not sides_told(board, ring_of(SHEET), 2.0, ())[3].any()


def test_of_what_a_card_covers_nothing_is_said(floor):
    ring = ring_of(SHEET)
    card = card_at(box(250, 240, 330, 300))
    told = least_told(floor, ring, 2.0, (card,))
    assert np.isinf(told[on_upper_side(ring, 265, 315)]).all()
    assert np.isfinite(told[on_upper_side(ring, 100, 200)]).all()


def test_a_place_nearer_another_part_of_the_edge_is_not_its_own():
    fine, _ = floor_with((ring_of(SHEET), WHITE), size_mm=(310, 400))
    ring = ring_of(SHEET)
    corner, middle = (np.hypot(*(ring - at).T).argmin() for at in ([66, 250], [200, 250]))
    along = np.array([-20.0, -4.0, 4.0, 20.0])
    places = ring[[corner, middle], None] + np.stack([0 * along, along], axis=1)
    # 20 mm down from 6 mm beside a corner is 6 mm from the other side.
    expected = [[False, True, True, True], [True, True, True, True]]
    assert _own(fine, ring, places, along, ()).tolist() == expected
    low, _ = floor_with((ring_of(SHEET), WHITE), size_mm=(262, 400))
    assert not _own(low, ring, places, along, ())[1, 3]  # out of the picture
    burnt = replace(fine, pixels=np.where(fine.pixels > 225, 255, fine.pixels))
    assert _own(burnt, ring, places, along, ())[1].tolist() == [False, False, True, True]


def test_looks_are_learned_as_a_mean_and_a_spread():
    """Worked by hand: 8 and 12 about 10 have a variance of 4, and 1 more of a patch's own."""
    looks = np.zeros((6, 3, 4))
    looks[:, 0, 0], looks[:, 1, 0], looks[:, 2, 0] = 8, 12, 99
    good = np.ones((6, 3), bool)
    learned = _learned(looks, good, np.array([True, True, False]), 3)
    assert learned.mean[:, 0] == pytest.approx(10, abs=1e-4)
    assert learned.spread[:, 0, 0] == pytest.approx(5, abs=1e-3)
    assert learned.spread[:, 1, 1] == pytest.approx(0.49, abs=1e-6)
    assert learned.share == pytest.approx(1, abs=1e-5)
    good[:, 1] = False
    learned = _learned(looks, good, np.array([True, True, False]), 3)
    assert learned.mean[:, 0] == pytest.approx(8, abs=1e-4)
    assert learned.share == pytest.approx(0.5, abs=1e-5)


def test_what_lies_there_here_and_there_is_not_learned():
    """A fifth of the patches are a cable's."""
    rng = np.random.default_rng(3)
    looks = rng.normal(100, 3, (40, 10, 4))
    looks[:, ::5, 0] = 30
    learned = _learned(looks, np.ones((40, 10), bool), np.ones(10, bool), 21)
    assert np.abs(learned.mean - 100).max() < 1
    assert learned.spread[:, 0, 0].max() < 16


def test_a_patchs_density_is_what_students_distribution_says():
    """Worked by hand: sigmas 2, 1, 1, 1; 2 off is one sigma: -4 log(1 + 1/4) - log 2.

    The constant left out, and the density of what is neither: log(6 / (16 pi^2)) = -3.27;
    -log(10 x 256 x 100 x 100 x 4) + 3.27 = -15.2.
    """
    learned = _Learned(np.full((2, 4), 100.0), np.tile(np.diag([4.0, 1, 1, 1]), (2, 1, 1)), None)
    looks = np.array([[100.0, 100, 100, 100], [102, 100, 100, 100]])
    found = _log_density(looks, learned)
    assert found == pytest.approx([-0.693147, -0.892574 - 0.693147], abs=1e-6)
    constant = multivariate_t(np.zeros(4), np.eye(4), df=4).logpdf(np.zeros(4))
    assert constant == pytest.approx(-3.27, abs=0.01)
    assert -np.log(10 * 256 * 100 * 100 * 4) - constant == pytest.approx(BESIDE_STRAY_LOG, abs=0.1)


def test_patches_are_the_same_however_many_are_looked_at_at_once(floor, monkeypatch):
    """Also where some lie beyond the picture."""
    ring = ring_of(box(-20, 60, 340, 250))
    told = []
    for count in (7, 64, len(ring)):
        monkeypatch.setattr("digitize.paper.beside.PLACES_AT_ONCE", count)
        told.append(least_told(floor, ring, 2.0, ()))
    assert np.isfinite(told[0]).any()
    assert all(np.array_equal(each, told[-1]) for each in told)


def test_what_is_looked_at_about_a_place_lies_there(floor):
    """At pixels' middles, of a few near each other and far from all others."""
    lab = cv2.cvtColor(floor.pixels, cv2.COLOR_RGB2LAB).astype(np.uint16) * 64
    smooth = cv2.blur(lab, (round(1 / floor.mm_per_px),) * 2) / 64
    at = np.array([[[600, 300], [605, 310]], [[590, 320], [640, 333]]])
    found = _smooth_at(floor, floor.to_mm(at.reshape(-1, 2)).reshape(at.shape))
    assert np.array_equal(found[..., :3], smooth[at[..., 1], at[..., 0]])
    assert np.ptp(found[..., 0]) > 0
