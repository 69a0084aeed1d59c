"""The colours that lines and words are drawn in, against WCAG 2.2."""

import itertools

import pytest

from digitize.draw.shrink import COLOURS
from digitize.draw.style import CONTOUR, HATCHED, OUTLINE, STYLES, WITHDRAWN, ZONE, ZONE_FILL


def luminance(colour):
    """Relative luminance, by its definition in WCAG 2.2."""
    parts = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    linear = [p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one, other):
    low, high = sorted((luminance(one), luminance(other)))
    return (high + 0.05) / (low + 0.05)


def test_the_measure_is_the_standards():
    # Black on white is 21 to 1; #767676 is the palest grey of 4.5 (WCAG, from memory).
    assert contrast("#000000", "#ffffff") == pytest.approx(21)
    assert contrast("#767676", "#ffffff") == pytest.approx(4.54, abs=0.01)


@pytest.mark.parametrize(
    "style", [*STYLES.values(), WITHDRAWN, HATCHED, OUTLINE, ZONE, CONTOUR], ids=lambda s: s.words
)
def test_thin_lines_and_words_stand_out_from_white_and_from_a_zones_fill(style):
    assert contrast(style.colour, "#ffffff") >= 4.5
    assert contrast(style.colour, ZONE_FILL) >= 4.5


def test_more_shrink_is_darker_and_the_least_is_the_palest():
    steps = [luminance(colour) for colour in COLOURS]
    assert steps[0] > 0.8
    assert all(one > other + 0.05 for one, other in itertools.pairwise(steps))


def test_roles_that_meet_differ_in_dashes_or_in_lightness():
    for one, other in itertools.combinations(STYLES.values(), 2):
        if one.dashes == other.dashes:
            assert one.colour != other.colour
    start, end = STYLES["radius-start"], STYLES["radius-end"]
    assert start.dashes != end.dashes
    assert contrast(start.colour, end.colour) > 1.5
