"""``digitize check``: whether anything in the drawer has changed or gone."""

from typing import Annotated

import typer

from digitize.cli.screen import count_shown, errors, reported, screen
from digitize.cli.search import Drawer
from digitize.defaults import DRAWER
from digitize.errors import DamagedKept


@reported
def check(
    name: Annotated[
        str | None, typer.Argument(help="Only this pattern, by its name in the drawer.")
    ] = None,
    drawer: Drawer = DRAWER,
) -> None:
    """Check that nothing in the drawer has changed or gone since it was kept."""
    from digitize.jobs.find import check_drawer

    with count_shown("checking") as progress:
        found = check_drawer(name, drawer=drawer, progress=progress)
    for empty in found.empty:
        errors.print(f"{empty}: is empty: nothing was kept in it", highlight=False)
    for folder in found.unfinished:
        errors.print(f"{folder}: was never finished, and nothing in it counts", highlight=False)
    for fault in found.faults:
        screen.print(fault, style="bold red", highlight=False)
    if found.faults:
        raise DamagedKept(
            f"{len(found.faults)} damaged or missing; all else is sound. Put those back from a "
            "copy of the drawer, or take out an earlier revision with digitize take --revision."
        )
    screen.print(
        f"patterns: {found.patterns}, revisions: {found.revisions}; every file is as it was kept",
        highlight=False,
    )
