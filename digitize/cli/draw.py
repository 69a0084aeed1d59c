"""``digitize draw``: a pattern at true size."""

from pathlib import Path
from typing import Annotated

import typer

from digitize.cli.options import Allow, Allowance, Record, Stock, cut_as
from digitize.cli.screen import reported, screen, show_written
from digitize.defaults import FORMATS


@reported
def draw(
    pattern: Record,
    out: Annotated[Path, typer.Option(help="Folder for the drawings.")],
    mirror: Annotated[
        bool, typer.Option("--mirror", help="Draw the opposite side's part instead.")
    ] = False,
    formats: Annotated[
        str,
        typer.Option(
            "--format",
            help=f"Any of {', '.join(FORMATS)}, with commas: a4 and letter are the PDF in tiles "
            "for a printer, job and job-letter the job sheet.",
        ),
    ] = ",".join(FORMATS),
    allowance: Allowance = None,
    allow: Allow = None,
    stock: Stock = None,
) -> None:
    """Draw a pattern at true size, for this side or the other: SVG, DXF, PDF, job sheet."""
    from digitize.cli.tables import show_remarks
    from digitize.jobs.draw import draw_pattern
    from digitize.jobs.tell import unit_of

    asked = [each.strip() for each in formats.split(",")]
    cut = cut_as(allowance, allow, stock, unit_of(pattern))
    drawn = draw_pattern(pattern, out, formats=asked, mirror=mirror, cut=cut)
    show_remarks(screen, drawn.remarks)
    show_written(drawn.written)
