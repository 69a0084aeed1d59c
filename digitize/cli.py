"""The commands. Files, printing and exit codes live here; nothing is computed."""

import json
import math
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import replace
from functools import wraps
from pathlib import Path
from typing import Annotated, Any, NoReturn, ParamSpec, TypeVar, get_args

import typer
from rich.console import Console
from rich.progress import BarColumn, Progress, TextColumn, TimeElapsedColumn

from digitize.card.find import CardError, TooBlurred, TooDark
from digitize.card.layout import HIGHEST_NUMBER, RULE_MM, SHEETS_MM
from digitize.card.sheet import card_pdf
from digitize.compare.carry import carried_over
from digitize.files import (
    MIRRORED,
    RECORD,
    NotRead,
    NotWritten,
    content_of,
    earlier_record,
    files_of,
    files_of_reading,
    write_all,
)
from digitize.floor.check import CheckError
from digitize.floor.kept import CameraError, camera_from_json, camera_json
from digitize.floor.photo import (
    DamagedPicture,
    NotAPicture,
    TooLarge,
    TooSmall,
    open_photo,
)
from digitize.floor.solve import PrintScale
from digitize.floor.start import CardsApart
from digitize.paper.outline import PaperError
from digitize.pattern import PatternFileError, Role, Side, from_json, to_json
from digitize.pencil.ink import INKS
from digitize.pipeline import (
    STAGES,
    TOLERANCE_MM,
    ReadingError,
    read_pattern,
    solve_camera,
)
from digitize.report import show_pattern, show_warnings
from digitize.shop.labels import LabelError, labelled
from digitize.words import check_distance, line_and_words, radii

EXIT_CODES: tuple[tuple[type[Exception], int], ...] = (
    (NotRead, 3),
    (NotWritten, 4),
    (NotAPicture, 10),
    (DamagedPicture, 11),
    (TooSmall, 12),
    (TooLarge, 13),
    (TooDark, 14),
    (TooBlurred, 15),
    (CardsApart, 17),
    (CardError, 16),
    (PaperError, 18),
    (ReadingError, 19),
    (CameraError, 20),
    (CheckError, 21),
    (PatternFileError, 22),
    (LabelError, 23),
)
ROLES: tuple[Role, ...] = get_args(Role)
Parsed = TypeVar("Parsed")
Given = ParamSpec("Given")
MEASURABLE = (0.9 * RULE_MM, 1.1 * RULE_MM)

app = typer.Typer(
    add_completion=False,
    no_args_is_help=True,
    help="Reads a photo of a metal shaper's paper pattern, taken beside printed scale cards, "
    "into a true-size record and drawings for this side and the other.",
    epilog="Start with: digitize card, print the PDF at 100 %, then digitize photo.",
)
screen = Console()
errors = Console(stderr=True)


def _stop(code: int, message: str) -> NoReturn:
    errors.print(message, style="bold", highlight=False, soft_wrap=True, markup=False)
    raise typer.Exit(code)


def _reported(command: Callable[Given, None]) -> Callable[Given, None]:
    """The command, with what is wrong with its files or photos as one line and an exit code."""

    @wraps(command)
    def run(*given: Given.args, **named: Given.kwargs) -> None:
        try:
            command(*given, **named)
        except tuple(kind for kind, _ in EXIT_CODES) as error:
            _stop(next(code for kind, code in EXIT_CODES if isinstance(error, kind)), str(error))

    return run


def _rule(words: str) -> Any:
    """The option for what a 150 mm rule on a card measures."""
    return typer.Option(min=MEASURABLE[0], max=MEASURABLE[1], metavar="MM", help=words)


MeasuredAcross = Annotated[
    float | None, _rule("What the 150 mm rule across the cards measures, if not 150.")
]
MeasuredAlong = Annotated[float | None, _rule("The same, along the cards.")]
PrintProfile = Annotated[
    Path | None,
    typer.Option(
        help='A file with both, for one printer: {"measured_x": 149.6, "measured_y": 150.2}.'
    ),
]


@app.command()
@_reported
def card(
    count: Annotated[int, typer.Option(min=1, max=HIGHEST_NUMBER, help="How many cards.")] = 4,
    first: Annotated[
        int, typer.Option(min=1, max=HIGHEST_NUMBER, help="Number of the first card.")
    ] = 1,
    sheet: Annotated[str, typer.Option(help="Sheet to print on: a4 or letter.")] = "a4",
    measured_x: Annotated[
        float | None,
        _rule(
            "What the 150 mm rule across an earlier print measured; the new print makes up for it."
        ),
    ] = None,
    measured_y: Annotated[
        float | None,
        _rule("The same, along the sheet."),
    ] = None,
    out: Annotated[Path, typer.Option(help="The PDF to write.")] = Path("scale-cards.pdf"),
) -> None:
    """Write scale cards as a PDF. Print at 100 %, and measure both rules on the print."""
    if sheet not in SHEETS_MM:
        _stop(2, f"--sheet {sheet}: cards come on {' or '.join(SHEETS_MM)}")
    if first + count - 1 > HIGHEST_NUMBER:
        _stop(2, f"card numbers end at {HIGHEST_NUMBER}; ask for fewer or start lower")
    content = card_pdf(
        range(first, first + count),
        sheet,
        stretch_x=RULE_MM / (measured_x or RULE_MM),
        stretch_y=RULE_MM / (measured_y or RULE_MM),
    )
    write_all({out: content})
    screen.print(
        f"{out}: {count} card{'s' if count > 1 else ''} on {sheet}. Print at 100 % (no scaling), "
        "then measure the 150 mm rules; if they differ, give digitize photo what they measure."
    )


@app.command()
@_reported
def photo(
    photos: Annotated[
        list[Path],
        typer.Argument(
            help="Photos of the paper beside its cards: one, or several overlapping ones."
        ),
    ],
    out: Annotated[Path, typer.Option(help="Folder for the record and drawings.")],
    name: Annotated[str | None, typer.Option(help="What the pattern is called.")] = None,
    side: Annotated[str, typer.Option(help="left, right or unknown.")] = "unknown",
    mirror: Annotated[
        bool, typer.Option("--mirror", help="Write the opposite side's record and drawing too.")
    ] = False,
    measured_x: MeasuredAcross = None,
    measured_y: MeasuredAlong = None,
    print_profile: PrintProfile = None,
    camera: Annotated[
        Path | None,
        typer.Option(help="The kept camera that took the photos; see digitize camera."),
    ] = None,
    check: Annotated[
        list[str] | None,
        typer.Option(
            metavar="A:B=LENGTH",
            help="A taped distance to compare: between the centre marks of cards A and B, or "
            "crosses near pixels x,y of the first photo; in mm, or with in. Can be repeated.",
        ),
    ] = None,
    use_check: Annotated[
        bool, typer.Option("--use-check", help="Let the taped distances correct the size too.")
    ] = False,
    tolerance: Annotated[
        float,
        typer.Option(min=0.05, metavar="MM", help="Warn where points may be off by more."),
    ] = TOLERANCE_MM,
    inks: Annotated[
        Path | None,
        typer.Option(help='A file of what lines of an ink are: {"red": "lap", "blue": "form"}.'),
    ] = None,
) -> None:
    """Read a paper pattern from photos: writes pattern.json, pattern.svg and overlay.jpg.

    What digitize label told about an earlier reading in the same folder is kept.
    """
    sides: dict[str, Side] = {"left": "left", "right": "right", "unknown": "unknown"}
    if side not in sides:
        _stop(2, f"--side {side}: give left, right or unknown")
    checks = [
        _parsed(check_distance, words, "--check", "1:3=1204.5 or 1:3=47-3/8in")
        for words in check or []
    ]
    ink_roles = _ink_roles(inks)
    if use_check and not checks:
        _stop(2, "--use-check: give a taped distance with --check too")
    scale = _print_scale(measured_x, measured_y, print_profile)
    kept = camera_from_json(content_of(camera).decode("utf-8", "replace")) if camera else None
    contents = [content_of(path) for path in photos]
    with _progress(STAGES) as show:
        reading = read_pattern(
            [open_photo(p.name, c) for p, c in zip(photos, contents, strict=True)],
            name or photos[0].stem,
            sides[side],
            scale,
            kept,
            checks,
            use_check,
            tolerance,
            ink_roles,
            show,
        )
    earlier = earlier_record(out / RECORD)
    if earlier is not None:
        reading = replace(reading, pattern=carried_over(earlier, reading.pattern))
    files = files_of_reading(reading, out, mirror)
    write_all(files)
    show_pattern(screen, reading.pattern)
    screen.print("written: " + ", ".join(str(path) for path in files))


@app.command()
@_reported
def label(
    pattern: Annotated[Path, typer.Argument(help="The record, pattern.json, or its folder.")],
    role: Annotated[
        list[str] | None,
        typer.Option(metavar="LINE=ROLE", help=f"What a line is: {', '.join(ROLES)}."),
    ] = None,
    radius: Annotated[
        list[str] | None,
        typer.Option(
            metavar="LINE=RADIUS",
            help="A bend's radius, told on its radius start: L8=3in, L8=76mm, or at places along "
            "it, L8=3in@0%,3-1/4in@50%,100@640mm.",
        ),
    ] = None,
    note: Annotated[
        list[str] | None, typer.Option(metavar="LINE=WORDS", help="A note about a line.")
    ] = None,
) -> None:
    """Say what lines are, their radii and notes; the record and drawings are written anew.

    Line ids are in the drawing. Each option can be repeated. What is told outlasts a new reading.
    """
    path = pattern / RECORD if pattern.is_dir() else pattern
    roles = {
        line: _role(words, "--role ")
        for line, words in _about_lines(role, "--role", "L3=radius-end").items()
    }
    told_radii = {
        line: _parsed(radii, words, "--radius", "L8=3-1/4in, L8=76mm or L8=3in@0%,4in@100%")
        for line, words in _about_lines(radius, "--radius", "L8=3in").items()
    }
    notes = _about_lines(note, "--note", "L3=crown")
    record = from_json(content_of(path).decode("utf-8", "replace"))
    told = labelled(record, roles, told_radii, notes)
    if path.name == RECORD:
        files = files_of(told, path.parent, (path.parent / MIRRORED).exists())
    else:
        files = {path: to_json(told).encode()}
    write_all(files)
    show_pattern(screen, told)
    screen.print("written: " + ", ".join(str(file) for file in files))


@app.command()
@_reported
def camera(
    photos: Annotated[
        list[Path],
        typer.Argument(
            help="Three to six shots of four or more cards on the floor, tilted to all sides."
        ),
    ],
    out: Annotated[Path, typer.Option(help="The file to keep.")] = Path("camera.json"),
    measured_x: MeasuredAcross = None,
    measured_y: MeasuredAlong = None,
    print_profile: PrintProfile = None,
) -> None:
    """Solve a phone's lens once and keep it; with it, one card beside the paper is enough."""
    scale = _print_scale(measured_x, measured_y, print_profile)
    contents = [content_of(path) for path in photos]
    with _progress(("cards", "floor")) as show:
        loaded = [open_photo(p.name, c) for p, c in zip(photos, contents, strict=True)]
        kept, warnings = solve_camera(loaded, scale, show)
    write_all({out: camera_json(kept).encode()})
    sigma = math.sqrt(kept.covariance[0][0])
    screen.print(
        f"{kept.camera or 'camera'}: focal length {kept.terms[0]:.1f} px, good to {2 * sigma:.1f} "
        f"px (95 %), residual {kept.residual_px:.2f} px over {kept.photos} shots",
        highlight=False,
    )
    show_warnings(screen, warnings)
    screen.print(f"written: {out}")


def _print_scale(
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
        _stop(2, f'{path}: not a print profile; it holds {{"measured_x": MM, "measured_y": MM}}')
    for key, value in values.items():
        if not MEASURABLE[0] <= value <= MEASURABLE[1]:
            _stop(2, f"{path}: {key} is {value:g}; a 150 mm rule measures nearer to 150")
    return values


def _parsed(kind: Callable[[str], Parsed], words: str, option: str, example: str) -> Parsed:
    try:
        return kind(words)
    except ValueError:
        _stop(2, f"{option} {words}: write it like {example}, and more than nothing")


def _about_lines(said: Sequence[str] | None, option: str, example: str) -> dict[str, str]:
    """What is said about each line, by id."""
    return dict(_parsed(line_and_words, words, option, example) for words in said or [])


def _ink_roles(path: Path | None) -> dict[str, Role]:
    """The user's file of what each ink's lines are."""
    if path is None:
        return {}
    try:
        said = json.loads(content_of(path))
        pairs = [(str(ink), str(role)) for ink, role in said.items()]
    except (ValueError, AttributeError):
        _stop(2, f'{path}: not a file of inks; it holds, say, {{"red": "lap", "blue": "form"}}')
    for ink, _ in pairs:
        if ink not in INKS:
            _stop(2, f"{path}: {ink}: inks are {', '.join(INKS)}")
    return {ink: _role(role, f"{path}: ") for ink, role in pairs}


def _role(words: str, where: str) -> Role:
    for role in ROLES:
        if role == words:
            return role
    _stop(2, f"{where}{words}: roles are {', '.join(ROLES)}")


@contextmanager
def _progress(stages: Sequence[str]) -> Iterator[Callable[[str], None]]:
    """A bar that names each stage as it begins; nothing where no one is watching."""
    if not errors.is_terminal:
        yield lambda stage: None
        return
    columns = TextColumn("{task.description:>18}"), BarColumn(), TimeElapsedColumn()
    with Progress(*columns, console=errors, transient=True) as progress:
        task = progress.add_task("opening", total=len(stages) + 1)
        yield lambda stage: progress.update(task, advance=1, description=stage)


def main() -> None:
    """Entry point of the ``digitize`` command."""
    app()
