"""``digitize shrink``: how much to take out, and where."""

from typing import Annotated

import typer

from digitize.cli.options import Record, parsed_sheet
from digitize.cli.screen import reported, screen, show_changed


@reported
def shrink(
    pattern: Record,
    sheet: Annotated[
        str | None,
        typer.Option(help="The metal: steel 18 ga, aluminium 16 ga, steel 1.2 mm; it is kept."),
    ] = None,
) -> None:
    """Show how much to take out, where, and where it fades to nothing; and how thick it gets."""
    from digitize.cli.tables import show_shrink
    from digitize.jobs.shrink import shrink_of
    from digitize.jobs.tell import tell

    changed = tell(pattern, sheet=parsed_sheet(sheet)) if sheet else None
    show_shrink(screen, shrink_of(pattern))
    if changed is not None:
        show_changed(changed)
