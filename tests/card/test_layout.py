"""Cards once printed go on being used: where their corners are does not change."""

import numpy as np
import pytest

from digitize.card.layout import CELL_MM, card_layout


@pytest.mark.parametrize(
    ("paper", "rows", "count"),
    # Two rows of 15 corners, above and below, and beside them two in each row but in the gap's:
    # 30 + 2 * 18 of 23 rows of cells, 30 + 2 * 16 of 21.
    [("a4", 23, 66), ("letter", 21, 62)],
)
def test_corners_lie_12_mm_apart_from_the_sheets_centre(paper, rows, count):
    corners = card_layout(paper).corners_mm
    assert len(corners) == count
    assert sorted(set(corners[:, 0])) == [-84 + 12 * column for column in range(15)]
    top = 6 * rows - 12
    assert corners[:, 1].max() == top and corners[:, 1].min() == -top
    # The gap half way up: no corner within a cell of the cross rule's end.
    beside = corners[np.abs(corners[:, 0]) == 84]
    assert np.abs(beside[:, 1]).min() == 18


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_the_cross_rule_runs_out_over_white(paper):
    # To 76.2 mm on either side, with ticks of 4 mm.
    low = card_layout(paper).cells_mm
    high = low + CELL_MM
    across = (low[:, 0] < 76.2) & (high[:, 0] > -76.2) & (low[:, 1] < 5) & (high[:, 1] > -5)
    along = (low[:, 1] < 76.2) & (high[:, 1] > -76.2) & (low[:, 0] < 5) & (high[:, 0] > -5)
    assert not across.any() and not along.any()


def test_a_markers_corners_go_round_from_its_upper_left():
    layout = card_layout("a4")
    x, y = layout.marker_centres_mm[3]
    assert layout.marker_corners_mm(3) == pytest.approx(
        np.array([[x - 12, y + 12], [x + 12, y + 12], [x + 12, y - 12], [x - 12, y - 12]])
    )
