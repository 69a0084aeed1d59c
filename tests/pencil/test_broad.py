"""Felt pens and crayons: one line down the middle of a broad stroke, and what is near it stays."""

import cv2
import numpy as np
import pytest
from scipy.ndimage import gaussian_filter, gaussian_filter1d
from shapely import LineString, Point

from digitize.floor.raster import Raster
from digitize.pencil.curves import fit_curves
from digitize.pencil.profile import Profiles, edge_wander, middle_of, profiles_along, sides_of
from digitize.pencil.ridges import find_ridges
from digitize.pencil.runs import Runs
from digitize.pencil.strokes import find_strokes
from tests.pencil.test_pencil import FINE, MM_PER_PX, arc, paper_with, read

END_POINTS = 5  # near its ends a broad stroke's middle is a matter of taste
SIZE_MM = (215, 120)


def off(curve, truth):
    path = LineString(truth)
    return max(path.distance(Point(*p)) for p in curve.points[END_POINTS:-END_POINTS])


@pytest.mark.parametrize("dark", [0.15, 0.3, 0.7])
@pytest.mark.parametrize("width", [0.5, 1.5, 2.5, 3.0, 3.5, 4.0, 4.5, 5.0])
def test_a_stroke_of_any_width_is_one_line_down_its_middle(width, dark):
    truth = arc(120, 50, 110, (70, -50))
    lines = [curve for curve in read(*paper_with([truth], width, dark)) if curve.length > 10]
    (line,) = lines
    assert off(line, truth) < 0.15
    assert line.width == pytest.approx(width, abs=0.25)
    path = LineString(truth)
    for end in line.points[[0, -1]]:
        assert path.distance(Point(*end)) < width / 2 + 0.5


def crayon(width, wander, seed):
    """Paper, its outline and the course of a stroke whose edges each wander by so many mm."""
    rng = np.random.default_rng([91, seed])
    x = np.arange(15, 200, 0.5)
    y = 60 + rng.uniform(-0.2, 0.2) * (x - 100) + rng.uniform(-0.002, 0.002) * (x - 100) ** 2
    across = np.column_stack([-np.gradient(y, x), np.ones(len(x))])
    across /= np.linalg.norm(across, axis=1, keepdims=True)
    course = np.column_stack([x, y])
    edges = []
    for side in (1, -1):
        own = gaussian_filter1d(rng.normal(0, 1, len(x) + 400), 20)[200:-200]
        own *= wander * np.sqrt(2 * np.sqrt(np.pi) * 20)
        edges.append(course + across * (side * width / 2 + own)[:, None])
    ring = np.concatenate([edges[0], edges[1][::-1]])
    columns, rows = (int(size / MM_PER_PX) for size in SIZE_MM)
    ink = np.zeros((rows * FINE, columns * FINE), np.uint8)
    at = (ring * [1, -1] + [0, SIZE_MM[1]]) / MM_PER_PX * FINE - 0.5
    cv2.fillPoly(ink, [np.round(at * 16).astype(np.int32)], 255, cv2.LINE_AA, 4)
    cover = cv2.resize(ink, (columns, rows), interpolation=cv2.INTER_AREA) / 255
    paper = np.array([196, 160, 116]) * (1 - 0.4 * gaussian_filter(cover, 0.8)[..., None])
    paper = paper + gaussian_filter(rng.normal(0, 1, (rows, columns)), 0.6)[..., None] * 5
    pixels = np.clip(paper, 0, 255).astype(np.uint8)
    w, h = SIZE_MM
    outline = np.array([[2, 2], [w - 2, 2], [w - 2, h - 2], [2, h - 2]], float)
    return Raster(MM_PER_PX / 2, h - MM_PER_PX / 2, MM_PER_PX, pixels), outline, course


@pytest.mark.parametrize("width", [3.0, 4.0, 5.0])
def test_the_sigma_of_a_broad_stroke_holds_where_its_edges_wander(width):
    squares = []
    for wander in (0.15, 0.3):
        for seed in range(4):
            raster, outline, course = crayon(width, wander, seed)
            (line,) = [curve for curve in read(raster, outline) if curve.length > 50]
            some = line.points[END_POINTS:-END_POINTS]
            path = LineString(course)
            away = np.array([path.distance(Point(*point)) for point in some])
            squares.append(np.mean((away / line.sigma) ** 2))
    assert 0.7 < np.sqrt(np.mean(squares)) < 1.3


def test_a_middle_strays_by_half_of_what_the_width_varies_by():
    widths = np.concatenate([np.full(200, 3.0), np.full(200, 3.4), np.full(100, 4.0)])
    nowhere, rows = np.zeros((500, 2)), np.zeros((500, 1))
    runs = Runs(np.array([400, 100]), np.zeros(2, bool))
    profiles = Profiles(runs, nowhere, nowhere, np.zeros(1), rows)
    # 0.2 mm to either side of the mean, halved.
    assert edge_wander(profiles, widths) == pytest.approx([0.1, 0.0], abs=0.002)


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


def test_ridges_are_seen_alike_in_bands_and_tiles_of_any_size(monkeypatch):
    raster, outline = paper_with([arc(120, 50, 110, (70, -50))], 3.0, 0.3)
    seen = []
    for size in (97, 5000):
        for name in ("TILE_PX", "BAND_ROWS"):
            monkeypatch.setattr(f"digitize.pencil.ridges.{name}", size)
        seen.append(find_ridges(raster, outline))
    assert seen[0].strength.max() > 20
    np.testing.assert_array_equal(seen[0].darkness, seen[1].darkness)
    np.testing.assert_array_equal(seen[0].strength, seen[1].strength)
    np.testing.assert_array_equal(seen[0].direction, seen[1].direction)


def test_profiles_are_the_same_in_parts_of_any_size(monkeypatch):
    raster, outline = paper_with([arc(120, 50, 110, (70, -50))], 1.0, 0.3)
    ridges = find_ridges(raster, outline)
    lines = [stroke.points for stroke in find_strokes(ridges)]
    found = []
    for blocks in (3, 10_000):
        monkeypatch.setattr("digitize.pencil.profile.BLOCKS_AT_ONCE", blocks)
        found.append(profiles_along(lines, [False] * len(lines), ridges).darkness)
    assert found[0].max() > 0.1
    np.testing.assert_array_equal(*found)
