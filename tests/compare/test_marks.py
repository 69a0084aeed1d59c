"""Lines as marks, by hand."""

import numpy as np
import pytest

from digitize.compare.marks import marks_of, same_paper
from digitize.record import Line, Pattern


def line(points, sigma, closed=False):
    return Line(
        id="L1",
        role="form",
        role_confidence=1.0,
        points=points,
        closed=closed,
        width=0.5,
        sigma=sigma,
    )


def test_marks_lie_every_two_mm_and_no_surer_than_can_be_read():
    lines = [line(((0, 0), (6, 8)), 0.001), line(((50, 0), (50, 4)), 0.3)]
    marks = marks_of(lines, [7, 5])
    # 10 mm in five steps, 4 mm in two: with both ends six marks and three.
    assert marks.lines.tolist() == [0] * 6 + [1] * 3 and marks.kinds.tolist() == [7] * 6 + [5] * 3
    assert marks.points[1] == pytest.approx([1.2, 1.6])
    wanted = np.array([[-0.8, 0.6], [-0.8, 0.6], [-1, 0]])
    assert marks.normals[[0, 5, 8]] == pytest.approx(wanted, abs=1e-9)
    assert marks.sigma == pytest.approx([0.02] * 6 + [0.3] * 3)


def test_a_papers_edge_is_marked_all_round():
    paper = Pattern(
        name="p",
        outline=((0, 0), (100, 0), (100, 50), (0, 50)),
        lines=(line(((10, 10), (14, 10)), 0.1), line(((20, 20), (21, 20)), 0.1)),
    )
    marks = same_paper(paper)
    # 300 mm round, and one line of 4 mm; one of 1 mm is too short to be laid on anything.
    assert (marks.kinds == 0).sum() == 151 and (marks.kinds == 1).sum() == 3
    assert marks.points[149] == pytest.approx([0, 2]) and marks.sigma[149] == 0.3
