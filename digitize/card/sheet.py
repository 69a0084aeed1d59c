"""The scale card as a PDF at true size."""

from collections.abc import Sequence
from io import BytesIO
from typing import TYPE_CHECKING

import cv2
import numpy as np

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

if TYPE_CHECKING:
    from reportlab.pdfgen.canvas import Canvas

POINTS_PER_MM = 72 / INCH_MM
TICK_MM, CROSS_MM = 2.0, 2.5
LABEL_MM = 3.4  # from a rule's line to the feet of its words
INSIDE_MM = 70.0  # words beyond this would meet the frame
WORDS_MM = 17.0  # from the middle to where lines of words begin
INCH_SHIFT_MM = 15.0  # the 6 in rule begins so much further on
MEASURE = (
    "Measure two lengths on the print",
    "with a steel rule, from end to end:",
    "1 across the sheet, marked 150 mm;",
    "2 along the sheet, marked 150 mm.",
    "Give what they read, even 150.0, as",
    "--measured-x (1), --measured-y (2).",
    "The 6 in rules are for a look only.",
)
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
    from reportlab.pdfgen.canvas import Canvas  # who finds cards prints none

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


def _draw_frame(canvas: "Canvas", layout: CardLayout, number: int) -> None:
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


def _draw_rules(canvas: "Canvas") -> None:
    """Across the sheet and along it a rule of 150 mm, and one of 6 in beside it.

    They share neither a line nor an end, so that neither is taken for the other.
    """
    for turn, name, beside in ((0, "1 across", 3.5), (90, "2 along", 13.0)):
        canvas.saveState()
        canvas.rotate(turn)
        start = -RULE_MM / 2
        _draw_rule(canvas, start, beside, [10.0 * mark for mark in range(16)], 1)
        canvas.drawString(-INSIDE_MM, beside + LABEL_MM, "0")
        canvas.drawRightString(INSIDE_MM, beside + LABEL_MM, "150 mm")
        canvas.drawCentredString(-40, beside + LABEL_MM, f"{name}: 150 mm")
        start += INCH_SHIFT_MM
        _draw_rule(canvas, start, -beside, [INCH_MM * mark for mark in range(7)], -1)
        canvas.drawString(start + 0.6, 0.8 - beside, "0")
        canvas.drawRightString(start + RULE_INCH_MM - 0.6, 0.8 - beside, "6 in")
        canvas.restoreState()
    canvas.setLineWidth(0.2)
    canvas.line(-CROSS_MM, 0, CROSS_MM, 0)
    canvas.line(0, -CROSS_MM, 0, CROSS_MM)
    canvas.setFont("Helvetica", 2.2)
    canvas.drawString(CROSS_MM + 0.7, -0.8, "centre")


def _draw_rule(
    canvas: "Canvas", start: float, beside: float, marks: Sequence[float], side: int
) -> None:
    """A rule's line with ticks to one side (1 or -1), its two ends plainly marked; mm."""
    canvas.setFont("Helvetica", 3.2)
    canvas.setLineWidth(0.2)
    canvas.line(start, beside, start + marks[-1], beside)
    for mark in marks[1:-1]:
        canvas.line(start + mark, beside, start + mark, beside + side * TICK_MM)
    canvas.setLineWidth(0.3)
    for mark in (marks[0], marks[-1]):
        canvas.line(start + mark, beside - TICK_MM, start + mark, beside + TICK_MM)


def _draw_words(canvas: "Canvas", layout: CardLayout, number: int) -> None:
    top = float(layout.marker_centres_mm[0, 1])
    for turn in (0, 180):
        canvas.saveState()
        canvas.rotate(turn)
        canvas.setFont("Helvetica", 14)
        canvas.drawCentredString(0, top - 5, str(number))
        canvas.setFont("Helvetica", 3.2)
        canvas.drawCentredString(0, top + 8, "scale card")
        canvas.restoreState()
    canvas.setFont("Helvetica", 2.4)
    for line, text in enumerate(MEASURE):
        canvas.drawString(WORDS_MM, 70.5 - 3.4 * line, text)
    canvas.setFont("Helvetica", 2.2)
    for line, text in enumerate(CAUTION):
        canvas.drawString(WORDS_MM, -52 - 3.2 * line, text)
