"""The commands. Files, printing and exit codes live here; nothing is computed."""

import math
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import replace
from functools import wraps
from pathlib import Path
from typing import Annotated, ParamSpec

import typer
from rich.console import Console
from rich.progress import BarColumn, Progress, TextColumn, TimeElapsedColumn

from digitize.card.find import CardError, TooBlurred, TooDark
from digitize.card.layout import HIGHEST_NUMBER, RULE_MM, SHEETS_MM
from digitize.card.sheet import card_pdf
from digitize.compare.carry import carried_over
from digitize.files import (
    FORMATS,
    MARKED_DOWN,
    MARKED_UP,
    MIRRORED,
    RECORD,
    NotRead,
    NotWritten,
    content_of,
    drawings_of,
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
from digitize.floor.start import CardsApart
from digitize.options import (
    ROLES,
    MeasuredAcross,
    MeasuredAlong,
    PrintProfile,
    about_lines,
    errors,
    ink_roles_in,
    parsed,
    parsed_sheet,
    print_scale,
    role_named,
    rule,
    stop,
)
from digitize.paper.outline import PaperError
from digitize.pattern import Pattern, PatternFileError, Side, from_json, to_json
from digitize.pipeline import (
    STAGES,
    TOLERANCE_MM,
    ReadingError,
    read_pattern,
    solve_camera,
)
from digitize.report import show_pattern, show_shrink, show_warnings
from digitize.shop.blank import ALLOWANCE_MM, BlankError
from digitize.shop.labels import LabelError, labelled
from digitize.shop.mirror import mirrored
from digitize.shop.spread import TuckError, with_spread
from digitize.words import check_distance, gaps, length_mm, radii

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
    (TuckError, 24),
    (BlankError, 25),
)
Given = ParamSpec("Given")

app = typer.Typer(
    add_completion=False,
    no_args_is_help=True,
    help="Reads a photo of a metal shaper's paper pattern, taken beside printed scale cards, "
    "into a true-size record and drawings for this side and the other.",
    epilog="Start with: digitize card, print the PDF at 100 %, then digitize photo.",
)
screen = Console()


def _reported(command: Callable[Given, None]) -> Callable[Given, None]:
    """The command, with what is wrong with its files or photos as one line and an exit code."""

    @wraps(command)
    def run(*given: Given.args, **named: Given.kwargs) -> None:
        try:
            command(*given, **named)
        except tuple(kind for kind, _ in EXIT_CODES) as error:
            stop(next(code for kind, code in EXIT_CODES if isinstance(error, kind)), str(error))

    return run


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
        rule(
            "What the 150 mm rule across an earlier print measured; the new print makes up for it."
        ),
    ] = None,
    measured_y: Annotated[
        float | None,
        rule("The same, along the sheet."),
    ] = None,
    out: Annotated[Path, typer.Option(help="The PDF to write.")] = Path("scale-cards.pdf"),
) -> None:
    """Write scale cards as a PDF. Print at 100 %, and measure both rules on the print."""
    if sheet not in SHEETS_MM:
        stop(2, f"--sheet {sheet}: cards come on {' or '.join(SHEETS_MM)}")
    if first + count - 1 > HIGHEST_NUMBER:
        stop(2, f"card numbers end at {HIGHEST_NUMBER}; ask for fewer or start lower")
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
        stop(2, f"--side {side}: give left, right or unknown")
    checks = [
        parsed(check_distance, words, "--check", "1:3=1204.5 or 1:3=47-3/8in")
        for words in check or []
    ]
    ink_roles = ink_roles_in(inks)
    if use_check and not checks:
        stop(2, "--use-check: give a taped distance with --check too")
    scale = print_scale(measured_x, measured_y, print_profile)
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
    roles = {
        line: role_named(words, "--role ")
        for line, words in about_lines(role, "--role", "L3=radius-end").items()
    }
    told_radii = {
        line: parsed(radii, words, "--radius", "L8=3-1/4in, L8=76mm or L8=3in@0%,4in@100%")
        for line, words in about_lines(radius, "--radius", "L8=3in").items()
    }
    notes = about_lines(note, "--note", "L3=crown")
    _written_anew(pattern, lambda record: labelled(record, roles, told_radii, notes), show_pattern)


@app.command()
@_reported
def tuck(
    pattern: Annotated[Path, typer.Argument(help="The record, pattern.json, or its folder.")],
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
    _written_anew(pattern, lambda record: with_spread(record, name, told), show_pattern)


@app.command()
@_reported
def shrink(
    pattern: Annotated[Path, typer.Argument(help="The record, pattern.json, or its folder.")],
    sheet: Annotated[
        str | None,
        typer.Option(help="The metal: steel 18 ga, aluminium 16 ga, steel 1.2 mm; it is kept."),
    ] = None,
) -> None:
    """Show how much to take out, where, and where it fades to nothing; and how thick it gets."""
    if sheet is None:
        show_shrink(screen, from_json(content_of(_record_in(pattern)).decode("utf-8", "replace")))
        return
    told = parsed_sheet(sheet)
    _written_anew(pattern, lambda record: record.model_copy(update={"sheet": told}), show_shrink)


@app.command()
@_reported
def draw(
    pattern: Annotated[Path, typer.Argument(help="The record, pattern.json, or its folder.")],
    out: Annotated[Path, typer.Option(help="Folder for the drawings.")],
    mirror: Annotated[
        bool, typer.Option("--mirror", help="Draw the opposite side's part instead.")
    ] = False,
    formats: Annotated[
        str,
        typer.Option(
            "--format",
            help=f"Any of {', '.join(FORMATS)}, with commas: a4 and letter are the PDF in tiles "
            "for a printer, job is the job sheet.",
        ),
    ] = ",".join(FORMATS),
    allowance: Annotated[
        str, typer.Option(help="Metal outside the trim edge: 25mm, 1in.")
    ] = f"{ALLOWANCE_MM:g}mm",
    allow: Annotated[
        list[str] | None,
        typer.Option(metavar="LINE=LENGTH", help="Another allowance along a line: L3=40mm."),
    ] = None,
) -> None:
    """Draw a kept pattern at true size, for this side or the other: SVG, DXF, PDF, job sheet."""
    asked = [each.strip() for each in formats.split(",")]
    for each in asked:
        if each not in FORMATS:
            stop(2, f"--format {each}: formats are {', '.join(FORMATS)}")
    wide = parsed(length_mm, allowance, "--allowance", "25mm or 1in")
    along = {
        line: parsed(length_mm, words, "--allow", "L3=40mm")
        for line, words in about_lines(allow, "--allow", "L3=40mm").items()
    }
    record = from_json(content_of(_record_in(pattern)).decode("utf-8", "replace"))
    record, face = (mirrored(record), MARKED_DOWN) if mirror else (record, MARKED_UP)
    files, without_blank = drawings_of(record, out, asked, face, wide, along)
    write_all(files)
    if without_blank:
        show_warnings(screen, [f"drawn without a blank: {without_blank}"])
    screen.print("written: " + ", ".join(str(path) for path in files))


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
    scale = print_scale(measured_x, measured_y, print_profile)
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


def _record_in(place: Path) -> Path:
    return place / RECORD if place.is_dir() else place


def _written_anew(
    place: Path,
    change: Callable[[Pattern], Pattern],
    show: Callable[[Console, Pattern], None],
) -> None:
    """Change a record, write it and its drawings, and show it."""
    path = _record_in(place)
    changed = change(from_json(content_of(path).decode("utf-8", "replace")))
    if path.name == RECORD:
        files = files_of(changed, path.parent, (path.parent / MIRRORED).exists())
    else:
        files = {path: to_json(changed).encode()}
    write_all(files)
    show(screen, changed)
    screen.print("written: " + ", ".join(str(file) for file in files))


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
