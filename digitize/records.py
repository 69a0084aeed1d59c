"""The commands about a record: what is told about it, what it says, and its drawings."""

from collections.abc import Callable
from pathlib import Path
from typing import Annotated

import typer
from rich.console import Console

from digitize.disk import write_all
from digitize.files import (
    FORMATS,
    MARKED_DOWN,
    MARKED_UP,
    MIRRORED,
    RECORD,
    drawings_of,
    files_of,
    record_in,
    record_path,
)
from digitize.options import (
    ROLES,
    Allow,
    Allowance,
    Stock,
    about_lines,
    blank_options,
    parsed,
    parsed_sheet,
    role_named,
)
from digitize.pattern import Pattern, to_json
from digitize.report import show_pattern, show_shrink, show_warnings
from digitize.shell import reported, screen, stop
from digitize.shop.blank import ALLOWANCE_MM
from digitize.shop.labels import labelled
from digitize.shop.mirror import mirrored
from digitize.shop.spread import with_spread
from digitize.words import gaps, radii

app = typer.Typer()


@app.command()
@reported
def label(
    pattern: Annotated[Path, typer.Argument(help="The record, pattern.json, or its folder.")],
    role: Annotated[
        list[str] | None,
        typer.Option(metavar="LINE=ROLE", help=f"What a line is: {', '.join(ROLES)}."),
    ] = None,
    radius: Annotated[
        list[str] | None,
        typer.Option(
            metavar="LINE=RADIUS",
            help="A bend's radius, told on its radius start: L8=3in, L8=76mm, or at places along "
            "it, L8=3in@0%,3-1/4in@50%,100@640mm.",
        ),
    ] = None,
    note: Annotated[
        list[str] | None, typer.Option(metavar="LINE=WORDS", help="A note about a line.")
    ] = None,
) -> None:
    """Say what lines are, their radii and notes; the record and drawings are written anew.

    Line ids are in the drawing. Each option can be repeated. What is told outlasts a new reading.
    """
    roles = {
        line: role_named(words, "--role ")
        for line, words in about_lines(role, "--role", "L3=radius-end").items()
    }
    told_radii = {
        line: parsed(radii, words, "--radius", "L8=3-1/4in, L8=76mm or L8=3in@0%,4in@100%")
        for line, words in about_lines(radius, "--radius", "L8=3in").items()
    }
    notes = about_lines(note, "--note", "L3=crown")
    _written_anew(pattern, lambda record: labelled(record, roles, told_radii, notes), show_pattern)


@app.command()
@reported
def tuck(
    pattern: Annotated[Path, typer.Argument(help="The record, pattern.json, or its folder.")],
    name: Annotated[str, typer.Argument(metavar="TUCK", help="Which tuck, as T3.")],
    spread: Annotated[
        str,
        typer.Option(
            metavar="GAP",
            help="How far the slit opened while pinned: 6mm or 1/4in at the trim edge, or at "
            "depths from its tip, 2mm@40mm,6mm@90mm; none takes it back.",
        ),
    ],
) -> None:
    """Say that a slit opened instead of lapping: the metal has to be stretched there.

    Its gap leaves nothing on the paper to read. What is told outlasts a new reading.
    """
    told = parsed(gaps, spread, "--spread", "6mm, 1/4in, 2mm@40mm,6mm@90mm or none")
    _written_anew(pattern, lambda record: with_spread(record, name, told), show_pattern)


@app.command()
@reported
def shrink(
    pattern: Annotated[Path, typer.Argument(help="The record, pattern.json, or its folder.")],
    sheet: Annotated[
        str | None,
        typer.Option(help="The metal: steel 18 ga, aluminium 16 ga, steel 1.2 mm; it is kept."),
    ] = None,
) -> None:
    """Show how much to take out, where, and where it fades to nothing; and how thick it gets."""
    if sheet is None:
        show_shrink(screen, record_in(pattern))
        return
    told = parsed_sheet(sheet)
    _written_anew(pattern, lambda record: record.model_copy(update={"sheet": told}), show_shrink)


@app.command()
@reported
def draw(
    pattern: Annotated[Path, typer.Argument(help="The record, pattern.json, or its folder.")],
    out: Annotated[Path, typer.Option(help="Folder for the drawings.")],
    mirror: Annotated[
        bool, typer.Option("--mirror", help="Draw the opposite side's part instead.")
    ] = False,
    formats: Annotated[
        str,
        typer.Option(
            "--format",
            help=f"Any of {', '.join(FORMATS)}, with commas: a4 and letter are the PDF in tiles "
            "for a printer, job is the job sheet.",
        ),
    ] = ",".join(FORMATS),
    allowance: Allowance = f"{ALLOWANCE_MM:g}mm",
    allow: Allow = None,
    stock: Stock = None,
) -> None:
    """Draw a pattern at true size, for this side or the other: SVG, DXF, PDF, job sheet."""
    asked = [each.strip() for each in formats.split(",")]
    for each in asked:
        if each not in FORMATS:
            stop(2, f"--format {each}: formats are {', '.join(FORMATS)}")
    wide, along, sheets = blank_options(allowance, allow, stock)
    record = record_in(pattern)
    record, face = (mirrored(record), MARKED_DOWN) if mirror else (record, MARKED_UP)
    files, without_blank = drawings_of(record, out, asked, face, wide, along, sheets)
    write_all(files)
    if without_blank:
        show_warnings(screen, [f"drawn without a blank: {without_blank}"])
    screen.print("written: " + ", ".join(str(path) for path in files))


def _written_anew(
    place: Path,
    change: Callable[[Pattern], Pattern],
    show: Callable[[Console, Pattern], None],
) -> None:
    """Change a record, write it and its drawings, and show it."""
    path = record_path(place)
    changed = change(record_in(path))
    if path.name == RECORD:
        files = files_of(changed, path.parent, (path.parent / MIRRORED).exists())
    else:
        files = {path: to_json(changed).encode()}
    write_all(files)
    show(screen, changed)
    screen.print("written: " + ", ".join(str(file) for file in files))
