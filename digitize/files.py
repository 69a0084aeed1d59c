"""The files that the commands read and write: records and drawings, all of them or none."""

import io
import os
import re
from collections.abc import Callable, Collection, Mapping
from pathlib import Path

from PIL import Image

from digitize.draw.bands import bands_svg
from digitize.draw.closed import closed_svg
from digitize.draw.dxf import pattern_dxf
from digitize.draw.job import job_svg
from digitize.draw.overlay import overlay_picture
from digitize.draw.pdf import drawing_of, pages_pdf, tiles_pdf, whole_pdf
from digitize.draw.shrink import shrink_svg
from digitize.draw.svg import page_for, pattern_svg
from digitize.pattern import Pattern, PatternFileError, from_json, to_json
from digitize.pipeline import Reading
from digitize.shop.blank import TrimOpen, blank_of
from digitize.shop.mirror import mirrored
from digitize.shop.punch import punch_points

FORMATS = ("svg", "dxf", "pdf", "a4", "letter", "job")
MARKED_UP, MARKED_DOWN = "marked face up", "marked face down"
RECORD, MIRRORED = "pattern.json", "pattern.mirrored.json"


class NotRead(Exception):
    """A file that cannot be read; the message says why."""


class NotWritten(Exception):
    """A file that cannot be written; the message says why."""


def content_of(path: Path) -> bytes:
    """A file's content; raises NotRead."""
    try:
        return path.read_bytes()
    except OSError as error:
        raise NotRead(f"{path}: cannot be read ({error.strerror})") from error


def files_of_reading(reading: Reading, folder: Path, mirror: bool) -> dict[Path, bytes]:
    """What a reading leaves in a folder: the record, its drawings, and what was found."""
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
    return {
        **files_of(pattern, folder, mirror),
        folder / "overlay.jpg": jpeg.getvalue(),
    }


def files_of(pattern: Pattern, folder: Path, mirror: bool) -> dict[Path, bytes]:
    """The record and its drawings, with the opposite side's if asked for."""
    files = {
        folder / RECORD: to_json(pattern).encode(),
        folder / "pattern.svg": pattern_svg(pattern).encode(),
    }
    if pattern.bands:
        files[folder / "bands.svg"] = bands_svg(pattern).encode()
    if pattern.zones:
        files[folder / "shrink.svg"] = shrink_svg(pattern).encode()
        files[folder / "closed.svg"] = closed_svg(pattern).encode()
    if mirror:
        other = mirrored(pattern)
        files[folder / MIRRORED] = to_json(other).encode()
        files[folder / "pattern.mirrored.svg"] = pattern_svg(other, MARKED_DOWN).encode()
    return files


def drawings_of(
    pattern: Pattern,
    folder: Path,
    formats: Collection[str],
    face: str,
    allowance: float,
    along: Mapping[str, float],
    stock: Mapping[str, tuple[float, float]],
) -> tuple[dict[Path, bytes], str | None]:
    """A pattern's drawings in the formats asked for; and why they are without a blank, if so.

    Parameters
    ----------
    face : which face of the paper is drawn.
    allowance, along : metal outside the trim edge, and along lines of it, mm.
    stock : sheets to cut from, mm by name.
    """
    try:
        blank, why = blank_of(pattern, allowance, along), None
    except TrimOpen as error:
        blank, why = None, str(error)
    punched = punch_points(pattern)
    svg = pattern_svg(pattern, face, blank, punched)
    drawing = drawing_of(svg)
    drawn = page_for(pattern, blank).drawn(pattern, blank)
    title = f"{pattern.name}, {pattern.side} side, {face}"
    name = f"{_file_name(pattern.name)}-{pattern.side}"
    writers: dict[str, Callable[[], bytes]] = {
        "svg": lambda: svg.encode(),
        "dxf": lambda: pattern_dxf(pattern, blank, punched),
        "pdf": lambda: whole_pdf(drawing, title),
        "a4": lambda: tiles_pdf(drawing, drawn, title, "a4"),
        "letter": lambda: tiles_pdf(drawing, drawn, title, "letter"),
        "job": lambda: pages_pdf(
            [
                drawing_of(job_svg(pattern, face, blank, stock)),
                *([drawing_of(shrink_svg(pattern))] if pattern.zones else []),
            ],
            title,
            "a4",
        ),
    }
    endings = {"a4": "-a4.pdf", "letter": "-letter.pdf", "job": "-job.pdf"}
    return {
        folder / f"{name}{endings.get(each, '.' + each)}": writers[each]()
        for each in FORMATS
        if each in formats
    }, why


def _file_name(words: str) -> str:
    """A pattern's name as a file's."""
    return re.sub(r"[^\w.-]+", "-", words).strip("-.") or "pattern"


def earlier_record(path: Path) -> Pattern | None:
    """The record of an earlier reading, if there is one that can be read."""
    try:
        return from_json(path.read_text(encoding="utf-8"))
    except (OSError, UnicodeDecodeError, PatternFileError):
        return None


def write_all(files: dict[Path, bytes]) -> None:
    """Write all files or none: each under another name first, then renamed.

    Raises
    ------
    NotWritten
        If one cannot be; then none has been.
    """
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
        raise NotWritten(f"{error.filename}: cannot be written ({error.strerror})") from error
