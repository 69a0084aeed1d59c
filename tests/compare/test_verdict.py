"""The verdict by hand, on deviations and laps at both sides of the tolerance."""

from dataclasses import replace

import numpy as np
import pytest

from digitize.compare.deviation import Comparison, Gap, LineDeviation
from digitize.compare.tucks import TuckPair
from digitize.compare.verdict import doubt, standing, verdict_on
from digitize.record import Pattern

TOLERANCE = 1.6


def deviation(off, sigma=0.0, judged=True, name="L1", role="trim-edge"):
    """A line along x, a place every 2 mm, so far off at each."""
    off = np.array(off, float)
    ones = np.ones_like(off)
    return LineDeviation(
        line=name,
        other=name,
        role=role,
        points=np.column_stack([2.0 * np.arange(len(off)), 30 * ones]),
        normals=np.tile([0.0, -1.0], (len(off), 1)),
        off=off,
        sigma=sigma * ones,
        judged=np.array(judged & (ones > 0)),
    )


def comparison(*deviations, tucks=(), gaps=(), accuracy_mm=0.0):
    bare = Pattern(name="p", outline=((0.0, 0.0),))
    return Comparison(bare, bare, False, deviations, tuple(tucks), tuple(gaps), accuracy_mm, None)


def pair(off, sigma=0.2):
    return TuckPair("T1", "T4", (6.0, 6.0 + off), off, sigma, 1.0)


def test_a_line_in_figures():
    line = deviation([np.nan, 1.0, -4.0, 2.0, np.nan, np.nan, np.nan, 2.0])
    # Four places 2 mm apart; 1, 16, 4 and 4 have the mean 25 / 4.
    assert line.length_mm == 8 and line.rms_mm == pytest.approx(2.5) and line.worst == 2
    # Three places without a counterpart, about the middle one of which lies at x = 10.
    assert line.gap == Gap("L1", "trim-edge", 6.0, (10.0, 30.0))
    assert comparison(line, deviation([0.0] * 2)).covered == pytest.approx(6 / 10)


def test_a_gap_round_the_start_of_a_closed_line_is_one():
    # A square of 40 mm from its lower left corner on, 80 places and the first again; of the lower
    # side 9 places are missing, the corner among them, and of the left side 6.
    side = np.arange(0, 40, 2.0)
    zero, far = np.zeros(20), np.full(20, 40.0)
    x = np.concatenate([side, far, 40 - side, zero, [0]])
    y = np.concatenate([zero, side, far, 40 - side, [0]])
    off = np.zeros(81)
    off[:9] = off[-7:] = np.nan
    trim = replace(deviation(off), points=np.column_stack([x, y]))
    assert trim.gap == Gap("L1", "trim-edge", 30.0, (2.0, 0.0))
    whole = replace(trim, off=np.full(81, np.nan))
    assert whole.gap.length_mm == 162


def test_doubt_is_three_sigma_and_the_scales():
    # 0.3 and 0.4 square to each other.
    assert doubt(deviation([0.0, 9.0], sigma=0.1), 0.4) == pytest.approx([0.5, 0.5])


def test_doubt_speaks_against_both_same_and_different():
    line = deviation([1.0, 1.2, -1.2, -2.0, -2.2, 2.2, np.nan, 9.0], sigma=0.1)
    line = replace(line, judged=np.array([True] * 7 + [False]))
    # With 0.5 of doubt: up to 1.5, 1.7, 1.7; down to 1.5, 1.7, 1.7; nothing; not to be judged.
    assert standing(line, 0.4, TOLERANCE).tolist() == [0, 1, 1, 1, 2, 2, -1, -1]


@pytest.mark.parametrize(
    ("off", "says"),
    [
        (0.9, "same"),  # at most 1.5
        (-1.1, "cannot tell"),  # up to 1.7
        (2.1, "cannot tell"),  # down to 1.5
        (2.3, "different"),  # at least 1.7
        (-2.3, "different"),
    ],
)
def test_a_lap_with_doubt_on_both_sides(off, says):
    verdict = verdict_on(comparison(deviation([0.0] * 40), tucks=[pair(off)]), TOLERANCE)
    assert verdict.says == says
    if says == "different":
        assert verdict.reasons == (f"T1 laps 2.3 mm {'more' if off > 0 else 'less'} there",)
    if says == "cannot tell":
        assert verdict.reasons == (f"T1 laps {off:+.1f} mm there, give or take 0.6 mm",)


@pytest.mark.parametrize(("places", "says"), [(4, "cannot tell"), (5, "different")])
def test_a_difference_counts_from_ten_mm_on(places, says):
    off = [0.0] * 20 + [-3.0] * places + [0.0] * 20
    verdict = verdict_on(comparison(deviation(off)), TOLERANCE)
    assert verdict.says == says
    if places == 5:
        assert verdict.reasons[0] == (
            "L1 (trim-edge) lies up to 3.0 mm further in, beyond doubt over 10 mm, "
            "most at x 40, y 30"
        )


def test_the_largest_difference_is_said_first():
    one, two = deviation([2.5] * 30), deviation([4.0] * 30, name="L2")
    verdict = verdict_on(comparison(one, two, tucks=[pair(3.0)]), TOLERANCE)
    assert [words.split()[0] for words in verdict.reasons] == ["L2", "T1", "L1"]


def test_the_most_doubtful_place_is_the_one_that_may_be_furthest_off():
    line = deviation([0.0] * 30 + [1.0, 1.5])
    line = replace(line, sigma=np.array([0.01] * 30 + [0.3, 0.05]))
    verdict = verdict_on(comparison(line), TOLERANCE)
    # 1.0 and 0.9 of doubt may be 1.9, 1.5 and 0.15 only 1.65.
    assert verdict.says == "cannot tell"
    assert verdict.reasons == ("L1 (trim-edge) is off by 1.0 mm, give or take 0.9 mm",)


def test_a_line_that_slits_keep_from_being_compared_in_part_is_not_the_same():
    line = replace(deviation([0.0] * 30), judged=np.array([True] * 29 + [False]))
    verdict = verdict_on(comparison(line), TOLERANCE)
    assert verdict.says == "cannot tell" and "slits in other places" in verdict.reasons[0]


@pytest.mark.parametrize(
    ("role", "length_mm", "says"),
    [
        ("trim-edge", 22.0, "cannot tell"),
        ("radius-end", 22.0, "cannot tell"),
        ("trim-edge", 20.0, "same"),
        ("form", 900.0, "same"),
    ],
)
def test_what_the_other_has_alone_counts_if_the_metal_follows_it(role, length_mm, says):
    gap = Gap("L7", role, length_mm, (12.0, 34.0))
    verdict = verdict_on(comparison(deviation([0.0] * 40), gaps=[gap]), TOLERANCE)
    assert verdict.says == says
    named = f"the other's L7 ({role}) has no counterpart over {length_mm:.0f} mm, about x 12, y 34"
    assert any(named in words for words in verdict.reasons) == (length_mm > 20)


def test_patterns_that_hardly_lie_alike_are_not_called_different():
    none = deviation([np.nan] * 60 + [9.0] * 40)
    verdict = verdict_on(comparison(none), TOLERANCE)
    assert verdict.says == "cannot tell" and "only 40% of the lines" in verdict.reasons[0]


def test_scales_that_leave_it_open_are_named_with_what_to_do():
    said = verdict_on(comparison(deviation([1.0] * 40), accuracy_mm=0.9), TOLERANCE)
    assert "together both readings are within 0.9 mm" in said.reasons[-1]
    said = verdict_on(comparison(deviation([1.0] * 40), accuracy_mm=0.7), TOLERANCE)
    assert "together" not in said.reasons[-1]
