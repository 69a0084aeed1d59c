"""``digitize label``: what lines are, their radii and notes."""

from enum import StrEnum
from functools import partial
from typing import Annotated

import typer

from digitize.cli.options import Record, about_lines, parsed, radii
from digitize.cli.screen import reported, screen, show_changed
from digitize.defaults import ROLES


class Units(StrEnum):
    """The user's unit of length."""

    MM = "mm"
    INCH = "inch"


@reported
def label(
    pattern: Record,
    role: Annotated[
        list[str] | None,
        typer.Option(metavar="LINE=ROLE", help=f"What a line is: {', '.join(ROLES)}."),
    ] = None,
    radius: Annotated[
        list[str] | None,
        typer.Option(
            metavar="LINE=RADIUS",
            help="A bend's radius, told on its radius start: L8=3in, L8=76mm, or at places along "
            "it, L8=3in@0%,3-1/4in@50%,100@640mm; from its start, where its arrow stands, or "
            "from an end: 3in@40mm from left (right, top, bottom).",
        ),
    ] = None,
    note: Annotated[
        list[str] | None, typer.Option(metavar="LINE=WORDS", help="A note about a line.")
    ] = None,
    units: Annotated[
        Units | None,
        typer.Option(help="Which come first in drawings and tables, and what bare numbers are in."),
    ] = None,
) -> None:
    """Say what lines are, their radii and notes; the record and drawings are written anew.

    Ids of lines and line groups (E1, R1-start) are in the drawing and the table. Each option can be
    repeated. What is told outlasts a new reading; digitize told lists it and takes it back.
    """
    from digitize.cli.tables import show_pattern
    from digitize.jobs.settings import role_named
    from digitize.jobs.tell import starts_of, tell, unit_of
    from digitize.record import TellAbout

    read = partial(radii, unit=units.value if units else unit_of(pattern))
    changed = tell(
        pattern,
        facts=[TellAbout(unit=units.value)] if units else [],
        roles={
            line: role_named(words, "--role ")
            for line, words in about_lines(role, "--role", "L3=radius-end").items()
        },
        radii={
            line: parsed(read, words, "--radius", "L8=3-1/4in, L8=76mm, L8=3in@0%,4in@100%")
            for line, words in about_lines(radius, "--radius", "L8=3in").items()
        },
        notes=about_lines(note, "--note", "L3=crown"),
    )
    show_pattern(screen, changed.pattern)
    for name, start in starts_of(changed.pattern, about_lines(radius, "--radius", "")).items():
        screen.print(f"{name} is a bend's end: its radius stands on its start, {start}")
    show_changed(changed)
