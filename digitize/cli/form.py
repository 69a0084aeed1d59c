"""``digitize form``: the panel in space."""

from pathlib import Path
from typing import Annotated

import typer

from digitize.cli.options import Record, one_of, parsed, two_places
from digitize.cli.screen import reported, screen, show_written, stages_shown


@reported
def form(
    pattern: Record,
    out: Annotated[
        Path | None,
        typer.Option(help="Folder to write into.", show_default="the record's own"),
    ] = None,
    between: Annotated[
        tuple[str, str] | None,
        typer.Option(
            metavar="X,Y X,Y",
            help="A further gauge between two places of the paper, mm: 120,85 240,92.",
        ),
    ] = None,
    face: Annotated[
        str, typer.Option(help="The face of the metal that the paper lay on: outer or inner.")
    ] = "outer",
    sheet: Annotated[str, typer.Option(help="The printer's sheet: a4 or letter.")] = "a4",
) -> None:
    """Solve the panel in space from its paper and told radii, with what it may be off by.

    Writes models of both sides, gauges to hold against the metal, and the form sheet.
    """
    from digitize.cli.tables import show_form, show_remarks
    from digitize.jobs.form import FACES, STAGES, form_pattern

    ends = []
    if between is not None:
        ends.append(parsed(two_places, " ".join(between), "--between", "120,85 240,92"))
    on = one_of(face, FACES, "--face")
    paper = one_of(sheet, ("a4", "letter"), "--sheet")
    with stages_shown(STAGES) as stage:
        shaped = form_pattern(pattern, out, between=ends, face=on, sheet=paper, stage=stage)
    show_form(screen, shaped)
    show_remarks(screen, shaped.remarks)
    show_written(shaped.written)
