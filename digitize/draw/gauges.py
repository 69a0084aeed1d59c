"""Gauges at 1:1, nested on a printer's pages, and in a DXF for a cutting table."""

import io
import math
from collections.abc import Sequence
from dataclasses import dataclass

import ezdxf.filemanagement
import numpy as np
from ezdxf import units
from ezdxf._options import options
from numpy.typing import NDArray
from reportlab.lib.units import mm
from reportlab.lib.utils import simpleSplit
from reportlab.pdfbase.pdfmetrics import stringWidth
from reportlab.pdfgen.canvas import Canvas
from shapely import LineString, Polygon, box

from digitize.draw.pdf import SHEETS_PT, SMALL_PT, check_rule
from digitize.draw.placing import ASCENT, Callout, place_labels
from digitize.draw.style import CAUTION
from digitize.draw.title import title_fields, title_words
from digitize.form import Template
from digitize.record import Pattern
from digitize.units import Unit, length_in_words

Floats = NDArray[np.float64]
MARGIN_MM, FOOT_MM, HEAD_MM, GAP_MM = 12.0, 32.0, 12.0, 6.0
OVERLAP_MM = 30.0  # of a long gauge's pieces
MARK_ROOM_MM = 26.0  # for a match mark's words at the end of a gauge
FONT, BOLD = "Helvetica", "Helvetica-Bold"
TEXT_MM, ROW_MM = 2.65, 3.5
CUT, ENGRAVE = "gauge-cut", "gauge-engrave"
TABLE_WIDE_MM = 1200.0
POINT_MM = 25.4 / 72


@dataclass(frozen=True)
class Piece:
    """A template, or a part of one that is longer than a page.

    Attributes
    ----------
    low, high : how far along the template it reaches, mm; number of count : which part.
    """

    template: Template
    low: float
    high: float
    number: int
    count: int

    @property
    def size(self) -> tuple[float, float]:
        """Width and height, mm."""
        return self.high - self.low, float(self.template.outline[:, 1].max())


def pieces_of(templates: Sequence[Template], longest: float) -> list[Piece]:
    """Templates, in parts that overlap where they are longer than so many mm."""
    found = []
    for template in templates:
        length = float(template.outline[:, 0].max())
        count = 1
        if length > longest:
            count = math.ceil((length - OVERLAP_MM) / (longest - OVERLAP_MM))
        step = (length - OVERLAP_MM) / count if count > 1 else length
        for number in range(count):
            low = number * step
            high = min(low + step + OVERLAP_MM, length) if count > 1 else length
            found.append(Piece(template, low, high, number + 1, count))
    return found


def nested(
    sizes: Sequence[tuple[float, float]], wide: float, high: float
) -> list[tuple[int, float, float]]:
    """Page, x and y (mm from the lower left) of boxes in rows, the highest first."""
    places: list[tuple[int, float, float]] = [(0, 0.0, 0.0)] * len(sizes)
    page, x, top, row = 0, 0.0, high, 0.0
    for index in sorted(range(len(sizes)), key=lambda each: -sizes[each][1]):
        width, height = sizes[index]
        if x > 0 and x + width > wide:
            x, top, row = 0.0, top - row - GAP_MM, 0.0
        if top - height < 0 and top < high:
            page, x, top, row = page + 1, 0.0, high, 0.0
        row = max(row, height)
        places[index] = (page, x, top - height)
        x += width + GAP_MM
    return places


def gauges_pdf(templates: Sequence[Template], pattern: Pattern, face: str, sheet: str) -> bytes:
    """The templates at 1:1 on pages; each page has a check rule and what to mind.

    Parameters
    ----------
    pattern : of the side that the gauges are for; face : which face of its paper is drawn.
    """
    page = tuple(side / mm for side in SHEETS_PT[sheet])
    wide, high = page[0] - 2 * MARGIN_MM, page[1] - FOOT_MM - HEAD_MM - MARGIN_MM
    pieces = pieces_of(templates, wide)
    places = nested([piece.size for piece in pieces], wide, high)
    stream = io.BytesIO()
    canvas = Canvas(stream, pagesize=SHEETS_PT[sheet], invariant=1)
    canvas.setTitle(f"{pattern.name}, {pattern.side} side: gauges")
    count = max((number for number, _, _ in places), default=0) + 1
    for number in range(count):
        _page(canvas, page, (pattern, face), f"{number + 1} of {count}")
        for piece, (on, x, y) in zip(pieces, places, strict=True):
            if on == number:
                _piece(canvas, piece, MARGIN_MM + x, FOOT_MM + y, pattern.unit)
        canvas.showPage()
    canvas.save()
    return stream.getvalue()


def _page(canvas: Canvas, page: tuple[float, ...], drawn: tuple[Pattern, str], number: str) -> None:
    pattern, face = drawn
    canvas.setFont(BOLD, 10)
    thick = pattern.sheet.thickness if pattern.sheet else 0.0
    metal = f"{thick:g} mm" if thick else "not told"
    title = f"{pattern.part or pattern.name}, {pattern.side} side: gauges, sheet metal {metal}"
    canvas.drawString(MARGIN_MM * mm, (page[1] - 10) * mm, title)
    canvas.setFont(FONT, SMALL_PT)
    hold = (
        "Print at 100 %. Cut on the line, hold the marks on the paper's lines. Check against the "
        "panel, try a scrap first."
    )
    canvas.drawString(MARGIN_MM * mm, (page[1] - 14) * mm, hold)
    check_rule(canvas, MARGIN_MM, 23.0)
    words = title_words(title_fields(pattern, face, "gauges", number))
    wide = (page[0] - 2 * MARGIN_MM) * mm
    for row, part in enumerate(simpleSplit(words, FONT, SMALL_PT, wide)[:2]):
        canvas.drawString(MARGIN_MM * mm, (17.5 - 3.2 * row) * mm, part)
    canvas.drawString(MARGIN_MM * mm, 10 * mm, CAUTION)


def _piece(canvas: Canvas, piece: Piece, x: float, y: float, unit: Unit) -> None:
    template = piece.template
    canvas.saveState()
    canvas.translate((x - piece.low) * mm, y * mm)
    window = canvas.beginPath()
    window.rect((piece.low - 0.5) * mm, -0.5 * mm, (piece.high - piece.low + 1) * mm, 900 * mm)
    canvas.clipPath(window, stroke=0, fill=0)
    shape = canvas.beginPath()
    shape.moveTo(*(template.outline[0] * mm))
    for point in template.outline[1:]:
        shape.lineTo(*(point * mm))
    shape.close()
    canvas.setLineWidth(0.25 * mm)
    canvas.drawPath(shape)
    canvas.setLineWidth(0.2 * mm)
    for place, _ in template.marks:
        canvas.line(*(place[0] * mm), *(place[1] * mm))
    for cut in (piece.low, piece.high):
        if piece.count > 1 and 0 < cut < template.outline[:, 0].max() - 0.5:
            canvas.setDash(2, 2)
            canvas.line(cut * mm, 0, cut * mm, piece.size[1] * mm)
            canvas.setDash()
    for words, (left, base), bold in words_on(piece, unit):
        canvas.setFont(BOLD if bold else FONT, TEXT_MM / POINT_MM)
        canvas.drawString(left * mm, base * mm, words)
    if template.gauge.doubtful:
        _across(canvas, piece, unit)
    canvas.restoreState()


def _across(canvas: Canvas, piece: Piece, unit: Unit) -> None:
    """That a gauge may not be trusted, across it."""
    inside = Polygon(piece.template.outline).buffer(0)
    part = inside.intersection(box(piece.low, -1, piece.high, 1e4))
    at = part.representative_point() if not part.is_empty else inside.representative_point()
    words = doubt_words(piece.template, unit)
    canvas.saveState()
    canvas.setFillGray(0.55)
    wide = 0.9 * (piece.high - piece.low) * mm
    size = max(min(16.0, wide / (0.55 * len(words))), SMALL_PT)
    canvas.setFont(BOLD, size)
    x = (piece.low + piece.high) / 2
    canvas.translate(x * mm, at.y * mm)
    canvas.rotate(8)
    for row, part in enumerate(simpleSplit(words, BOLD, size, wide)):
        canvas.drawCentredString(0, -1.2 * size * row, part)
    canvas.restoreState()


def doubt_words(template: Template, unit: Unit) -> str:
    """What stands across a gauge that is too much in doubt."""
    gauge = template.gauge
    if gauge.open:
        return "NOT DETERMINED: NOT TO WORK BY"
    return f"IN DOUBT BY {length_in_words(gauge.tolerance, unit)}: NOT TO WORK BY"


def words_on(piece: Piece, unit: Unit) -> list[tuple[str, tuple[float, float], bool]]:
    """What is written on a piece, where (mm), and whether it is bold."""
    template, gauge = piece.template, piece.template.gauge
    part = f", part {piece.number} of {piece.count}" if piece.count > 1 else ""
    said = [
        (f"{gauge.id} {template.side}{part}", True),
        (gauge.where, False),
    ]
    if gauge.radius is not None and gauge.angle_deg is not None:
        radius = length_in_words(gauge.radius, unit)
        said.append((f"R {radius}, {gauge.angle_deg:.0f} deg", False))
    up = "this side up, out of the panel" if template.side == "outside" else "this side inwards"
    said += [(f"within {length_in_words(gauge.tolerance, unit)}, 95 %", False), (up, False)]
    above = template.side == "outside"
    height = float(template.outline[:, 1].max())
    step = min(ROW_MM, 20.0 / len(said))
    rows = [height - 3.5 - step * k for k in range(len(said))]
    if not above:
        rows = [3.0 + step * (len(said) - 1 - k) for k in range(len(said))]
    crowded = any(place[0][0] < piece.low + MARK_ROOM_MM for place, _ in template.marks)
    left = piece.low + (MARK_ROOM_MM if crowded else 3.0)
    found = [(words, (left, row), bold) for (words, bold), row in zip(said, rows, strict=True)]
    return found + _mark_words(piece, found)


def _mark_words(
    piece: Piece, said: Sequence[tuple[str, tuple[float, float], bool]]
) -> list[tuple[str, tuple[float, float], bool]]:
    """The match marks' words, on the gauge itself and clear of its edge and of what is said."""
    marks = [each for each in piece.template.marks if piece.low <= each[0][1][0] <= piece.high]
    # As on a page, where y runs down.
    shape = Polygon(piece.template.outline * [1, -1]).buffer(0)
    frame = (piece.low + 1.0, 1.0 - piece.size[1], piece.high - 1.0, -1.0)
    taken = [box(*frame).difference(shape)]
    taken += [LineString(place * [1, -1]) for place, _ in marks]
    for words, (left, base), _ in said:
        wide = stringWidth(words, BOLD, TEXT_MM)
        taken.append(box(left, -base - TEXT_MM, left + wide, -base))
    callouts = [
        Callout(words, ((float(place[1][0]), -float(place[1][1])),), size=TEXT_MM)
        for place, words in marks
    ]
    return [
        (each.callout.words, (each.box[0], -each.box[1] - ASCENT * TEXT_MM), False)
        for each in place_labels(callouts, taken, frame)
    ]


def gauges_dxf(templates: Sequence[Template], unit: Unit) -> bytes:
    """The templates as a DXF (R2010, mm): outlines to cut, ids and match marks to engrave."""
    options.write_fixed_meta_data_for_testing = True  # no clock, no random ids
    document = ezdxf.filemanagement.new("R2010", units=units.MM)
    document.header["$MEASUREMENT"] = 1
    document.layers.add(CUT, color=1)
    document.layers.add(ENGRAVE, color=5)
    space = document.modelspace()
    pieces = pieces_of(templates, math.inf)
    high = sum(piece.size[1] + GAP_MM for piece in pieces)  # room for each in a row of its own
    places = nested([piece.size for piece in pieces], TABLE_WIDE_MM, high)
    low = min((y for _, _, y in places), default=0.0)
    for piece, (_, x, above) in zip(pieces, places, strict=True):
        y = above - low
        shift = np.array([x, y])
        outline = (piece.template.outline + shift).tolist()
        space.add_lwpolyline(outline, close=True, dxfattribs={"layer": CUT})
        for place, _ in piece.template.marks:
            one, two = (place + shift).tolist()
            space.add_line(one, two, dxfattribs={"layer": ENGRAVE})
        said = [(words, at) for words, at, _ in words_on(piece, unit)]
        if piece.template.gauge.doubtful:
            size = piece.size
            said.append((doubt_words(piece.template, unit), (0.1 * size[0], 0.5 * size[1])))
        for words, (left, base) in said:
            attributes = {"layer": ENGRAVE, "height": TEXT_MM, "insert": (left + x, base + y)}
            space.add_text(words, dxfattribs=attributes)
    for name in sorted(document.entitydb.dxf_types_in_use()):
        document.classes.add_class(name)
    stream = io.StringIO()
    document.write(stream)
    return stream.getvalue().encode("utf-8")
