"""``digitize take``: a kept pattern out of the drawer."""

from pathlib import Path
from typing import Annotated

import typer

from digitize.cli.screen import reported, screen, show_written
from digitize.cli.search import Drawer
from digitize.defaults import DRAWER


@reported
def take(
    name: Annotated[
        str, typer.Argument(help="The pattern's name in the drawer, or words that only it has.")
    ],
    out: Annotated[Path, typer.Option(help="Folder to copy to.")],
    mirror: Annotated[
        bool, typer.Option("--mirror", help="Take the opposite side's drawings instead.")
    ] = False,
    revision: Annotated[
        int | None, typer.Option(min=1, help="Which revision, if not the latest.")
    ] = None,
    over: Annotated[
        bool,
        typer.Option("--over", help="Write over a record there that is not kept in the drawer."),
    ] = False,
    drawer: Drawer = DRAWER,
) -> None:
    """Take a pattern out: its record, pictures and drawings, byte for byte as they were kept."""
    from digitize.jobs.find import take_pattern

    taken = take_pattern(name, out, mirror=mirror, revision=revision, over=over, drawer=drawer)
    screen.print(f"{taken.revision}, {'other' if mirror else 'this'} side", highlight=False)
    show_written(taken.written)
