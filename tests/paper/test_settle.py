import cv2
import numpy as np
import pytest
from shapely import Point, Polygon, box

from digitize.paper.cut import disc
from digitize.paper.settle import _eroded, _looks, settle
from tests.paper.floors import BROWN, WHITE, card_at, cut_at, floor_with

PALE = np.array([230, 229, 219])
PAPER = box(150, 120, 700, 520)


def ring_of(shape):
    return np.array(shape.exterior.coords[:-1])


def furthest(ring, shape):
    """How far ring and shape are apart at most, mm, but for its corners, which come to be round."""
    corners = [Point(*corner) for corner in shape.exterior.coords]
    along = [Point(*p) for p in shape.exterior.segmentize(3.0).coords]
    away = [(Point(*p), shape.exterior) for p in ring] + [
        (p, Polygon(ring).exterior) for p in along
    ]
    clear = [pair for pair in away if min(pair[0].distance(each) for each in corners) > 12]
    return max(line.distance(point) for point, line in clear)


@pytest.mark.parametrize("rough", [PAPER.buffer(9), PAPER.buffer(-9), PAPER.buffer(0)])
def test_a_rough_border_comes_to_the_papers_edge(rough):
    fine, _ = floor_with((ring_of(PAPER), BROWN))
    settled = settle(fine, cut_at(ring_of(rough), PAPER))
    assert furthest(settled.ring, PAPER) < 3.5
    inside, outside = settled.floor_like.at(np.array([[400.0, 516.0], [400.0, 524.0]]))
    assert inside < -1 < 1 < outside


def test_a_floor_that_looks_like_the_paper_elsewhere_does_not_matter_here():
    """Left of the paper, and not beside it, lies a board of its own brown."""
    board = box(0, 0, 110, 700)
    fine, _ = floor_with((ring_of(PAPER), BROWN), (ring_of(board), BROWN))
    settled = settle(fine, cut_at(ring_of(PAPER.buffer(9)), PAPER))
    assert furthest(settled.ring, PAPER) < 3.5


def test_it_moves_no_further_than_the_cut_can_be_off():
    """A roll of tape of much the paper's brown touches its edge."""
    roll = box(400, 500, 520, 640)
    fine, _ = floor_with((ring_of(PAPER), BROWN), (ring_of(roll), BROWN))
    settled = settle(fine, cut_at(ring_of(PAPER), PAPER))
    assert max(settled.ring[:, 1]) < 520 + 18


@pytest.mark.parametrize(
    ("checked", "rough"),
    [
        (True, box(180, 120, 700, 520)),
        # The card's middle is blank, and the cut took it for paper.
        (False, box(150, 120, 700, 520).union(box(102, 210, 150, 490))),
    ],
)
def test_where_the_paper_lies_on_a_card_its_edge_is_found_on_it(checked, rough):
    """A pale paper, more like the card than the floor is."""
    sheet, seen, paper = box(40, 200, 250, 497), box(40, 200, 100, 497), box(150, 120, 700, 520)
    fine, _ = floor_with((ring_of(sheet), WHITE), size_mm=(640, 900))
    checks = np.zeros(fine.pixels.shape[:2], np.uint8)
    printed = box(60, 215, 230 if checked else 95, 480)
    cv2.fillPoly(checks, [np.round(fine.to_px(ring_of(printed))).astype(np.int32)], 1)
    rows, columns = np.indices(checks.shape) // 40
    fine.pixels[(checks > 0) & ((rows + columns) % 2 == 0)] = 30
    noise = np.random.default_rng(2).normal(0, 3, fine.pixels.shape)
    over = np.zeros(checks.shape, np.uint8)
    cv2.fillPoly(over, [np.round(fine.to_px(ring_of(paper))).astype(np.int32)], 1)
    fine.pixels[over > 0] = np.clip(PALE + noise, 0, 255).astype(np.uint8)[over > 0]
    cut = cut_at(ring_of(rough), paper, (640, 900), cards=(card_at(sheet, seen),))
    ring = settle(fine, cut).ring
    on_card = ring[(ring[:, 0] < 300) & (ring[:, 1] > 215) & (ring[:, 1] < 480)]
    assert len(on_card) > 100
    assert np.abs(on_card[:, 0] - 150).max() < 4


@pytest.mark.parametrize(("colour", "grows"), [(BROWN, True), ((232, 232, 226), False)])
def test_what_is_likely_seen_of_a_card_is_paper_only_if_it_looks_so_plainly(colour, grows):
    """A corner of the paper lies over 12 mm of what is likely seen; or the card's blank does."""
    sheet, surely, seen = box(40, 200, 250, 497), box(40, 200, 100, 497), box(40, 200, 162, 497)
    paper, without = box(150, 120, 700, 520), box(162, 120, 700, 520)
    over = paper if grows else without
    fine, _ = floor_with((ring_of(sheet), WHITE), (ring_of(over), colour), size_mm=(640, 900))
    cut = cut_at(ring_of(without), without, (640, 900), cards=(card_at(sheet, seen, surely),))
    ring = settle(fine, cut).ring
    on_card = ring[(ring[:, 0] < 300) & (ring[:, 1] > 215) & (ring[:, 1] < 480)]
    assert np.abs(on_card[:, 0] - (150 if grows else 162)).max() < 4


def test_where_nothing_is_learned_the_border_stays():
    fine, _ = floor_with(size_mm=(300, 400))
    crumb = box(200, 150, 203, 152)
    ring = settle(fine, cut_at(ring_of(crumb), crumb, (300, 400))).ring
    assert max(crumb.exterior.distance(Point(*p)) for p in ring) < 2


def test_looks_are_the_same_in_strips_of_any_height(monkeypatch):
    fine, _ = floor_with((ring_of(PAPER), BROWN), size_mm=(600, 800))
    looks = []
    for rows in (3, 64, 10_000):
        monkeypatch.setattr("digitize.paper.settle.STRIP_ROWS", rows)
        looks.append(_looks(fine, 3))
    assert np.ptp(looks[-1], axis=(0, 1)).min() > 1
    assert all(np.array_equal(each, looks[-1]) for each in looks)


@pytest.mark.parametrize("radius_px", [0.4, 7.2, 40.0])
def test_what_is_eroded_row_by_row_is_as_opencv_erodes_it(radius_px):
    """By discs smaller than a picture, and larger than one either way."""
    rng = np.random.default_rng(4)
    for shape in ((313, 419), (30, 200), (200, 30)):
        mask = np.zeros(shape, np.uint8)
        middle = shape[1] // 2, shape[0] // 2
        cv2.ellipse(mask, middle, (shape[1] // 2 + 5, shape[0] // 3), 20, 0, 360, 1, cv2.FILLED)
        mask[rng.integers(0, shape[0], 9), rng.integers(0, shape[1], 9)] ^= 1
        for each in (mask, 1 - mask):
            assert (_eroded(each, radius_px) == cv2.erode(each, disc(radius_px))).all()
