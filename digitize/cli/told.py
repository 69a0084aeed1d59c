"""``digitize told``: what was told, and taking it back."""

from typing import Annotated

import typer

from digitize.cli.options import Record
from digitize.cli.screen import reported, screen, show_changed


@reported
def told(
    pattern: Record,
    take_back: Annotated[
        list[int] | None,
        typer.Option(metavar="NUMBER", help="A fact that counts no longer."),
    ] = None,
    again: Annotated[
        list[int] | None,
        typer.Option(metavar="NUMBER", help="A fact that was taken back, and counts again."),
    ] = None,
) -> None:
    """List what was told about a pattern, by number; or take some of it back.

    Nothing is lost: what is taken back can be told again by its number.
    """
    from digitize.cli.tables import show_told
    from digitize.jobs.tell import tell, told_about, unit_of

    if not (take_back or again):
        show_told(screen, told_about(pattern), unit_of(pattern))
        return
    changed = tell(pattern, take_back=take_back or (), again=again or ())
    show_told(screen, changed.told, changed.pattern.unit)
    show_changed(changed)
