"""The commands. Files, printing and exit codes live here; nothing is computed."""

import io
import json
import math
import os
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from fractions import Fraction
from pathlib import Path
from typing import Annotated, Any, NoReturn

import typer
from PIL import Image
from rich.console import Console
from rich.progress import BarColumn, Progress, TextColumn, TimeElapsedColumn

from digitize.card.find import CardError, TooBlurred, TooDark
from digitize.card.layout import HIGHEST_NUMBER, RULE_MM, SHEETS_MM
from digitize.card.sheet import card_pdf
from digitize.draw.overlay import overlay_picture
from digitize.draw.svg import pattern_svg
from digitize.floor.check import CheckDistance, CheckError, Mark
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
from digitize.pattern import Side, to_json
from digitize.pipeline import (
    STAGES,
    TOLERANCE_MM,
    Reading,
    ReadingError,
    read_pattern,
    solve_camera,
)
from digitize.report import show_pattern, show_warnings
from digitize.shop.mirror import mirrored

EXIT_CODES: tuple[tuple[type[Exception], int], ...] = (
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
)
EXIT_NO_FILE = 3
EXIT_NOT_WRITTEN = 4
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
    _write({out: content})
    screen.print(
        f"{out}: {count} card{'s' if count > 1 else ''} on {sheet}. Print at 100 % (no scaling), "
        "then measure the 150 mm rules; if they differ, give digitize photo what they measure."
    )


@app.command()
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
) -> None:
    """Read a paper pattern from photos: writes pattern.json, pattern.svg and overlay.jpg."""
    sides: dict[str, Side] = {"left": "left", "right": "right", "unknown": "unknown"}
    if side not in sides:
        _stop(2, f"--side {side}: give left, right or unknown")
    checks = [_check_distance(words) for words in check or []]
    if use_check and not checks:
        _stop(2, "--use-check: give a taped distance with --check too")
    scale = _print_scale(measured_x, measured_y, print_profile)
    with _reported_errors():
        kept = camera_from_json(_content(camera).decode("utf-8", "replace")) if camera else None
        contents = [_content(path) for path in photos]
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
                show,
            )
    files = _outputs(reading, out, mirror)
    _write(files)
    show_pattern(screen, reading.pattern)
    screen.print("written: " + ", ".join(str(path) for path in files))


@app.command()
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
    contents = [_content(path) for path in photos]
    with _reported_errors(), _progress(("cards", "floor")) as show:
        loaded = [open_photo(p.name, c) for p, c in zip(photos, contents, strict=True)]
        kept, warnings = solve_camera(loaded, scale, show)
    _write({out: camera_json(kept).encode()})
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


def _check_distance(words: str) -> CheckDistance:
    """A:B=LENGTH, as --check has it."""
    try:
        marks, length = words.split("=")
        a, b = (_mark(mark) for mark in marks.split(":"))
        inches = length.strip().removesuffix("in")
        is_inches = inches != length.strip()
        whole = sum(Fraction(part) for part in inches.removesuffix("mm").strip().split("-"))
        millimetres = float(whole) * (25.4 if is_inches else 1.0)
    except (ValueError, ZeroDivisionError):
        _stop(2, f"--check {words}: write it like 1:3=1204.5 or 1:3=47-3/8in")
    if millimetres <= 0:
        _stop(2, f"--check {words}: the distance has to be more than nothing")
    return CheckDistance((a, b), millimetres)


def _mark(words: str) -> Mark:
    x, comma, y = words.partition(",")
    return (float(x), float(y)) if comma else int(x)


@contextmanager
def _reported_errors() -> Iterator[None]:
    """What is wrong with the photos becomes one line and an exit code."""
    try:
        yield
    except tuple(kind for kind, _ in EXIT_CODES) as error:
        _stop(next(code for kind, code in EXIT_CODES if isinstance(error, kind)), str(error))


def _outputs(reading: Reading, folder: Path, mirror: bool) -> dict[Path, bytes]:
    pattern, raster = reading.pattern, reading.raster
    picture = overlay_picture(
        pattern,
        raster.pixels,
        raster.left,
        raster.top,
        raster.mm_per_px,
        [(contour.mm, contour.points) for contour in reading.contours],
    )
    jpeg = io.BytesIO()
    Image.fromarray(picture).save(jpeg, "JPEG", quality=88)
    files = {
        folder / "pattern.json": to_json(pattern).encode(),
        folder / "pattern.svg": pattern_svg(pattern).encode(),
        folder / "overlay.jpg": jpeg.getvalue(),
    }
    if mirror:
        other = mirrored(pattern)
        files[folder / "pattern.mirrored.json"] = to_json(other).encode()
        files[folder / "pattern.mirrored.svg"] = pattern_svg(other, "marked face down").encode()
    return files


def _content(path: Path) -> bytes:
    try:
        return path.read_bytes()
    except OSError as error:
        _stop(EXIT_NO_FILE, f"{path}: cannot be read ({error.strerror})")


def _read_profile(path: Path) -> dict[str, float]:
    try:
        profile = json.loads(_content(path))
        values = {key: float(profile[key]) for key in ("measured_x", "measured_y")}
    except (ValueError, KeyError, TypeError):
        _stop(2, f'{path}: not a print profile; it holds {{"measured_x": MM, "measured_y": MM}}')
    for key, value in values.items():
        if not MEASURABLE[0] <= value <= MEASURABLE[1]:
            _stop(2, f"{path}: {key} is {value:g}; a 150 mm rule measures nearer to 150")
    return values


def _write(files: dict[Path, bytes]) -> None:
    """All files or none: each is written under another name first, then renamed."""
    parts: dict[Path, Path] = {}
    try:
        for path, content in files.items():
            path.parent.mkdir(parents=True, exist_ok=True)
            part = path.with_name(f".{path.name}.{os.getpid()}.part")
            parts[path] = part
            part.write_bytes(content)
        for path, part in parts.items():
            part.replace(path)
    except OSError as error:
        for part in parts.values():
            part.unlink(missing_ok=True)
        _stop(EXIT_NOT_WRITTEN, f"{error.filename}: cannot be written ({error.strerror})")


def _stop(code: int, message: str) -> NoReturn:
    errors.print(message, style="bold", highlight=False, soft_wrap=True, markup=False)
    raise typer.Exit(code)


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
