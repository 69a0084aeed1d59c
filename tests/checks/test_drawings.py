"""Units, page sizes and areas of the drawings against published standards and closed forms.

Sources: W3C, Scalable Vector Graphics 1.1 (second edition), section 7.10, and CSS Values and Units
Level 3, section 5.2: 1in = 96px = 25.4mm. Autodesk, DXF Reference, header variables: $INSUNITS 4 is
millimetres, $MEASUREMENT 1 metric; AC1024 is release 2010. ISO 216:2007: A4 is 210 x 297 mm.
ANSI/ASME Y14.1: size A is 8.5 x 11 in. ISO 32000-1, 8.3.2.3: a PDF unit is 1/72 in. Steiner's
formula for convex sets (R. Schneider, Convex Bodies, 1993): a parallel set at distance d has the
area A + P d + pi d^2.
"""

import io

import ezdxf
import numpy as np
import pypdfium2
import pytest
import svgelements

from digitize.draw.dxf import pattern_dxf
from digitize.draw.pdf import drawing_of, tiles_pdf, whole_pdf
from digitize.draw.svg import page_for, pattern_svg
from digitize.record import Pattern
from digitize.shop.blank import blank_of
from tests.mend.test_carry import line

POINT_MM = 25.4 / 72


def polygon(corners):
    """A pattern whose trim edge is a polygon."""
    ends = zip(corners, [*corners[1:], corners[0]], strict=True)
    lines = tuple(line(f"L{i + 1}", pair, "trim-edge") for i, pair in enumerate(ends))
    return Pattern(name="polygon", outline=((0, 0), (500, 0), (500, 400), (0, 400)), lines=lines)


HEXAGON = [
    (250 + 120 * np.cos(a), 200 + 120 * np.sin(a)) for a in np.linspace(0, 2 * np.pi, 7)[:-1]
]


def test_svg_user_units_are_mm_by_css():
    pattern = polygon(HEXAGON)
    svg = svgelements.SVG.parse(io.StringIO(pattern_svg(pattern)), ppi=96)
    page = page_for(pattern, None)
    assert svg.width == pytest.approx(page.width * 96 / 25.4, abs=0.01)
    shape = next(e for e in svg.elements() if e.values.get("id") == "L1")
    assert shape.length() * 25.4 / 96 == pytest.approx(120.0, abs=0.01)


def test_dxf_header_says_mm():
    document = ezdxf.read(io.StringIO(pattern_dxf(polygon(HEXAGON)).decode()))
    assert document.header["$INSUNITS"] == 4 and document.header["$MEASUREMENT"] == 1
    assert document.header["$ACADVER"] == "AC1024"


@pytest.mark.parametrize(("sheet", "sides"), [("a4", (210, 297)), ("letter", (215.9, 279.4))])
def test_tiles_come_on_standard_sheets(sheet, sides):
    pattern = polygon(HEXAGON)
    drawn = page_for(pattern, None).drawn(pattern, None)
    document = pypdfium2.PdfDocument(
        tiles_pdf(drawing_of(pattern_svg(pattern)), drawn, "hexagon", sheet)
    )
    for page in document:
        size = sorted(side * POINT_MM for side in page.get_size())
        assert size == pytest.approx(sorted(sides), abs=0.01)


def test_a_pdf_page_is_as_large_as_the_drawing():
    pattern = polygon(HEXAGON)
    (page,) = pypdfium2.PdfDocument(whole_pdf(drawing_of(pattern_svg(pattern)), "hexagon"))
    there = page_for(pattern, None)
    size = tuple(side * POINT_MM for side in page.get_size())
    assert size == (pytest.approx(there.width, abs=0.01), pytest.approx(there.height, abs=0.01))


@pytest.mark.parametrize("allowance", [10.0, 25.0, 40.0])
def test_a_convex_blanks_area_is_steiners(allowance):
    area, perimeter = 1.5 * np.sqrt(3) * 120**2, 6 * 120
    expected = area + perimeter * allowance + np.pi * allowance**2
    assert blank_of(polygon(HEXAGON), allowance).area == pytest.approx(expected, rel=2e-3)
