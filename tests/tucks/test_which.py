"""Which of two marks from one tip is the cut."""

from dataclasses import replace

import numpy as np
import pytest

from digitize.tucks.which import cut_odds, look_of, surely_cut
from tests.marks import blank, curve_of

CUT = curve_of([[0, 0], [0, 100]], 0.3, 0.6)
LAP = curve_of([[0, 0], [12, 100]], 0.3, 0.6)
PENCIL = [curve_of([[20, y], [90, y]], 0.3, 0.6) for y in (20, 40, 60)]
SLOPE = np.hypot(12, 100) / 100


def paper(shade=0.0, dark=0.5, wobble_mm=0.0):
    """Darkness of paper with both marks: the first dark and shaded to its left, the second wavy."""

    def darkness_at(points):
        x, y = points[..., 0], points[..., 1]
        course = 0.12 * y + wobble_mm * np.sqrt(2) * np.sin(2 * np.pi * y / 6.0)
        first = dark * np.exp(-((x / 0.3) ** 2))
        second = 0.5 * np.exp(-(((x - course) / SLOPE / 0.3) ** 2))
        beside = shade * ((x < 0) & (x > -2.0)) * np.clip(-x / 0.5, 0, 1)
        return np.where((y > 0) & (y < 101), np.maximum(first, second) + beside, 0.0)

    return darkness_at


def test_marks_that_look_the_same_are_as_likely_either():
    assert cut_odds(CUT, LAP, PENCIL, paper()) == pytest.approx(0.0, abs=0.05)
    assert cut_odds(CUT, LAP, PENCIL, blank) == pytest.approx(0.0, abs=1e-9)


@pytest.mark.parametrize(
    ("seen", "odds"),
    [
        ({"shade": 0.1}, 5.0),  # 50 to a shade of 1
        ({"shade": 0.3}, 10.0),  # no more than that of 0.2
        ({"dark": 0.5 * np.e}, 1.3),
    ],
)
def test_a_shaded_or_a_darker_mark_is_the_cut(seen, odds):
    assert cut_odds(CUT, LAP, PENCIL, paper(**seen)) == pytest.approx(odds, abs=0.25)
    assert cut_odds(LAP, CUT, PENCIL, paper(**seen)) == pytest.approx(-odds, abs=0.25)


def test_a_hand_wobbles_and_a_blade_does_not():
    wavy = paper(wobble_mm=0.15)
    assert look_of(CUT, LAP, wavy).wobble_mm < 0.03
    assert look_of(LAP, CUT, wavy).wobble_mm == pytest.approx(0.15, abs=0.06)
    assert 1.3 < cut_odds(CUT, LAP, PENCIL, wavy) < 3.5  # 16.7 to a mm


def test_a_mark_as_wide_as_the_papers_pencil_is_pencil():
    narrow = replace(CUT, width=0.6 / np.e)
    wide = replace(CUT, width=0.6 * np.e)
    for gap in (narrow, wide):
        assert cut_odds(gap, LAP, PENCIL, paper()) == pytest.approx(2.4, abs=0.05)
        assert cut_odds(LAP, gap, PENCIL, paper()) == pytest.approx(-2.4, abs=0.05)
    assert cut_odds(narrow, LAP, [], paper()) == pytest.approx(0.0, abs=0.05)


def test_a_mark_as_wide_as_a_second_pens_lines_is_that_pens():
    """Two lines in felt pen and one of 70 mm in pencil: a sixth of all."""
    felt = [replace(curve_of([[20, y], [195, y]]), width=0.6 * np.e) for y in (20, 40)]
    assert cut_odds(CUT, LAP, [*felt, PENCIL[0]], paper()) == pytest.approx(0.0, abs=0.05)
    broad = replace(CUT, width=0.6 * np.e)
    assert cut_odds(broad, LAP, [*felt, PENCIL[0]], paper()) == pytest.approx(0.0, abs=0.05)
    narrow = replace(CUT, width=0.6 / np.e)
    odds = cut_odds(narrow, LAP, [*felt, PENCIL[0]], paper())
    assert odds == pytest.approx(2.4, abs=0.05)
    assert cut_odds(narrow, LAP, felt, paper()) == pytest.approx(2.4, abs=0.05)


def test_what_is_as_dark_as_ink_beside_a_mark_that_is_not_may_be_either():
    """Weights of 2.4 and 0.6 to a width of 1: as the felt pen, and what the floor shows through."""
    felt = [curve_of([[20, y], [195, y]], 2.4, 1.0) for y in (20, 40, 60)]
    ink, gap = replace(LAP, weight=2.4, width=1.0), replace(CUT, weight=0.6, width=1.0)
    assert surely_cut(2.0, ink, gap, felt, blank) == 0.5
    assert surely_cut(2.0, gap, ink, felt, blank) == pytest.approx(1 / (1 + np.exp(-2.0)))
    # A lap line in pencil is like the paper's pencil lines.
    pencil = replace(PENCIL[0], weight=0.6, width=1.0)
    assert surely_cut(2.0, ink, gap, [*felt, pencil], blank) > 0.5
    assert surely_cut(2.0, CUT, LAP, [], blank) > 0.8


@pytest.mark.parametrize("gape_mm", [0.0, 1.5])
def test_a_mark_that_is_wider_at_its_tip_than_the_other_may_be_a_pens(gape_mm):
    """One is 1.3 mm wide all along; the other a hair at its tip, and closed or open at the edge."""

    def darkness_at(points):
        x, y = points[..., 0], points[..., 1]
        half = 0.3 + gape_mm / 2 * np.clip(y, 0, 100) / 100
        cut = 0.8 / (1 + np.exp((np.abs(x) - half) / 0.08))
        pen = 0.8 / (1 + np.exp((np.abs(x - 0.12 * y) / SLOPE - 0.65) / 0.08))
        return np.where((y > 0) & (y < 101), np.maximum(cut, pen), 0.0)

    assert surely_cut(5.0, LAP, CUT, PENCIL, darkness_at) == 0.5
    assert surely_cut(5.0, CUT, LAP, PENCIL, darkness_at) > 0.9


def test_of_two_that_begin_as_one_the_cut_goes_straight_on():
    """Both are straight enough beyond 30 mm; the lap line leaves the way of the first stretch."""
    y = np.arange(0.0, 101.0)
    leaves = curve_of(np.column_stack([0.08 * np.clip(y - 30, 0, None), y]))
    goes_on = curve_of([[0, 30], [0, 100]])
    # It strays by 70 * 0.08 = 5.6 mm, the cut by 0.3 or less: 1.7 ln(5.7 / 0.1 to 0.4).
    assert 4.5 < cut_odds(goes_on, leaves, PENCIL, blank) < 7.0
    assert -7.0 < cut_odds(leaves, goes_on, PENCIL, blank) < -4.5


def test_a_mark_too_short_to_look_at_is_taken_by_its_weight():
    short = curve_of([[0, 0], [0, 9]], 0.4, 0.5)
    look = look_of(short, LAP, paper())
    assert (look.darkness, look.wobble_mm, look.shade) == (0.8, 0.0, 0.0)


def test_a_broad_stroke_does_not_shade_itself():
    broad = replace(CUT, width=1.8)

    def darkness_at(points):
        x = points[..., 0]
        return 0.8 * np.clip((1.1 - x) / 0.2, 0, 1) * np.clip((x + 0.9) / 0.2, 0, 1)  # uneven

    assert look_of(broad, LAP, darkness_at).shade < 0.01
