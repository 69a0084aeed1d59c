"""The options of a search in the drawer; it loads little."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from digitize.cli.screen import count_shown, errors
from digitize.errors import NotKept, WrongOption
from digitize.units import day, sheet_size

if TYPE_CHECKING:
    from digitize.jobs.find import Found

Drawer = Annotated[
    Path,
    typer.Option(
        envvar="DIGITIZE_DRAWER",
        show_default="~/pattern-drawer",
        help="The folder of kept patterns.",
    ),
]
Words = Annotated[
    list[str] | None,
    typer.Argument(
        help="Words, or parts of words, of the name, reference, part or notes; all must be there."
    ),
]
Side = Annotated[str, typer.Option(help="left or right.")]
Since = Annotated[
    str,
    typer.Option(metavar="DATE", help="Kept then or later: 2026-11-25, 2026-11, yesterday."),
]
Until = Annotated[str, typer.Option(metavar="DATE", help="Kept then or earlier.")]
Size = Annotated[
    str,
    typer.Option(metavar="SIZE", help="The paper's size, within 5 %: 1200x900, 48inx36in."),
]


def found_in(
    drawer: Path, words: list[str] | None, side: str, since: str, until: str, size: str
) -> "Found":
    """What fits the options of a search; damage met on the way is named.

    Raises
    ------
    WrongOption, NotKept
        If an option cannot be read, or nothing fits.
    """
    from digitize.jobs.find import find_patterns

    if side not in ("", "left", "right", "unknown"):
        raise WrongOption(f"--side {side}: give left, right or unknown")
    try:
        size_mm = sheet_size(size)[1] if size else None
    except ValueError as error:
        raise WrongOption(
            f"--size {size}: {error}; write it like 1200x900, 48x36in or 4' x 3'"
        ) from None
    with count_shown("looking through the drawer") as progress:
        found = find_patterns(
            *(words or ()),
            side=side,
            since=_day("--since", since),
            until=_day("--until", until),
            size_mm=size_mm,
            drawer=drawer,
            progress=progress,
        )
    for damage in found.damages:
        errors.print(f"damaged: {damage}", style="yellow", highlight=False)
    if not found.kept:
        raise NotKept(f"{drawer}: no kept pattern fits that")
    return found


def _day(option: str, words: str) -> str:
    """The day that an option names, as ISO 8601; raises WrongOption."""
    try:
        return day(words) if words else ""
    except ValueError:
        raise WrongOption(
            f"{option} {words}: is no day; write it like 2026-11-25, 2026-11 or yesterday"
        ) from None
