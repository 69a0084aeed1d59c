"""Draw a pattern at true size: SVG, DXF, PDF, tiles for a printer, the job sheet."""

from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from digitize import draw
from digitize.errors import TrimOpen, WrongOption
from digitize.jobs.disk import write_all
from digitize.jobs.folder import MARKED_DOWN, MARKED_UP, load_pattern, opposite
from digitize.jobs.formats import FORMATS, drawing_name
from digitize.mend import lines_named, stretch_of
from digitize.record import Pattern, Remark
from digitize.remarks import about_no_blank
from digitize.shop import (
    ALLOWANCE_MM,
    STOCK_MM,
    blank_of,
    punch_points,
    shrink_tables,
    stock_for,
)
from digitize.take_up import shrink_fields, zones_and_fans
from digitize.units import NotALength, sheet_size

__all__ = ["ALLOWANCE_MM", "FORMATS", "STOCK_MM", "Cut", "Drawn", "draw_pattern", "drawings_of"]

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Cut:
    """How the blank is cut.

    Attributes
    ----------
    allowance : metal outside the trim edge, mm; as told of the pattern, or else 25, if not given.
    along : other allowances by id of a line or line group, beside those told.
    stock : sheets to cut from, mm by name; as told of the pattern, or else common ones.
    """

    allowance: float | None = None
    along: Mapping[str, float] = field(default_factory=dict)
    stock: Mapping[str, tuple[float, float]] | None = None


@dataclass(frozen=True)
class Drawn:
    """The files that were written, and what is to be said about them."""

    written: tuple[Path, ...]
    remarks: tuple[Remark, ...]


def draw_pattern(
    pattern: Path,
    out: Path,
    *,
    formats: Collection[str] = FORMATS,
    mirror: bool = False,
    cut: Cut | None = None,
) -> Drawn:
    """Draw a record at true size.

    Parameters
    ----------
    pattern : the record's file or folder.
    out : the folder for the drawings.
    formats : any of FORMATS.
    mirror : draw the opposite side's part instead.

    Raises
    ------
    NotRead, RecordError, WrongOption, BlankError, NotWritten
    """
    for each in formats:
        if each not in FORMATS:
            raise WrongOption(f"--format {each}: formats are {', '.join(FORMATS)}")
    record = load_pattern(pattern)
    record, face = (opposite(record), MARKED_DOWN) if mirror else (record, MARKED_UP)
    files, without_blank = drawings_of(record, out, formats, face, cut or Cut())
    write_all(files)
    remarks = (about_no_blank(without_blank),) if without_blank else ()
    return Drawn(tuple(files), remarks)


def allowances_of(
    pattern: Pattern, cut: Cut
) -> tuple[float, dict[str, float], list[tuple[Floats, float]]]:
    """The allowance all round, others by line id, and of stretches (N, 2), mm: as told, but for
    what is asked here.

    Raises ToldError if the pattern has no line or line group of that name.
    """
    told = next((each.width for each in pattern.allowances if not each.lines), ALLOWANCE_MM)
    trim = {line.id for line in pattern.lines if line.role == "trim-edge"}
    whole = [each for each in pattern.allowances if each.between is None]
    told_along = {name: each.width for each in whole for name in each.lines}
    along = {name: width for name, width in told_along.items() if name in trim}
    for name, width in cut.along.items():
        along |= {line.id: width for line in lines_named(pattern, name)}
    stretches = [
        (stretch_of(pattern.line(name), each.between), each.width)
        for each in pattern.allowances
        for name in each.lines
        if each.between is not None and name in trim and name not in cut.along
    ]
    some = [(points, width) for points, width in stretches if len(points) > 1]
    return told if cut.allowance is None else cut.allowance, along, some


def stock_told(pattern: Pattern) -> Mapping[str, tuple[float, float]]:
    """The sheet that there is for a pattern, if one was told; else the common ones, mm by name."""
    try:
        name, size = sheet_size(pattern.stock or "", pattern.unit)
    except NotALength:
        return STOCK_MM
    return {name: size}


def drawings_of(
    pattern: Pattern, folder: Path, formats: Collection[str], face: str, cut: Cut
) -> tuple[dict[Path, bytes], str | None]:
    """A pattern's drawings in the formats asked for; and why they are without a blank, if so.

    Parameters
    ----------
    face : which face of the paper is drawn.
    """
    try:
        blank, why = blank_of(pattern, *allowances_of(pattern, cut)), None
    except TrimOpen as error:
        blank, why = None, str(error)
    stock = stock_for(blank, cut.stock or stock_told(pattern)) if blank else None
    punched = punch_points(pattern)
    drawn = draw.page_for(pattern, blank).drawn(pattern, blank)
    title = f"{pattern.name}, {pattern.side} side, {face}"

    svg = cache(lambda: draw.pattern_svg(pattern, face, blank, punched))
    drawing = cache(lambda: draw.drawing_of(svg()))

    @cache
    def job() -> "draw.Job":
        fans = zones_and_fans(pattern)
        fields, tables = shrink_fields(fans), shrink_tables(pattern, fans)
        return draw.job_of(
            pattern, face, face == MARKED_DOWN, blank, stock, punched, fields, tables
        )

    writers: dict[str, Callable[[], bytes]] = {
        "svg": lambda: svg().encode(),
        "dxf": lambda: draw.pattern_dxf(pattern, blank, punched),
        "pdf": lambda: draw.whole_pdf(drawing(), title),
        "a4": lambda: draw.tiles_pdf(drawing(), drawn, title, "a4"),
        "letter": lambda: draw.tiles_pdf(drawing(), drawn, title, "letter"),
        "job": lambda: draw.job_pdf(job(), "a4"),
        "job-letter": lambda: draw.job_pdf(job(), "letter"),
    }
    return {
        folder / drawing_name(pattern.name, pattern.side, each): writers[each]()
        for each in FORMATS
        if each in formats
    }, why
