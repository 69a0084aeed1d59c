"""``digitize card``: scale cards to print."""

from pathlib import Path
from typing import Annotated

import typer

from digitize.cli.options import rule
from digitize.cli.screen import reported, screen


@reported
def card(
    count: Annotated[int, typer.Option(min=1, help="How many cards.")] = 4,
    first: Annotated[int, typer.Option(min=1, help="Number of the first card.")] = 1,
    sheet: Annotated[str, typer.Option(help="Sheet to print on: a4 or letter.")] = "a4",
    measured_x: Annotated[
        float | None,
        rule(
            "What the 150 mm rule across an earlier print measured; the new print makes up for it."
        ),
    ] = None,
    measured_y: Annotated[float | None, rule("The same, along the sheet.")] = None,
    out: Annotated[Path, typer.Option(help="The PDF to write.")] = Path("scale-cards.pdf"),
) -> None:
    """Write scale cards as a PDF. Print at 100 %, and measure both rules on the print."""
    from digitize.jobs.cards import write_cards

    write_cards(
        out, count=count, first=first, sheet=sheet, measured_x=measured_x, measured_y=measured_y
    )
    screen.print(
        f"{out}: {count} card{'s' if count > 1 else ''} on {sheet}. Print at 100 % (no scaling), "
        "then measure the two 150 mm rules, and give digitize photo what they read, even if it is "
        "150."
    )
