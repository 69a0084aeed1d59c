"""The job sheet: a front page with the order of work, then plan, lines, shrink and notes."""

import io
from collections.abc import Sequence
from copy import copy  # a flowable remembers the page it was put on
from dataclasses import dataclass
from functools import partial
from xml.sax.saxutils import escape

from reportlab.graphics.shapes import Drawing
from reportlab.lib.colors import HexColor
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.lib.utils import simpleSplit
from reportlab.pdfbase.pdfmetrics import stringWidth
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import (
    BaseDocTemplate,
    Flowable,
    Frame,
    KeepTogether,
    PageBreak,
    PageTemplate,
    Paragraph,
    Spacer,
    Table,
)

from digitize.draw.callouts import radii_along
from digitize.draw.order import Step, steps_of_job
from digitize.draw.pdf import SHEETS_PT, check_rule, drawing_of
from digitize.draw.plan import plan_svg
from digitize.draw.shrink import (
    shrink_map_svg,
    table_cells,
    table_foot,
    table_heads,
    table_title,
)
from digitize.draw.style import CAUTION, STYLES
from digitize.draw.title import title_fields, title_words
from digitize.record import Line, Pattern, Remark
from digitize.shop import Blank, PunchedLine, ShrinkTable, StockChoice, group_lengths
from digitize.take_up import ShrinkField
from digitize.units import in_both, length_in_words

MARGIN_MM, HEAD_MM, FOOT_MM = 14.0, 25.0, 24.0
WIDE_MM = 182.0  # what A4 has between its margins
PLAN_MM, MAP_MM = 125.0, 140.0  # how high they may be
BOX_MM, MOST_TOGETHER = 3.2, 12
CELL_MM = 3.0  # of a table's cell, beside its words
FONT, BOLD = "Helvetica", "Helvetica-Bold"
GREY, RULE = HexColor("#444444"), HexColor("#9a9a9a")
PLAIN = ParagraphStyle("plain", fontName=FONT, fontSize=9, leading=11.5)
SMALL = ParagraphStyle("small", parent=PLAIN, fontSize=8, leading=10)
HEADING = ParagraphStyle("heading", parent=PLAIN, fontName=BOLD, fontSize=11, leading=15)
ALERT = ParagraphStyle(
    "alert", parent=PLAIN, borderColor=HexColor("#000000"), borderWidth=1, borderPadding=4
)


@dataclass(frozen=True)
class Job:
    """A pattern and what was worked out of it for the shop.

    Attributes
    ----------
    face : which face of the paper is drawn; ``mirrored`` if that makes it the opposite side's part.
    plan, shrink_map : their pictures, no wider than WIDE_MM; no map where nothing is taken up.
    """

    pattern: Pattern
    face: str
    mirrored: bool
    steps: Sequence[Step]
    tables: Sequence[ShrinkTable]
    plan: Drawing
    shrink_map: Drawing | None


def job_of(
    pattern: Pattern,
    face: str,
    mirrored: bool,
    blank: Blank | None,
    stock: StockChoice | None,
    punched: Sequence[PunchedLine],
    fields: Sequence[ShrinkField],
    tables: Sequence[ShrinkTable],
) -> Job:
    """The job of a pattern, by its blank, punch points, and what its zones take up."""
    steps = steps_of_job(pattern, blank, stock, punched, tables)
    plan = drawing_of(plan_svg(pattern, blank, (WIDE_MM, PLAN_MM)))
    size = (WIDE_MM, MAP_MM)
    shrink_map = drawing_of(shrink_map_svg(pattern, fields, size)) if tables else None
    return Job(pattern, face, mirrored, steps, tables, plan, shrink_map)


def job_pdf(job: Job, sheet: str) -> bytes:
    """The job sheet's pages on a sheet of SHEETS_PT, as the bytes of a PDF; no clock in them."""
    width, height = SHEETS_PT[sheet]
    stream = io.BytesIO()
    frame = Frame(
        MARGIN_MM * mm,
        FOOT_MM * mm,
        width - 2 * MARGIN_MM * mm,
        height - (HEAD_MM + FOOT_MM) * mm,
        0,
        0,
        0,
        0,
    )
    title = f"{job.pattern.name}, {job.pattern.side} side, {job.face}"
    document = BaseDocTemplate(stream, pagesize=(width, height), title=title, invariant=1)
    document.addPageTemplates(PageTemplate("page", [frame]))
    document.build(_story(job), canvasmaker=partial(_Pages, job=job))
    return stream.getvalue()


def _story(job: Job) -> list[Flowable]:
    pattern, wide = job.pattern, WIDE_MM
    story: list[Flowable] = [*_alerts(pattern.remarks)]
    for number, step in enumerate(job.steps, 1):
        story += _step(number, step, wide)
    story += [Spacer(0, 3 * mm), *_known(pattern)]
    story += [Spacer(0, 3 * mm), copy(job.plan)]
    story += [Spacer(0, 3 * mm), _lines(pattern, wide)]
    if pattern.bands:
        story += [Spacer(0, 4 * mm), _bands(pattern, wide)]
    if pattern.tucks:
        story += [Spacer(0, 4 * mm), _tucks(pattern, wide)]
    if job.shrink_map is not None:
        story += [PageBreak(), Paragraph("Shrink and stretch", HEADING)]
        story.append(copy(job.shrink_map))
        for table in job.tables:
            story += [Spacer(0, 4 * mm), _shrink(pattern, table, wide)]
    return story


def _alerts(remarks: Sequence[Remark]) -> list[Flowable]:
    """What has to be settled or looked at before metal is cut, each in a box."""
    return [
        flowable
        for severity, said in (("stop", "Before you cut: "), ("warning", "Look at: "))
        for remark in remarks
        if remark.severity == severity
        for flowable in (
            Paragraph(f"<b>{said}</b>{escape(remark.words)}", ALERT),
            Spacer(0, 4 * mm),
        )
    ]


def _step(number: int, step: Step, wide: float) -> list[Flowable]:
    rows = [[_Box(), Paragraph(escape(part), PLAIN)] for part in step.parts]
    style = [
        ("VALIGN", (0, 0), (-1, -1), "TOP"),
        ("TOPPADDING", (0, 0), (-1, -1), 1),
        ("BOTTOMPADDING", (0, 0), (-1, -1), 1.5),
        ("LEFTPADDING", (0, 0), (-1, -1), 2),
    ]
    table = Table(rows, [8 * mm, (wide - 8) * mm], hAlign="LEFT", style=style)
    heading = Paragraph(f"{number}  {escape(step.title)}", HEADING)
    whole: list[Flowable] = [heading, table, Spacer(0, 2 * mm)]
    return [KeepTogether(whole)] if len(rows) <= MOST_TOGETHER else whole


class _Box(Flowable):  # type: ignore[misc]
    """A box to tick."""

    def __init__(self) -> None:
        super().__init__()
        self.width = self.height = BOX_MM * mm

    def draw(self) -> None:
        self.canv.setLineWidth(0.25 * mm)
        self.canv.rect(0, 0, self.width, self.height)


def _table(rows: Sequence[Sequence[str]], widths_mm: Sequence[float]) -> Flowable:
    """A table whose first row is its head, said anew on each page that it runs over."""
    # A paragraph is laid out word by word, time and again; most cells are a word that fits.
    cells = [
        [
            cell
            if stringWidth(cell, SMALL.fontName, SMALL.fontSize) < (width - CELL_MM) * mm
            else Paragraph(escape(cell), SMALL)
            for cell, width in zip(row, widths_mm, strict=True)
        ]
        for row in rows
    ]
    style = [
        ("FONT", (0, 0), (-1, -1), SMALL.fontName, SMALL.fontSize, SMALL.leading),
        ("VALIGN", (0, 0), (-1, -1), "TOP"),
        ("LINEBELOW", (0, 0), (-1, 0), 0.6, GREY),
        ("LINEBELOW", (0, 1), (-1, -1), 0.25, RULE),
        ("TOPPADDING", (0, 0), (-1, -1), 1),
        ("BOTTOMPADDING", (0, 0), (-1, -1), 2),
        ("LEFTPADDING", (0, 0), (-1, -1), 0),
    ]
    widths = [width * mm for width in widths_mm]
    return Table(cells, widths, repeatRows=1, hAlign="LEFT", style=style)


def _lines(pattern: Pattern, wide: float) -> Flowable:
    """One row for each line on the metal, with the pieces that it is in on the paper."""
    rows: list[tuple[str, ...]] = [("line", "pieces", "is", "flat", "finished", "radius", "note")]
    in_groups = {piece.line for group in pattern.groups for piece in group.pieces}
    for each in group_lengths(pattern):
        pieces = [pattern.line(piece.line) for piece in each.group.pieces]
        rows.append(_line_row(pattern, each.group.id, pieces, each.paper, each.finished))
    for line in pattern.lines:
        if line.is_of_metal and line.id not in in_groups:
            rows.append(_line_row(pattern, "", [line], line.length, line.length))
    widths = (16, 34, 28, 30, 30, 24)
    return _table(rows, (*widths, wide - sum(widths)))


def _line_row(
    pattern: Pattern, name: str, pieces: Sequence[Line], flat: float, finished: float
) -> tuple[str, ...]:
    """Its lengths are on the blank, and once the metal is taken up."""
    proposed = [line.role_confidence for line in pieces if line.role_by == "proposed"]
    sure = f" ({min(proposed):.0%})" if proposed else ""
    radii = [each.radius for line in pieces for each in line.radii]
    radii += [line.radius for line in pieces if line.radius]
    ends = dict.fromkeys(in_both(radius, pattern.unit) for radius in (*radii[:1], *radii[-1:]))
    return (
        name,
        " ".join(line.id for line in pieces),
        STYLES[pieces[0].role].words + sure,
        in_both(flat, pattern.unit),
        in_both(finished, pattern.unit),
        " to ".join(ends),
        "; ".join(line.note for line in pieces if line.note),
    )


def _bands(pattern: Pattern, wide: float) -> Flowable:
    rows = [("band", "from", "width", "radius, and how far the bend turns there")]
    for band in pattern.bands:
        widths = [station.width for station in band.stations]
        told = "; ".join(words for words, _ in radii_along(pattern, band))
        rows.append(
            (
                band.id,
                pattern.line(band.start).label,
                " to ".join(in_both(each, pattern.unit) for each in (min(widths), max(widths))),
                told or "not told",
            )
        )
    widths_mm = (18, 30, 46)
    return _table(rows, (*widths_mm, wide - sum(widths_mm)))


def _tucks(pattern: Pattern, wide: float) -> Flowable:
    """Each tuck with its marks, and what it takes up within so much (95 %)."""
    rows = [
        (
            "tuck",
            "is",
            "marks",
            "lap at the trim edge",
            "\N{PLUS-MINUS SIGN} mm",
            "degrees it turns the edge",
        )
    ]
    for tuck in pattern.tucks:
        sigma = tuck.profile[-1].sigma if tuck.profile else None
        rows.append(
            (
                tuck.id,
                f"{tuck.kind}, not sure" if tuck.unsure else tuck.kind,
                ", ".join(f"{STYLES[pattern.line(m).role].words} {m}" for m in tuck.marks),
                in_both(tuck.lap_at_trim, pattern.unit),
                f"{2 * sigma:.1f}" if sigma is not None else "",
                f"{tuck.turn_deg:.1f}",
            )
        )
    widths = (14, 24, 56, 36, 18)
    return _table(rows, (*widths, wide - sum(widths)))


def _shrink(pattern: Pattern, table: ShrinkTable, wide: float) -> Flowable:
    heads = table_heads(pattern, table)
    rows = [heads, *(table_cells(pattern, row) for row in table.rows)]
    first = 12.0
    widths = (first, *((wide - first) / (len(heads) - 1) for _ in heads[1:]))
    title = Paragraph(f"<b>{escape(table_title(pattern, table))}</b>", PLAIN)
    foot = Paragraph(escape(table_foot(pattern, table)), PLAIN)
    return KeepTogether([title, _table(rows, widths), foot])


def _known(pattern: Pattern) -> list[Flowable]:
    """How true it all is, and what else there is to know."""
    words = []
    if pattern.scale is not None:
        within = length_in_words(pattern.scale.accuracy_mm, pattern.unit)
        words.append(f"No point is further than {within} from true size (95 % sure).")
    if pattern.closure_rms is not None:
        apart = length_in_words(pattern.closure_rms, pattern.unit, 2)
        words.append(f"With its tucks closed, lines that they break meet again within {apart}.")
    for zone in pattern.zones:
        found = zone.curvature
        if found is not None:
            by_radii = f", by the radii {found.radii_deg:.0f}" if found.radii_deg else ""
            words.append(
                f"{zone.id}: total curvature {found.laps_deg:.0f} degrees by the laps{by_radii}; "
                f"{zone.kind} up to {abs(zone.peak_local):.1%}."
            )
    notes = [remark.words for remark in pattern.remarks if remark.severity == "note"]
    words += [f"Note: {said}" for said in notes]
    return [
        each for said in words for each in (Spacer(0, 1.5 * mm), Paragraph(escape(said), PLAIN))
    ]


class _Pages(Canvas):  # type: ignore[misc]
    """A canvas that puts head and foot on every page once it is known how many there are."""

    def __init__(self, *given: object, job: Job, **more: object) -> None:
        super().__init__(*given, **more)
        self._job, self._done = job, list[dict[str, object]]()

    def showPage(self) -> None:  # noqa: N802
        self._done.append(dict(self.__dict__))
        self._startPage()

    def save(self) -> None:
        for number, page in enumerate(self._done, 1):
            self.__dict__.update(page)
            _head(self, self._job)
            _foot(self, self._job, f"{number} of {len(self._done)}")
            super().showPage()
        super().save()


def _head(canvas: Canvas, job: Job) -> None:
    """The part's name and, large, its side."""
    pattern, (width, height) = job.pattern, canvas._pagesize
    top = height - 15 * mm
    side = pattern.side.upper() if pattern.side != "unknown" else "SIDE NOT TOLD"
    canvas.setFont(BOLD, 22)
    canvas.drawRightString(width - MARGIN_MM * mm, top - 1, side)
    room = width - 2 * MARGIN_MM * mm - canvas.stringWidth(side, BOLD, 22) - 5 * mm
    canvas.setFont(BOLD, 15)
    canvas.drawString(MARGIN_MM * mm, top, _fitted(canvas, pattern.part or pattern.name, 15, room))
    canvas.setFont(FONT, 9)
    which = "OPPOSITE SIDE: mirrored, " if job.mirrored else ""
    canvas.drawString(MARGIN_MM * mm, top - 5 * mm, f"{which}{job.face}")
    canvas.setLineWidth(0.4 * mm)
    canvas.line(MARGIN_MM * mm, top - 7 * mm, width - MARGIN_MM * mm, top - 7 * mm)


def _foot(canvas: Canvas, job: Job, sheet: str) -> None:
    """The title block, a check rule and the cautions."""
    width = canvas._pagesize[0]
    fields = title_fields(job.pattern, job.face, "job sheet", sheet)
    canvas.setLineWidth(0.2 * mm)
    canvas.line(MARGIN_MM * mm, 21.5 * mm, width - MARGIN_MM * mm, 21.5 * mm)
    words = title_words(tuple(field for field in fields if field[0] != "drawn"))
    for row, part in enumerate(simpleSplit(words, FONT, 7.5, width - 2 * MARGIN_MM * mm)[:2]):
        canvas.setFont(FONT, 7.5)
        canvas.drawString(MARGIN_MM * mm, (18.5 - 3.2 * row) * mm, part)
    check_rule(canvas, MARGIN_MM, 9.5)
    canvas.setFont(FONT, 7.5)
    canvas.drawString(MARGIN_MM * mm, 4.5 * mm, CAUTION)


def _fitted(canvas: Canvas, words: str, size: float, room: float) -> str:
    """Words, cut to the room there is for them; the title block has them whole."""
    while canvas.stringWidth(words, BOLD, size) > room and len(words) > 1:
        words = words[:-2].rstrip() + "\N{HORIZONTAL ELLIPSIS}"
    return words
