"""Finding kept patterns. The index is derived: what it says of a pattern holds only as long as
nothing in that pattern's folder has changed, and a drawer without one is read through once.
"""

import json
import time
from collections.abc import Callable, Mapping
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import NamedTuple

from digitize.errors import DamagedKept
from digitize.keep.chain import NONE, latest_in
from digitize.keep.drawer import content, folders_in, revisions_of, write_anew
from digitize.keep.slip import SLIP, Slip, slip_in, slip_text
from digitize.keep.sums import sha256

INDEX = "index"
FORM = 1
SETTLED_NS = 2_000_000_000  # a folder's time may be this coarse, on a memory stick's file system
SIZE_SHARE = 0.05


@dataclass(frozen=True)
class Kept:
    """A kept pattern: its name in the drawer, its latest revision with a sound slip, and that."""

    pattern: str
    revision: int
    slip: Slip


@dataclass(frozen=True)
class Found:
    """The patterns that were wanted, by name; and a line for each slip that has been damaged."""

    kept: tuple[Kept, ...]
    damages: tuple[str, ...]


@dataclass(frozen=True)
class Wanted:
    """What to look for: all words, somewhere in name, reference, part and notes; and the rest.

    ``size_mm`` is the paper's, within 5 % and either way round; dates are ISO 8601, from a year on.
    """

    words: tuple[str, ...] = ()
    side: str = ""
    since: str = ""
    until: str = ""
    size_mm: tuple[float, float] | None = None


class _Row(NamedTuple):
    """A pattern in the index: when its folder last changed, and what is looked at in its slip.

    ``revision`` is 0 where no slip is sound. ``slip`` is kept as text: few of them are wanted.
    """

    time_ns: int
    revision: int = 0
    damage: str = ""
    text: str = ""
    side: str = ""
    day: str = ""
    width_mm: float = 0.0
    height_mm: float = 0.0
    slip: str = ""


def find(
    drawer: Path,
    wanted: Wanted,
    progress: Callable[[int, int], None] = lambda done, of: None,
) -> Found:
    """The kept patterns that are wanted; the index is brought up to date on the way.

    ``progress`` is told how many of the changed folders have been read, and of how many.
    """
    rows, times = _index(drawer), _times(drawer)
    stale = [name for name, at in times.items() if name not in rows or rows[name].time_ns != at]
    if stale or len(rows) > len(times):
        rows = {name: row for name, row in rows.items() if name in times}
        for done, name in enumerate(stale):
            progress(done, len(stale))
            rows[name] = _row(drawer, name, times[name])
        _write(drawer, rows)
    names = sorted(name for name, row in rows.items() if row.revision and _fits(row, wanted))
    return Found(
        tuple(Kept(name, rows[name].revision, slip_in(rows[name].slip)) for name in names),
        tuple(rows[name].damage for name in sorted(rows) if rows[name].damage),
    )


def _fits(row: _Row, wanted: Wanted) -> bool:
    return (
        all(word.casefold() in row.text for word in wanted.words)
        and wanted.side in ("", row.side)
        and row.day >= wanted.since
        and (not wanted.until or row.day[: len(wanted.until)] <= wanted.until)
        and (wanted.size_mm is None or _same_size((row.width_mm, row.height_mm), wanted.size_mm))
    )


def _same_size(size: tuple[float, float], wanted: tuple[float, float]) -> bool:
    return any(
        all(abs(a - b) <= SIZE_SHARE * b for a, b in zip(size, way, strict=True))
        for way in (wanted, wanted[::-1])
    )


def _times(drawer: Path) -> dict[str, int]:
    """When each pattern's folder last changed, ns; 0 where that is too fresh to go by."""
    fresh = time.time_ns() - SETTLED_NS
    times = {}
    for entry in folders_in(drawer):
        with suppress(OSError):  # another program has just taken it away
            times[entry.name] = entry.stat(follow_symlinks=False).st_mtime_ns
    return {name: at if at < fresh else 0 for name, at in times.items()}


def _index(drawer: Path) -> dict[str, _Row]:
    """The index by pattern; none if it cannot be read, or has changed since it was written."""
    try:
        kept, _, text = (drawer / INDEX).read_bytes().partition(b"\n")
        index = json.loads(text) if kept.decode("ascii") == sha256(text) else {}
        if index.get("form") == FORM:
            return {name: _Row(*row) for name, row in index["patterns"].items()}
    except (OSError, ValueError):
        pass
    return {}


def _row(drawer: Path, name: str, time_ns: int) -> _Row:
    try:
        revisions = revisions_of(drawer, name)
        last = latest_in(drawer / name) or NONE
    except DamagedKept as error:
        return _Row(time_ns, damage=str(error))
    gone = last.number > max((each.number for each in revisions), default=0)
    damage = f"{name}, revision {last.number}: is missing" if gone else ""
    for revision in reversed(revisions):
        try:
            slip = slip_in(content(revision, SLIP))
        except (DamagedKept, ValueError) as error:
            is_damage = isinstance(error, DamagedKept)
            damage = damage or (str(error) if is_damage else f"{revision}: {SLIP} is no slip")
        else:
            words = (name, slip.name, slip.reference, slip.part, *slip.notes)
            return _Row(
                time_ns,
                revision.number,
                damage,
                " ".join(words).casefold(),
                slip.side,
                slip.kept[:10],
                slip.width_mm,
                slip.height_mm,
                slip_text(slip),
            )
    return _Row(time_ns, damage=damage)


def _write(drawer: Path, rows: Mapping[str, _Row]) -> None:
    """Write the index anew; where that is not possible, the next look reads the folders again."""
    if not any(row.revision for row in rows.values()):
        return  # no drawer, but a folder that somebody named
    patterns = {name: row for name, row in rows.items() if row.time_ns}
    text = json.dumps({"form": FORM, "patterns": patterns}).encode()
    with suppress(OSError):
        write_anew(drawer, INDEX, f"{sha256(text)}\n".encode() + text)
