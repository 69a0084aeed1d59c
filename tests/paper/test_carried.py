from dataclasses import replace

import numpy as np
import pytest
from shapely import Point, Polygon, box, contains_xy

from digitize.floor import Raster
from digitize.paper.carried import (
    carried_on,
    carried_over_things,
    carried_under_cards,
    led_along,
    on_one_line,
    runs,
)
from tests.paper.floors import card_at, cut_at

BLANK = Raster(-50.0, 350.0, 0.5, np.zeros((800, 1000, 3), np.uint8))
SHEET = box(0, 0, 400, 300)
RING = np.array(SHEET.segmentize(2.0).exterior.coords[:-1])


def cut_round(*cards):
    return cut_at(RING, SHEET, corner=(-150.0, -150.0), cards=cards)


def furthest(points, shape):
    return max(shape.exterior.distance(Point(*p)) for p in points)


def anything(way):
    return True


def test_a_bridge_is_straight_and_only_where_both_sides_are_on_one_line():
    ring = np.array(box(0, 0, 400, 300).segmentize(2.0).exterior.coords[:-1])[::-1]
    dented = ring.copy()
    low = ring[:, 1] == 0
    dent = low & (np.abs(ring[:, 0] - 200) < 30)
    dented[dent, 1] = 25
    found, bridged, _ = carried_on(dented, dent, anything)
    assert np.abs(found[low, 1]).max() < 1e-9
    assert bridged[dent].all()
    corner = (np.abs(ring) < 30).all(axis=1)
    pulled = ring.copy()
    pulled[corner] += 12
    found, bridged, _ = carried_on(pulled, corner, lambda way: way.across)
    assert np.array_equal(found, pulled)
    assert not bridged.any()


def test_sides_that_lean_to_each_other_are_not_bridged_straight():
    """Worked by hand: 5 degrees apart, of 4 that are allowed.

    By the six points that lead to it on either side, 21 mm from where they meet, one side lies
    21 sin 5 = 1.83 mm off the other's line, of 1.2 + 0.02 * 42 = 2.04 that are allowed.
    """
    low = 300 - 200 * np.tan(np.radians(5))
    shape = Polygon([(0, 0), (400, 0), (400, low), (200, 300), (0, 300)])
    ring = np.array(shape.segmentize(2.0).exterior.coords[:-1])
    hidden = (ring[:, 1] > 250) & (np.abs(ring[:, 0] - 200) < 10)
    found, bridged, _ = carried_on(ring, hidden, lambda way: way.across)
    assert hidden.any()
    assert not bridged.any()
    assert np.array_equal(found, ring)


def test_the_edge_goes_on_beneath_a_card_and_not_past_one_that_lies_beside_a_bay():
    ring = np.array(box(0, 0, 400, 300).segmentize(2.0).exterior.coords[:-1])
    bay = (ring[:, 1] == 0) & (np.abs(ring[:, 0] - 200) < 50)
    led = ring.copy()
    led[bay, 1] = 40
    over, beside = box(150, -150, 250, 36), box(150, -200, 250, -3)
    found = carried_under_cards(led, cut_at(led, box(0, 0, 400, 300), cards=(card_at(over),)))
    assert np.abs(found[bay, 1]).max() < 1e-9
    led[bay, 1] = 3
    found = carried_under_cards(led, cut_at(led, box(0, 0, 400, 300), cards=(card_at(beside),)))
    assert np.array_equal(found, led)


def test_a_corner_that_a_card_hides_is_where_both_sides_meet():
    ring = np.array(box(0, 0, 400, 300).segmentize(2.0).exterior.coords[:-1])
    card = box(350, 250, 500, 420)
    led = ring.copy()
    hidden = (ring[:, 0] > 350) & (ring[:, 1] > 250)
    led[hidden] = [348.0, 248.0]
    found = carried_under_cards(led, cut_at(led, box(0, 0, 400, 300), cards=(card_at(card),)))
    assert np.hypot(*(found - [400, 300]).T).min() < 1.5
    assert Polygon(found).symmetric_difference(box(0, 0, 400, 300)).area < 10


@pytest.mark.parametrize("under", [True, False])
def test_sides_do_not_meet_on_what_is_seen_of_a_card_that_lies_under_the_paper(under):
    """A corner is cut off over a card, which shows there; a card that is whole hides the corner."""
    paper = Polygon([(0, 0), (400, 0), (400, 200), (300, 300), (0, 300)])
    ring = np.array(paper.exterior.segmentize(2.0).coords[:-1])
    card = box(280, 180, 520, 420)
    cut = cut_at(
        ring,
        paper,
        corner=(-150.0, -150.0),
        cards=(card_at(card, card.difference(paper) if under else card),),
    )
    cut_off = (ring[:, 0] > 300) & (ring[:, 1] > 200)
    found = carried_under_cards(ring, cut)
    assert (np.hypot(*(found - [400, 300]).T).min() < 3) == (not under)
    found, _, _ = carried_over_things(BLANK, ring, cut_off, cut)
    assert (np.hypot(*(found - [400, 300]).T).min() < 3) == (not under)


def test_sides_do_not_meet_beyond_floor_in_sight_beside_a_card():
    """A corner is cut off; a card hides most of the cut, and beside it 25 mm of floor show."""
    paper = Polygon([(72, 0), (500, 0), (500, 300), (0, 300), (0, 256), (75, 27), (80, 18)])
    ring = np.array(paper.exterior.segmentize(2.0).coords[:-1])
    hidden = (ring[:, 0] < 97) & (ring[:, 1] < 256)
    card = card_at(box(-220, 29, 72, 239))
    cut = cut_at(ring, paper, corner=(-250.0, -150.0), cards=(card,))
    found, across, otherwise = carried_over_things(BLANK, ring, hidden, cut)
    assert np.array_equal(found, ring)
    assert not (across | otherwise).any()


def test_runs_go_on_past_the_end():
    flags = np.array([True, True, False, True, False, False, True])
    assert runs(flags) == [(3, 4), (6, 9)]
    assert runs(np.ones(3, bool)) == []


def test_a_side_is_carried_on_alone_until_it_meets_the_edge_again():
    """What is not seen reaches to 14 mm from a corner: too little side is left beyond it."""
    for mirrored in (False, True):
        led = RING.copy()
        bay = (RING[:, 1] == 0) & (RING[:, 0] > 14) & (RING[:, 0] < 90)
        led[bay, 1] = 20
        ring = led[::-1] * [-1, 1] + [400, 0] if mirrored else led
        flags = bay[::-1] if mirrored else bay
        found, across, otherwise = carried_on(ring, flags, anything)
        assert furthest(found, SHEET) < 0.1
        assert not across.any()
        assert otherwise[flags].all()


def test_the_edge_is_carried_to_a_corner_that_a_thing_hides_and_not_over_plain_floor():
    led = RING.copy()
    hidden = (RING[:, 0] > 360) & (RING[:, 1] > 260)
    led[hidden] = [358.0, 258.0]
    led = np.array(Polygon(led).buffer(0).segmentize(2.0).exterior.coords[:-1])
    hidden = (led[:, 0] > 355) & (led[:, 1] > 255)
    plain = cut_round()
    thing = (lambda x, y: (x > 350) & (y > 250))(
        *np.moveaxis(
            plain.other.to_mm(
                np.moveaxis(np.indices(plain.other.values.shape)[::-1], 0, -1)
                .reshape(-1, 2)
                .astype(float)
            ).reshape(*plain.other.values.shape, 2),
            -1,
            0,
        )
    )
    there = replace(plain, other=replace(plain.other, values=thing.astype(np.float32)))
    found, _, otherwise = carried_over_things(BLANK, led, hidden, there)
    assert furthest(found, SHEET) < 0.5
    assert otherwise.any()
    gone = replace(plain.floor_like, values=np.full_like(plain.floor_like.values, 3.0))
    found, _, otherwise = carried_over_things(BLANK, led, hidden, replace(plain, floor_like=gone))
    assert np.array_equal(found, led)
    assert not otherwise.any()
    # The same floor beneath a card says nothing: there the card hides the corner.
    card = card_at(box(340, 240, 480, 400))
    found, _, _ = carried_over_things(BLANK, led, hidden, replace(cut_round(card), floor_like=gone))
    assert furthest(found, SHEET) < 0.5


@pytest.mark.parametrize(("lit", "carried"), [(SHEET, True), (box(330, 180, 470, 360), False)])
def test_a_corner_in_the_sun_is_the_papers_if_its_sides_step_on_as_before(lit, carried):
    """It looks like neither, which counts as floor; sun on the floor ends elsewhere."""
    rng = np.random.default_rng(5)
    columns, rows = np.meshgrid(np.arange(1000), np.arange(800))
    x, y = np.moveaxis(BLANK.to_mm(np.stack([columns, rows], axis=-1).astype(float)), -1, 0)
    light = np.where(contains_xy(SHEET, x, y), 170.0, 90.0)
    sun = x / 80 + y / 60 > 400 / 80 + 300 / 60 - 1
    light[sun & contains_xy(lit, x, y)] = 250
    noisy = light[..., None] + rng.normal(0, 3, (800, 1000, 3))
    fine = replace(BLANK, pixels=np.clip(noisy, 0, 255).astype(np.uint8))
    led = np.array(SHEET.difference(Polygon([(320, 300), (400, 240), (401, 301)])).exterior.coords)
    led = np.array(Polygon(led).segmentize(2.0).exterior.coords[:-1])
    hidden = (led[:, 0] > 322) & (led[:, 1] > 242)
    plain = cut_round()
    like = replace(plain.floor_like, values=np.full_like(plain.floor_like.values, 3.0))
    gone = replace(plain, floor_like=like)
    found, across, otherwise = carried_over_things(fine, led, hidden, gone)
    assert not across.any()
    assert otherwise.any() == carried
    assert (furthest(found, SHEET) < 0.5) == carried


def test_what_looks_like_paper_is_not_cut_off_at_a_corner():
    """The edge was led round what looks like paper beyond a corner: no thing lies there."""
    bulge = box(340, 240, 430, 330)
    led = np.array(SHEET.union(bulge).segmentize(2.0).exterior.coords[:-1])
    hidden = (led[:, 0] > 336) & (led[:, 1] > 236)
    plain = cut_round()
    found, across, otherwise = carried_over_things(BLANK, led, hidden, plain)
    assert furthest(found, SHEET) < 0.5  # the cut says that floor is there, which it may lose
    assert otherwise.any()
    alike = replace(plain.floor_like, values=np.full_like(plain.floor_like.values, -3.0))
    found, across, otherwise = carried_over_things(
        BLANK, led, hidden, replace(plain, floor_like=alike)
    )
    assert np.array_equal(found, led)
    assert not (across | otherwise).any()


def test_a_torn_edge_goes_on_beneath_a_card_from_where_it_goes_under_to_where_it_comes_out():
    """Its sides lead nowhere near each other, and one of them past paper that is in sight."""
    card = box(150, -150, 250, 36)
    led = RING.copy()
    low = RING[:, 1] == 0
    led[low, 1] = 3.0 * (-1) ** np.arange(low.sum())
    bay = low & (np.abs(RING[:, 0] - 200) < 50)
    led[bay, 1] = 40
    torn = Polygon(led).buffer(0)
    cut = cut_at(led, torn, corner=(-150.0, -150.0), cards=(card_at(card),))
    found = carried_under_cards(led, cut)
    assert np.abs(found[bay, 1]).max() < 6
    assert np.array_equal(found[~low], led[~low])


def test_a_side_that_leads_past_paper_in_sight_is_not_followed():
    """The left side leans, and beneath a card it turns: drawn on, it would cut 950 mm2 off."""
    card = box(-150, 4, 48, 200)
    whole = Polygon([(52, 0), (400, 0), (400, 300), (0, 300), (23, 200), (52, 200)])
    led = np.array(whole.exterior.segmentize(2.0).coords[:-1])
    cut = cut_at(led, whole, corner=(-150.0, -150.0), cards=(card_at(card),))
    found = Polygon(carried_under_cards(led, cut)).buffer(0)
    assert whole.difference(card).difference(found).area < 150
    assert found.intersection(card).area > 1500


@pytest.mark.parametrize(
    ("first", "aside_mm", "also_unseen", "led"),
    [(80, 0.0, 0, True), (80, 1.5, 0, False), (80, 0.0, 60, False), (26, 0.0, 0, True)],
)
def test_a_run_near_a_corner_lies_on_the_line_of_the_side_that_leads_to_it(
    first, aside_mm, also_unseen, led
):
    """It begins 160 mm along a side of 200 and ends 8 mm before the corner; or after 52 mm."""
    along = np.column_stack([np.arange(0, 200, 2.0), np.zeros(100)])
    up = np.column_stack([np.full(50, 200.0), np.arange(0, 100, 2.0)])
    points = np.concatenate([along, up, [[200.0, 100.0], [0.0, 100.0]]])
    unseen = np.zeros(len(points), bool)
    last = 96 if first == 80 else 40
    unseen[first:last] = True
    unseen[also_unseen : also_unseen + 5] |= also_unseen > 0
    points[first + 3 : last - 3, 1] += aside_mm
    assert led_along(points, unseen, first, last) == led
    assert first != 80 or not on_one_line(points, unseen, first, last)
