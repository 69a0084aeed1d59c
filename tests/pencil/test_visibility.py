"""Where pencil could not be seen: burnt, dark, blurred; and what a filter gives of a line."""

import itertools
from dataclasses import replace

import cv2
import numpy as np
import pytest
from shapely import MultiLineString, Point, Polygon
from shapely.ops import unary_union

from digitize.floor import Grid
from digitize.floor.raster import Raster
from digitize.pencil.curves import fit_curves
from digitize.pencil.ridges import darkness_of, find_ridges, second_derivatives
from digitize.pencil.strokes import find_strokes
from digitize.pencil.thresholds import FAINT_DARKNESS
from digitize.pencil.visibility import (
    GREY,
    _Cells,
    _usual_darkness,
    bar_response,
    edge_blur,
    shown_darkness,
    true_darkness,
    unseen_areas,
)
from digitize.plane import length_of

MM_PER_PX = 0.4
WIDTH, HEIGHT, FLOOR = 320.0, 240.0, 14.0  # of the paper, and of the floor round it, mm
OUTLINE = np.array([[0, 0], [WIDTH, 0], [WIDTH, HEIGHT], [0, HEIGHT]], float)
ROWS, COLUMNS = (round((side + 2 * FLOOR) / MM_PER_PX) for side in (HEIGHT, WIDTH))
X, Y = np.meshgrid(
    (np.arange(COLUMNS) + 0.5) * MM_PER_PX - FLOOR,
    HEIGHT + FLOOR - (np.arange(ROWS) + 0.5) * MM_PER_PX,
)
LEVELS = np.array([186.0, 160.0, 120.0])


def photo(
    light=1.0, blur_mm=0.0, of_blur=False, levels=LEVELS, dark=0.5, seed=0, floor=0.03, grain=0.05
):
    """Brown paper on a dark floor, an upright line every 40 mm and a level one every 60.

    ``light`` multiplies it all, ``of_blur`` is where it is out of focus, ``dark`` how dark lines
    are, all over or place by place, ``floor`` the light that the floor gives back.
    """
    inside = (X > 0) & (X < WIDTH) & (Y > 0) & (Y < HEIGHT)
    away = np.minimum(np.abs((X - 20) % 40 - 20), np.abs((Y - 30) % 60 - 30))
    drawn = np.clip((0.25 - away) / MM_PER_PX + 0.5, 0, 1)
    linear = (levels / 255) ** 2.2 * (1 - ((1 - np.exp(-dark)) * drawn)[..., None])
    linear = np.where(inside[..., None], linear, floor)
    rng = np.random.default_rng(seed)
    rough = cv2.GaussianBlur(rng.normal(0, 1, (ROWS, COLUMNS)), (0, 0), 1.0)
    linear = linear * (1 + grain * rough[..., None])
    sharp = cv2.GaussianBlur(linear, (0, 0), 0.5)
    if np.any(of_blur):
        soft = cv2.GaussianBlur(linear, (0, 0), max(blur_mm / MM_PER_PX, 0.1))
        sharp = np.where(np.asarray(of_blur)[..., None], soft, sharp)
    linear = sharp
    linear = linear * np.asarray(light)[..., None]
    linear = linear + 0.01 * np.sqrt(linear) * rng.normal(0, 1, linear.shape)
    pixels = (np.clip(linear, 0, 1) ** (1 / 2.2) * 255 + 0.5).astype(np.uint8)
    left, top = MM_PER_PX / 2 - FLOOR, HEIGHT + FLOOR - MM_PER_PX / 2
    return Raster(left, top, MM_PER_PX, pixels)


def marks_in(raster):
    """The ridge map of a raster, and the curves of the strokes that are found."""
    ridges = find_ridges(raster, OUTLINE)
    return ridges, fit_curves(find_strokes(ridges), ridges, raster)


def areas_of(raster, marks=None, **beside):
    return unseen_areas(raster, OUTLINE, *(marks or marks_in(raster)), **beside)


def overlap(areas, true):
    """Intersection over union of what is named with what is hidden."""
    named = Polygon()
    for area in areas:
        named = named.union(Polygon(area.boundary))
    return named.intersection(true).area / named.union(true).area


def test_the_filter_gives_of_a_blurred_bar_what_the_formula_says():
    # 0.4^2 * 0.5 / 0.5^3 * phi(0.5) = 0.64 * 0.352065 (the density from any table).
    assert bar_response(0.5, 0.5, 0.4) == pytest.approx(0.225322, abs=1e-6)
    # And of a bar 0.8 mm wide drawn at 0.02 mm, blurred by 0.3 mm, the filter itself, of 0.4 mm.
    bar = (np.abs(np.arange(-400, 401)) < 20.5).astype(np.float32)[None].repeat(801, axis=0)
    xx, _, _ = second_derivatives(cv2.GaussianBlur(bar, (0, 0), 15.0), 20.0)
    expected = bar_response(0.82, 0.5, 0.4)
    assert -xx[400, 400] * 20.0**2 == pytest.approx(expected, rel=0.01)


def test_a_line_looks_as_dark_as_the_levels_allow():
    grey = np.array([128.0, 128.0, 128.0])
    unburnt, burnt = np.zeros(3), np.ones(3)
    # (128/255)^2.2 = 0.21952; log((0.21952 + 0.004) / (0.21952 / e^0.5 + 0.004)).
    assert shown_darkness(grey, unburnt, 0.5) == pytest.approx(0.48838, abs=1e-4)
    assert shown_darkness(grey, burnt, 0.5) == 0.0
    # Green burnt: red and blue alone go from 128 to 128 / e^(0.5 / 2.2) = 101.978, grey from
    # 202.549 to 191.803: log((0.60249 + 0.004) / (0.53443 + 0.004)).
    green = shown_darkness(np.array([128.0, 255.0, 128.0]), np.array([0.0, 1.0, 0.0]), 0.5)
    assert green == pytest.approx(0.1190, abs=2e-4)
    # Levels of 20: (20/255)^2.2 = 0.003703, as much as the floor: little is left.
    assert shown_darkness(grey * 20 / 128, unburnt, 0.5) == pytest.approx(0.2093, abs=1e-3)
    assert true_darkness(np.array(20.0), np.array(0.20930)) == pytest.approx(0.5, abs=2e-3)


def test_grey_is_what_the_darkness_is_read_from():
    colour = np.array([[[200, 100, 50]]], np.uint8)
    # 0.299 * 200 + 0.587 * 100 + 0.114 * 50 (ITU-R BT.601-7, 2.5.1).
    assert GREY @ colour[0, 0] == pytest.approx(124.2)
    assert cv2.cvtColor(colour, cv2.COLOR_RGB2GRAY)[0, 0] == 124


def test_darkness_is_the_log_of_the_light_that_is_missing():
    pixels = np.full((200, 200, 3), 200, np.uint8)
    pixels[:, 99:102] = 160
    dark = darkness_of(Raster(0.0, 80.0, 0.4, pixels), np.ones((200, 200), bool))
    # (200/255)^2.2 = 0.58612 and (160/255)^2.2 = 0.35875: log(0.59012 / 0.36275).
    assert dark[100, 100] == pytest.approx(0.4866, abs=2e-3)


def test_the_blur_of_the_papers_edge_is_measured():
    corner = (X > 200) & (Y > 120)
    places, blur = edge_blur(photo(blur_mm=1.5, of_blur=corner), OUTLINE)
    away = np.linalg.norm(places - [WIDTH, HEIGHT], axis=1)
    assert np.median(blur[away < 90]) == pytest.approx(1.5, abs=0.2)
    assert np.median(blur[away > 200]) < 0.4


def test_even_paper_hides_nothing():
    assert areas_of(photo()) == ()
    assert areas_of(photo(light=0.25, seed=1)) == ()
    # Light that falls off slowly, as from a window.
    assert areas_of(photo(light=1.3 - 0.8 * X / WIDTH, seed=2)) == ()


def test_a_burnt_out_quarter_is_named():
    (area,) = areas_of(photo(light=np.where(X < 100, 8.0, 1.0)))
    assert area.reason == "bright"
    assert overlap([area], Polygon([(0, 0), (100, 0), (100, HEIGHT), (0, HEIGHT)])) > 0.9
    x, y = area.boundary.T
    assert x @ np.roll(y, -1) - y @ np.roll(x, -1) > 0  # counter-clockwise


def test_burnt_paper_on_which_strokes_are_seen_is_not_called_unseen_there():
    # White paper just over white: its strokes are darker than white still.
    raster = photo(light=1.25, levels=np.array([255.0, 255.0, 255.0]), dark=0.9)
    at = Point(40, 90)
    assert all(not Polygon(area.boundary).contains(at) for area in areas_of(raster))
    much = areas_of(replace(raster, pixels=np.full_like(raster.pixels, 255)))
    assert overlap(much, Polygon(OUTLINE)) > 0.9


def cells_burnt(*shares):
    """Grey paper of level 200, a cell of 10 mm for each share of red that is burnt out there."""
    flat = np.zeros((1, len(shares)))
    burnt = np.zeros((1, len(shares), 3))
    burnt[0, :, 0] = shares
    colour = np.full((1, len(shares), 3), 200.0)
    grid = Grid(5.0, 5.0, 10.0)
    return _Cells(grid, np.ones(flat.shape, bool), flat, flat, colour, burnt)


def test_strokes_on_half_burnt_paper_are_at_least_as_dark_as_they_look():
    """Red is 0.299 of grey: half of it burnt is 0.15, and a tenth 0.03, which is little."""
    half, little = (np.tile([[x, 5.0]], (150, 1)) for x in (5.0, 15.0))
    cells = cells_burnt(0.5, 0.1)
    # Light of 200 is 0.586: a ratio of exp(-0.4) in what is shown is hardly more in truth.
    usual, weak = _usual_darkness(cells, half, np.full(150, 0.4))
    assert usual == weak == pytest.approx(0.4, abs=0.01) and usual >= 0.4
    # Paler than a faint line they say no more than that lines may be faint.
    assert _usual_darkness(cells, half, np.full(150, 0.05)) == (FAINT_DARKNESS, FAINT_DARKNESS)
    assert _usual_darkness(cells, half[:90], np.full(90, 0.4)) == (FAINT_DARKNESS, FAINT_DARKNESS)
    # What is hardly burnt speaks by itself, and may be fainter than that.
    both, shown = np.concatenate([half, little]), np.repeat([0.4, 0.1], 150)
    assert _usual_darkness(cells, both, shown)[0] == pytest.approx(0.1, abs=0.01)


def test_a_stroke_that_is_burnt_out_itself_is_the_border_of_what_is():
    """It was read along the patch's border, 102 mm in, and pencil crosses it."""
    raster = photo(light=np.interp(X, [96, 116], [9.0, 1.0]))
    ridges = find_ridges(raster, OUTLINE)
    curves = fit_curves(find_strokes(ridges), ridges, raster)
    along = np.column_stack([np.full(201, 102.0), np.linspace(20, 220, 201)])
    assert (raster.colours_at(along) >= 253).all(axis=1).mean() > 0.8
    border = replace(curves[0], points=along)
    areas = unseen_areas(raster, OUTLINE, ridges, [*curves, border])
    named = Polygon(areas[0].boundary)
    assert sum(named.contains(Point(p)) for p in along) > 0.8 * len(along)
    (without,) = unseen_areas(raster, OUTLINE, ridges, curves)
    assert named.area > Polygon(without.boundary).area + 500


def test_a_dark_edge_is_named():
    (area,) = areas_of(photo(light=np.where(Y < 50, 0.004, 1.0)))
    assert area.reason == "dark"
    assert overlap([area], Polygon([(0, 0), (WIDTH, 0), (WIDTH, 50), (0, 50)])) > 0.8


def test_a_blurred_corner_is_named():
    areas = areas_of(photo(blur_mm=2.4, of_blur=(X > 120) & (Y > 60)))
    assert {area.reason for area in areas} == {"blurred"}
    blurred = Polygon([(120, 60), (WIDTH, 60), (WIDTH, HEIGHT), (120, HEIGHT)])
    named = [Polygon(area.boundary) for area in areas]
    assert sum(each.intersection(blurred.buffer(5)).area for each in named) == pytest.approx(
        sum(each.area for each in named)
    )
    # As far from the edge, which tells, as from the sharp lines beside the corner.
    for place in ((250, 225), (220, 205), (200, 215), (270, 215)):
        assert any(each.contains(Point(place)) for each in named), place


def test_an_edge_that_is_not_borne_out_tells_no_blur():
    corner = (X > 120) & (Y > 60)
    raster = photo(blur_mm=2.4, of_blur=corner)
    beyond = np.array([[120.0, HEIGHT], [WIDTH, HEIGHT], [WIDTH, 60.0]])
    beyond = np.concatenate([np.linspace(a, b, 60) for a, b in itertools.pairwise(beyond)])
    marks = marks_in(raster)
    named, unnamed = areas_of(raster, marks), areas_of(raster, marks, unsure=[beyond])
    size = [sum(Polygon(area.boundary).area for area in each) for each in (named, unnamed)]
    assert size[1] < size[0]


def test_pencil_too_faint_for_the_grain_is_named_everywhere():
    areas = areas_of(photo(dark=0.04))
    assert overlap(areas, Polygon(OUTLINE)) > 0.8
    assert {area.reason for area in areas} == {"faint"}


def test_a_few_dark_specks_do_not_stand_for_pencil():
    # Upright, 12 mm long and half a mm wide, one to every square of lines: 48 of them.
    specks = (np.abs(X % 40 - 2) < 0.25) & (np.abs(Y % 40 - 15) < 6)
    faint = photo(dark=0.04)
    darker = np.where(specks, 0.5, 1.0)[..., None]
    speckled = replace(faint, pixels=(faint.pixels * darker).astype(np.uint8))
    marks = marks_in(speckled)
    assert sum(length_of(curve.points) for curve in marks[1]) > 200
    assert overlap(areas_of(speckled, marks), Polygon(OUTLINE)) > 0.8
    # Where even faint pencil would show, there is none, and nothing to say.
    assert areas_of(photo(dark=0.0, grain=0.002)) == ()


def test_where_lines_are_weak_in_places_less_blur_hides_them():
    corner = (X > 120) & (Y > 60)
    uneven = np.where(Y % 20 < 6, 0.2, 0.5)
    assert areas_of(photo(blur_mm=1.0, of_blur=corner)) == ()
    areas = areas_of(photo(blur_mm=1.0, of_blur=corner, dark=uneven))
    assert {area.reason for area in areas} == {"blurred"}


def test_where_weak_places_are_lost_all_over_the_paper_is_named_though_better_ones_are_found():
    uneven = photo(dark=np.where((X + Y) % 50 < 20, 0.02, 0.1), grain=0.1)
    marks = marks_in(uneven)
    assert sum(length_of(curve.points) for curve in marks[1]) > 300
    assert overlap(areas_of(uneven, marks), Polygon(OUTLINE)) > 0.6


def test_the_blur_of_an_edge_shows_in_hue_where_the_floor_is_as_light():
    # Blue floor as grey as the paper: 0.299 * 140 + 0.587 * 164 + 0.114 * 219 = 163.1.
    blue = np.array([140.0, 164.0, 219.0])
    assert blue @ GREY == pytest.approx(LEVELS @ GREY, abs=0.2)
    floor = (blue / 255) ** 2.2
    corner = (X > 200) & (Y > 120)
    places, blur = edge_blur(photo(blur_mm=1.5, of_blur=corner, floor=floor), OUTLINE)
    away = np.linalg.norm(places - [WIDTH, HEIGHT], axis=1)
    assert np.median(blur[away < 90]) == pytest.approx(1.5, abs=0.2)
    assert np.median(blur[away > 200]) < 0.4


def test_what_lies_on_the_paper_is_not_spoken_of():
    light = np.where((X < 80) & (Y > 100), 8.0, 1.0)
    card = np.array([[-5, 95], [85, 95], [85, 250], [-5, 250]], float)
    raster = photo(light=light)
    marks = marks_in(raster)
    assert areas_of(raster, marks) and not areas_of(raster, marks, covers=[card])


def test_an_area_smaller_than_matters_is_not_named():
    assert areas_of(photo(light=np.where((X < 22) & (Y < 22), 8.0, 1.0))) == ()
    assert areas_of(photo(light=np.where((X < 50) & (Y < 50), 8.0, 1.0))) != ()


def test_a_rim_that_is_hidden_leaves_the_middle_out():
    rim = (np.abs(X - WIDTH / 2) > 100) | (np.abs(Y - HEIGHT / 2) > 70)
    areas = areas_of(photo(light=np.where(rim, 8.0, 1.0)))
    middle = Point(WIDTH / 2, HEIGHT / 2).buffer(50)
    assert len(areas) > 1
    assert all(Polygon(area.boundary).intersection(middle).area == 0 for area in areas)
    # To a cell's width along the border of what is burnt.
    assert sum(Polygon(area.boundary).area for area in areas) == pytest.approx(
        WIDTH * HEIGHT - 200 * 140, abs=2 * (200 + 140) * 13
    )


@pytest.mark.parametrize(("dark", "unfollowed"), [(0.09, True), (0.0, False)])
def test_lines_that_are_there_but_too_faint_to_be_followed_are_named_where_they_are(
    dark, unfollowed
):
    """Two upright lines are found; level ones, half as dark, are there, or are not."""
    upright, level = np.abs(X % 160 - 80) < 2, np.abs((Y - 30) % 60 - 30) < 2
    drawn = np.where(upright, 0.2, np.where(level, dark, 0.0))
    raster = photo(dark=drawn, grain=0.13, light=0.5)
    ridges = find_ridges(raster, OUTLINE)
    strokes = find_strokes(ridges)
    curves = fit_curves(strokes, ridges, raster)
    beside = [stroke.points for stroke in strokes]
    areas = unseen_areas(raster, OUTLINE, ridges, curves, followed=beside)
    if not unfollowed:
        assert not areas
        return
    found = MultiLineString([curve.points for curve in curves])
    named = unary_union([Polygon(area.boundary) for area in areas])
    level = [Point(x, y) for y in (60, 120, 180) for x in range(6, 315)]
    lost = [point for point in level if found.distance(point) > 2]
    assert len(lost) > 0.5 * len(level)
    assert np.mean([named.intersects(point) for point in lost]) > 0.5
    # Three lines of 320 mm and the cells beside them, and not the paper.
    assert named.area < 3 * 320 * 40
    assert {area.reason for area in areas} <= {"faint", "dark"}
