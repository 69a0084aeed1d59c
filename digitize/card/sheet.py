"""The scale card as a PDF at true size."""

from collections.abc import Sequence
from io import BytesIO

import cv2
import numpy as np
from reportlab.pdfgen.canvas import Canvas

from digitize.card.layout import (
    CELL_MM,
    DICTIONARY,
    HIGHEST_NUMBER,
    MARKER_MM,
    MARKER_MODULES,
    RULE_INCH_MM,
    RULE_MM,
    CardLayout,
    card_layout,
    marker_identifier,
)
from digitize.units import INCH_MM

POINTS_PER_MM = 72 / INCH_MM
CAUTION = (
    "Cutting, punching and shrinking metal",
    "can hurt: gloves for sharp edges, eye",
    "protection, try a scrap first. Structural",
    "or roadworthiness parts: local codes",
    "and licensed practice.",
)


def card_pdf(
    numbers: Sequence[int], paper: str, stretch_x: float = 1.0, stretch_y: float = 1.0
) -> bytes:
    """A PDF with one card a page.

    Parameters
    ----------
    numbers : card numbers, each from 1 to HIGHEST_NUMBER.
    paper : ``"a4"`` or ``"letter"``.
    stretch_x, stretch_y : drawn size over nominal size, to undo a printer that scales.

    Raises
    ------
    ValueError
        If a number is out of range.
    """
    for number in numbers:
        if not 1 <= number <= HIGHEST_NUMBER:
            raise ValueError(f"card numbers run from 1 to {HIGHEST_NUMBER}; {number} does not")
    layout = card_layout(paper)
    width, height = layout.sheet_mm
    file = BytesIO()
    canvas = Canvas(file, pagesize=(width * POINTS_PER_MM, height * POINTS_PER_MM), invariant=True)
    canvas.setTitle(f"Scale cards {numbers[0]} to {numbers[-1]}, print at 100 %")
    for number in numbers:
        canvas.translate(width / 2 * POINTS_PER_MM, height / 2 * POINTS_PER_MM)
        canvas.scale(stretch_x * POINTS_PER_MM, stretch_y * POINTS_PER_MM)
        _draw_frame(canvas, layout, number)
        _draw_rules(canvas)
        _draw_words(canvas, layout, number)
        canvas.showPage()
    canvas.save()
    return file.getvalue()


def _draw_frame(canvas: Canvas, layout: CardLayout, number: int) -> None:
    # One path for all black: neighbouring shapes then leave no hairline between them.
    black = canvas.beginPath()
    for x, y in layout.cells_mm:
        black.rect(x, y, CELL_MM, CELL_MM)
    dictionary = cv2.aruco.getPredefinedDictionary(getattr(cv2.aruco, DICTIONARY))
    module = MARKER_MM / MARKER_MODULES
    for slot, (centre_x, centre_y) in enumerate(layout.marker_centres_mm):
        identifier = marker_identifier(number, layout.paper, slot)
        bits = cv2.aruco.generateImageMarker(dictionary, identifier, MARKER_MODULES)
        for row, column in np.argwhere(bits == 0):
            black.rect(
                centre_x - MARKER_MM / 2 + column * module,
                centre_y + MARKER_MM / 2 - (row + 1) * module,
                module,
                module,
            )
    canvas.drawPath(black, stroke=0, fill=1)


def _draw_rules(canvas: Canvas) -> None:
    canvas.setLineWidth(0.2)
    for turn in (0, 90):
        canvas.saveState()
        canvas.rotate(turn)
        canvas.line(-RULE_INCH_MM / 2, 0, RULE_INCH_MM / 2, 0)
        for centimetre in range(16):
            x = centimetre * 10 - RULE_MM / 2
            canvas.line(x, 0, x, 4.0 if centimetre % 5 == 0 else 2.0)
        for inch in range(7):
            x = inch * INCH_MM - RULE_INCH_MM / 2
            canvas.line(x, 0, x, -4.0)
        canvas.setFont("Helvetica", 3.2)
        canvas.drawCentredString(-37.5, 5.2, "150 mm")
        canvas.drawCentredString(-38.1, -7.2, "6 in")
        canvas.restoreState()


def _draw_words(canvas: Canvas, layout: CardLayout, number: int) -> None:
    top = float(layout.marker_centres_mm[0, 1])
    for turn in (0, 180):
        canvas.saveState()
        canvas.rotate(turn)
        canvas.setFont("Helvetica", 14)
        canvas.drawCentredString(0, top - 5, str(number))
        canvas.setFont("Helvetica", 3.2)
        canvas.drawCentredString(0, top + 8, "scale card")
        canvas.restoreState()
    canvas.setFont("Helvetica", 2.2)
    canvas.drawCentredString(23, 20, "Measure both rules with a steel rule; if")
    canvas.drawCentredString(23, 16.8, "not 150.0 mm, give what you read.")
    for line, text in enumerate(CAUTION):
        canvas.drawCentredString(24, -52 - 3.2 * line, text)
