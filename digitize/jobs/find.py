"""Look into the drawer of kept patterns: find, take out, check. Loads little; answers at once."""

import json
from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from digitize.defaults import DRAWER
from digitize.errors import DamagedKept, NotKept, NotWritten
from digitize.jobs.disk import RECORD, content_of, write_all
from digitize.keep import (
    BEFORE,
    LATEST,
    SLIP,
    THUMBNAIL,
    Found,
    Revision,
    Wanted,
    content,
    faults_of,
    find,
    gaps_in,
    is_within,
    kept_sums,
    patterns_in,
    revisions_of,
    sound,
    unfinished_in,
    vouched,
)

__all__ = [
    "Checked",
    "Found",
    "Taken",
    "check_drawer",
    "find_patterns",
    "kept_picture",
    "take_pattern",
]

THIS_SIDE, OTHER_SIDE, PHOTOS = "drawings/this-side/", "drawings/other-side/", "photos/"
MOST_NAMED = 12
REWORDED = ("written_by", "remarks", "warnings")


@dataclass(frozen=True)
class Taken:
    """A revision that was taken out, and the files that were written."""

    revision: Revision
    written: tuple[Path, ...]


@dataclass(frozen=True)
class Checked:
    """What a drawer was found to hold.

    Attributes
    ----------
    patterns, revisions : how many there are.
    empty : names of patterns in which nothing was kept.
    unfinished : folders that were never finished; nothing in them counts.
    faults : a line for each file that has changed or gone.
    """

    patterns: int
    revisions: int
    empty: tuple[str, ...]
    unfinished: tuple[str, ...]
    faults: tuple[str, ...]


def find_patterns(
    *words: str,
    side: str = "",
    since: str = "",
    until: str = "",
    size_mm: tuple[float, float] | None = None,
    drawer: Path = DRAWER,
    progress: Callable[[int, int], None] = lambda done, of: None,
) -> Found:
    """The kept patterns that fit, each by its latest revision; and which slips are damaged.

    Parameters
    ----------
    words : parts of name, reference, part or notes; all must be there.
    side : ``left``, ``right`` or ``unknown``; any if empty.
    since, until : when it was kept: a date as in ISO 8601, from a year on.
    size_mm : the paper's, within 5 % and either way round.
    progress : told how many changed folders have been read, and of how many.
    """
    return find(drawer, Wanted(words, side, since, until, size_mm), progress)


def take_pattern(
    name: str,
    out: Path,
    *,
    mirror: bool = False,
    revision: int | None = None,
    over: bool = False,
    drawer: Path = DRAWER,
) -> Taken:
    """Take a pattern out: its record, pictures and drawings, byte for byte as they were kept.

    Parameters
    ----------
    name : its name in the drawer, or words that only it has.
    out : the folder to copy to.
    mirror : take the opposite side's drawings instead.
    revision : which, if not the latest.
    over : write over a record in that folder that is none of the pattern's kept ones.

    Raises
    ------
    NotKept, DamagedKept, RecordError, NotWritten
    """
    if out.resolve().is_relative_to(drawer.resolve()):
        raise NotWritten(f"{out}: is in the drawer, where nothing but what is kept lies")
    kept = kept_revision(drawer, name, revision)
    sums = kept_sums(kept)
    if not {SLIP, RECORD} <= sums.keys():
        raise DamagedKept(f"{kept}: its list of checksums has been cut short")
    files = {
        out / taken: sound(kept, held, sums)
        for held in sums
        if (taken := _taken_as(held, mirror)) is not None
    }
    if not over:
        _refuse_unkept(out / RECORD, revisions_of(drawer, kept.pattern))
    write_all(files)
    return Taken(kept, tuple(files))


def _refuse_unkept(record: Path, revisions: Sequence[Revision]) -> None:
    """Raises NotWritten if a record is there that none of a pattern's revisions holds."""
    if not record.exists():
        return
    there = _said_in(content_of(record))
    for revision in revisions:
        with suppress(DamagedKept):
            if there is not None and _said_in(content(revision, RECORD)) == there:
                return
    raise NotWritten(
        f"{record}: holds what is not kept in the drawer: keep it first, give another folder, or "
        "say --over"
    )


def _said_in(record: bytes) -> dict[str, object] | None:
    """What a record's file says, but for what each version of the program words anew."""
    try:
        said = json.loads(record)
        return {key: said[key] for key in said if key not in REWORDED}
    except (ValueError, TypeError, RecursionError):
        return None


def check_drawer(
    name: str | None = None,
    *,
    drawer: Path = DRAWER,
    progress: Callable[[int, int], None] = lambda done, of: None,
) -> Checked:
    """Compare every kept file with its checksum; raises NotKept if there is no drawer.

    Parameters
    ----------
    name : only this pattern.
    progress : told how many patterns have been looked at, and of how many.
    """
    patterns = patterns_in(drawer)
    if not patterns and not drawer.is_dir():
        raise NotKept(f"{drawer}: there is no drawer here; digitize keep makes it")
    if name is not None:
        patterns = [_pattern_called(drawer, name)]
    faults: list[str] = []
    empty: list[str] = []
    revisions = 0
    for done, pattern in enumerate(patterns):
        progress(done, len(patterns))
        try:
            kept = revisions_of(drawer, pattern)
            revisions += len(kept)
            faults += [fault for each in kept for fault in faults_of(each)]
            faults += gaps_in(drawer, pattern)
        except DamagedKept as damage:
            faults.append(str(damage))
            continue
        if not kept:
            empty.append(pattern)
    unfinished = tuple(path.name for path in unfinished_in(drawer))
    return Checked(len(patterns), revisions, tuple(empty), unfinished, tuple(faults))


def kept_picture(name: str, *, drawer: Path = DRAWER) -> bytes:
    """A small picture of a kept pattern, a JPEG; raises NotKept, DamagedKept."""
    return content(kept_revision(drawer, name), THUMBNAIL)


def kept_revision(drawer: Path, name: str, number: int | None = None) -> Revision:
    """The revision of that number, or the latest, of the pattern that a name means.

    Raises
    ------
    NotKept, DamagedKept
        If there is none, or it is not the one that was kept.
    """
    return vouched(drawer, _pattern_called(drawer, name), number)


def _pattern_called(drawer: Path, name: str) -> str:
    """The pattern in the drawer that a name means, or words that only it has; raises NotKept."""
    if not name.strip():
        raise NotKept("say which pattern: its name in the drawer, or words that only it has")
    if is_within(name) and (revisions_of(drawer, name) or (drawer / name / LATEST).exists()):
        return name
    found = find(drawer, Wanted(tuple(name.split())))
    if len(found.kept) != 1:
        raise NotKept(_not_one(drawer, name, found))
    return found.kept[0].pattern


def _not_one(drawer: Path, name: str, found: Found) -> str:
    if found.kept:
        names = ", ".join(each.pattern for each in found.kept[:MOST_NAMED])
        return f"{name}: {len(found.kept)} kept patterns have these words: {names}"
    damages = f"; damaged: {'; '.join(found.damages)}" if found.damages else ""
    return f"{name}: no such pattern in {drawer}; digitize find lists what there is{damages}"


def _taken_as(held: str, mirror: bool) -> str | None:
    """The name under which a kept file is taken out; None if it stays."""
    drawings, others = (OTHER_SIDE, THIS_SIDE) if mirror else (THIS_SIDE, OTHER_SIDE)
    if held.startswith(drawings):
        return held.removeprefix(drawings)
    if held in (SLIP, THUMBNAIL, BEFORE) or held.startswith((others, PHOTOS)):
        return None
    return held if (".mirrored." in held) == mirror else None
