"""The picture of a made-up comparison, read back.

A line 200 mm long, of which the other pattern's lies 0.2 mm outwards, and 4 mm along 10 mm of it.
With 25 mm to spare all round the window shows 250 mm on 186, below one line of reasons.
"""

import numpy as np
import pytest
import svgelements

from digitize.compare import Comparison, LineDeviation, Verdict
from digitize.draw.compared import compared_svg
from digitize.draw.style import STYLES
from digitize.record import Pattern
from tests.draw.read_back import polylines, read, within, words_at

SCALE = 186 / 250
TOLERANCE_MM = 1.6


def drawn(mirror=False):
    x = np.arange(201.0)
    points, normals = np.stack([x, 0 * x], axis=1), np.stack([0 * x, 0 * x + 1], axis=1)
    off = np.where((x >= 90) & (x < 100), 4.0, 0.2)
    deviation = LineDeviation(
        "L1", "L8", "form", points, normals, off, np.full(201, 0.05), np.ones(201, bool)
    )
    ours = Pattern(name="ours", side="left", outline=((0, 0), (9, 0), (9, 9)))
    other = ours.model_copy(update={"name": "other"})
    comparison = Comparison(ours, other, mirror, (deviation,), (), (), 0.3, None)
    return read(compared_svg(comparison, Verdict("different", ("it is",)), TOLERANCE_MM))


def on_sheet(x, y):
    return pytest.approx((12 + SCALE * (x + 25), 34.6 + SCALE * (25 - y)), abs=0.002)


def test_differences_are_drawn_outwards_as_many_times_larger_as_there_is_room_for():
    # 4 mm come to 3.0 mm on the sheet: twice that is within 7 mm, five times is not.
    svg = drawn()
    ours, before, beyond, after = polylines(within(svg, "L1"))
    assert [stroke for stroke, _ in (before, beyond, after)] == [
        STYLES["radius-start"].colour,
        STYLES["trim-edge"].colour,
        STYLES["radius-start"].colour,
    ]
    assert ours[1][0] == on_sheet(0, 0) and ours[1][-1] == on_sheet(200, 0)
    assert before[1][0] == on_sheet(0, 0.4)
    assert beyond[1][0] == on_sheet(90, 8) and beyond[1][-2] == on_sheet(99, 8)
    assert after[1][-1] == on_sheet(200, 0.4)


def test_the_tolerance_is_drawn_as_many_times_larger():
    (strip,) = (
        e
        for e in drawn().elements()
        if isinstance(e, svgelements.Polygon) and str(e.fill) == "#efefef"
    )
    left, top, right, bottom = strip.bbox()
    assert (left, top) == on_sheet(0, 2 * TOLERANCE_MM)
    assert (right, bottom) == on_sheet(200, -2 * TOLERANCE_MM)


def test_the_bar_is_as_long_as_the_difference_that_it_says():
    # 1 mm of difference is 2 * 0.744 = 1.5 mm on the sheet, too short to measure; 10 mm are 14.9.
    svg = drawn()
    says = next(words for words in words_at(svg) if "mm of difference" in words)
    assert says.startswith("10 mm of difference; differences are drawn 2 times larger")
    bars = [
        e.x2 - e.x1
        for e in svg.elements()
        if isinstance(e, svgelements.SimpleLine) and e.x1 == pytest.approx(12) and e.y1 == e.y2
    ]
    assert bars[0] == pytest.approx(14.88)


def test_the_other_pattern_is_said_to_be_of_the_side_that_it_was_before_it_was_flipped():
    assert "against other, left side; tolerance 1.6 mm" in words_at(drawn())
    assert "against other, right side, flipped over; tolerance 1.6 mm" in words_at(drawn(True))
