"""``digitize tell``: facts from a file."""

from pathlib import Path
from typing import Annotated

import typer

from digitize.cli.options import Record
from digitize.cli.screen import reported, screen, show_changed


@reported
def tell(
    pattern: Record,
    facts: Annotated[
        Path,
        typer.Argument(
            help='A JSON file, a list of facts: [{"kind": "erase", "on": "L7"}, {"kind": "follow", '
            '"points": [[120, 85], [310, 92]], "role": "form"}]. Places are in mm, as the drawing '
            "has them; lines go by their ids. DEVELOPERS.md has all kinds."
        ),
    ],
) -> None:
    """Tell facts: draw, erase, split or join lines, follow the pencil, say what is a slit.

    All of them are taken, or none. What is told is kept, and outlasts a new reading.
    """
    from digitize.cli.tables import show_pattern
    from digitize.jobs.tell import facts_in_file
    from digitize.jobs.tell import tell as tell_facts

    changed = tell_facts(pattern, facts=facts_in_file(facts))
    show_pattern(screen, changed.pattern)
    show_changed(changed)
