"""Felt pens and crayons: one line down the middle of a broad stroke, and what is near it stays."""

import numpy as np
import pytest
from shapely import LineString, Point

from digitize.pencil.curves import fit_curves
from digitize.pencil.profile import Profiles, middle_of, sides_of
from digitize.pencil.ridges import find_ridges
from digitize.pencil.runs import Runs
from digitize.pencil.strokes import find_strokes
from tests.pencil.test_pencil import arc, paper_with, read

END_POINTS = 5  # near its ends a broad stroke's middle is a matter of taste


def off(curve, truth):
    path = LineString(truth)
    return max(path.distance(Point(*p)) for p in curve.points[END_POINTS:-END_POINTS])


@pytest.mark.parametrize("dark", [0.15, 0.3, 0.7])
@pytest.mark.parametrize("width", [0.5, 1.5, 2.5, 3.0, 4.0])
def test_a_stroke_of_any_width_is_one_line_down_its_middle(width, dark):
    truth = arc(120, 50, 110, (70, -50))
    lines = [curve for curve in read(*paper_with([truth], width, dark)) if curve.length > 10]
    (line,) = lines
    assert off(line, truth) < max(0.15, 0.08 * width)
    assert line.width == pytest.approx(width, abs=0.25)


def test_a_mark_as_broad_as_its_profile_has_a_middle_without_ground_beside_it():
    offsets = np.arange(-3.2, 3.25, 0.1)
    rows = np.tile(np.where(np.abs(offsets - 0.2) < 3.1, 0.5, 0.1), (9, 1))
    nowhere = np.zeros((9, 2))
    profiles = Profiles(Runs(np.array([9]), np.array([False])), nowhere, nowhere, offsets, rows)
    with np.errstate(invalid="raise"):
        assert np.isfinite(middle_of(profiles, np.full(9, 6.2))).all()


def test_of_two_lines_close_to_each_other_no_broad_one_is_made():
    for apart in (2.5, 3.5, 4.5):
        truth = [np.array([[15, 60 + y], [135, 60 + y]]) for y in (0.0, apart)]
        lines = [c for c in read(*paper_with(truth, 0.6, 0.3)) if c.length > 10]
        assert len(lines) == 2
        for line in lines:
            assert min(off(line, each) for each in truth) < 0.15


def test_a_faint_line_runs_on_between_the_ends_of_broad_ones():
    broad = [np.array([[12, 60], [70, 60]]), np.array([[78, 62], [138, 62]])]
    raster, outline = paper_with(broad, 3.0, 0.7)
    thin, _ = paper_with([np.array([[72, 20], [74, 100]])], 0.4, 0.3, grain=0.0)
    shade = thin.pixels.astype(float) / np.array([196, 160, 116])
    pixels = np.clip(raster.pixels * np.minimum(shade, 1.0), 0, 255).astype(np.uint8)
    raster = type(raster)(raster.left, raster.top, raster.mm_per_px, pixels)
    ridges = find_ridges(raster, outline)
    lines = [c for c in fit_curves(find_strokes(ridges), ridges, raster) if c.length > 10]
    assert sorted(round(c.length, -1) for c in lines) == [60, 60, 80]


def test_beside_a_broad_mark_paper_is_looked_for_further_off():
    offsets = np.arange(-3.2, 3.25, 0.1)
    for half, sides in ((2.5, (0.5, 0.1, 0.1)), (1.0, (0.5, 0.1, 0.1)), (9.0, (0.5, 0.5, 0.5))):
        darkness = np.where(np.abs(offsets) < half, 0.5, 0.1)
        rows = np.tile(darkness, (3, 1))
        nowhere = np.zeros((3, 2))
        runs = Runs(np.array([3]), np.array([False]))
        found = sides_of(Profiles(runs, nowhere, nowhere, offsets, rows))
        assert [each[1] for each in found] == pytest.approx(sides)
