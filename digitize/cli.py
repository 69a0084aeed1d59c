"""The commands. Files, printing and exit codes live here; nothing is computed."""

import io
import itertools
import json
import math
import os
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Annotated, Any, NoReturn

import typer
from PIL import Image
from rich.console import Console
from rich.progress import BarColumn, Progress, TextColumn, TimeElapsedColumn
from rich.table import Table

from digitize.card.find import CardError, TooBlurred, TooDark
from digitize.card.layout import HIGHEST_NUMBER, RULE_MM, SHEETS_MM
from digitize.card.sheet import card_pdf
from digitize.draw.overlay import overlay_picture
from digitize.draw.svg import pattern_svg
from digitize.floor.photo import (
    DamagedPicture,
    NotAPicture,
    TooLarge,
    TooSmall,
    open_photo,
)
from digitize.floor.solve import CardsApart, PrintScale
from digitize.paper.outline import PaperError
from digitize.pattern import Line, Pattern, Side, to_json
from digitize.pipeline import STAGES, Reading, ReadingError, read_pattern
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
        list[Path], typer.Argument(help="Photos of the paper beside its cards; the first is read.")
    ],
    out: Annotated[Path, typer.Option(help="Folder for the record and drawings.")],
    name: Annotated[str | None, typer.Option(help="What the pattern is called.")] = None,
    side: Annotated[str, typer.Option(help="left, right or unknown.")] = "unknown",
    mirror: Annotated[
        bool, typer.Option("--mirror", help="Write the opposite side's record and drawing too.")
    ] = False,
    measured_x: Annotated[
        float | None,
        _rule("What the 150 mm rule across the cards measures, if not 150."),
    ] = None,
    measured_y: Annotated[
        float | None,
        _rule("The same, along the cards."),
    ] = None,
    print_profile: Annotated[
        Path | None,
        typer.Option(
            help='A file with both, for one printer: {"measured_x": 149.6, "measured_y": 150.2}.'
        ),
    ] = None,
) -> None:
    """Read a paper pattern from photos: writes pattern.json, pattern.svg and overlay.jpg."""
    sides: dict[str, Side] = {"left": "left", "right": "right", "unknown": "unknown"}
    if side not in sides:
        _stop(2, f"--side {side}: give left, right or unknown")
    profile = _read_profile(print_profile) if print_profile else {}
    scale = PrintScale(
        x=(measured_x or profile.get("measured_x", RULE_MM)) / RULE_MM,
        y=(measured_y or profile.get("measured_y", RULE_MM)) / RULE_MM,
    )
    contents = [_content(path) for path in photos]
    try:
        with _progress() as show:
            loaded = [open_photo(p.name, c) for p, c in zip(photos, contents, strict=True)]
            reading = read_pattern(loaded, name or photos[0].stem, sides[side], scale, show)
    except tuple(kind for kind, _ in EXIT_CODES) as error:
        code = next(code for kind, code in EXIT_CODES if isinstance(error, kind))
        _stop(code, str(error))
    files = _outputs(reading, out, mirror)
    _write(files)
    _show(reading.pattern)
    screen.print("written: " + ", ".join(str(path) for path in files))


def _outputs(reading: Reading, folder: Path, mirror: bool) -> dict[Path, bytes]:
    pattern, raster = reading.pattern, reading.raster
    picture = overlay_picture(pattern, raster.pixels, raster.left, raster.top, raster.mm_per_px)
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
def _progress() -> Iterator[Callable[[str], None]]:
    """A bar that names each stage as it begins; nothing where no one is watching."""
    if not errors.is_terminal:
        yield lambda stage: None
        return
    columns = TextColumn("{task.description:>18}"), BarColumn(), TimeElapsedColumn()
    with Progress(*columns, console=errors, transient=True) as progress:
        task = progress.add_task("opening", total=len(STAGES) + 1)
        yield lambda stage: progress.update(task, advance=1, description=stage)


def _show(pattern: Pattern) -> None:
    """The short report on the terminal."""
    if pattern.scale is not None:
        numbers = ", ".join(str(card.number) for card in pattern.scale.cards)
        screen.print(
            f"scale: card{'s' if len(pattern.scale.cards) > 1 else ''} {numbers}, residual "
            f"{pattern.scale.reprojection_px:.2f} px, points within "
            f"{pattern.scale.accuracy_mm:.2f} mm (95 %)",
            highlight=False,
        )
    lines = Table("role", "lines", "sure", "length mm", title="Lines", title_justify="left")
    for role in dict.fromkeys(line.role for line in pattern.lines):
        members = [line for line in pattern.lines if line.role == role]
        lines.add_row(
            role,
            " ".join(line.id for line in members),
            f"{min(line.role_confidence for line in members):.0%}",
            f"{sum(_length(line) for line in members):.0f}",
        )
    screen.print(lines)
    if pattern.tucks:
        tucks = Table(
            "tuck",
            "kind",
            "lap at trim mm",
            "deficit deg",
            "stations",
            title="Tucks",
            title_justify="left",
        )
        for tuck in pattern.tucks:
            tucks.add_row(
                tuck.id,
                tuck.kind,
                f"{tuck.lap_at_trim:.1f}",
                f"{tuck.deficit_deg:.1f}",
                str(len(tuck.stations)),
            )
        screen.print(tucks)
    if pattern.zones:
        zones = Table("zone", "kind", "tucks", "peak shrink", title="Zones", title_justify="left")
        for zone in pattern.zones:
            zones.add_row(
                zone.id, zone.kind, ", ".join(zone.tucks), f"{100 * zone.peak_shrink:.1f} %"
            )
        screen.print(zones)
    for warning in pattern.warnings:
        screen.print(f"warning: {warning}", style="yellow", highlight=False)


def _length(line: Line) -> float:
    points = [*line.points, line.points[0]] if line.closed else line.points
    pairs = itertools.pairwise(points)
    return sum(math.dist(a, b) for a, b in pairs)


def main() -> None:
    """Entry point of the ``digitize`` command."""
    app()
