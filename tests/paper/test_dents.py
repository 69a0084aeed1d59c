import numpy as np
from shapely import Polygon, box

from digitize.paper.dents import asides_of, dents_of, juts_out, sides_of_dents

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


def test_a_ruler_over_an_edge_leads_it_beside_its_line():
    """It lies 12 mm in, along 260 mm of the upper side: longer than a dent may be."""
    ring = ring_of(SHEET.difference(box(70, 288, 330, 320)))
    asides = asides_of(ring)
    assert len(asides) == 2  # one from either end
    for aside in asides:
        assert not aside.outward.any()
        inside = ring[aside.places]
        assert np.abs(inside[:, 1] - 288).max() < 9
        assert np.ptp(inside[:, 0]) > 250
    scrap = ring_of(SHEET.union(box(150, 280, 220, 330)))
    assert asides_of(scrap)
    assert all(aside.outward.all() for aside in asides_of(scrap))


def test_a_tear_that_wanders_off_a_line_runs_beside_none():
    """Up and down by 6 mm, between parts that are straight; a ruler's edge does not wander."""
    x = np.linspace(75, 325, 60)
    for depths, found in (([8, 11, 7, 11, 6, 12, 8, 12, 8], False), ([8] * 9, True)):
        tear = 300 - np.interp(x, np.linspace(75, 325, 9), depths)
        torn = Polygon([(70, 320), (70, 292), *zip(x, tear, strict=True), (330, 292), (330, 320)])
        assert bool(asides_of(ring_of(SHEET.difference(torn)))) == found


def test_a_ruler_over_a_corner_leads_one_side_beside_its_line():
    for mirrored in (False, True):
        shape = SHEET.difference(box(-50, 290, 250, 320) if mirrored else box(150, 290, 450, 320))
        ring = ring_of(shape)
        # By the ruler's edge it is the paper's own side that runs beside a line, further out.
        aside, other = sorted(asides_of(ring), key=lambda each: bool(each.outward.any()))
        assert not aside.outward.any()
        assert other.outward.all()
        inside = ring[aside.places]
        assert np.abs(inside[:, 1] - 290).max() < 7
        assert np.ptp(inside[:, 0]) > 200


def test_corners_and_slanting_sides_run_beside_no_line():
    assert asides_of(ring_of(SHEET)) == []
    assert asides_of(ring_of(Polygon([(0, 0), (400, 0), (400, 300), (200, 340), (0, 300)]))) == []


def test_a_long_tear_is_no_dent_and_a_long_ruler_is():
    ruler = ring_of(SHEET.difference(box(70, 290, 330, 320)))
    assert len(dents_of(ruler)) == 1
    x = np.linspace(110, 330, 45)
    tear = 290 + 3.0 * (-1) ** np.arange(45)
    torn = Polygon([(110, 320), *zip(x, tear, strict=True), (330, 320)])
    assert dents_of(ring_of(SHEET.difference(torn))) == []


def test_of_a_dent_what_lies_well_off_the_line_is_within_or_beyond_it():
    for change, outward in ((SHEET.difference, False), (SHEET.union, True)):
        shape = change(Polygon([(150, 290), (170, 290), (200, 310), (140, 310)]))
        for turned in (0, 90, 300):
            ring = ring_of(shape, turned)
            (aside,) = sides_of_dents(ring, dents_of(ring))
            assert juts_out(ring, dents_of(ring)) == [outward]
            assert len(aside.places) > 5
            assert (np.abs(ring[aside.places, 1] - 300) > 2.9).all()
            assert (aside.outward == outward).all()
