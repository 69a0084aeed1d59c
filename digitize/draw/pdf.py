"""Drawings as PDF at 1:1: on one large page, or on tiles of a printer's paper."""

import io
import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import wraps
from typing import Any

import numpy as np
from numpy.typing import NDArray
from reportlab.graphics import renderPDF
from reportlab.graphics.shapes import Drawing
from reportlab.lib.pagesizes import A4, LETTER
from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas
from svglib.svglib import SvgRenderer, load_svg_file

from digitize.draw.style import CAUTION

Floats = NDArray[np.float64]
SHEETS_PT = {"a4": A4, "letter": LETTER}
MARGIN_MM, OVERLAP_MM = 12.0, 12.0
MARK_MM, CROP_MM = 4.0, 5.0
CHECK_MM = 100.0
MAP_CELL_MM, MAP_MM = 3.2, (22.0, 14.4)  # of its cells, and at most of all of it
SHIFTS = (0.0, 0.25, 0.5, 0.75)  # of a step, that are tried
FONT, SMALL_PT = "Helvetica", 7.5


def drawing_of(svg: str) -> Drawing:
    """An SVG drawing, read for the writers here."""
    stream = io.BytesIO(svg.encode())
    root = load_svg_file(stream)
    if root is None:
        raise ValueError("no SVG drawing")
    reader = SvgRenderer(stream)
    otherwise = reader.attrConverter.convertLength

    @wraps(otherwise)
    def length(words: str, *more: Any, **named: Any) -> float | list[float]:
        # In user units: most are plain numbers, and soon read.
        try:
            return float(words)
        except ValueError:
            return otherwise(words, *more, **named)

    reader.attrConverter.convertLength = length  # type: ignore[method-assign, assignment]
    return reader.render(root)


def whole_pdf(drawing: Drawing, title: str) -> bytes:
    """A drawing on one page of its own size; the same bytes for the same drawing."""
    stream = io.BytesIO()
    canvas = _canvas(stream, (drawing.width, drawing.height), title)
    renderPDF.draw(drawing, canvas, 0, 0)
    canvas.showPage()
    canvas.save()
    return stream.getvalue()


def pages_pdf(drawings: Sequence[Drawing], title: str, sheet: str) -> bytes:
    """Drawings, each made to fit a page of its own."""
    stream = io.BytesIO()
    width, height = SHEETS_PT[sheet]
    canvas = _canvas(stream, (width, height), title)
    for drawing in drawings:
        scale = min(width / drawing.width, height / drawing.height, 1.0)
        canvas.saveState()
        canvas.translate((width - scale * drawing.width) / 2, height - scale * drawing.height)
        canvas.scale(scale, scale)
        renderPDF.draw(drawing, canvas, 0, 0)
        canvas.restoreState()
        canvas.showPage()
    canvas.save()
    return stream.getvalue()


@dataclass(frozen=True)
class Tiling:
    """How a drawing is cut into tiles; lengths in mm, rows from the top.

    ``step`` is from one tile to the next, ``size`` of what a tile shows; neighbours share the rest.
    ``start`` is where the first tile begins, left of the drawing and above it or at its corner.
    """

    columns: int
    rows: int
    step: tuple[float, float]
    size: tuple[float, float]
    start: tuple[float, float] = (0.0, 0.0)

    def corner(self, column: int, row: int) -> tuple[float, float]:
        """The upper left corner of what a tile shows, mm from that of the drawing, y down."""
        return self.start[0] + column * self.step[0], self.start[1] + row * self.step[1]

    def kept(self, drawn: Floats) -> list[tuple[int, int]]:
        """The tiles, as column and row, that show any of some points, row by row.

        The points (N, 2) are in mm from the drawing's upper left corner.
        """
        shown = []
        for axis, count in ((0, self.columns), (1, self.rows)):
            at = drawn[:, axis, None] - self.start[axis]
            near = np.arange(count) * self.step[axis]
            shown.append((near <= at) & (at <= near + self.size[axis]))
        columns, rows = shown
        # In floats, which are multiplied many at a time; a sum of none but zeros is zero.
        return [
            (int(c), int(r))
            for r, c in np.argwhere(rows.T.astype(np.float32) @ columns.astype(np.float32))
        ]

    def name(self, column: int, row: int) -> str:
        """A tile's name, as A1: its row's letter, its column's number."""
        return f"{chr(ord('A') + row)}{column + 1}"


def tiling_of(width: float, height: float, drawn: Floats, sheet: str) -> Tiling:
    """The tiles of a drawing (mm) on a sheet, upright or lying and shifted so that fewest are used.

    Parameters
    ----------
    drawn : points (N, 2) of what is drawn, mm from the drawing's upper left corner.
    """
    ways = []
    short, long = (side / mm for side in SHEETS_PT[sheet])
    for page in ((short, long), (long, short)):
        size = (page[0] - 2 * MARGIN_MM, page[1] - 2 * MARGIN_MM - CROP_MM)
        step = (size[0] - OVERLAP_MM, size[1] - OVERLAP_MM)
        for shares in itertools.product(SHIFTS, repeat=2):
            start = (-shares[0] * step[0], -shares[1] * step[1])
            columns, rows = (
                max(math.ceil((far - near - OVERLAP_MM) / one), 1)
                for far, near, one in zip((width, height), start, step, strict=True)
            )
            ways.append(Tiling(columns, rows, step, size, start))
    return min(ways, key=lambda way: (len(way.kept(drawn)), way.columns * way.rows))


def tiles_pdf(
    drawing: Drawing, drawn: Sequence[tuple[float, float]], title: str, sheet: str
) -> bytes:
    """A drawing over as many sheets as it takes, at 1:1.

    Neighbouring tiles overlap, and share round match marks with letters: laid one mark on the
    other, the drawing is whole. Each tile says which it is, on a small map, and has a check rule,
    so that a print at another scale shows before metal is cut. A tile that would be empty is left
    out.

    Parameters
    ----------
    drawn : points of what is drawn, mm from the drawing's upper left corner.
    """
    width, height = drawing.width / mm, drawing.height / mm
    places = np.array(drawn)
    tiling = tiling_of(width, height, places, sheet)
    page = tuple(
        side + 2 * MARGIN_MM + more for side, more in zip(tiling.size, (0, CROP_MM), strict=True)
    )
    stream = io.BytesIO()
    canvas = _canvas(stream, (page[0] * mm, page[1] * mm), title)
    canvas.beginForm("drawing", 0, 0, drawing.width, drawing.height)
    renderPDF.draw(drawing, canvas, 0, 0)
    canvas.endForm()
    kept = tiling.kept(places)
    for column, row in kept:
        _tile(canvas, tiling, column, row, height)
        _foot(canvas, tiling, kept, (column, row), title)
        canvas.showPage()
    canvas.save()
    return stream.getvalue()


def _tile(canvas: Canvas, tiling: Tiling, column: int, row: int, height: float) -> None:
    left, bottom = MARGIN_MM, MARGIN_MM + CROP_MM
    wide, high = tiling.size
    # The drawing's point that comes to the tile's lower left corner.
    x, down = tiling.corner(column, row)
    y = height - down - high
    canvas.saveState()
    frame = canvas.beginPath()
    frame.rect(left * mm, bottom * mm, wide * mm, high * mm)
    canvas.clipPath(frame, stroke=0, fill=0)
    canvas.translate((left - x) * mm, (bottom - y) * mm)
    canvas.doForm("drawing")
    canvas.restoreState()
    canvas.setLineWidth(0.2 * mm)
    for mark_column in (column, column + 1):
        for mark_row in (row, row + 1):
            inside = 0 < mark_column < tiling.columns or 0 < mark_row < tiling.rows
            if inside:
                place = match_mark(tiling, mark_column, mark_row, height)
                _match_mark(
                    canvas,
                    (left + place[0] - x, bottom + place[1] - y),
                    f"{chr(ord('a') + mark_row)}{mark_column}",
                )
    _crop_marks(canvas, left, bottom, wide, high)


def match_mark(tiling: Tiling, column: int, row: int, height: float) -> tuple[float, float]:
    """A match mark's place on the drawing (mm, y up): the middle of an overlap."""
    across, down = tiling.corner(column, row)
    return across + OVERLAP_MM / 2, height - down - OVERLAP_MM / 2


def _match_mark(canvas: Canvas, place: tuple[float, float], name: str) -> None:
    x, y = place[0] * mm, place[1] * mm
    arm = MARK_MM * mm
    canvas.circle(x, y, arm / 2, stroke=1, fill=0)
    canvas.line(x - arm, y, x + arm, y)
    canvas.line(x, y - arm, x, y + arm)
    canvas.setFont(FONT, SMALL_PT)
    canvas.drawString(x + 0.8 * mm, y + 2.4 * mm, name)


def _crop_marks(canvas: Canvas, left: float, bottom: float, wide: float, high: float) -> None:
    for x, outward in ((left, -1), (left + wide, 1)):
        for y, upward in ((bottom, -1), (bottom + high, 1)):
            canvas.line(x * mm, (y + upward) * mm, x * mm, (y + upward * CROP_MM) * mm)
            canvas.line((x + outward) * mm, y * mm, (x + outward * CROP_MM) * mm, y * mm)


def _foot(
    canvas: Canvas,
    tiling: Tiling,
    kept: Sequence[tuple[int, int]],
    tile: tuple[int, int],
    title: str,
) -> None:
    """The tile's name, a check rule, and a map of the tiles that there are with this one filled."""
    y = 7.0
    canvas.setFont(FONT, 9)
    canvas.drawString(MARGIN_MM * mm, (y + 1) * mm, f"tile {tiling.name(*tile)}")
    canvas.setFont(FONT, SMALL_PT)
    words = f"{title}  |  sheet {kept.index(tile) + 1} of {len(kept)}"
    canvas.drawString(MARGIN_MM * mm, (y - 2.6) * mm, words)
    canvas.drawString(MARGIN_MM * mm, (y - 5.4) * mm, CAUTION)
    check_rule(canvas, MARGIN_MM + 26, y)
    cell = min(MAP_CELL_MM, MAP_MM[0] / max(tiling.columns, 1), MAP_MM[1] / max(tiling.rows, 1))
    right = MARGIN_MM + tiling.size[0]
    for column, row in kept:
        canvas.rect(
            (right - (tiling.columns - column) * cell) * mm,
            (2.5 + (tiling.rows - 1 - row) * cell) * mm,
            cell * mm,
            cell * mm,
            stroke=1,
            fill=int((column, row) == tile),
        )


def check_rule(canvas: Canvas, left: float, y: float) -> None:
    """A rule of 100 mm from a place on the page (mm, y up): it shows a print at another scale."""
    canvas.setLineWidth(0.2 * mm)
    canvas.line(left * mm, y * mm, (left + CHECK_MM) * mm, y * mm)
    for tick in range(11):
        x = left + tick * CHECK_MM / 10
        canvas.line(x * mm, y * mm, x * mm, (y + (3 if tick % 5 == 0 else 2)) * mm)
    canvas.setFont(FONT, SMALL_PT)
    canvas.drawString((left + CHECK_MM + 2) * mm, y * mm, f"{CHECK_MM:.0f} mm: measure before use")


def _canvas(stream: io.BytesIO, size: tuple[float, float], title: str) -> Canvas:
    canvas = Canvas(stream, pagesize=size, invariant=1)
    canvas.setTitle(title)
    return canvas
