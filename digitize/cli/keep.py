"""``digitize keep``: a pattern into the drawer."""

from pathlib import Path
from typing import Annotated

import typer

from digitize.cli.options import Allow, Allowance, Record, Stock, cut_as
from digitize.cli.screen import reported, screen, stages_shown
from digitize.cli.search import Drawer
from digitize.defaults import DRAWER


@reported
def keep(
    pattern: Record,
    name: Annotated[
        str | None, typer.Option(help="What the pattern is called, if not as when it was read.")
    ] = None,
    reference: Annotated[str | None, typer.Option(help="The customer's reference.")] = None,
    part: Annotated[str | None, typer.Option(help="The vehicle or part.")] = None,
    note: Annotated[str | None, typer.Option(help="Words to find it by.")] = None,
    with_photos: Annotated[
        Path | None,
        typer.Option(
            metavar="FOLDER", help="Keep the photos too; they lie in FOLDER, whatever their names."
        ),
    ] = None,
    revise: Annotated[
        bool,
        typer.Option(
            "--revise", help="It is the pattern kept under that name, though from other photos."
        ),
    ] = False,
    allowance: Allowance = None,
    allow: Allow = None,
    stock: Stock = None,
    drawer: Drawer = DRAWER,
) -> None:
    """Keep a pattern for the next time: record, pictures, and drawings for both sides.

    What was kept before under the same name stays as it is; this becomes the next revision.
    """
    from digitize.jobs.keep import STAGES, keep_pattern
    from digitize.jobs.tell import unit_of

    cut = cut_as(allowance, allow, stock, unit_of(pattern))
    with stages_shown(STAGES) as progress:
        kept = keep_pattern(
            pattern,
            name=name,
            reference=reference,
            part=part,
            note=note,
            with_photos=with_photos,
            revise=revise,
            cut=cut,
            drawer=drawer,
            progress=progress,
        )
    if not kept.files:
        words = f"{kept.revision} is this already; nothing new to keep"
    else:
        files = f"({kept.files} files, {kept.size_mb:.1f} MB)"
        words = f"kept as {kept.revision}, in {drawer} {files}"
    screen.print(words, highlight=False)
