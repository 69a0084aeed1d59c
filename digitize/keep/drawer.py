"""The drawer: a plain folder with a folder for each pattern, and in it one for each revision.

``DRAWER/roof-corner-left/revision-2/`` holds the record, its drawings and pictures, a slip, and the
checksums of all these. A revision is written aside, brought safely onto the disk, and then renamed
into place at one stroke: it is there whole or not at all, and a name that is taken is never taken
again, whoever else is writing. Nothing in here changes or removes a revision.
"""

import errno
import os
import re
import shutil
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from uuid import uuid4

from digitize.errors import DamagedKept, NotWritten
from digitize.keep.regular import read_regular
from digitize.keep.sums import SUMS, is_within, sha256, sums_in, sums_text
from digitize.keep.synced import sweep, sync_folder, write_synced

ABOUT = "HOW TO READ THIS.txt"
ASIDE = ".unfinished-"
ABOUT_TEXT = """\
Kept patterns. Each folder is one paper pattern, each revision in it one state of it; the one with
the highest number is the latest. Nothing here needs the program that wrote it:

  pattern.json         the record: every line in millimetres (x right, y up, marked face up)
  drawings/this-side   drawings at true size (SVG, DXF, PDF), and drawings/other-side the mirrored
  rectified.jpg        the paper seen from straight above; pattern.json says how many mm a pixel is
  overlay.jpg          what was found, drawn over that
  slip.json            name, side, reference, part, dates, size
  photos/              the photos it was read from, if they were kept
  SHA256SUMS           checksums: "sha256sum --check SHA256SUMS" says whether a file has changed

Beside them "index" is a list to find patterns by; it is made anew when it is gone.

Copy the folder as it is to back it up. A folder that begins with ".unfinished-" was never
finished, and holds nothing that is needed.
"""


class Outrun(Exception):
    """Another program has kept the next revision meanwhile."""


@dataclass(frozen=True)
class Revision:
    """One state of a kept pattern: its name in the drawer, a number from 1, its folder."""

    pattern: str
    number: int
    folder: Path

    def __str__(self) -> str:
        return f"{self.pattern}, revision {self.number}"


def file_name(words: str) -> str:
    """Words as a file's or folder's name, of no more than LONGEST_NAME bytes."""
    name = re.sub(r"[^\w.-]+", "-", words).strip("-.")
    short = name.encode()[:LONGEST_NAME].decode(errors="ignore").strip("-.")
    return short or "pattern"


def patterns_in(drawer: Path) -> list[str]:
    """The names of all patterns; none if there is no drawer yet."""
    if not drawer.is_dir():
        return []
    with os.scandir(drawer) as entries:
        return sorted(e.name for e in entries if _is_folder(e) and not e.name.startswith("."))


def _is_folder(entry: os.DirEntry[str]) -> bool:
    """Whether it is a folder that lies here: links lead out of the drawer."""
    return entry.is_dir(follow_symlinks=False)


def revisions_of(drawer: Path, pattern: str) -> list[Revision]:
    """A pattern's revisions, by number; none if it is not there."""
    folder = drawer / pattern
    if not is_within(pattern) or folder.is_symlink():
        return []
    try:
        names = [entry.name for entry in os.scandir(folder) if _is_folder(entry)]
    except (FileNotFoundError, NotADirectoryError):
        return []
    numbers = sorted(int(found[1]) for name in names if (found := _REVISION.fullmatch(name)))
    return [Revision(pattern, number, folder / f"revision-{number}") for number in numbers]


LONGEST_NAME = 120  # of the 255 bytes that most disks allow; endings follow
_REVISION = re.compile(r"revision-([1-9]\d{0,8})")


def put(drawer: Path, pattern: str, after: int, files: Mapping[str, bytes]) -> Revision:
    """Keep files as a pattern's next revision, all or none.

    Parameters
    ----------
    after : the number of the latest revision that the caller knows of, 0 if none.
    files : contents by name, ``/`` between folders.

    Raises
    ------
    Outrun
        If there is a later revision already.
    NotWritten
        If the disk is full or cannot be written.
    """
    aside = drawer / f"{ASIDE}{uuid4().hex}"
    revision = Revision(pattern, after + 1, drawer / pattern / f"revision-{after + 1}")
    try:
        drawer.mkdir(parents=True, exist_ok=True)
        sweep(unfinished_in(drawer))
        if not (drawer / ABOUT).exists():
            write_anew(drawer, ABOUT, ABOUT_TEXT.encode())
        for name, content in (*files.items(), (SUMS, sums_text(files).encode())):
            path = aside / name
            path.parent.mkdir(parents=True, exist_ok=True)
            write_synced(path, content)
        for folder, _, _ in os.walk(aside):
            sync_folder(Path(folder))
        revision.folder.parent.mkdir(exist_ok=True)
        # A later revision may be there while this number's is not: a drawer copied by halves.
        if any(known.number > after for known in revisions_of(drawer, pattern)):
            raise Outrun(str(revision))
        aside.rename(revision.folder)
        sync_folder(revision.folder.parent)
        sync_folder(drawer)
    except OSError as error:
        if error.errno in (errno.EEXIST, errno.ENOTEMPTY) and revision.folder.exists():
            raise Outrun(str(revision)) from error
        place = error.filename or drawer
        raise NotWritten(f"{place}: cannot be written ({error.strerror})") from error
    finally:  # nothing is left there once it is in its place
        shutil.rmtree(aside, ignore_errors=True)
    return revision


def content(revision: Revision, name: str) -> bytes:
    """A kept file's content, as it was when it was kept.

    Raises
    ------
    DamagedKept
        If it is missing or has changed since.
    """
    return sound(revision, name, kept_sums(revision))


def sound(revision: Revision, name: str, kept: Mapping[str, str]) -> bytes:
    """A kept file's content, if it fits the checksums ``kept``; raises DamagedKept."""
    if name not in kept:
        raise DamagedKept(f"{revision}: {name} was not kept")
    path = revision.folder / name
    if path.resolve() != revision.folder.resolve() / name:
        raise DamagedKept(f"{revision}: {name} is a link, and nothing was kept as one")
    try:
        found = read_regular(path)
    except OSError as error:
        raise DamagedKept(f"{revision}: {name} cannot be read ({error.strerror})") from error
    if sha256(found) != kept[name]:
        raise DamagedKept(f"{revision}: {name} has changed since it was kept")
    return found


def kept_sums(revision: Revision) -> dict[str, str]:
    """The checksums of a revision's files by name; raises DamagedKept if they are not there."""
    try:
        return sums_in(read_regular(revision.folder / SUMS).decode("utf-8"))
    except OSError as error:
        raise DamagedKept(f"{revision}: {SUMS} cannot be read ({error.strerror})") from error
    except ValueError as error:
        raise DamagedKept(f"{revision}: {SUMS} has changed since it was kept") from error


def faults_of(revision: Revision) -> list[str]:
    """What is wrong with a revision's files, a line each; none if all are as they were kept."""
    try:
        kept = kept_sums(revision)
    except DamagedKept as damage:
        return [str(damage)]
    faults = []
    for name in kept:
        try:
            sound(revision, name, kept)
        except DamagedKept as damage:
            faults.append(str(damage))
    there = {
        path.relative_to(revision.folder).as_posix()
        for path in revision.folder.rglob("*")
        if path.is_file()
    }
    strangers = sorted(there - kept.keys() - {SUMS})
    return faults + [f"{revision}: {name} was not kept with it" for name in strangers]


def gaps_in(revisions: list[Revision]) -> list[str]:
    """A line for each revision that must have been there, since a later one is."""
    known = {revision.number for revision in revisions}
    return [
        f"{revisions[0].pattern}, revision {number}: is missing"
        for number in range(1, max(known, default=0))
        if number not in known
    ]


def unfinished_in(drawer: Path) -> Iterator[Path]:
    """Folders of revisions that were never finished."""
    return drawer.glob(f"{ASIDE}*")


def write_anew(drawer: Path, name: str, content: bytes) -> None:
    """Write a file of the drawer's own, whole or not at all; OSError if it cannot be."""
    aside = drawer / f"{ASIDE}{uuid4().hex}.file"
    try:
        aside.write_bytes(content)
        aside.replace(drawer / name)
    finally:
        aside.unlink(missing_ok=True)
