"""What the record says of marks: how sure, and where pencil cannot be seen."""

from dataclasses import replace

import numpy as np
import pytest

from digitize.lines import RoleProposal
from digitize.pencil import UnseenArea
from digitize.reading.entries import (
    UNSEEN_SURE,
    doubted,
    hatched_area,
    lines_and_tucks,
    unseen_of,
    withdrawn,
)
from digitize.record import Line
from digitize.tucks import LapReading, TuckMarks
from tests.marks import curve_of

LEFT = UnseenArea(np.array([[0.0, 0.0], [50.0, 0.0], [50.0, 100.0], [0.0, 100.0]]), "dark")


def line(name, end, **changed):
    """A level line from x = 0, of a role that is sure."""
    return Line(
        id=name,
        role="form",
        points=((0.0, 50.0), (end, 50.0)),
        width=0.5,
        sigma=0.1,
        **{"role_confidence": 0.93, "confidence": 0.9, **changed},
    )


def test_nothing_is_called_sure_where_pencil_cannot_be_seen():
    lines = (line("L1", 100.0), line("L2", 1000.0), line("L3", 100.0, role_by="told"))
    (half, far, told), there = doubted(lines, [LEFT])
    assert there == ("L1", "L3")
    assert (half.role_confidence, half.confidence) == (UNSEEN_SURE, UNSEEN_SURE)
    # Half of a tenth of it lies there.
    assert far == lines[1]
    # What was told stays told; whether it is a line at all is open.
    assert (told.role_confidence, told.confidence) == (0.93, UNSEEN_SURE)
    assert doubted(lines, []) == (lines, ())


def test_a_line_of_ticks_or_dashes_says_so():
    marks = [curve_of([[0, 50], [100, 50]]) for _ in range(3)]
    drawn = [replace(marks[0], ticks=True), replace(marks[1], dashed=True), marks[2]]
    records, _ = lines_and_tucks(drawn, [RoleProposal("form", 0.9)] * 3, (), ())
    assert [each.stroke for each in records] == ["ticks", "dashed", "solid"]


def test_a_line_that_is_less_sure_anyway_stays_so():
    (low,), _ = doubted([line("L1", 100.0, role_confidence=0.3, confidence=0.2)], [LEFT])
    assert (low.role_confidence, low.confidence) == (0.3, 0.2)


@pytest.mark.parametrize(("sure", "unsure", "role_sure"), [(0.79, True, 0.77), (0.9, False, 0.87)])
def test_a_cut_is_as_sure_as_its_marks_are_told_apart(sure, unsure, role_sure):
    cut, lap_line = (curve_of([[0, 0], [x, 90]]) for x in (0, 8))
    marks = TuckMarks("slit", cut, lap_line, sure)
    lines, (tuck,) = lines_and_tucks((), (), [marks], [LapReading((), (), 0.0)])
    assert tuck.unsure is unsure
    assert [line.role_confidence for line in lines] == [role_sure, role_sure]  # of 0.97


def test_an_areas_entry_is_its_boundary_and_reason():
    entry = unseen_of(LEFT)
    assert entry.reason == "dark" and entry.boundary == pytest.approx(LEFT.boundary)


def test_what_was_struck_out_is_kept_and_a_hatched_area_has_a_name_that_nothing_told_has():
    first, second = withdrawn([curve_of([[0, 0], [9, 0]]), curve_of([[0, 5], [20, 5]])], 7)
    assert (first.id, second.id) == ("L8", "L9")
    assert first.withdrawn and (first.role, first.role_confidence) == ("unknown", 0.0)
    assert second.length == 20.0 and not second.is_of_metal
    area = hatched_area(np.array([[1.0, 2.0], [8.0, 2.0], [8.0, 9.0]]), 1)
    assert (area.id, area.use) == ("A-2", "hatched")
    assert area.boundary == ((1.0, 2.0), (8.0, 2.0), (8.0, 9.0))
