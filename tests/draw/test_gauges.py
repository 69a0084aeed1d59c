"""Gauges on pages and for a cutting table: true to size, and saying what they are."""

import ctypes
import io
import itertools
import math
from dataclasses import replace

import ezdxf
import numpy as np
import pypdfium2
import pytest
from reportlab.pdfbase.pdfmetrics import stringWidth
from shapely import Polygon, box

from digitize.draw import gauges_dxf, gauges_pdf
from digitize.draw.gauges import (
    CUT,
    ENGRAVE,
    OVERLAP_MM,
    TEXT_MM,
    nested,
    pieces_of,
    words_on,
)
from digitize.form import formed, gauges_of, templates_of
from tests.form.bent import straight_bend

POINT_MM = 25.4 / 72
PATTERN = straight_bend(60.0, 50.0).model_copy(
    update={"name": "demo", "side": "left", "part": "caravan, rear", "reference": "K-12"}
)


@pytest.fixture(scope="module")
def gauge():
    return gauges_of(formed(straight_bend(60.0, 50.0), 10.0))[1]


@pytest.fixture(scope="module")
def templates(gauge):
    return templates_of(gauge, 1.2, "outer", mirror=False)


def words_of(pdf):
    pages = pypdfium2.PdfDocument(pdf)
    return " ".join(page.get_textpage().get_text_bounded() for page in pages)


def boxes_of(pdf, page=0):
    """Sizes (mm) of the paths on a page."""
    found = []
    for each in pypdfium2.PdfDocument(pdf)[page].get_objects():
        left, bottom, right, top = each.get_bounds()
        found.append(((right - left) * POINT_MM, (top - bottom) * POINT_MM))
    return np.array(found)


@pytest.mark.parametrize("sheet", ["a4", "letter"])
def test_a_page_has_each_gauge_at_true_size_and_a_check_rule(templates, sheet):
    pdf = gauges_pdf(templates, PATTERN, "marked face up", sheet)
    boxes = boxes_of(pdf)
    for template in templates:
        size = template.outline.max(axis=0)
        assert np.abs(boxes - size).max(axis=1).min() < 0.8  # with the width of the line
    assert np.abs(boxes[:, 0] - 100.0).min() < 0.5
    words = words_of(pdf)
    for each in (
        "G2 outside",
        "G2 inside",
        "R 50.0 mm (1 31/32 in), 69 deg",
        "L2 R1-start",
        "95 %",
    ):
        assert each in words
    assert "Gloves" in words and "100 mm: measure before use" in words and "scrap" in words
    assert "IN DOUBT" not in words


def test_a_page_names_its_part_and_is_in_the_users_unit(templates):
    inch = PATTERN.model_copy(update={"unit": "inch"})
    words = words_of(gauges_pdf(templates, inch, "marked face up", "letter"))
    for each in ("part caravan, rear", "reference K-12", "side left", "revision", "sheet 1 of 1"):
        assert each in words
    assert "R 1 31/32 in (50.0 mm), 69 deg" in words
    assert b"R 1 31/32 in (50.0 mm)" in gauges_dxf(templates, "inch")


def font_size(words):
    """Of a text on a page, points."""
    size = ctypes.c_float()
    assert pypdfium2.raw.FPDFTextObj_GetFontSize(words.raw, size)
    return size.value


@pytest.mark.parametrize("sheet", ["a4", "letter"])
def test_no_word_on_a_page_is_smaller_than_can_be_read(gauge, sheet):
    short = replace(gauge, within_95=np.full(len(gauge.profile), 3.14))
    written = templates_of(short, 0.0, "outer", mirror=False)
    pdf = pypdfium2.PdfDocument(gauges_pdf(written, PATTERN, "marked face up", sheet))
    sizes = [
        font_size(each) * POINT_MM
        for page in pdf
        for each in page.get_objects()
        if each.type == pypdfium2.raw.FPDF_PAGEOBJ_TEXT
    ]
    assert len(sizes) > 10 and min(sizes) >= 2.5


def test_a_gauge_in_doubt_says_so_across_it(gauge):
    doubtful = replace(gauge, within_95=np.full(len(gauge.profile), 3.14))
    written = templates_of(doubtful, 0.0, "outer", mirror=False)
    assert "IN DOUBT BY 3.1 mm" in words_of(gauges_pdf(written, PATTERN, "marked face up", "a4"))
    open_ = templates_of(replace(gauge, open=True), 0.0, "outer", mirror=False)
    assert "NOT DETERMINED" in words_of(gauges_pdf(open_, PATTERN, "marked face up", "a4"))
    assert b"IN DOUBT BY 3.1 mm" in gauges_dxf(written, "mm")


def test_a_cutting_table_gets_outlines_and_engraving_apart(templates):
    document = ezdxf.read(io.StringIO(gauges_dxf(templates, "mm").decode()))
    space = document.modelspace()
    assert document.header["$INSUNITS"] == 4
    cut = [each for each in space if each.dxf.layer == CUT]
    assert [each.dxftype() for each in cut] == ["LWPOLYLINE"] * 2
    assert all(each.closed for each in cut)
    sizes = [np.ptp(np.array(each.get_points("xy")), axis=0) for each in cut]
    for template, size in zip(templates, sizes, strict=True):
        assert size == pytest.approx(template.outline.max(axis=0), abs=1e-3)
    engraved = [each for each in space if each.dxf.layer == ENGRAVE]
    said = " ".join(each.dxf.text for each in engraved if each.dxftype() == "TEXT")
    assert "G2 outside" in said and "within" in said
    marks = [each for each in engraved if each.dxftype() == "LINE"]
    assert len(marks) == 4
    low, high = (
        np.array([f(np.array(c.get_points("xy")), axis=0) for c in cut]) for f in (np.min, np.max)
    )
    apart = (low[0] > high[1]).any() or (low[1] > high[0]).any()
    assert apart


def test_boxes_lie_apart_on_the_page():
    rng = np.random.default_rng(4)
    sizes = [tuple(size) for size in rng.uniform(20, 90, (30, 2))]
    places = nested(sizes, 186.0, 250.0)
    for i, (page, x, y) in enumerate(places):
        assert x >= 0 and x + sizes[i][0] <= 186.0 and y >= 0 and y + sizes[i][1] <= 250.0
        for j, (other, u, v) in enumerate(places[:i]):
            if page == other:
                clear = (
                    x >= u + sizes[j][0]
                    or u >= x + sizes[i][0]
                    or y >= v + sizes[j][1]
                    or v >= y + sizes[i][1]
                )
                assert clear


def test_a_long_gauge_is_cut_into_parts_that_overlap(templates):
    template = templates[0]
    length = float(template.outline[:, 0].max())
    parts = pieces_of([template], 0.6 * length)
    assert (parts[0].low, parts[-1].high) == (0.0, pytest.approx(length))
    assert all(part.size[0] <= 0.6 * length + 1e-6 for part in parts)
    for one, two in itertools.pairwise(parts):
        assert one.high - two.low == pytest.approx(OVERLAP_MM, abs=1e-6)


def test_match_marks_words_stand_on_the_gauge_clear_of_its_edge(templates):
    for template in templates:
        (piece,) = pieces_of([template], math.inf)
        shape = Polygon(template.outline)
        names = {words for _, words in template.marks}
        boxes = [
            box(x, y - 0.5, x + stringWidth(words, "Helvetica", TEXT_MM), y + 0.7 * TEXT_MM)
            for words, (x, y), _ in words_on(piece, "mm")
        ]
        for one, other in itertools.combinations(boxes, 2):
            assert not one.intersects(other)
        for each, (words, _, _) in zip(boxes, words_on(piece, "mm"), strict=True):
            if words in names:
                assert shape.contains(each), words
