"""A lopsided pattern with a blank beyond its paper, read back from SVG and DXF, place by place.

The sheet's left edge is 10 mm left of the blank's, at x = -12 - 10; its top 10 mm over the blank's,
at y = 266 + 10. So a place (x, y) comes to lie at (x + 22, 276 - y) from the sheet's upper left.
"""

import io

import ezdxf
import pytest
import svgelements
from ezdxf.path import make_path
from shapely import LineString, Point

from digitize.draw.dxf import pattern_dxf
from digitize.draw.svg import page_for, pattern_svg
from tests.draw.lopsided import BLANK, ON_CUBIC, PATTERN, PUNCHED
from tests.draw.read_back import read, within, words_at


@pytest.fixture(scope="module")
def text():
    return pattern_svg(PATTERN, "marked face down", BLANK, PUNCHED)


@pytest.fixture(scope="module")
def svg(text):
    return read(text)


@pytest.fixture(scope="module")
def space():
    return ezdxf.read(io.StringIO(pattern_dxf(PATTERN, BLANK, PUNCHED).decode())).modelspace()


def on_sheet(points):
    return [pytest.approx((x + 22, 276 - y), abs=0.001) for x, y in points]


def shape(svg, name):
    """The corners of the shape with an id, and whether it is closed."""
    (found,) = (e for e in svg.elements() if isinstance(e, svgelements.Shape) and e.id == name)
    corners = [(p.x, p.y) for p in found]
    return corners, isinstance(found, svgelements.Polygon)


def test_the_sheet_holds_paper_and_blank_with_a_margin_and_a_foot(svg):
    # From -12 to 400 across and from -7 to 266 up, 10 mm on each side, 48 mm at the foot.
    assert (svg.width, svg.height) == pytest.approx((432, 341))
    assert (svg.viewbox.x, svg.viewbox.y) == (0, 0)
    assert (svg.viewbox.width, svg.viewbox.height) == pytest.approx((432, 341))


def test_every_shape_is_at_its_place_on_the_sheet(svg):
    for each in PATTERN.lines:
        assert shape(svg, each.id) == (on_sheet(each.points), each.closed)
    assert shape(svg, "blank-edge") == (on_sheet(BLANK.edge), True)
    assert shape(svg, "outline-paper") == (on_sheet(PATTERN.outline), True)
    assert shape(svg, "Z1") == (on_sheet(PATTERN.zones[0].boundary), True)
    (note,) = (e for e in svg.elements() if getattr(e, "id", "") == "N1")
    assert (note.x, note.y, note.width, note.height) == pytest.approx((62, 114, 35, 12))


def test_every_shape_is_in_the_group_of_its_role(svg):
    for each in PATTERN.lines:
        assert each.id in {e.id for e in within(svg, each.role)}


def test_punch_crosses_are_centred_on_their_points(svg):
    strokes = [
        (each.start, each.end)
        for name in ("L4-punch", "L2-punch")
        for e in svg.elements()
        if isinstance(e, svgelements.Path) and e.id == name
        for each in e
        if isinstance(each, svgelements.Line)
    ]
    expected = []
    for x, y in [(282, 216), (362, 196), (143.213, 207.213)]:
        expected += [(x - 1, y, x + 1, y), (x, y - 1, x, y + 1)]  # 2 mm across
    found = [(a.x, a.y, b.x, b.y) for a, b in strokes]
    assert found == [pytest.approx(each, abs=0.001) for each in expected]
    assert "3 punch points (crosses)" in words_at(svg)


def test_a_tuck_is_marked_at_its_tip_and_named_beside_it(svg):
    (tip,) = within(svg, "tuck-tips")
    assert (tip.cx, tip.cy) == pytest.approx((322, 166))
    # 23 mm of words with their lower left corner at most a leader's length off.
    x, y = words_at(svg)["T1 7.4 (9/32)"]
    assert Point(322, 166).distance(LineString([(x, y - 2), (x + 23, y - 2)])) < 12


def test_the_name_of_a_line_stands_close_beside_it(svg):
    # L4 runs from (260, 60) by (290, 66) to (340, 80); letters of 3.6 mm are named on their foot.
    drawn = LineString([(282, 216), (312, 210), (362, 196)])
    x, y = words_at(svg)["L4"]
    assert 0.5 < drawn.distance(LineString([(x, y), (x, y - 2.6), (x + 6, y - 2.6)])) < 4


def test_the_title_names_side_and_face(svg, text):
    assert "lopsided - left side - marked face down" in words_at(svg)
    assert "face up" not in text
    assert "Z1 shrink zone, peak 6.2 %" in text


def test_the_rules_have_a_tick_at_each_centimetre_and_inch(svg):
    lines = [e for e in within(svg, "check-rules") if isinstance(e, svgelements.SimpleLine)]
    long = [(e.x1, e.x2) for e in lines if e.y1 == e.y2]
    assert long == [pytest.approx((10, 110)), pytest.approx((10, 111.6))]
    ticks = [e.x1 for e in lines if e.x1 == e.x2]
    centimetres = [10, 20, 30, 40, 50, 60, 70, 80, 90, 100, 110]
    assert ticks == pytest.approx([*centimetres, 10, 35.4, 60.8, 86.2, 111.6])


def test_the_key_names_each_stroke_as_what_it_is(svg):
    said = {
        "trim-edge": "trim edge",
        "radius-start": "radius start",
        "radius-end": "radius end",
        "form": "form line",
        "slit": "slit",
    }
    places = words_at(svg)
    key = [e for e in within(svg, "key") if isinstance(e, svgelements.SimpleLine)]
    for role, words in said.items():
        drawn = next(e for e in within(svg, role) if isinstance(e, svgelements.Shape))
        entry = next(e for e in key if e.stroke == drawn.stroke)
        assert places[words] == pytest.approx((entry.x2 + 2, entry.y2 + 1.1))


def test_arcs_run_the_way_their_pieces_do(space):
    arcs = {e.dxf.layer: e for e in space.query("ARC")}
    # DXF's arcs run counter-clockwise: the first from straight down to the right, the other, drawn
    # clockwise from its top, from the right to straight up.
    for layer, middle, first, last in (
        ("radius-start", (100, 90), 270, 360),
        ("radius-end", (200, 90), 0, 90),
    ):
        arc = arcs[layer]
        assert (arc.dxf.center.x, arc.dxf.center.y) == pytest.approx(middle, abs=0.01)
        assert arc.dxf.radius == pytest.approx(30, abs=0.01)
        assert (arc.dxf.start_angle - first + 180) % 360 == pytest.approx(180, abs=0.02)
        assert (arc.dxf.end_angle - last + 180) % 360 == pytest.approx(180, abs=0.02)


def test_a_cubic_stays_one(space):
    (spline,) = space.query('SPLINE[layer=="form"]')
    path = LineString([(p.x, p.y) for p in make_path(spline).flattening(0.0005)])
    assert spline.dxf.degree == 3 and path.distance(Point(ON_CUBIC)) < 0.002


def test_dxf_layers_hold_what_they_are_named_for(space):
    rings = {e.dxf.layer: e for e in space.query("LWPOLYLINE") if e.closed}
    for layer, corners in (
        ("outline", PATTERN.outline),
        ("zones", PATTERN.zones[0].boundary),
        ("blank", BLANK.edge),
        ("trim-edge", PATTERN.line("L1").points),
    ):
        assert [point[:2] for point in rings.pop(layer)] == [
            pytest.approx(tuple(p)) for p in corners
        ]
    assert set(rings) == {"line-starts"}
    (slit,) = space.query('LWPOLYLINE[layer=="slit"]')
    assert not slit.closed and slit[0][:2] == pytest.approx((300, 110))
    points = [
        (e.dxf.location.x, e.dxf.location.y) for e in space.query('POINT[layer=="punch-points"]')
    ]
    assert points == [pytest.approx(p) for p in [(260, 60), (340, 80), (121.213, 68.787)]]


def test_dxf_words_stand_beside_what_they_name(space):
    places = {e.dxf.text: (e.dxf.insert.x, e.dxf.insert.y) for e in space.query("TEXT")}
    assert places["T1 7.4 mm"] == pytest.approx((303, 110))
    assert places["L4"] == pytest.approx((291.5, 67.5))
    assert "lopsided, left side, mm" in places


def test_a_sheet_is_wide_enough_for_its_foot():
    narrow = PATTERN.model_copy(update={"outline": ((40, 0), (90, 0), (90, 60)), "lines": ()})
    page = page_for(narrow, None)
    assert (page.width, page.height) == (350, 128)
    assert page.at((40, 60)) == (10, 10)
