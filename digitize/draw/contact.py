"""A contact sheet of kept patterns: a small picture of each, and what is on its slip."""

import io
from collections.abc import Sequence
from dataclasses import dataclass

from reportlab.lib.pagesizes import A4
from reportlab.lib.units import mm
from reportlab.lib.utils import ImageReader
from reportlab.pdfbase.pdfmetrics import stringWidth
from reportlab.pdfgen.canvas import Canvas

COLUMNS, ROWS = 2, 4
MARGIN_MM, GAP_MM, HEAD_MM = 12.0, 6.0, 8.0
WORDS_MM, LINE_MM = 15.0, 4.2
FONT, BOLD = "Helvetica", "Helvetica-Bold"


@dataclass(frozen=True)
class Shown:
    """One pattern on the sheet: its name, lines of words, and a JPEG, if there is one."""

    name: str
    words: tuple[str, ...]
    picture: bytes | None


def contact_pdf(title: str, patterns: Sequence[Shown]) -> bytes:
    """Pages of A4 with the patterns in rows; the same bytes for the same patterns."""
    stream = io.BytesIO()
    canvas = Canvas(stream, pagesize=A4, invariant=True)
    canvas.setTitle(title)
    wide = (A4[0] / mm - 2 * MARGIN_MM - (COLUMNS - 1) * GAP_MM) / COLUMNS
    high = (A4[1] / mm - 2 * MARGIN_MM - HEAD_MM) / ROWS
    each_page = COLUMNS * ROWS
    pages = -(-len(patterns) // each_page)
    for page in range(pages):
        canvas.setFont(BOLD, 11)
        canvas.drawString(MARGIN_MM * mm, A4[1] - (MARGIN_MM + 3) * mm, title)
        canvas.setFont(FONT, 9)
        canvas.drawRightString(
            A4[0] - MARGIN_MM * mm, A4[1] - (MARGIN_MM + 3) * mm, f"page {page + 1} of {pages}"
        )
        for place, shown in enumerate(patterns[page * each_page : (page + 1) * each_page]):
            row, column = divmod(place, COLUMNS)
            left = MARGIN_MM + column * (wide + GAP_MM)
            top = A4[1] / mm - MARGIN_MM - HEAD_MM - row * high
            _draw(canvas, shown, left, top, wide, high - GAP_MM)
        canvas.showPage()
    canvas.save()
    return stream.getvalue()


def _draw(canvas: Canvas, shown: Shown, left: float, top: float, wide: float, high: float) -> None:
    """A pattern in its cell; mm from the lower left corner, ``top`` of the cell's upper edge."""
    room = high - WORDS_MM
    if shown.picture is not None:
        picture = ImageReader(io.BytesIO(shown.picture))
        across, down = picture.getSize()
        scale = min(wide / across, room / down)
        canvas.drawImage(
            picture, left * mm, (top - scale * down) * mm, scale * across * mm, scale * down * mm
        )
    else:
        canvas.setFont(FONT, 9)
        canvas.drawString((left + 2) * mm, (top - room / 2) * mm, "no sound picture was kept")
    base = top - room - 4
    for row, words in enumerate((shown.name, *shown.words)):
        font = BOLD if row == 0 else FONT
        canvas.setFont(font, 9 if row == 0 else 8)
        canvas.drawString(left * mm, (base - row * LINE_MM) * mm, _cut(words, font, wide))


def _cut(words: str, font: str, wide: float) -> str:
    """The words, or as many of their letters as fit."""
    if stringWidth(words, font, 9) <= wide * mm:
        return words
    while words and stringWidth(words + "...", font, 9) > wide * mm:
        words = words[:-1]
    return words + "..."
