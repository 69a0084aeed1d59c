"""The command that lays one pattern on another."""

from pathlib import Path
from typing import Annotated

import typer

from digitize.compare.deviation import compared
from digitize.compare.verdict import TOLERANCE_MM, verdict_on
from digitize.disk import write_all
from digitize.draw.compared import compared_svg
from digitize.finding import DRAWER, Drawer
from digitize.options import parsed, record_named
from digitize.report import show_comparison
from digitize.shell import reported, screen
from digitize.words import length_mm

app = typer.Typer()

EXIT_CODES = {"same": 0, "different": 30, "cannot tell": 31}


@app.command()
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
    ] = f"{TOLERANCE_MM:g}mm",
    out: Annotated[Path, typer.Option(help="The picture to write.")] = Path("compared.svg"),
    drawer: Drawer = DRAWER,
) -> None:
    """Say whether two patterns are the same: line by line, tuck by tuck, and one verdict.

    The exit code is 0 for the same, 30 for different, 31 where it cannot be told.
    """
    allowed = parsed(length_mm, tolerance, "--tolerance", "1.6mm or 1/16in")
    comparison = compared(record_named(pattern, drawer), record_named(other, drawer), mirror)
    verdict = verdict_on(comparison, allowed)
    write_all({out: compared_svg(comparison, verdict, allowed).encode()})
    show_comparison(screen, comparison, verdict)
    screen.print(f"written: {out}")
    raise typer.Exit(EXIT_CODES[verdict.says])
