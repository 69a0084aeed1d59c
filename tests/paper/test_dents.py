import numpy as np
from shapely import Polygon, box

from digitize.paper.dents import dents_of

SHEET = box(0, 0, 400, 300)


def ring_of(shape, turned=0):
    coords = np.array(shape.exterior.segmentize(2.0).coords[:-1])
    return np.roll(coords if shape.exterior.is_ccw else coords[::-1], turned, axis=0)


def test_dents_and_bulges_of_straight_sides_are_found_wherever_the_ring_begins():
    for change in (SHEET.difference, SHEET.union):
        for turned in (0, 90, 300):
            ring = ring_of(
                change(Polygon([(150, 292), (170, 292), (200, 308), (140, 308)])), turned
            )
            (dent,) = dents_of(ring)
            aside = ring[np.arange(*dent) % len(ring)]
            assert np.abs(aside[:, 0] - 170).max() < 50
            assert (np.abs(aside[:, 1] - 300) > 6).any()


def test_corners_and_what_leaves_a_side_for_good_are_no_dents():
    assert dents_of(ring_of(SHEET)) == []
    assert dents_of(ring_of(SHEET.difference(box(350, 250, 500, 400)))) == []
    assert dents_of(ring_of(SHEET.difference(box(-10, 100, 8, 400)))) == []


def test_a_side_that_wavers_by_less_than_a_hands_cut_is_straight():
    ring = ring_of(SHEET)
    ring[:, 1] += np.where(np.abs(ring[:, 0] - 200) < 30, 1.0, 0.0)
    assert dents_of(ring) == []
