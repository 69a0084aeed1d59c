from dataclasses import replace

import numpy as np
import pytest

from digitize.tucks.slits import find_tucks
from digitize.tucks.wedges import Gap, gaps_of, parted_by, wedges_of
from tests.marks import blank, curve_of
from tests.tucks.paper import drawn

OUTLINE = np.array([[0, 0], [400, 0], [400, 300], [0, 300]], float)
LONGEST_MM = 140.0
HEIGHTS = (80.0, 50.0, 20.0)


def parted(heights=HEIGHTS, share=0.1, tip=(200.0, 120.0)):
    """Lines across the paper that a fold from a tip down to the edge parts by that of its depth."""
    lines = []
    for y in heights:
        lines += [
            curve_of([[20, y], [tip[0], y]]),
            curve_of([[tip[0] + share * (tip[1] - y), y], [380, y]]),
        ]
    return lines


def wedges_in(lines, outline, darkness_at, taken, longest_mm):
    gaps = gaps_of(lines, darkness_at)
    return wedges_of(lines, gaps, outline, darkness_at, taken, longest_mm)


def test_the_sides_of_a_wedge_meet_at_its_tip():
    (wedge,) = wedges_in(parted(HEIGHTS[:2]), OUTLINE, blank, [], LONGEST_MM)
    assert wedge.tip == pytest.approx([200.0, 120.0], abs=0.01)
    # At the paper's edge, 120 mm deep, it is 12 mm wide.
    assert sorted(wedge.edges[:, 0]) == pytest.approx([200.0, 212.0], abs=0.01)
    assert wedge.edges[:, 1] == pytest.approx([0.0, 0.0], abs=0.01)
    assert len(wedge.gaps) == 2


def test_a_mark_that_was_traced_along_a_wedges_edge_has_its_own_tip():
    """It stops 6 mm short of the paper's edge, so that nothing else told it for a tuck."""
    mark = curve_of([[200, 105], [200, 6]], 0.4, 0.6)
    ((tuck,), rest) = find_tucks([*parted(), mark], OUTLINE, blank)
    assert (tuck.kind, tuck.second, tuck.sure) == ("slit", None, 0.5)
    assert tuck.main.points[[0, -1]] == pytest.approx(np.array([[200, 105], [200, 6]]), abs=0.1)
    assert len(rest) == len(parted())


def test_a_wedge_that_lines_cross_aslant_has_the_same_tip():
    # One goes on at 40 mm of depth as it stopped, the other at 75 mm where it stopped at 70 mm.
    lines = [
        *parted((80.0,)),
        curve_of([[20, 50], [200, 50]]),
        curve_of([[207.5, 45], [380, 20]]),
    ]
    (wedge,) = wedges_in(lines, OUTLINE, blank, [], LONGEST_MM)
    assert wedge.tip == pytest.approx([200.0, 120.0], abs=0.01)


def test_all_lines_that_a_wedge_parts_are_told():
    (wedge,) = wedges_in(parted(), OUTLINE, blank, [], LONGEST_MM)
    assert sorted(gap.width_mm for gap in wedge.gaps) == pytest.approx([4.0, 7.0, 10.0])


def test_breaks_that_widen_away_from_the_edge_are_no_fold():
    lines = [*parted((80.0,), 0.25), *parted((50.0,), 0.1)]  # 10 mm, and 7 mm nearer to the edge
    assert wedges_in(lines, OUTLINE, blank, [], LONGEST_MM) == []


def test_a_line_that_runs_on_through_says_there_is_no_fold():
    through = curve_of([[20, 35], [380, 35]])
    assert wedges_in([*parted(), through], OUTLINE, blank, [], LONGEST_MM) == []


def test_breaks_at_a_slit_that_was_found_tell_no_fold():
    cut = curve_of([[200, 120], [200, 0.5]])
    assert wedges_in(parted(), OUTLINE, blank, [cut], LONGEST_MM) == []


def test_of_many_breaks_some_lie_in_a_row_by_chance():
    others = []
    for y in (150.0, 180.0, 210.0):
        others += [curve_of([[20, y], [90, y]]), curve_of([[100, y], [190, y]])]
    for some, by_chance in ((others[:4], False), (others, True)):
        (wedge,) = wedges_in([*parted(HEIGHTS[:2]), *some], OUTLINE, blank, [], LONGEST_MM)
        assert wedge.by_chance == by_chance
        found, _ = find_tucks([*parted(HEIGHTS[:2]), *some], OUTLINE, blank)
        assert bool(found) != by_chance


def test_a_line_traced_across_a_fold_is_bare_there():
    whole = [curve_of([[20, y], [380, y]]) for y in HEIGHTS]
    darkness_at = drawn(parted())
    (fold,), rest = find_tucks(whole, OUTLINE, darkness_at)
    assert fold.kind == "fold"
    # Round ends run on by 0.3 mm, so the breaks are narrower by 0.6 mm: that of 6 mm of depth.
    assert fold.main.points[0] == pytest.approx([200.0, 114.0], abs=2.0)
    ends = sorted(float(x) for line in rest for x in line.points[[0, -1], 0] if 100 < x < 300)
    assert ends == pytest.approx([200.3, 200.3, 200.3, 203.7, 206.7, 209.7], abs=0.15)


def test_a_pencil_that_skips_makes_no_fold():
    whole = [curve_of([[20, y], [380, y]]) for y in HEIGHTS]
    rng = np.random.default_rng(5)
    dashes = []
    for y in HEIGHTS:
        x = 20.0
        while x < 370:
            on, off = rng.uniform(8, 25), rng.uniform(1.5, 6.0)
            dashes.append(curve_of([[x, y], [min(x + on, 380.0), y]]))
            x += on + off
    found, _ = find_tucks(whole, OUTLINE, drawn(dashes))
    assert found == ()


def test_a_wedge_longer_than_any_tuck_is_none():
    assert wedges_in(parted(), OUTLINE, blank, [], 110.0) == []


def across(curve, start, stop, y):
    """A bare stretch of a level curve at that height, mm."""
    return Gap(np.array([[start, y], [stop, y]], float), (curve, curve))


def test_a_line_traced_across_two_folds_is_parted_at_both():
    line = curve_of([[0.0, 20.0], [100.0, 20.0]])
    parts = parted_by([across(line, 60, 66, 20), across(line, 30, 35, 20)], line)
    ends = [(round(part.points[0][0], 3), round(part.points[-1][0], 3)) for part in parts]
    assert ends == [(0, 30), (35, 60), (66, 100)]
    other = curve_of([[0.0, 20.0], [100.0, 20.0]])
    assert parted_by([across(line, 60, 66, 20)], other) == [other]


def test_a_ring_traced_across_two_folds_is_two_lines():
    square = curve_of([[0.0, 0.0], [40.0, 0.0], [40.0, 40.0], [0.0, 40.0]])
    ring = replace(square, closed=True)
    gaps = [across(ring, 10, 14, 0), across(ring, 24, 28, 0)]
    whole = sorted(round(part.length) for part in parted_by(gaps, ring))
    # 10 mm between the folds; the rest, over its first point, but for the side that closes it.
    assert whole[0] == 10 and len(whole) == 2


def test_a_break_between_a_rings_own_two_ends_parts_nothing():
    open_ring = curve_of([[4.0, 0.0], [40.0, 0.0], [40.0, 40.0], [0.0, 40.0], [0.0, 0.0]])
    gap = Gap(open_ring.points[[0, -1]], (open_ring, open_ring))
    assert parted_by([gap], open_ring) == [open_ring]


def test_breaks_are_looked_for_again_only_where_a_line_was_taken_for_a_mark(monkeypatch):
    asked = []

    def counted(curves, darkness_at):
        asked.append(len(curves))
        return gaps_of(curves, darkness_at)

    monkeypatch.setattr("digitize.tucks.slits.gaps_of", counted)
    (fold,), _ = find_tucks(parted(), OUTLINE, drawn(parted()))
    assert fold.kind == "fold" and len(asked) == 1
