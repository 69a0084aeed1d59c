"""``digitize tuck``: a slit that opened instead of lapping."""

from typing import Annotated

import typer

from digitize.cli.options import Record, gaps, parsed
from digitize.cli.screen import reported, screen, show_changed
from digitize.cli.tables import show_pattern
from digitize.jobs.tell import tell


@reported
def tuck(
    pattern: Record,
    name: Annotated[str, typer.Argument(metavar="TUCK", help="Which tuck, as T3.")],
    spread: Annotated[
        str,
        typer.Option(
            metavar="GAP",
            help="How far the slit opened while pinned: 6mm or 1/4in at the trim edge, or at "
            "depths from its tip, 2mm@40mm,6mm@90mm; none takes it back.",
        ),
    ],
) -> None:
    """Say that a slit opened instead of lapping: the metal has to be stretched there.

    Its gap leaves nothing on the paper to read. What is told outlasts a new reading.
    """
    told = parsed(gaps, spread, "--spread", "6mm, 1/4in, 2mm@40mm,6mm@90mm or none")
    changed = tell(pattern, spreads={name: told})
    show_pattern(screen, changed.pattern)
    show_changed(changed)
