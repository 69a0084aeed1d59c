import cv2
import numpy as np
import pytest
from scipy.ndimage import gaussian_filter
from shapely import LineString, Point, STRtree

from digitize.floor.raster import Raster
from digitize.pencil.curves import fit_curves
from digitize.pencil.repair import runs_through
from digitize.pencil.ridges import find_ridges
from digitize.pencil.strokes import find_strokes

MM_PER_PX = 0.3
FINE = 4  # drawn at a finer grid, then averaged


def paper_with(lines, width=0.6, dark=0.2, size_mm=(150, 120), grain=2.5, seed=0):
    """A raster of brown paper with pencil lines (each (N, 2) mm), and the paper's outline."""
    columns, rows = (int(s / MM_PER_PX) for s in size_mm)
    ink = np.zeros((rows * FINE, columns * FINE), np.uint8)
    for line in lines:
        at = (np.asarray(line) * [1, -1] + [0, size_mm[1]]) / MM_PER_PX * FINE
        thick = max(round(width / MM_PER_PX * FINE), 1)
        cv2.polylines(ink, [np.round(at * 16).astype(np.int32)], False, 255, thick, cv2.LINE_AA, 4)
    cover = cv2.resize(ink, (columns, rows), interpolation=cv2.INTER_AREA) / 255
    cover = gaussian_filter(cover, 0.8)
    rng = np.random.default_rng(seed)
    paper = np.array([196, 160, 116]) * (1 - dark * cover[..., None])
    paper = paper + gaussian_filter(rng.normal(0, 1, (rows, columns)), 0.6)[..., None] * grain * 2
    raster = Raster(
        MM_PER_PX / 2,
        size_mm[1] - MM_PER_PX / 2,
        MM_PER_PX,
        np.clip(paper, 0, 255).astype(np.uint8),
    )
    w, h = size_mm
    return raster, np.array([[2, 2], [w - 2, 2], [w - 2, h - 2], [2, h - 2]], float)


def read(raster, outline):
    ridges = find_ridges(raster, outline)
    return fit_curves(find_strokes(ridges), ridges, raster)


def arc(radius, start, stop, centre, count=300):
    angle = np.radians(np.linspace(start, stop, count))
    return np.array(centre) + radius * np.stack([np.cos(angle), np.sin(angle)], axis=1)


def furthest(curve, truth):
    """How far the curve strays sideways; how far it reaches is another question."""
    path = LineString(truth)
    return max(path.distance(Point(*p)) for p in curve.points[2:-2])


@pytest.mark.parametrize("width", [0.4, 0.8, 1.2])
def test_an_arc_is_one_curve_at_its_centre(width):
    truth = arc(80, 20, 100, (60, 20))
    (curve,) = [c for c in read(*paper_with([truth], width)) if c.length > 20]
    assert furthest(curve, truth) < 0.2
    # A drawn line is longer than its path by its round ends.
    assert curve.length == pytest.approx(LineString(truth).length + width, abs=1.2)


def test_crossing_lines_go_straight_on():
    a = np.array([[20, 20], [130, 100]], float)
    b = np.array([[20, 95], [130, 30]], float)
    curves = [c for c in read(*paper_with([a, b])) if c.length > 20]
    assert len(curves) == 2
    assert max(min(furthest(c, a), furthest(c, b)) for c in curves) < 0.3


def test_blank_paper_has_no_lines_and_a_shadow_edge_is_none():
    raster, outline = paper_with([])
    assert not [c for c in read(raster, outline) if c.length > 10]
    shaded = raster.pixels.astype(float)
    shaded[:, 240:] *= 0.55
    shaded = Raster(raster.left, raster.top, MM_PER_PX, shaded.astype(np.uint8))
    assert not [c for c in read(shaded, outline) if c.length > 10]


def test_a_skipped_gap_is_bridged_but_a_broken_line_is_not():
    faint = [np.array([[20, 60], [70, 60]]), np.array([[72, 60], [130, 60]])]
    assert len([c for c in read(*paper_with(faint)) if c.length > 20]) == 1
    broken = [np.array([[20, 60], [70, 60]]), np.array([[78, 60], [130, 60]])]
    assert len([c for c in read(*paper_with(broken)) if c.length > 20]) == 2


def test_dashes_too_faint_to_be_believed_alone_are_a_line_in_a_row_and_bare_grain_is_none():
    dashes = [np.array([[x, 60], [x + 9.5, 60]]) for x in np.arange(8.0, 140.0, 15.0)]
    for seed in range(2):
        found = [c for c in read(*paper_with(dashes, dark=0.04, seed=seed)) if c.length > 20]
        assert sum(c.length for c in found) > 90
        assert all(np.abs(c.points[:, 1] - 60).max() < 0.8 for c in found)
        assert not [c for c in read(*paper_with([], seed=seed)) if c.length > 20]


@pytest.mark.parametrize(("past_mm", "through"), [(3.1, False), (5.0, True)])
def test_a_stem_that_leaks_past_its_bar_does_not_run_through_it(past_mm, through):
    """The ridge filter sees a line for about 3 mm past its end."""
    stem, bar = LineString([[-past_mm, 0], [70, 0]]), LineString([[0, -2], [0, 2]])
    assert runs_through(STRtree([stem]), np.int64(0), bar) == through
