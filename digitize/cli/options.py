"""What users write as options: how it is read, and what is said where it cannot be."""

import re
from collections.abc import Callable, Sequence
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, TypeVar

import typer

from digitize.defaults import MEASURABLE_MM
from digitize.errors import SheetError, WrongOption
from digitize.units import NotALength, Unit, length_mm, sheet_size

# What a command's help does not need is loaded when it is.
if TYPE_CHECKING:
    from digitize.jobs.draw import Cut
    from digitize.jobs.read import CheckDistance, Mark
    from digitize.jobs.tell import End, Radii
    from digitize.record import Sheet

Parsed = TypeVar("Parsed")
Choice = TypeVar("Choice", bound=str)
NOWHERE = re.compile(r"0+([.,]0*)?\s*[a-z\"']*")  # a line's first point
PLAIN_NUMBER = re.compile(r"[-+]?(\d{1,20}(\.\d{0,20})?|\.\d{1,20})", re.ASCII)
MOST = 1_000_000.0  # of a picture's pixels, or mm
ENDS: tuple["End", ...] = ("left", "right", "top", "bottom")
FEWEST_PLACES = 3  # that enclose anything


def rule(words: str) -> Any:
    """The option for what a 150 mm rule on a card measures."""
    return typer.Option(min=MEASURABLE_MM[0], max=MEASURABLE_MM[1], metavar="MM", help=words)


Record = Annotated[Path, typer.Argument(help="The record, pattern.json, or its folder.")]
MeasuredAcross = Annotated[
    float | None, rule("What the 150 mm rule across the cards measures, even if it is 150.")
]
MeasuredAlong = Annotated[float | None, rule("The same, along the cards.")]
PrintProfile = Annotated[
    Path | None,
    typer.Option(
        help='A file with both, for one printer: {"measured_x": 149.6, "measured_y": 150.2}.'
    ),
]

Allowance = Annotated[
    str | None,
    typer.Option(show_default="as told, or 25mm", help="Metal outside the trim edge: 25mm, 1in."),
]
Allow = Annotated[
    list[str] | None,
    typer.Option(
        metavar="LINE=LENGTH",
        help="Another allowance along a line or line group: L3=40mm, E1=1 1/2in.",
    ),
]
Stock = Annotated[
    list[str] | None,
    typer.Option(
        metavar="SIZE",
        help="A stock sheet that there is: 1250x2500, 48inx96in; instead of the common ones.",
    ),
]


def cut_as(
    allowance: str | None, allow: Sequence[str] | None, stock: Sequence[str] | None, unit: Unit
) -> "Cut":
    """How the blank is cut, as the three options have it."""
    from digitize.jobs.draw import Cut

    length = partial(length_mm, unit=unit)
    along = {
        line: parsed(length, words, "--allow", "L3=40mm, E1=1 1/2in")
        for line, words in about_lines(allow, "--allow", "L3=40mm").items()
    }
    sheets = dict(
        parsed(partial(sheet_size, unit=unit), words, "--stock", "1250x2500, 4x8ft, 48in x 96in")
        for words in stock or []
    )
    wide = None if allowance is None else parsed(length, allowance, "--allowance", "25mm, 1in")
    return Cut(wide, along, sheets or None)


def parsed(kind: Callable[[str], Parsed], words: str, option: str, example: str) -> Parsed:
    """What an option's words say, as ``kind`` reads them; raises WrongOption."""
    try:
        return kind(words)
    except ValueError as error:
        why = f"{error}; " if isinstance(error, NotALength) else ""
        raise WrongOption(f"{option} {words[:40]}: {why}write it like {example}") from None


def parsed_sheet(words: str) -> "Sheet":
    """The sheet that words name; raises SheetError."""
    from digitize.jobs.tell import sheet_of

    try:
        return sheet_of(words)
    except SheetError as error:
        raise SheetError(f"--sheet {error}") from error


def check_distance(words: str) -> "CheckDistance":
    """A taped distance, ``A:B=LENGTH``; ValueError if it is none."""
    from digitize.jobs.read import CheckDistance

    marks, length = words.split("=")
    a, b = (_mark(mark) for mark in marks.split(":"))
    return CheckDistance((a, b), length_mm(length))


def _mark(words: str) -> "Mark":
    x, comma, y = words.partition(",")
    return (_number(x), _number(y)) if comma else int(_number(x))


def _number(words: str) -> float:
    """A number as people write it, within MOST; ValueError if it is none."""
    if not PLAIN_NUMBER.fullmatch(words.strip()):
        raise ValueError(words)
    number = float(words)
    if abs(number) > MOST:
        raise ValueError(words)
    return number


def pixels(words: str) -> tuple[tuple[float, float], ...]:
    """Three or more places ``X,Y X,Y …`` in a photo's pixels; ValueError if they are none."""
    places = []
    for each in words.replace(";", " ").split():
        x, y = each.split(",")
        places.append((_number(x), _number(y)))
    if len(places) < FEWEST_PLACES:
        raise ValueError(words)
    return tuple(places)


def two_places(words: str) -> tuple[tuple[float, float], tuple[float, float]]:
    """Two places ``X,Y X,Y`` of a paper, mm; ValueError if they are none."""
    one, two = words.replace(";", " ").split()
    (x, y), (u, v) = (each.split(",") for each in (one, two))
    return (_number(x), _number(y)), (_number(u), _number(v))


def one_of(words: str, known: Sequence[Choice], option: str) -> Choice:
    """Which of a few words an option says; raises WrongOption."""
    for each in known:
        if each == words.strip().lower():
            return each
    raise WrongOption(f"{option} {words[:40]}: is one of {', '.join(known)}")


def about_lines(said: Sequence[str] | None, option: str, example: str) -> dict[str, str]:
    """What is said about each line, by id."""
    return dict(parsed(_line_and_words, words, option, example) for words in said or [])


def _line_and_words(words: str) -> tuple[str, str]:
    """A line's id and what is said about it, ``L3=…``; ValueError if it is none."""
    identifier, equals, said = words.partition("=")
    if not equals or not identifier.strip():
        raise ValueError(words)
    return identifier.strip(), said.strip()


def gaps(words: str, unit: Unit = "mm") -> list[tuple[float | None, float]]:
    """A spread's gap, or gaps ``GAP@DEPTH`` with commas; nothing for ``none``.

    A depth is from the tuck's tip; without one the gap is at the trim edge. ValueError if it is
    none of these.
    """
    if words.strip() == "none":
        return []
    found: list[tuple[float | None, float]] = []
    for station in stations_in(words):
        gap, at, depth = station.partition("@")
        found.append((length_mm(depth, unit) if at else None, length_mm(gap, unit)))
    return found


def radii(words: str, unit: Unit = "mm") -> "Radii":
    """One radius, or stations ``RADIUS@PLACE`` with commas; ValueError if it is none.

    A place is a length along the line from its first point, or a share of that with ``%``; with
    ``from left`` and the like after it, from its end that lies further to that side.
    """
    from digitize.jobs.tell import RadiusTold

    if words.strip() == "none":
        return ()
    if "@" not in words:
        return length_mm(words, unit)
    stations = []
    for station in stations_in(words):
        if "@" not in station:
            raise ValueError(words)
        radius, _, place = (part.strip() for part in station.partition("@"))
        place, _, side = (part.strip() for part in place.lower().partition("from"))
        end = next((each for each in ENDS if each == side), None)
        if side and end is None:
            raise ValueError(words)
        share = place.endswith("%")
        if share:
            at = _number(place.removesuffix("%").replace(",", ".")) / 100
        else:
            at = 0.0 if NOWHERE.fullmatch(place) else length_mm(place, unit)
        stations.append(RadiusTold(at, share, length_mm(radius, unit), end))
    return tuple(stations)


def stations_in(words: str) -> list[str]:
    """Stations ``LENGTH@PLACE`` with semicolons, or commas and spaces, between; or commas alone.

    A comma may be a decimal one. ValueError where it can be read either way, or a place is empty.
    """
    stations: list[str] = []
    for part in re.split(r";|,\s+", words.strip()):
        stations += _apart(part.split(",")) if "@" in part else [part]
    if any(station.strip().endswith("@") for station in stations):
        raise ValueError(words)
    return [station.strip() for station in stations]


def _apart(pieces: Sequence[str]) -> list[str]:
    """Stations from pieces between commas, of which some are decimal ones."""
    stations: list[str] = []
    waiting = ""
    for number, piece in enumerate(pieces, start=1):
        last, on = number == len(pieces), bool(stations) and stations[-1][-1].isdigit()
        if "@" in piece:
            stations.append(f"{waiting},{piece}" if waiting else piece)
            waiting = ""
        elif waiting or (on and not last):
            raise ValueError(",".join(pieces))
        elif on:
            stations[-1] += f",{piece}"
        elif last:
            stations.append(piece)
        else:
            waiting = piece
    return stations
