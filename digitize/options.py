"""What users write as options: how it is read, and what is said where it cannot be."""

import json
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Annotated, Any, NoReturn, TypeVar, get_args

import typer
from rich.console import Console

from digitize.card.layout import RULE_MM
from digitize.files import content_of
from digitize.floor.solve import PrintScale
from digitize.pattern import Role, Sheet
from digitize.pencil.ink import INKS
from digitize.shop.metal import SheetError, sheet_of
from digitize.words import line_and_words

ROLES: tuple[Role, ...] = get_args(Role)
Parsed = TypeVar("Parsed")
MEASURABLE = (0.9 * RULE_MM, 1.1 * RULE_MM)
errors = Console(stderr=True)


def stop(code: int, message: str) -> NoReturn:
    """End the command with a line of words and an exit code."""
    errors.print(message, style="bold", highlight=False, soft_wrap=True, markup=False)
    raise typer.Exit(code)


def rule(words: str) -> Any:
    """The option for what a 150 mm rule on a card measures."""
    return typer.Option(min=MEASURABLE[0], max=MEASURABLE[1], metavar="MM", help=words)


MeasuredAcross = Annotated[
    float | None, rule("What the 150 mm rule across the cards measures, if not 150.")
]
MeasuredAlong = Annotated[float | None, rule("The same, along the cards.")]
PrintProfile = Annotated[
    Path | None,
    typer.Option(
        help='A file with both, for one printer: {"measured_x": 149.6, "measured_y": 150.2}.'
    ),
]


def parsed_sheet(words: str) -> Sheet:
    """The sheet that words name."""
    try:
        return sheet_of(words)
    except SheetError as error:
        stop(2, f"--sheet {error}")


def print_scale(
    measured_x: float | None, measured_y: float | None, profile: Path | None
) -> PrintScale | None:
    """The cards' size as measured; None if nobody measured."""
    values = _read_profile(profile) if profile else {}
    x = measured_x or values.get("measured_x")
    y = measured_y or values.get("measured_y")
    if x is None and y is None:
        return None
    return PrintScale(x=(x or RULE_MM) / RULE_MM, y=(y or RULE_MM) / RULE_MM)


def _read_profile(path: Path) -> dict[str, float]:
    try:
        profile = json.loads(content_of(path))
        values = {key: float(profile[key]) for key in ("measured_x", "measured_y")}
    except (ValueError, KeyError, TypeError):
        stop(2, f'{path}: not a print profile; it holds {{"measured_x": MM, "measured_y": MM}}')
    for key, value in values.items():
        if not MEASURABLE[0] <= value <= MEASURABLE[1]:
            stop(2, f"{path}: {key} is {value:g}; a 150 mm rule measures nearer to 150")
    return values


def parsed(kind: Callable[[str], Parsed], words: str, option: str, example: str) -> Parsed:
    """What an option's words say, as ``kind`` reads them."""
    try:
        return kind(words)
    except ValueError:
        stop(2, f"{option} {words}: write it like {example}, and more than nothing")


def about_lines(said: Sequence[str] | None, option: str, example: str) -> dict[str, str]:
    """What is said about each line, by id."""
    return dict(parsed(line_and_words, words, option, example) for words in said or [])


def ink_roles_in(path: Path | None) -> dict[str, Role]:
    """The user's file of what each ink's lines are."""
    if path is None:
        return {}
    try:
        said = json.loads(content_of(path))
        pairs = [(str(ink), str(role)) for ink, role in said.items()]
    except (ValueError, AttributeError):
        stop(2, f'{path}: not a file of inks; it holds, say, {{"red": "lap", "blue": "form"}}')
    for ink, _ in pairs:
        if ink not in INKS:
            stop(2, f"{path}: {ink}: inks are {', '.join(INKS)}")
    return {ink: role_named(role, f"{path}: ") for ink, role in pairs}


def role_named(words: str, where: str) -> Role:
    """The role of that name; ``where`` it was written."""
    for role in ROLES:
        if role == words:
            return role
    stop(2, f"{where}{words}: roles are {', '.join(ROLES)}")
