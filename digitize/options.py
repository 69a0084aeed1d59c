"""What users write as options: how it is read, and what is said where it cannot be."""

import json
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Annotated, Any, TypeVar, get_args

import typer

from digitize.card.layout import RULE_MM
from digitize.disk import content_of
from digitize.files import RECORD, record_in, record_of
from digitize.finding import kept_revision
from digitize.floor.check import CheckDistance, Mark
from digitize.floor.solve import PrintScale
from digitize.keep.drawer import content
from digitize.pattern import Pattern, Role, Sheet
from digitize.pencil.ink import INKS
from digitize.shell import stop
from digitize.shop.blank import STOCK_MM
from digitize.shop.metal import SheetError, sheet_of
from digitize.words import length_mm, line_and_words, sheet_size

ROLES: tuple[Role, ...] = get_args(Role)
Parsed = TypeVar("Parsed")
MEASURABLE = (0.9 * RULE_MM, 1.1 * RULE_MM)


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

Allowance = Annotated[str, typer.Option(help="Metal outside the trim edge: 25mm, 1in.")]
Allow = Annotated[
    list[str] | None,
    typer.Option(metavar="LINE=LENGTH", help="Another allowance along a line: L3=40mm."),
]
Stock = Annotated[
    list[str] | None,
    typer.Option(
        metavar="SIZE",
        help="A stock sheet that there is: 1250x2500, 48inx96in; instead of the common ones.",
    ),
]


def blank_options(
    allowance: str, allow: Sequence[str] | None, stock: Sequence[str] | None
) -> tuple[float, dict[str, float], Mapping[str, tuple[float, float]]]:
    """The allowance (mm), those along lines by id, and the stock sheets (mm) by name."""
    along = {
        line: parsed(length_mm, words, "--allow", "L3=40mm")
        for line, words in about_lines(allow, "--allow", "L3=40mm").items()
    }
    sheets = dict(
        parsed(sheet_size, words, "--stock", "1250x2500 or 48inx96in") for words in stock or []
    )
    return parsed(length_mm, allowance, "--allowance", "25mm or 1in"), along, sheets or STOCK_MM


def parsed_sheet(words: str) -> Sheet:
    """The sheet that words name."""
    try:
        return sheet_of(words)
    except SheetError as error:
        stop(2, f"--sheet {error}")


def record_named(words: str, drawer: Path) -> Pattern:
    """The record in that file or folder, or else the latest in the drawer under that name.

    Raises
    ------
    NotRead, PatternFileError, NotKept, Damaged
        If there is none.
    """
    place = Path(words)
    return record_in(place) if place.exists() else kept_record(words, drawer)


def kept_record(name: str, drawer: Path) -> Pattern:
    """The latest record in the drawer under that name; raises NotKept, Damaged."""
    return record_of(content(kept_revision(drawer, name), RECORD))


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


def check_distance(words: str) -> CheckDistance:
    """A taped distance, ``A:B=LENGTH``; ValueError if it is none."""
    marks, length = words.split("=")
    a, b = (_mark(mark) for mark in marks.split(":"))
    return CheckDistance((a, b), length_mm(length))


def _mark(words: str) -> Mark:
    x, comma, y = words.partition(",")
    return (float(x), float(y)) if comma else int(x)


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
