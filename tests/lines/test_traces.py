"""What is left on the paper and is no line: creases that mean nothing, and what was rubbed out."""

from dataclasses import replace

import pytest

from digitize.lines.traces import without_traces
from tests.marks import curve_of


def test_a_faint_line_stays_where_all_are_faint():
    faint = [curve_of([[20, y], [120, y]], 0.09) for y in (30, 60)]
    assert without_traces(faint) == tuple(faint)


@pytest.mark.parametrize(("weight", "stays"), [(0.1, True), (0.05, False)])
def test_a_line_is_what_an_eraser_left_by_the_weight_that_most_of_the_pencil_has(weight, stays):
    """200 mm have 0.2, and three tenths of that is 0.06; the 50 mm of 1.0 do not count."""
    usual, heavy = curve_of([[20, 30], [220, 30]], 0.2), curve_of([[20, 60], [70, 60]], 1.0)
    doubtful = curve_of([[20, 90], [60, 90]], weight)
    assert (without_traces([heavy, usual, doubtful])[-1] is doubtful) == stays


@pytest.mark.parametrize(("weight", "stays"), [(0.14, True), (0.1, False)])
def test_on_paper_with_heavy_lines_only_what_is_hardly_seen_was_rubbed_out(weight, stays):
    heavy = [curve_of([[20, y], [220, y]], 1.0) for y in (30, 60)]
    doubtful = curve_of([[20, 90], [60, 90]], weight)
    assert (without_traces([*heavy, doubtful])[-1] is doubtful) == stays


@pytest.mark.parametrize(("sheen", "stays"), [(0.3, True), (0.4, False)])
def test_a_mark_with_light_beside_it_is_a_crease(sheen, stays):
    marks = [curve_of([[20, 30], [120, 30]]), replace(curve_of([[20, 60], [120, 60]]), sheen=sheen)]
    assert len(without_traces(marks)) == 1 + stays
