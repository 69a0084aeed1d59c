"""A lap line in pieces beside its cut."""

import numpy as np
import pytest
from shapely import line_locate_point

from digitize.tucks.pieces import piece_beside, pieced
from digitize.tucks.slits import find_tucks
from tests.marks import blank, curve_of

CUT = curve_of([[0, 100], [0, 0]], 0.9)  # from its tip at y = 100 to the paper's edge at y = 0
OUTLINE = np.array([[-150, 0], [150, 0], [150, 250], [-150, 250]], float)
LINES = [curve_of([[-140, y], [140, y]]) for y in (150, 170, 200)]


def lap_line(start, stop, widest=12.0, power=1.0, side=1.0):
    """A stretch of a lap line, by the depths where it begins and ends, mm."""
    depth = np.linspace(start, stop, 40)
    return curve_of(np.column_stack([side * widest * (depth / 100) ** power, 100 - depth]))


@pytest.mark.parametrize("power", [1.0, 1.3])
def test_pieces_on_one_side_that_stand_off_as_one_lap_grows_are_one_line(power):
    pieces = [lap_line(75, 99.5, power=power), lap_line(15, 50, power=power).reversed()]
    whole, used = pieced(CUT, [*LINES, *pieces])
    assert sorted(map(id, used)) == sorted(map(id, pieces))
    assert whole.points[0] == pytest.approx([12 * 0.15**power, 85], abs=0.1)
    assert (np.diff(whole.points[:, 1]) < 0).all()
    # Known in part, the rest is found for it.
    _, (other,) = pieced(CUT, [pieces[0]], pieces[1])
    assert other is pieces[0]


@pytest.mark.parametrize(
    "mark",
    [
        curve_of([[8, 90], [8, 0]]),  # beside it, and no nearer at the tip
        lap_line(20, 99, power=-0.5),  # nearer further out
        lap_line(20, 99, widest=45.0),  # steeper than any lap
        curve_of([[-6, 60], [9, 10]]),  # across it
        curve_of([[2, 80], [60, 70]]),  # away from it
    ],
)
def test_what_stands_off_otherwise_is_no_piece(mark):
    assert piece_beside(CUT, mark) is None


@pytest.mark.parametrize("side", [1.0, -1.0])
def test_of_two_sides_the_one_that_shows_more_has_the_lap_line(side):
    more, less = lap_line(20, 95, side=side), lap_line(60, 90, side=-side)
    _, used = pieced(CUT, [less, more])
    assert [each is more for each in used] == [True]
    assert pieced(CUT, [lap_line(30, 50)]) is None  # too little to tell


def test_a_piece_that_reaches_the_papers_edge_by_itself_is_no_slit():
    outer, inner = lap_line(60, 99.5), lap_line(15, 45)
    (found,), _ = find_tucks([CUT, outer, inner, *LINES], OUTLINE, blank)
    assert found.kind == "slit" and found.main.points[0] == pytest.approx([0, 100], abs=1)
    assert found.second is not None and found.second.points[-1] == pytest.approx([12, 0.5], abs=1)


def test_what_lies_beyond_any_laps_reach_is_not_laid_on_the_cut(monkeypatch):
    laid = []

    def counted(path, places):
        laid.append(len(places))
        return line_locate_point(path, places)

    monkeypatch.setattr("digitize.tucks.pieces.line_locate_point", counted)
    assert all(piece_beside(CUT, line) is None for line in LINES)
    assert not laid
    assert piece_beside(CUT, lap_line(20, 95)) is not None
    assert laid
