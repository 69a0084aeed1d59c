"""What the folder of a reading holds: the record, its drawings, and pictures of the paper."""

import io
from dataclasses import dataclass
from pathlib import Path

from PIL import Image

from digitize.draw import bands_svg, closed_svg, overlay_picture, pattern_svg, shrink_svg
from digitize.errors import RecordError
from digitize.jobs.disk import MIRRORED, RECORD, content_of, write_all
from digitize.reading import Reading
from digitize.record import Pattern, from_json, mirrored, to_json
from digitize.remarks import with_remarks
from digitize.shop import shrink_tables
from digitize.take_up import brought_up, closed_zones, derived, shrink_fields, zones_and_fans
from digitize.units import INCH_MM

MARKED_UP, MARKED_DOWN = "marked face up", "marked face down"
RECTIFIED, OVERLAY = "rectified.jpg", "overlay.jpg"


@dataclass(frozen=True)
class Changed:
    """A record after something was told about it, and the files that were written."""

    pattern: Pattern
    written: tuple[Path, ...]


def save_pattern(pattern: Pattern, place: Path) -> tuple[Path, ...]:
    """Write a record into a file; or, into a folder, with its drawings.

    What follows from its lines and tucks, and what is to be said of it, is worked out anew.

    Raises
    ------
    RecordError, NotWritten
        If a record of a later version stands there, or it cannot be written.
    """
    pattern = with_remarks(derived(pattern))
    if place.suffix == ".json":
        files = {place: to_json(pattern).encode()}
    else:
        files = files_of(pattern, place, (place / MIRRORED).exists())
    write_all(files)
    return tuple(files)


def record_path(place: Path) -> Path:
    """A record's file: the one named, or the one in the folder named."""
    return place / RECORD if place.is_dir() else place


def load_pattern(place: Path) -> Pattern:
    """The record in a file, or in a folder's ``pattern.json``; raises NotRead, RecordError."""
    path = record_path(place)
    try:
        return record_of(content_of(path))
    except RecordError as error:
        raise RecordError(f"{path}: {error}") from error


def record_of(content: bytes) -> Pattern:
    """The record that a file holds, brought up to date; raises RecordError."""
    return with_remarks(brought_up(from_json(content.decode("utf-8", "replace"))))


def earlier_record(folder: Path) -> Pattern | None:
    """The record of an earlier reading in a folder, if there is one.

    Raises
    ------
    RecordError
        If its file cannot be read: what was told in it would be lost.
    """
    path = folder / RECORD
    if not path.exists():
        return None
    try:
        return load_pattern(path)
    except RecordError as error:
        raise RecordError(
            f"{error}; what was told in it would be lost: move it away, or give another folder"
        ) from error


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
        folder / RECTIFIED: jpeg(Image.fromarray(raster.pixels), INCH_MM / raster.mm_per_px),
        folder / OVERLAY: jpeg(Image.fromarray(picture)),
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
        fans = zones_and_fans(pattern)
        shrink = shrink_svg(pattern, shrink_fields(fans), shrink_tables(pattern, fans))
        files[folder / "shrink.svg"] = shrink.encode()
        files[folder / "closed.svg"] = closed_svg(pattern, closed_zones(pattern, fans)).encode()
    if mirror:
        other = mirrored(pattern)
        files[folder / MIRRORED] = to_json(other).encode()
        files[folder / "pattern.mirrored.svg"] = pattern_svg(other, MARKED_DOWN).encode()
    return files


def jpeg(picture: Image.Image, dots_per_inch: float = 72.0) -> bytes:
    """A picture as the bytes of a JPEG file."""
    content = io.BytesIO()
    dots = round(dots_per_inch)
    picture.save(content, "JPEG", quality=86, dpi=(dots, dots))
    return content.getvalue()
