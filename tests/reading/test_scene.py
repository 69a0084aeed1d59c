"""What of a card is surely seen, and what is said of an edge that is not."""

import numpy as np
from shapely import Polygon, box, intersects, points

from digitize.card import card_layout
from digitize.paper import Edge
from digitize.reading.scene import surely_seen, too_unsure

CORNERS = card_layout("a4").corners_mm
SHEET = box(-105, -148.5, 105, 148.5)


def test_a_card_with_all_its_corners_or_all_but_one_is_seen_whole():
    assert Polygon(surely_seen("a4", CORNERS)).symmetric_difference(SHEET).area < 1
    for lost in range(len(CORNERS)):
        seen = Polygon(surely_seen("a4", np.delete(CORNERS, lost, axis=0)))
        assert seen.area > 0.99 * SHEET.area


def test_what_a_corner_of_the_paper_hides_is_not_surely_seen():
    """It lies over half of the lower edge: corners to both sides of it are found."""
    paper = Polygon([(-60, -200), (60, -200), (0, -60)])
    hidden = intersects(paper.buffer(3), points(CORNERS))
    seen = Polygon(surely_seen("a4", CORNERS[~hidden]))
    assert seen.intersection(paper).area < 0.15 * paper.intersection(SHEET).area
    assert seen.area > 0.6 * SHEET.area


def test_a_card_half_under_the_paper_is_seen_to_the_last_corners():
    seen = Polygon(surely_seen("a4", CORNERS[CORNERS[:, 1] > 0]))
    assert seen.bounds[1] > 0
    assert seen.bounds[3] == 148.5


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
