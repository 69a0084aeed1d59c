"""Lap lines too faint, or too broken, to be traced."""

import numpy as np
import pytest
from scipy.ndimage import gaussian_filter

from digitize.floor.raster import PLACES_IN_ROW
from digitize.tucks.lap_lines import borne_out, lies_along, sought_lap_line
from digitize.tucks.slits import TuckMarks, _with_faint_lap_lines, find_tucks
from tests.marks import blank, curve_of

OUTLINE = np.array([[0, 0], [300, 0], [300, 250], [0, 250]], float)
CUT = curve_of([[150, 100], [150, 0.5]], 0.9, width=0.4)
LINE = curve_of([[20, 200], [280, 200]])
GRAIN = gaussian_filter(np.random.default_rng(3).normal(0, 0.15, (1000, 1200)), 1.2)


def lap_at(y, power=1.0):
    """The lap at a height: 12 mm at the edge, in proportion to a power of the depth."""
    return 12.0 * np.clip(1.0 - y / 100.0, 0.0, None) ** power


def paper(strength, dash_mm=None, side=1.0, power=1.0):
    """Paper with grain, and beside the cut a line of such a strength, in dashes if so told."""

    def darkness_at(points):
        x, y = points[..., 0], points[..., 1]
        row, column = (np.clip(v * 4, 0, n).astype(int) for v, n in ((y, 999), (x, 1199)))
        there = (y > 0) & (y < 95)
        if dash_mm is not None:
            there &= (y % (1.5 * dash_mm)) < dash_mm
        bar = np.exp(-(((x - 150.0 - side * lap_at(y, power)) / 0.35) ** 2))
        return GRAIN[row, column] + strength * bar * there

    return darkness_at


@pytest.mark.parametrize("dash_mm", [None, 8.0])
@pytest.mark.parametrize("side", [1.0, -1.0])
def test_a_faint_or_dashed_lap_line_is_found_where_it_lies(dash_mm, side):
    found = sought_lap_line(CUT, [LINE], paper(0.05, dash_mm, side))
    away = found.points[:, 0] - 150.0 - side * lap_at(found.points[:, 1])
    assert np.abs(away).max() < 0.3
    assert found.points[-1, 1] < 5.0 and found.width == LINE.width


def test_a_lap_that_grows_with_the_square_of_the_depth_is_followed():
    found = sought_lap_line(CUT, [LINE], paper(0.05, power=2.0))
    away = found.points[:, 0] - 150.0 - lap_at(found.points[:, 1], 2.0)
    assert np.abs(away).max() < 0.3


@pytest.mark.parametrize("darkness_at", [blank, paper(0.0)])
def test_bare_paper_beside_a_slit_has_no_lap_line(darkness_at):
    assert sought_lap_line(CUT, [LINE], darkness_at) is None


def test_beside_the_longest_line_of_a_long_paper_no_more_is_looked_at_than_memory_holds():
    asked = []

    def darkness_at(points):
        asked.append(points[..., 0].size)
        return np.zeros(points.shape[:-1])

    across = curve_of([[0, 100], [2600, 100]], 0.9, width=0.4)
    assert sought_lap_line(across, [LINE], darkness_at) is None
    # A table of places for OpenCV has no more rows than 16 bits count.
    assert max(asked) < 32767 * PLACES_IN_ROW / 2


def test_a_line_along_part_of_the_way_is_no_lap_line():
    whole = paper(0.08)

    def darkness_at(points):
        return np.where(points[..., 1] > 35, whole(points), paper(0.0)(points))

    assert sought_lap_line(CUT, [LINE], darkness_at) is None


def lap_line():
    y = np.arange(70.0, 1.0, -1.0)
    return curve_of(np.column_stack([150.0 + lap_at(y), y]))


def test_lines_that_begin_at_it_bear_it_out_and_those_drawn_on_to_the_cut_do_not():
    begins = [curve_of([[150 + lap_at(y), y], [280, y]]) for y in (30, 50)]
    drawn_on = [curve_of([[150, y], [280, y]]) for y in (20, 40, 60)]
    elsewhere = [curve_of([[150 + lap_at(y) + 3, y], [280, y]]) for y in (25, 35)]

    def pencil(points):
        return np.full(points.shape[:-1], 0.3)

    assert borne_out(CUT, lap_line(), begins, pencil) == 2
    assert borne_out(CUT, lap_line(), [*begins, *drawn_on], pencil) == -1
    assert borne_out(CUT, lap_line(), [*begins, *elsewhere], pencil) == 0
    assert borne_out(CUT, lap_line(), [], pencil) == 0


def test_a_line_traced_on_over_bare_paper_bears_it_out():
    line = curve_of([[150, 30], [280, 30]])

    def bare(points):
        return 0.3 * (points[..., 0] > 150 + lap_at(30)) * (np.abs(points[..., 1] - 30) < 0.4)

    assert borne_out(CUT, lap_line(), [line], bare) == 1


def test_a_line_traced_on_over_bare_paper_that_begins_short_of_it_does_not():
    line = curve_of([[150, 30], [280, 30]])

    def bare(points):
        begins = 150 + 0.7 * lap_at(30)  # beyond half of the way, which is bare
        return 0.3 * (points[..., 0] > begins) * (np.abs(points[..., 1] - 30) < 0.4)

    assert borne_out(CUT, lap_line(), [line], bare) == -1


def test_pieces_of_it_that_were_traced_are_no_lines():
    dash = curve_of([[150 + lap_at(40), 40], [150 + lap_at(32), 32]])
    assert lies_along(dash, lap_line())
    assert not lies_along(curve_of([[150 + lap_at(40), 40], [200, 40]]), lap_line())
    lines = [curve_of([[20, 30], [150, 30]]), curve_of([[150 + lap_at(30), 30], [280, 30]])]
    tucks, rest = find_tucks([CUT, LINE, dash, *lines], OUTLINE, paper(0.05))
    assert [(t.kind, t.second is not None) for t in tucks] == [("slit", True)]
    assert len(rest) == 3


@pytest.mark.parametrize("from_mm", [60.0, 97.0])
def test_what_was_traced_of_it_to_the_edge_is_no_slit_of_its_own(from_mm):
    """It may have been traced from nearer to the tip than a lap line is sought."""
    y = np.arange(from_mm, 0.0, -1.0)
    traced = curve_of(np.column_stack([150.0 + lap_at(y), y]), 0.9, width=0.4)
    lines = [curve_of([[20, 30], [150, 30]]), curve_of([[150 + lap_at(30), 30], [280, 30]])]
    for tucks in ((CUT, traced), (traced, CUT)):
        marks = [TuckMarks("slit", main, None) for main in tucks]
        (slit,), rest = _with_faint_lap_lines(marks, [LINE, *lines], paper(0.05))
        assert slit.main is CUT and slit.second is traced and len(rest) == 3


def test_a_slit_is_unsure_of_what_no_line_bears_out():
    ((slit,), _) = find_tucks([CUT, LINE], OUTLINE, paper(0.05))
    assert (slit.kind, slit.second, slit.sure) == ("slit", None, 0.5)
    ((plain,), _) = find_tucks([CUT, LINE], OUTLINE, paper(0.0))
    assert (plain.second, plain.sure) == (None, 1.0)
