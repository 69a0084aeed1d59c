"""Kept patterns read again from their kept photos, by the program as it is today."""

import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from digitize.compare import compared
from digitize.defaults import DRAWER
from digitize.errors import DigitizeError, NotKept
from digitize.floor import open_photo
from digitize.jobs.disk import RECORD, write_all
from digitize.jobs.find import PHOTOS, find_patterns, kept_revision
from digitize.jobs.folder import as_kept, files_of_reading, record_of
from digitize.jobs.keep import keep_pattern
from digitize.keep import Revision, content, kept_sums, sha256
from digitize.mend import carried_over, picture_of
from digitize.reading import asked_again, read_pattern
from digitize.remarks import with_lost

__all__ = ["Renewed", "renew_patterns"]


@dataclass(frozen=True)
class Renewed:
    """How a kept pattern comes out when it is read again.

    Attributes
    ----------
    pattern : its name in the drawer.
    why_not : why it could not be read again; then all else is nothing.
    written_by : the version of the program that wrote the kept record.
    lines, tucks : how many, before and now.
    furthest_mm : how far a line of the one lies from the other's at most.
    lap_mm : by how much a tuck's lap at the trim edge differs at most.
    told, lost : facts told, and those that do not fit the new reading.
    kept : the revision that it was kept as, if it was.
    """

    pattern: str
    why_not: str | None = None
    written_by: str | None = None
    lines: tuple[int, int] = (0, 0)
    tucks: tuple[int, int] = (0, 0)
    furthest_mm: float = 0.0
    lap_mm: float = 0.0
    told: int = 0
    lost: int = 0
    kept: Revision | None = None


def renew_patterns(
    *words: str,
    drawer: Path = DRAWER,
    keep: bool = False,
    progress: Callable[[int, int], None] = lambda done, of: None,
) -> tuple[Renewed, ...]:
    """Read kept patterns again from the photos kept with them, with all that was given and told.

    One that cannot be read again is named, and stays as it is.

    Parameters
    ----------
    words : parts of name, reference, part or notes; all must be there. None: the whole drawer.
    keep : keep each as a new revision; otherwise nothing is written.
    progress : told how many have been read, and of how many.

    Raises
    ------
    NotKept
        If nothing kept has these words.
    """
    found = find_patterns(*words, drawer=drawer).kept
    if not found:
        raise NotKept(f"{drawer}: no kept pattern fits that")
    renewed = []
    for done, each in enumerate(found):
        progress(done, len(found))
        try:
            renewed.append(_renewed(drawer, each.pattern, keep))
        except DigitizeError as error:
            renewed.append(Renewed(each.pattern, why_not=str(error)))
    return tuple(renewed)


def _renewed(drawer: Path, name: str, keep: bool) -> Renewed:
    revision = kept_revision(drawer, name)
    before = record_of(content(revision, RECORD))
    kept = {sha256(each): each for each in _photos_in(revision)}
    missing = [source.photo for source in before.sources if source.sha256 not in kept]
    if missing or not before.sources:
        raise NotKept(f"{name}: was kept without its photos; keep it with --with-photos")
    photos = [open_photo(each.photo, kept[each.sha256]) for each in before.sources]
    reading = read_pattern(photos, before.name, before.side, *asked_again(before))
    carried = carried_over(
        before, reading.pattern, lambda: picture_of(reading.pattern, as_kept(reading.raster))
    )
    pattern = with_lost(carried)
    comparison = compared(before, pattern)
    off = np.concatenate([np.abs(each.off) for each in comparison.deviations] or [np.zeros(1)])
    laps = [abs(pair.off) for pair in comparison.tucks if pair.tuck and pair.other]
    again = None
    if keep:
        with tempfile.TemporaryDirectory() as place:
            folder = Path(place)
            write_all(files_of_reading(reading.pattern, pattern, reading.raster, folder, True))
            photos_there = revision.folder / PHOTOS
            again = keep_pattern(folder, with_photos=photos_there, drawer=drawer).revision
    return Renewed(
        name,
        written_by=before.written_by,
        lines=(len(before.lines), len(pattern.lines)),
        tucks=(len(before.tucks), len(pattern.tucks)),
        furthest_mm=float(np.nanmax(off)) if np.isfinite(off).any() else 0.0,
        lap_mm=max(laps, default=0.0),
        told=len(pattern.told),
        lost=len(carried.lost),
        kept=again,
    )


def _photos_in(revision: Revision) -> list[bytes]:
    return [
        content(revision, name) for name in sorted(kept_sums(revision)) if name.startswith(PHOTOS)
    ]
