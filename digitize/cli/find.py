"""``digitize find``: kept patterns by words, side, date or size."""

from rich.table import Table

from digitize.cli.screen import reported, screen
from digitize.cli.search import Drawer, Side, Since, Size, Until, Words, found_in
from digitize.defaults import DRAWER


@reported
def find(
    words: Words = None,
    side: Side = "",
    since: Since = "",
    until: Until = "",
    size: Size = "",
    drawer: Drawer = DRAWER,
) -> None:
    """List the kept patterns, or those that fit: each by its latest revision."""
    found = found_in(drawer, words, side, since, until, size)
    table = Table()
    table.add_column("pattern", overflow="fold", min_width=16)
    table.add_column("rev", no_wrap=True)
    table.add_column("part, reference", overflow="fold")
    table.add_column("kept", no_wrap=True)
    table.add_column("paper mm", no_wrap=True)
    table.add_column("tucks", no_wrap=True)
    for each in found.kept:
        slip = each.slip
        table.add_row(
            each.pattern,
            str(each.revision),
            slip.about,
            slip.kept[:10],
            f"{slip.width_mm:.0f} x {slip.height_mm:.0f}",
            str(slip.tucks),
        )
    screen.print(table)
