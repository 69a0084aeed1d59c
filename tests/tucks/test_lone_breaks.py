"""Folds told by one line's break and a crease that runs through it."""

import numpy as np
import pytest
from scipy.ndimage import gaussian_filter
from shapely import Polygon

from digitize.tucks.lone_breaks import _fold_at
from digitize.tucks.slits import find_tucks
from digitize.tucks.wedges import Gap
from tests.marks import blank, curve_of

OUTLINE = np.array([[0, 0], [400, 0], [400, 300], [0, 300]], float)
TIP, END = np.array([145.0, 70.0]), np.array([156.0, 0.0])
SHIFT = np.array([60.0, 0.0])
LINES = [curve_of([[30, 28], [151, 28]]), curve_of([[158.4, 28], [370, 28]])]
REST = [curve_of([[30, 200], [370, 200]]), curve_of([[30, 240], [370, 240]])]


def creased(contrast, tip=TIP, end=END):
    """Paper with grain and one crease: light on its one side, dark on the other."""
    grain = gaussian_filter(np.random.default_rng(7).normal(0, 0.2, (1200, 1600)), 1.5)

    def darkness_at(points):
        row, column = (
            np.clip(points[..., k] * 4, 0, (1199, 1599)[1 - k]).astype(int) for k in (1, 0)
        )
        way = (end - tip) / np.linalg.norm(end - tip)
        away = points - tip
        along = away @ way
        aside = away[..., 0] * way[1] - away[..., 1] * way[0]
        slopes = contrast * (aside / 0.5) * np.exp(0.5 - (aside / 0.5) ** 2 / 2)
        return grain[row, column] + slopes * (along > 0)

    return darkness_at


def test_a_crease_through_the_only_break_is_a_fold_and_unsure():
    tucks, lines = find_tucks([*LINES, *REST], OUTLINE, creased(0.08))
    (fold,) = tucks
    assert fold.kind == "fold" and 0.5 <= fold.sure < 0.8
    assert np.linalg.norm(fold.main.points[0] - TIP) < 6.0
    assert np.linalg.norm(fold.main.points[-1] - END) < 1.5
    assert len(lines) == 4


@pytest.mark.parametrize(
    "darkness_at",
    [
        blank,
        creased(0.0),
        creased(0.08, TIP + SHIFT, END + SHIFT),  # a crease, but no line stops at it
        creased(0.08, np.array([152.0, 31.0]), END),  # it ends at the line
    ],
)
def test_a_break_without_a_crease_through_it_is_no_fold(darkness_at):
    assert not find_tucks([*LINES, *REST], OUTLINE, darkness_at)[0]


def test_a_pencil_line_through_a_break_is_no_crease():
    drawn = curve_of([TIP, END - (0, -9)])
    assert not find_tucks([*LINES, *REST, drawn], OUTLINE, creased(0.08))[0]


def test_close_to_a_cut_there_is_no_fold():
    cut = curve_of([[143, 60], [143, 0.3]], 0.9, width=0.4)
    tucks, _ = find_tucks([*LINES, *REST, cut], OUTLINE, creased(0.08))
    assert [marks.kind for marks in tucks] == ["slit"]


def test_one_of_many_breaks_is_a_skip_though_a_crease_may_run_through_it():
    skips = [curve_of([[30 + 60 * k, 220], [80 + 60 * k, 220]]) for k in range(5)]  # 10 mm each
    assert not find_tucks([*LINES, *REST, *skips], OUTLINE, creased(0.08))[0]


def test_a_break_wider_than_what_is_looked_at_is_no_folds():
    """A card over the paper's edge: nothing is seen beside the break to hold a crease against."""
    lines = curve_of([[30, 28], [119, 28]]), curve_of([[179, 28], [370, 28]])
    gap = Gap(np.array([[119.0, 28.0], [179.0, 28.0]]), lines)
    assert _fold_at(gap, [], Polygon(OUTLINE), creased(0.08), 150.0, 4.0) is None
