"""Holes, areas, the datum and allowances told, in the drawings: each at its own place and size."""

import io
from xml.etree import ElementTree

import ezdxf
import numpy as np
import pytest
import svgelements

from digitize.draw.dxf import pattern_dxf
from digitize.draw.overlay import overlay_picture
from digitize.draw.style import WITHDRAWN
from digitize.draw.svg import MARGIN_MM, pattern_svg
from digitize.jobs.draw import STOCK_MM, Cut, allowances_of, stock_told
from digitize.record import Allowance, Area, Datum, Hole, Line, Pattern
from digitize.shop import blank_of


@pytest.fixture(scope="module")
def told(corner):
    """The demo corner with a hole of 6 mm, an area, and a datum that points straight up."""
    return corner.model_copy(
        update={
            "holes": (Hole(id="H1", at=(200.0, 300.0), diameter=6.0),),
            "areas": (Area(id="A2", use="stretch", boundary=((50, 350), (80, 350), (80, 390))),),
            "datum": Datum(at=(100.0, 400.0), direction_deg=90.0),
        }
    )


@pytest.fixture
def square():
    """A trim edge of 100 mm a side, from (50, 50) to (150, 150), on a larger paper."""
    corners = ((50.0, 50.0), (150.0, 50.0), (150.0, 150.0), (50.0, 150.0))
    seen = {"role_confidence": 1.0, "width": 0.5, "sigma": 0.05}
    edge = Line(id="L1", role="trim-edge", points=corners, closed=True, **seen)
    paper = ((0.0, 0.0), (200.0, 0.0), (200.0, 200.0), (0.0, 200.0))
    return Pattern(name="square", outline=paper, lines=(edge,))


def test_they_stand_in_the_svg_where_they_were_told(told):
    svg = svgelements.SVG.parse(io.StringIO(pattern_svg(told)), ppi=25.4, reify=True)
    found = {element.id: element for element in svg.elements() if element.id}
    top = max(y for _, y in told.outline) + MARGIN_MM
    hole = found["H1"]
    assert (hole.cx, hole.cy) == pytest.approx((200 + MARGIN_MM, top - 300))
    assert hole.rx == pytest.approx(3.0)
    ring = np.array([[p.x, p.y] for p in found["A2"]][:3])
    assert ring == pytest.approx(
        np.array([[50, 350], [80, 350], [80, 390]]) * [1, -1] + [MARGIN_MM, top]
    )
    arrow = found["datum-direction"]
    assert (arrow.x1, arrow.y1) == pytest.approx((100 + MARGIN_MM, top - 400))
    # Straight up on the paper is up on the sheet, where y runs down.
    assert (arrow.x2 - arrow.x1, arrow.y2 - arrow.y1) == pytest.approx((0.0, -25.0), abs=1e-3)
    words = pattern_svg(told)
    assert "H1 diameter 6.0 mm (1/4 in)" in words and "A2 stretch here" in words


def test_they_stand_in_the_dxf_on_layers_of_their_own(told):
    document = ezdxf.read(io.StringIO(pattern_dxf(told).decode()))
    (circle,) = document.modelspace().query('CIRCLE[layer=="holes"]')
    assert tuple(circle.dxf.center)[:2] == (200, 300) and circle.dxf.radius == 3
    (ring,) = document.modelspace().query('LWPOLYLINE[layer=="areas"]')
    assert [tuple(p)[:2] for p in ring.get_points("xy")] == [(50, 350), (80, 350), (80, 390)]


@pytest.fixture(scope="module")
def struck(corner):
    """The demo corner with a line struck out and an area hatched."""
    line = corner.lines[0].model_copy(
        update={
            "id": "L99",
            "role": "unknown",
            "withdrawn": True,
            "group": None,
            "points": ((100.0, 200.0), (180.0, 200.0)),
            "pieces": (),
            "closed": False,
        }
    )
    area = Area(id="A-1", use="hatched", boundary=((50, 350), (80, 350), (80, 390)))
    return corner.model_copy(update={"lines": (*corner.lines, line), "areas": (area,)})


def test_what_was_struck_out_is_grey_dots_and_nothing_starts_there(struck):
    svg = ElementTree.fromstring(pattern_svg(struck).encode())
    space = "{http://www.w3.org/2000/svg}"
    (group,) = (each for each in svg.iter(f"{space}g") if each.get("id") == "withdrawn")
    assert [each.get("id") for each in group if each.get("id")] == ["L99"]
    assert group.get("stroke") == WITHDRAWN.colour and group.get("stroke-dasharray") == "0.5 2.0"
    words = pattern_svg(struck)
    assert 'id="L99-start"' not in words and "struck out" in words
    assert "A-1 hatched" in words
    document = ezdxf.read(io.StringIO(pattern_dxf(struck).decode()))
    (line,) = document.modelspace().query('LWPOLYLINE[layer=="unknown"]')
    assert (line.dxf.linetype, line.dxf.color) == ("DOTS", 8)
    (ring,) = document.modelspace().query('LWPOLYLINE[layer=="areas"]')
    assert ring.dxf.linetype == "DOTS"
    assert "A-1 hatched" in [each.dxf.text for each in document.modelspace().query("TEXT")]


def test_in_the_overlay_too(struck, corner):
    white = np.full((500, 500, 3), 255, np.uint8)
    shown, plain = (
        overlay_picture(each, white, -20.0, 480.0, 1.0)[:500] for each in (struck, corner)
    )
    # Every 2 mm a dot: some along each, and bare paper between what is dotted at all.
    new = (shown != plain).any(axis=2)
    row = new[280, 122:160]
    assert 0.3 < row.mean() <= 1.0
    right = new[95:125, 100]
    assert right.any()


def test_allowances_told_hold_where_nothing_else_is_asked(corner):
    edge = next(line.id for line in corner.lines if line.role == "trim-edge")
    pattern = corner.model_copy(
        update={"allowances": (Allowance(width=30.0), Allowance(lines=(edge,), width=12.0))}
    )
    assert allowances_of(corner, Cut()) == (25.0, {}, [])
    assert allowances_of(pattern, Cut()) == (30.0, {edge: 12.0}, [])
    assert allowances_of(pattern, Cut(allowance=20.0, along={edge.lower(): 15.0})) == (
        20.0,
        {edge: 15.0},
        [],
    )


def test_a_stretch_of_the_trim_edge_has_its_own_allowance(square):
    """A square of 100 mm with 10 mm round it, and 30 mm beyond 40 mm of its right side."""
    between = ((150.0, 80.0), (150.0, 120.0))
    stretch = Allowance(lines=("L1",), width=30.0, between=between)
    pattern = square.model_copy(update={"allowances": (Allowance(width=10.0), stretch)})
    edge = blank_of(pattern, *allowances_of(pattern, Cut())).edge
    assert edge.max(axis=0) == pytest.approx([180.0, 160.0], abs=0.1)
    assert edge.min(axis=0) == pytest.approx([40.0, 40.0], abs=0.1)
    high = edge[edge[:, 0] > 170]
    # Round both ends of the stretch the metal is as wide as along it.
    assert high[:, 1].min() > 50 and high[:, 1].max() < 150


def test_a_stretch_lies_on_whichever_pieces_its_line_is_in_since(square):
    """The right side in two at (150, 100), and a piece that none of the stretch lies on."""
    seen = square.lines[0].model_copy(update={"closed": False})
    pieces = (
        seen.model_copy(update={"id": "L1", "points": ((150.0, 50.0), (150.0, 100.0))}),
        seen.model_copy(update={"id": "M1", "points": ((150.0, 100.0), (150.0, 150.0))}),
        seen.model_copy(update={"id": "M2", "points": ((150.0, 150.0), (50.0, 150.0))}),
    )
    told = Allowance(lines=("L1", "M1", "M2"), width=30.0, between=((150, 80), (150, 120)))
    pattern = square.model_copy(update={"lines": pieces, "allowances": (told,)})
    _, _, stretches = allowances_of(pattern, Cut())
    ends = [points[[0, -1]].tolist() for points, _ in stretches]
    assert ends == [[[150, 80], [150, 100]], [[150, 100], [150, 120]]]


def test_the_stock_told_is_the_one_to_cut_from(corner):
    told = corner.model_copy(update={"stock": "4x8ft"})
    assert stock_told(told) == {"4x8ft": pytest.approx((1219.2, 2438.4))}
    assert stock_told(corner) == STOCK_MM


def test_an_area_with_extra_metal_makes_the_blank_larger_by_what_lies_beyond_it(corner):
    low = min(y for _, y in corner.outline)
    left = min(x for x, _ in corner.outline)
    # A square of 100 mm clear below the paper's lower left, joined to it by a strip.
    ring = (
        (left + 100, low + 100),
        (left + 200, low + 100),
        (left + 200, low - 100),
        (left + 100, low - 100),
    )
    pattern = corner.model_copy(
        update={"areas": (Area(id="A1", use="extra-metal", boundary=ring),)}
    )
    more, plain = blank_of(pattern), blank_of(corner)
    assert min(y for _, y in more.edge) == pytest.approx(low - 100, abs=0.2)
    assert more.area > plain.area + 100 * 90
    stretch = pattern.areas[0].model_copy(update={"use": "stretch"})
    same = blank_of(corner.model_copy(update={"areas": (stretch,)}))
    assert same.area == pytest.approx(plain.area)
