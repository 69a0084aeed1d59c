"""``digitize tuck``: which marks are a tuck's, and laps or gaps measured by hand."""

from functools import partial
from typing import Annotated

import typer

from digitize.cli.options import Record, gaps, parsed
from digitize.cli.screen import reported, screen, show_changed
from digitize.errors import WrongOption

EXAMPLE = "6mm, 1/4in, 2mm@40mm,6mm@90mm or none"


@reported
def tuck(
    pattern: Record,
    name: Annotated[str, typer.Argument(metavar="TUCK", help="Which tuck, as T3, or line, as L7.")],
    spread: Annotated[
        str | None,
        typer.Option(
            metavar="GAP",
            help="How far the slit opened while pinned: 6mm or 1/4in at the trim edge, or at "
            "depths from its tip, 2mm@40mm,6mm@90mm; none takes it back.",
        ),
    ] = None,
    lap: Annotated[
        str | None,
        typer.Option(
            metavar="LAP", help="How far it lapped, measured by hand; written like --spread."
        ),
    ] = None,
    lap_line: Annotated[
        str | None,
        typer.Option(metavar="LINE", help="It is a slit, and that line its lap line."),
    ] = None,
    slit: Annotated[bool, typer.Option("--slit", help="It is a slit without a lap line.")] = False,
    fold: Annotated[bool, typer.Option("--fold", help="It is a fold's crease in sight.")] = False,
    other_crease: Annotated[
        str | None, typer.Option(metavar="LINE", help="It is a fold, and that its other crease.")
    ] = None,
    none: Annotated[
        bool, typer.Option("--none", help="It is no tuck: its marks are lines like any.")
    ] = False,
) -> None:
    """Say which marks are a tuck's, or how far it lapped or opened.

    Laps are measured anew in the picture where marks are told. What is told outlasts a new reading.
    """
    from digitize.cli.tables import show_pattern
    from digitize.jobs.tell import TellCut, TellFold, TellNoTuck, Told, tell, unit_of

    facts: list[Told] = []
    if lap_line or slit:
        facts.append(TellCut.model_validate({"on": name, "lap_line": lap_line}))
    if fold or other_crease:
        facts.append(TellFold.model_validate({"on": name, "other": other_crease}))
    if none:
        facts.append(TellNoTuck.model_validate({"on": name}))
    if len(facts) > 1:
        raise WrongOption(f"{name}: is a slit, a fold or no tuck: say one of them")
    if not facts and spread is None and lap is None:
        raise WrongOption("say what it is: --lap-line, --slit, --fold, --none, --spread, --lap")
    read = partial(gaps, unit=unit_of(pattern))
    opened = {name: parsed(read, spread, "--spread", EXAMPLE)} if spread is not None else {}
    laps = {name: parsed(read, lap, "--lap", EXAMPLE)} if lap is not None else {}
    changed = tell(pattern, facts=facts, spreads=opened, laps=laps)
    show_pattern(screen, changed.pattern)
    show_changed(changed)
