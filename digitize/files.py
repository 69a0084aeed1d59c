"""The files that the commands read and write: records and drawings, all of them or none."""

import io
from collections.abc import Callable, Collection, Mapping
from pathlib import Path

import numpy as np
from PIL import Image

from digitize.disk import NotRead, content_of
from digitize.draw.bands import bands_svg
from digitize.draw.closed import closed_svg
from digitize.draw.dxf import pattern_dxf
from digitize.draw.job import job_svg
from digitize.draw.overlay import overlay_picture
from digitize.draw.pdf import drawing_of, pages_pdf, tiles_pdf, whole_pdf
from digitize.draw.shrink import shrink_svg
from digitize.draw.svg import page_for, pattern_svg
from digitize.keep.drawer import file_name
from digitize.pattern import Pattern, PatternFileError, from_json, to_json
from digitize.pipeline import Reading
from digitize.shop.blank import TrimOpen, blank_of
from digitize.shop.derived import brought_up
from digitize.shop.mirror import mirrored
from digitize.shop.punch import punch_points

FORMATS = ("svg", "dxf", "pdf", "a4", "letter", "job")
MARKED_UP, MARKED_DOWN = "marked face up", "marked face down"
RECORD, MIRRORED = "pattern.json", "pattern.mirrored.json"
RECTIFIED, OVERLAY, THUMBNAIL = "rectified.jpg", "overlay.jpg", "thumbnail.jpg"
THUMBNAIL_PX = (720, 540)


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
    return {
        **files_of(pattern, folder, mirror),
        folder / RECTIFIED: _jpeg(Image.fromarray(raster.pixels), 25.4 / raster.mm_per_px),
        folder / OVERLAY: _jpeg(Image.fromarray(picture)),
    }


def _jpeg(picture: Image.Image, dots_per_inch: float = 72.0) -> bytes:
    content = io.BytesIO()
    dots = round(dots_per_inch)
    picture.save(content, "JPEG", quality=86, dpi=(dots, dots))
    return content.getvalue()


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
    name = f"{file_name(pattern.name)}-{pattern.side}"
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


def record_in(place: Path) -> Pattern:
    """The record in a file, or in a folder's ``pattern.json``.

    Raises
    ------
    NotRead, PatternFileError
        If there is none.
    """
    return record_of(content_of(record_path(place)))


def record_of(content: bytes) -> Pattern:
    """The record that a file holds, brought up to date; raises PatternFileError."""
    return brought_up(from_json(content.decode("utf-8", "replace")))


def record_path(place: Path) -> Path:
    """A record's file: the one named, or the one in the folder named."""
    return place / RECORD if place.is_dir() else place


def earlier_record(path: Path) -> Pattern | None:
    """The record of an earlier reading, if there is one that can be read."""
    try:
        return record_in(path)
    except (NotRead, PatternFileError):
        return None


def files_to_keep(
    pattern: Pattern,
    folder: Path,
    allowance: float,
    along: Mapping[str, float],
    stock: Mapping[str, tuple[float, float]],
    progress: Callable[[str], None],
) -> dict[str, bytes]:
    """What a kept revision holds beside its slip and photos, by name.

    Parameters
    ----------
    folder : where the reading's pictures lie; what is not there is not kept.
    allowance, along, stock : as for ``drawings_of``.
    progress : told what is being drawn.
    """
    progress("record")
    files = files_of(pattern, Path(), mirror=True)
    sides = (("this side", pattern, MARKED_UP), ("other side", mirrored(pattern), MARKED_DOWN))
    for name, record, face in sides:
        progress(name)
        place = Path("drawings") / file_name(name)
        files |= drawings_of(record, place, FORMATS, face, allowance, along, stock)[0]
    progress("pictures")
    pictures = {
        name: content_of(folder / name) for name in (RECTIFIED, OVERLAY) if (folder / name).exists()
    }
    return {
        **{path.as_posix(): content for path, content in files.items()},
        **pictures,
        THUMBNAIL: _thumbnail(pattern, pictures.get(OVERLAY)),
    }


def _thumbnail(pattern: Pattern, overlay: bytes | None) -> bytes:
    """A small picture of what was found: the overlay, or the record drawn on white."""
    if overlay is None:
        width, height = (max(p[axis] for p in pattern.outline) for axis in (0, 1))
        white = np.full((round(height) + 20, round(width) + 20, 3), 255, np.uint8)
        picture = Image.fromarray(overlay_picture(pattern, white, -10.0, height + 10.0, 1.0))
    else:
        picture = Image.open(io.BytesIO(overlay))
    picture.thumbnail(THUMBNAIL_PX)
    return _jpeg(picture)
