"""``digitize compare``: one pattern laid on another."""

from pathlib import Path
from typing import Annotated

import typer

from digitize.cli.options import parsed
from digitize.cli.screen import reported, screen
from digitize.cli.search import Drawer
from digitize.defaults import DRAWER, SAME_MM
from digitize.units import length_mm

# Beside those of errors.py: what the verdict ends the command with.
EXIT_CODES = {"same": 0, "different": 30, "cannot tell": 31}


@reported
def compare(
    pattern: Annotated[
        str, typer.Argument(help="A record or its folder, or the name of a kept pattern.")
    ],
    other: Annotated[str, typer.Argument(help="The one to lay on it, likewise.")],
    mirror: Annotated[
        bool, typer.Option("--mirror", help="The other is of the opposite side: flip it over.")
    ] = False,
    tolerance: Annotated[
        str, typer.Option(help="What may differ and still be the same: 1.6mm, 1/16in.")
    ] = f"{SAME_MM:g}mm",
    out: Annotated[Path, typer.Option(help="The picture to write.")] = Path("compared.svg"),
    drawer: Drawer = DRAWER,
) -> None:
    """Say whether two patterns are the same: line by line, tuck by tuck, and one verdict.

    The exit code is 0 for the same, 30 for different, 31 where it cannot be told.
    """
    from digitize.cli.tables import show_comparison
    from digitize.jobs.compare import compare_patterns

    allowed = parsed(length_mm, tolerance, "--tolerance", "1.6mm or 1/16in")
    found = compare_patterns(
        pattern, other, mirror=mirror, tolerance_mm=allowed, out=out, drawer=drawer
    )
    show_comparison(screen, found.comparison, found.verdict)
    screen.print(f"written: {out}")
    raise typer.Exit(EXIT_CODES[found.verdict.says])
