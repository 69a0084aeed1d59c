"""What the folder of a reading holds: the record, its drawings, and pictures of the paper."""

import io
from collections.abc import Collection
from contextlib import suppress
from functools import lru_cache
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from digitize.draw import bands_svg, closed_svg, overlay_picture, pattern_svg, shrink_svg, smaller
from digitize.errors import NotRead, RecordError
from digitize.floor import Raster
from digitize.jobs.disk import MIRRORED, READING, RECORD, alone, content_of, settle, write_all
from digitize.jobs.formats import FORM_FILES, drawing_names
from digitize.mend import Picture, as_read, picture_at
from digitize.record import OPPOSITE, Pattern, Point, Rectified, from_json, mirrored, to_json
from digitize.remarks import with_remarks
from digitize.shop import shrink_tables
from digitize.take_up import brought_up, closed_zones, derived, shrink_fields, zones_and_fans
from digitize.units import INCH_MM

MARKED_UP, MARKED_DOWN = "marked face up", "marked face down"
RECTIFIED, OVERLAY = "rectified.jpg", "overlay.jpg"
PICTURE_QUALITY = 92  # of the paper's picture, in which laps are measured again
Pixels = NDArray[np.uint8]
State = tuple[int, int, int]  # when it was written, its size, and which file it is


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
    with suppress(OSError):  # a folder that cannot be written is read as it is
        settle(path.parent)
    try:
        return _loaded(path, _state_of(path) if path.exists() else None)
    except RecordError as error:
        raise RecordError(f"{path}: {error}") from error


@lru_cache(8)
def _loaded(path: Path, state: State | None) -> Pattern:
    """The record in a file in this state."""
    return record_of(content_of(path))


def record_of(content: bytes) -> Pattern:
    """The record that a file holds, brought up to date; raises RecordError."""
    return with_remarks(brought_up(from_json(content)))


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


def files_of_reading(
    read: Pattern, pattern: Pattern, raster: Raster, folder: Path, mirror: bool
) -> dict[Path, bytes]:
    """What a reading leaves in a folder.

    Parameters
    ----------
    read : what the photos gave; ``pattern`` the record, with what was told before.
    raster : the paper from above.
    """
    return {
        **files_of(pattern, folder, mirror),
        **overlay_file(pattern, raster.pixels, folder),
        folder / READING: to_json(read).encode(),
        folder / RECTIFIED: rectified_file(raster),
    }


def as_kept(raster: Raster) -> Pixels:
    """(H, W, 3) sRGB of the paper's picture as it is kept, and as it will be measured in again."""
    return pixels_in(rectified_file(raster))


def reading_path(record: Path) -> Path:
    """Where what the photos gave is kept beside a record's file."""
    return record.with_name(READING if record.name == RECORD else f"{record.stem}.{READING}")


def reading_beside(record: Path, pattern: Pattern) -> Pattern:
    """What the photos gave, kept beside a record's file; of an older one, as far as it is known.

    Raises
    ------
    NotRead, RecordError
        If it cannot be read, or is of another paper.
    """
    path = reading_path(record)
    if not path.exists():
        if pattern.told:
            raise RecordError(
                f"{path}: is missing, on which what was told is replayed: it stands beside the "
                "record that this is a copy of, copy it too"
            )
        return as_read(pattern)
    reading = load_pattern(path)
    if [each.sha256 for each in reading.sources] != [each.sha256 for each in pattern.sources]:
        raise RecordError(
            f"{path}: was read from other photos than {record.name} beside it: move it away, or "
            "read the photos again"
        )
    return reading


def picture_beside(record: Path, pattern: Pattern) -> Picture | None:
    """The paper's picture beside a record's file; None if it is not kept.

    The one last asked for is kept in memory, with what was found in it, as long as its file has
    not changed.
    """
    path = record.with_name(RECTIFIED)
    pixels = pixels_of(path)
    if pixels is None or pattern.rectified is None:
        return None
    if pattern.rectified.size_px not in (None, (pixels.shape[1], pixels.shape[0])):
        raise NotRead(
            f"{path}: is not the picture that was read, but another or one made smaller: put back "
            "the one that digitize photo wrote"
        )
    return _picture(path, _state_of(path), pattern.rectified, pattern.outline)


def pixels_of(path: Path) -> Pixels | None:
    """(H, W, 3) sRGB of a picture that this program has written; None if there is none.

    Raises NotRead.
    """
    return _pixels(path, _state_of(path)) if path.exists() else None


@lru_cache(1)
def _picture(path: Path, state: State, place: Rectified, outline: tuple[Point, ...]) -> Picture:
    """The picture in a file in this state, where the record has it."""
    return picture_at(place, outline, _pixels(path, state))


def _state_of(path: Path) -> State:
    """By what it shows that a file has been written anew."""
    there = path.stat()
    return there.st_mtime_ns, there.st_size, there.st_ino


@lru_cache(1)
def _pixels(path: Path, state: State) -> Pixels:
    """The pixels of a file in this state; they are not to be written to."""
    try:
        pixels = pixels_in(content_of(path))
    except (OSError, ValueError) as error:
        raise NotRead(f"{path}: cannot be read as a picture; take it away, or read anew") from error
    pixels.setflags(write=False)
    return pixels


def picture_at_most(path: Path, longest_px: int) -> bytes:
    """A picture that this program has written, made smaller, as the bytes of a JPEG.

    Raises NotRead.
    """
    try:
        with Image.open(io.BytesIO(content_of(path))) as picture:
            picture.draft("RGB", (longest_px, longest_px))
            picture.thumbnail((longest_px, longest_px))
            return jpeg(picture.convert("RGB"))
    except (OSError, ValueError) as error:
        raise NotRead(f"{path}: cannot be read as a picture; take it away, or read anew") from error


def pixels_in(content: bytes) -> Pixels:
    """(H, W, 3) sRGB of the bytes of a picture."""
    with Image.open(io.BytesIO(content)) as picture:
        return np.asarray(picture.convert("RGB"), np.uint8)


def overlay_of(pattern: Pattern, folder: Path) -> dict[Path, bytes]:
    """The overlay of a record in a folder, if the paper's picture is there."""
    path = folder / RECTIFIED
    if not path.exists():
        return {}
    pixels, times = _smaller(path, _state_of(path))
    return overlay_file(pattern, pixels, folder, times)


@lru_cache(1)
def _smaller(path: Path, state: State) -> tuple[Pixels, float]:
    """The pixels of a file in this state, as they are drawn over, and how many times fewer."""
    return smaller(_pixels(path, state))


def overlay_file(
    pattern: Pattern, pixels: Pixels, folder: Path, times: float = 1.0
) -> dict[Path, bytes]:
    """The overlay over the paper's picture (H, W, 3), made so many times smaller."""
    place = pattern.rectified
    if place is None:
        return {}
    mm_per_px = place.mm_per_px * times
    picture = overlay_picture(pattern, pixels, place.left, place.top, mm_per_px)
    return {folder / OVERLAY: jpeg(Image.fromarray(picture))}


def stale_beside(before: Pattern, folder: Path, written: Collection[Path]) -> tuple[Path, ...]:
    """Drawings in a record's folder that were made of it before, and are not written anew."""
    own = [
        folder / name
        for name in (
            "pattern.svg",
            "bands.svg",
            "shrink.svg",
            "closed.svg",
            "since.svg",
            "pattern.mirrored.svg",
            MIRRORED,
            OVERLAY,
            *FORM_FILES,
        )
    ]
    drawn = [
        folder / name
        for side in (before.side, OPPOSITE[before.side])
        for name in drawing_names(before.name, side)
    ]
    return tuple(path for path in (*own, *drawn) if path.exists() and path not in written)


def records_of(pattern: Pattern, folder: Path) -> dict[Path, bytes]:
    """The record in a folder, and its mirrored one if one is there; no drawings."""
    files = {folder / RECORD: to_json(pattern).encode()}
    if (folder / MIRRORED).exists():
        files[folder / MIRRORED] = to_json(mirrored(pattern)).encode()
    return files


def drawings_beside(pattern: Pattern, folder: Path) -> dict[Path, bytes]:
    """The record in a folder, and its drawings, as they stand there."""
    return {
        **files_of(pattern, folder, (folder / MIRRORED).exists()),
        **overlay_of(pattern, folder),
    }


def draw_beside(pattern: Path) -> tuple[Path, ...]:
    """Draw a folder's record anew beside it; raises NotRead, RecordError, NotWritten."""
    folder = record_path(pattern).parent
    with alone(folder):
        files = drawings_beside(load_pattern(pattern), folder)
        files.pop(folder / RECORD)
        write_all(files)
    return tuple(files)


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
        svg = pattern_svg(opposite(pattern), MARKED_DOWN)
        files[folder / "pattern.mirrored.svg"] = svg.encode()
    return files


def opposite(pattern: Pattern) -> Pattern:
    """The opposite side's part to draw: its title block names the same state of the record."""
    return mirrored(pattern).model_copy(update={"told": pattern.told})


def rectified_file(raster: Raster) -> bytes:
    """The paper's picture as it is kept, each of its colours at every pixel."""
    dots = INCH_MM / raster.mm_per_px
    return jpeg(Image.fromarray(raster.pixels), dots, PICTURE_QUALITY, subsampling=0)


def jpeg(
    picture: Image.Image, dots_per_inch: float = 72.0, quality: int = 86, subsampling: int = 2
) -> bytes:
    """A picture as the bytes of a JPEG file; ``subsampling`` 0 keeps each colour at every pixel."""
    content = io.BytesIO()
    dots = round(dots_per_inch)
    picture.save(content, "JPEG", quality=quality, dpi=(dots, dots), subsampling=subsampling)
    return content.getvalue()
