"""The job sheet's first page: the pattern with its line ids, its lines and bands, and the blank."""

import textwrap
from collections.abc import Sequence

import svgwrite

from digitize.draw.handwriting import handwriting_of
from digitize.draw.sheet import MARGIN, WIDE, Window, new_sheet, text_of, window_on
from digitize.draw.style import BLANK, CAUTION, STYLES, start_mark, style_of
from digitize.record import Band, Line, Pattern
from digitize.shop import Blank, StockChoice, sheet_words
from digitize.units import INCH_MM

FIRST_MM, ROW_MM, HIGH = 28.0, 4.4, 297.0
START_MM = 1.6  # on the sheet
TEXT, HEAD = 2.9, "#444444"
COLUMN = (WIDE - 2 * MARGIN) / 2


def job_svg(pattern: Pattern, face: str, blank: Blank | None, stock: StockChoice | None) -> str:
    """The page as SVG text; the second page is the shrink sheet.

    Parameters
    ----------
    blank, stock : the blank and the sheets to cut it from, if there is one.
    """
    window = window_on(
        [*pattern.outline, *([(x, y) for x, y in blank.edge.tolist()] if blank else [])],
        FIRST_MM,
        4.0,
    )
    lines = [line for line in pattern.lines if line.is_of_metal]
    rows = -(-len(lines) // 2)
    height = max(window.bottom + ROW_MM * (rows + len(pattern.bands) + 22), HIGH)
    drawing = new_sheet(f"{pattern.name}, {pattern.side} side, {face}", height)
    taken = sorted({source.taken[:10] for source in pattern.sources if source.taken})
    photos = ", ".join(source.photo for source in pattern.sources)
    head = f"job sheet; photo {photos}" + (f", taken {' and '.join(taken)}" if taken else "")
    drawing.add(drawing.text(head, insert=(MARGIN, MARGIN + 8), font_size=TEXT, fill=HEAD))
    _picture(drawing, pattern, window, blank)
    y = window.bottom + 7
    y = _lines_table(drawing, lines, y)
    if pattern.bands:
        y = _bands_table(drawing, pattern, pattern.bands, y + ROW_MM)
    _facts(drawing, _said(pattern, blank, stock), y + 1.5 * ROW_MM)
    drawing.add(drawing.text(CAUTION, insert=(MARGIN, height - 10), font_size=TEXT))
    return text_of(drawing)


def _picture(
    drawing: svgwrite.Drawing, pattern: Pattern, window: Window, blank: Blank | None
) -> None:
    group = drawing.g(id="pattern", fill="none")
    group.add(drawing.polygon([window.at(p) for p in pattern.outline], stroke="#bbbbbb"))
    if blank:
        edge = drawing.polygon(
            [window.at((x, y)) for x, y in blank.edge.tolist()], stroke=BLANK.colour
        )
        edge.dasharray([2.5, 0.8])
        group.add(edge)
    drawing.add(handwriting_of(drawing, pattern.notes, window.at))
    for line in pattern.lines:
        style = style_of(line)
        shape = (drawing.polygon if line.closed else drawing.polyline)(
            [window.at(p) for p in line.points], stroke=style.colour
        )
        if style.dashes:
            shape.dasharray([round(0.3 * dash, 2) for dash in style.dashes])
        group.add(shape)
    group.update({"stroke-width": 0.25})
    drawing.add(group)
    for line in pattern.lines:
        if line.is_of_metal:
            head = [window.at(point) for point in start_mark(line, START_MM / window.scale)]
            drawing.add(drawing.polygon(head, fill=STYLES[line.role].colour))
            x, y = window.at(line.points[len(line.points) // 2])
            colour = STYLES[line.role].colour
            drawing.add(
                drawing.text(line.id, insert=(x + 0.8, y - 0.8), fill=colour, font_size=TEXT)
            )
    for tuck in pattern.tucks:
        x, y = window.at(pattern.line(tuck.slit).points[-1])
        drawing.add(drawing.text(tuck.id, insert=(x + 0.6, y + 2.6), font_size=2.6))


def _row(
    drawing: svgwrite.Drawing, cells: Sequence[str], xs: Sequence[float], y: float, colour: str
) -> None:
    for x, cell in zip(xs, cells, strict=True):
        drawing.add(drawing.text(cell, insert=(x, y), font_size=TEXT, fill=colour))


def _lines_table(drawing: svgwrite.Drawing, lines: Sequence[Line], top: float) -> float:
    """Two columns of lines; where the next thing may start."""
    rows = -(-len(lines) // 2)
    for half in (0, 1):
        left = MARGIN + half * COLUMN
        xs = [left, left + 17, left + 42, left + 60, left + 74]
        _row(drawing, ("line", "is", "length mm", "radius", "note"), xs, top, HEAD)
        for row, line in enumerate(lines[half * rows : (half + 1) * rows]):
            y = top + ROW_MM * (row + 1)
            by = "" if line.role_by == "told" else f" ({line.role_confidence:.0%})"
            radius = f"{line.radius:.0f}" if line.radius else "varies" if line.radii else ""
            cells = (
                line.label,
                STYLES[line.role].words + by,
                f"{line.length:.0f}",
                radius,
                (line.note or "")[:12],
            )
            _row(drawing, cells, xs, y, "#000000")
    return top + ROW_MM * (rows + 1)


def _bands_table(
    drawing: svgwrite.Drawing, pattern: Pattern, bands: Sequence[Band], top: float
) -> float:
    xs = [MARGIN, MARGIN + 14, MARGIN + 34, MARGIN + 74, MARGIN + 114]
    _row(drawing, ("band", "from", "width mm", "radius mm", "turned degrees"), xs, top, HEAD)
    for row, band in enumerate(bands):
        columns = (
            [station.width for station in band.stations],
            [s.radius for s in band.stations if s.radius is not None],
            [s.turned_deg for s in band.stations if s.turned_deg is not None],
        )
        ranges = [
            f"{min(values):.0f} to {max(values):.0f}" if values else "not told"
            for values in columns
        ]
        _row(drawing, (band.id, band.start, *ranges), xs, top + ROW_MM * (row + 1), "#000000")
    return top + ROW_MM * (len(bands) + 1)


def _said(pattern: Pattern, blank: Blank | None, stock: StockChoice | None) -> list[str]:
    """What stands under the tables, a line each."""
    words = []
    if blank:
        width, height = blank.size
        words.append(
            f"Blank: {width:.0f} x {height:.0f} mm "
            f"({width / INCH_MM:.1f} x {height / INCH_MM:.1f} in) "
            f"turned by {blank.turn_deg:.0f} degrees, {blank.area / 1e6:.3f} m2"
            + (
                f", {blank.mass_g(pattern.sheet) / 1000:.2f} kg of {sheet_words(pattern.sheet)}"
                if pattern.sheet
                else ""
            )
        )
    if stock:
        words.append(
            f"Smallest stock sheet that holds it: {stock.one or 'none'}; it and the other side's: "
            f"{stock.both or 'none'} (of {', '.join(stock.sheets)})."
        )
    if pattern.scale is not None:
        words.append(f"Points are within {pattern.scale.accuracy_mm:.2f} mm (95 %) of true size.")
    if pattern.closure_rms is not None:
        words.append(f"Closed, the broken lines meet to {pattern.closure_rms:.2f} mm (RMS).")
    for zone in pattern.zones:
        found = zone.curvature
        if found is not None:
            by_radii = f", by the radii {found.radii_deg:.0f}" if found.radii_deg else ""
            words.append(
                f"{zone.id}: total curvature {found.laps_deg:.0f} degrees by the laps{by_radii}; "
                f"shrink up to {zone.peak_local:.1%}."
            )
    said = [f"{remark.severity}: {remark.words}" for remark in pattern.remarks]
    return words + [each[:1].upper() + each[1:] for each in said]


def _facts(drawing: svgwrite.Drawing, words: Sequence[str], top: float) -> None:
    y = top
    for said in words:
        for part in textwrap.wrap(said, 118):
            drawing.add(drawing.text(part, insert=(MARGIN, y), font_size=TEXT))
            y += ROW_MM
