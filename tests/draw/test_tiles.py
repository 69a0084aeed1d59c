"""What stands where on PDF pages, by hand, from drawings of a few squares; read back by PDFium.

A4 is 210 x 297 mm; margins of 12 mm and 5 mm more at the foot leave 186 x 268. Neighbours share
12 mm, so tiles begin every 174 mm across and every 256 down; a drawing's place on its tile is 12 mm
further right and down.
"""

import numpy as np
import pypdfium2
import pytest

from digitize.draw.pdf import drawing_of, pages_pdf, tiles_pdf, tiling_of, whole_pdf
from digitize.draw.svg import page_for
from digitize.record import Pattern, Zone
from digitize.shop import Blank
from tests.draw.lopsided import line

PX_PER_MM = 4
BLACK, PALE = 90, 215


def svg_of(width, height, *boxes):
    """A drawing with black boxes: left, top, width and height, mm."""
    shapes = "".join(
        f'<rect x="{x}" y="{y}" width="{w}" height="{h}" fill="#000000"/>' for x, y, w, h in boxes
    )
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}mm" height="{height}mm" '
        f'viewBox="0 0 {width} {height}">{shapes}</svg>'
    )


def pictures(content):
    scale = PX_PER_MM * 25.4 / 72
    return [
        page.render(scale=scale).to_numpy()[..., :3].min(axis=2)
        for page in pypdfium2.PdfDocument(content)
    ]


def words_on(content):
    return [page.get_textpage().get_text_range() for page in pypdfium2.PdfDocument(content)]


def part(picture, left, top, width, height):
    """The pixels of a part of a page, given in mm."""
    rows = slice(round(top * PX_PER_MM), round((top + height) * PX_PER_MM))
    return picture[rows, round(left * PX_PER_MM) : round((left + width) * PX_PER_MM)]


def is_box(picture, left, top, width, height):
    """Whether a black box stands just there: filled, and with paper all round it."""
    wide = part(picture, left - 1, top - 1, width + 2, height + 2)
    inner = part(picture, left + 0.5, top + 0.5, width - 1, height - 1)
    rim = np.concatenate([wide[0], wide[-1], wide[:, 0], wide[:, -1]])
    return bool((inner < BLACK).all() and (rim > PALE).all())


def is_match_mark(picture, left, top):
    """Whether a cross of 4 mm arms has its middle there, within half a mm."""
    across = part(picture, left - 3.8, top - 0.25, 7.6, 0.75)
    down = part(picture, left - 0.25, top - 3.8, 0.75, 7.6)
    return bool((across.min(axis=0) < 200).all() and (down.min(axis=1) < 200).all())


def test_the_whole_page_has_each_place_where_the_drawing_has_it():
    (picture,) = pictures(whole_pdf(drawing_of(svg_of(60, 40, (10, 5, 8, 3))), "one"))
    assert picture.shape == (40 * PX_PER_MM, 60 * PX_PER_MM)
    assert is_box(picture, 10, 5, 8, 3)


def test_a_drawing_larger_than_its_page_is_fitted_into_its_upper_middle():
    # 210 x 594 mm on A4: at half its size, 105 mm wide, so 52.5 mm from the left.
    drawings = [drawing_of(svg_of(210, 594, (20, 30, 40, 10), (150, 560, 40, 20)))]
    (picture,) = pictures(pages_pdf(drawings, "tall", "a4"))
    assert is_box(picture, 62.5, 15, 20, 5)
    assert is_box(picture, 127.5, 280, 20, 10)


# 300 x 400 mm take two tiles by two upright, and two by three lying.
BOXES = ((50, 60, 8, 3), (181, 100, 3, 8), (250, 40, 6, 4), (70, 290, 4, 6), (200, 300, 7, 5))


@pytest.fixture(scope="module")
def tiled():
    # What is drawn at its corners leaves nothing to gain by shifting the tiles.
    drawn = [(x, y) for x, y, _, _ in BOXES] + [(1, 1), (299, 1), (1, 399), (299, 399)]
    content = tiles_pdf(drawing_of(svg_of(300, 400, *BOXES)), drawn, "boxes", "a4")
    return pictures(content), words_on(content)


def test_tiles_have_each_place_where_their_step_puts_it(tiled):
    (a1, a2, b1, b2), _ = tiled
    assert is_box(a1, 62, 72, 8, 3)
    assert is_box(a2, 250 - 174 + 12, 52, 6, 4)
    assert is_box(b1, 82, 290 - 256 + 12, 4, 6)
    assert is_box(b2, 200 - 174 + 12, 300 - 256 + 12, 7, 5)


def test_what_two_tiles_share_is_on_both(tiled):
    (a1, a2, _, _), _ = tiled
    assert is_box(a1, 181 + 12, 112, 3, 8)
    assert is_box(a2, 181 - 174 + 12, 112, 3, 8)


def test_match_marks_stand_in_the_middle_of_what_tiles_share(tiled):
    (a1, a2, b1, b2), words = tiled
    # 6 mm in from the left of the right-hand tile, which is 174 + 6 from the left of the other;
    # likewise down, 256 + 6.
    left, right, top, foot = 18, 192, 18, 274
    assert is_match_mark(a1, right, top) and is_match_mark(a2, left, top)
    assert is_match_mark(a1, left, foot) and is_match_mark(b1, left, top)
    assert all(
        is_match_mark(*each)
        for each in ((a1, right, foot), (a2, left, foot), (b1, right, top), (b2, left, top))
    )
    assert not is_match_mark(a1, left, top)
    names = [{"a1", "a2", "b0", "b1", "b2", "c1"} & set(each.split()) for each in words]
    assert names == [{"a1", "b0", "b1"}, {"a1", "b1", "b2"}, {"b0", "b1", "c1"}, {"b1", "b2", "c1"}]


def test_each_tile_says_which_it_is_and_shows_it_on_its_map(tiled):
    tiles, words = tiled
    assert [name_in(each) for each in words] == ["A1", "A2", "B1", "B2"]
    # Cells of 3.2 mm, the last ending 12 mm from the right, the lowest 2.5 mm from the foot.
    middles = [(x, 297 - y) for y in (7.3, 4.1) for x in (193.2, 196.4)]
    for index, picture in enumerate(tiles):
        filled = [bool((part(picture, x - 1, y - 1, 2, 2) < BLACK).all()) for x, y in middles]
        assert filled == [each == index for each in range(4)]


def name_in(words):
    return words.split("tile ")[1].split()[0]


def names_on(content):
    return [name_in(each) for each in words_on(content)]


def test_the_check_rule_is_100_mm_long_with_a_tick_each_centimetre(tiled):
    (picture, *_), _ = tiled
    # From 12 + 26 mm on, 7 mm over the paper's foot; short ticks are 2 mm high.
    rule = part(picture, 36, 297 - 7.25, 104, 0.5).min(axis=0) < 200
    assert np.flatnonzero(np.diff(rule.astype(int))) / PX_PER_MM == pytest.approx([2, 102], abs=0.5)
    ticks = part(picture, 36, 297 - 8.5, 104, 0.5).min(axis=0) < 200
    starts = np.flatnonzero(np.diff(ticks.astype(int)) > 0) / PX_PER_MM
    assert starts == pytest.approx(np.arange(2, 103, 10), abs=0.5)


def test_crop_marks_stand_at_the_corners_of_what_a_tile_shows(tiled):
    (picture, *_), _ = tiled
    for x in (12, 198):
        assert (part(picture, x - 0.5, 8, 1, 2).min(axis=1) < 200).all()
    for y in (12, 280):
        assert (part(picture, 8, y - 0.5, 2, 1).min(axis=0) < 200).all()


def test_a_tile_is_printed_if_a_place_on_it_is_drawn():
    # 500 x 260 mm take three upright tiles, the second up to 360 mm, the third from 348 on.
    drawing = drawing_of(svg_of(500, 260, (364, 50, 2, 2)))
    assert names_on(tiles_pdf(drawing, [(365, 51)], "far", "a4")) == ["A3"]


def test_tiles_are_shifted_where_fewer_then_hold_what_is_drawn():
    # Two places 100 mm apart on both sides of 180 mm, where the second upright tile would begin:
    # with the first begun a quarter of a step before the drawing, one tile holds both.
    drawn = np.array([(130.0, 20.0), (230.0, 240.0)])
    tiling = tiling_of(350, 260, drawn, "a4")
    (tile,) = tiling.kept(drawn)
    left, top = tiling.corner(*tile)
    assert left <= 130 and left + tiling.size[0] >= 230
    assert top <= 20 and top + tiling.size[1] >= 240


def test_tiles_that_only_a_straight_edge_runs_over_are_printed():
    # 620 x 768 mm with the margins and the foot: four tiles by three. Only the two in the middle
    # are empty, though four of the others have no corner of the square, nor of the foot.
    corners = ((0, 0), (600, 0), (600, 700), (0, 700))
    small = ((0, 0), (10, 0), (0, 10))
    edge = np.array(corners, float)
    blank = Blank(edge, edge, area=420000.0, size=(700.0, 600.0), turn_deg=0.0)
    trim = line("L1", "trim-edge", corners, closed=True)
    zone = Zone(id="Z1", kind="shrink", boundary=corners, tucks=(), stations=(), peak_shrink=0.0)
    page = page_for(Pattern(name="square", outline=corners), None)
    drawing = drawing_of(svg_of(page.width, page.height))
    for parts, cut in (
        ({"outline": corners}, None),
        ({"outline": small, "lines": (trim,)}, None),
        ({"outline": small, "zones": (zone,)}, None),
        ({"outline": small}, blank),
    ):
        drawn = page.drawn(Pattern(name="square", **parts), cut)
        assert names_on(tiles_pdf(drawing, drawn, "square", "a4")) == [
            *("A1", "A2", "A3", "A4"),
            *("B1", "B4"),
            *("C1", "C2", "C3", "C4"),
        ]
