"""``digitize show``: kept patterns on a contact sheet."""

from pathlib import Path
from typing import Annotated

import typer

from digitize.cli.screen import reported, screen
from digitize.cli.search import Drawer, Side, Since, Size, Until, Words, found_in
from digitize.defaults import DRAWER


@reported
def show(
    words: Words = None,
    side: Side = "",
    since: Since = "",
    until: Until = "",
    size: Size = "",
    out: Annotated[Path, typer.Option(help="The PDF to write.")] = Path("contact-sheet.pdf"),
    drawer: Drawer = DRAWER,
) -> None:
    """Show kept patterns on a contact sheet: a picture of each, and what is on its slip."""
    from digitize.jobs.show import write_contact_sheet

    found = found_in(drawer, words, side, since, until, size)
    write_contact_sheet(drawer, found.kept, " ".join(words or ()), out)
    screen.print(f"written: {out}; patterns: {len(found.kept)}", highlight=False)
