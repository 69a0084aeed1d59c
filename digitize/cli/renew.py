"""``digitize renew``: kept patterns read again by today's program."""

from typing import Annotated

import typer

from digitize.cli.screen import count_shown, reported, screen
from digitize.cli.search import Drawer, Words
from digitize.defaults import DRAWER


@reported
def renew(
    words: Words = None,
    keep: Annotated[
        bool, typer.Option("--keep", help="Keep each as a new revision; the one before stays.")
    ] = False,
    drawer: Drawer = DRAWER,
) -> None:
    """Read kept patterns again from their kept photos, and say what comes out otherwise.

    What was given with the photos, a camera, taped distances, inks, holds again, and what was told
    is told again. Without --keep nothing is written.
    """
    from digitize.cli.tables import show_renewed
    from digitize.jobs.renew import renew_patterns

    with count_shown("reading again") as progress:
        renewed = renew_patterns(*(words or ()), drawer=drawer, keep=keep, progress=progress)
    show_renewed(screen, renewed)
