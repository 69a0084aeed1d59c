"""What of a card is surely seen, what is said of an edge that is not, and how much is looked at."""

from dataclasses import replace

import numpy as np
from shapely import Point, Polygon, box, intersects, points

from digitize.card import card_layout
from digitize.paper import Edge
from digitize.reading.scene import (
    _edge_shown,
    likely_seen,
    runs_out,
    surely_seen,
    too_coarse,
    too_unsure,
)
from tests.paper.floors import BROWN, cut_at, floor_with

CORNERS = card_layout("a4").corners_mm
SHEET = box(-105, -148.5, 105, 148.5)


def test_a_card_with_all_its_corners_or_all_but_one_is_seen_whole():
    assert Polygon(likely_seen("a4", CORNERS)).symmetric_difference(SHEET).area < 1
    for lost in range(len(CORNERS)):
        seen = Polygon(likely_seen("a4", np.delete(CORNERS, lost, axis=0)))
        assert seen.area > 0.99 * SHEET.area


def test_what_a_corner_of_the_paper_hides_is_not_surely_seen():
    """It lies over half of the lower edge: corners to both sides of it are found."""
    paper = Polygon([(-60, -200), (60, -200), (0, -60)])
    hidden = intersects(paper.buffer(3), points(CORNERS))
    seen = Polygon(likely_seen("a4", CORNERS[~hidden]))
    assert seen.intersection(paper).area < 0.15 * paper.intersection(SHEET).area
    assert seen.area > 0.6 * SHEET.area


def test_a_card_half_under_the_paper_is_seen_to_the_last_corners():
    seen = Polygon(likely_seen("a4", CORNERS[CORNERS[:, 1] > 0]))
    assert seen.bounds[1] > 0
    assert seen.bounds[3] == 148.5


def test_the_blank_middle_of_a_card_is_surely_seen_only_with_corners_all_round():
    whole = likely_seen("a4", CORNERS)
    assert Polygon(surely_seen(CORNERS, whole)).symmetric_difference(SHEET).area < 1
    # Paper lies over the lower half: half way in from the upper corners nothing is sure.
    upper = CORNERS[CORNERS[:, 1] > 0]
    sure = Polygon(surely_seen(upper, likely_seen("a4", upper)))
    assert sure.bounds[3] == 148.5
    assert not sure.contains(Point(0, 60)) and sure.contains(Point(0, 120))


def test_too_few_pixels_are_not_rounded_up_to_enough():
    """One a mm is enough."""
    assert "with 0.99 pixels per mm, too few" in too_coarse(0.9962)
    assert "with 0.8 pixels per mm, too few" in too_coarse(0.83)


def test_of_paper_that_is_burnt_out_it_is_said_and_how_to_expose_less():
    points, unsure = np.zeros((10, 2)), np.arange(10) < 5
    words = too_unsure(Edge(points, unsure, np.arange(10) < 4))
    assert "50%" in words
    assert "burnt out white" in words
    assert "lower its exposure" in words
    assert "another colour" not in words
    words = too_unsure(Edge(points, unsure, np.arange(10) > 3))
    assert "burnt" not in words
    assert "another colour" in words


def cut_out(fine, ring):
    """The part of a raster that lies no more than 24 mm beyond a ring."""
    (left, low), (right, top) = ring.min(axis=0) - 24, ring.max(axis=0) + 24
    first, last = np.round(fine.to_px(np.array([[left, top], [right, low]]))).astype(int)
    first = np.maximum(first, 0)
    x, y = fine.to_mm(first[None].astype(float))[0]
    part = fine.pixels[first[1] : last[1], first[0] : last[0]]
    return replace(fine, left=float(x), top=float(y), pixels=part)


def test_where_the_rough_cut_fell_short_of_the_paper_more_is_looked_at():
    """It ends 40 mm before the paper does, beyond what was looked at on its account."""
    sheet, short = box(40, 40, 200, 110), box(40, 40, 160, 110)
    fine, _ = floor_with((np.array(sheet.exterior.coords[:-1]), BROWN), size_mm=(150, 240))
    ring = np.array(short.exterior.segmentize(2.0).coords[:-1])
    cut = cut_at(ring, sheet, (150, 240))
    raster, edge = _edge_shown(cut, lambda about: cut_out(fine, about))
    assert not runs_out(raster, edge.points)
    assert Polygon(edge.points).symmetric_difference(sheet).area < 200


def test_a_ring_runs_out_of_a_raster_that_shows_less_than_12_mm_beyond_it():
    fine, _ = floor_with(size_mm=(150, 240))
    assert not runs_out(fine, np.array(box(13, 13, 227, 137).exterior.coords))
    for ring in (box(11, 13, 227, 137), box(13, 13, 260, 137), box(13, 13, 227, 139)):
        assert runs_out(fine, np.array(ring.exterior.coords))
