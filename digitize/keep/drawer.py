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

from digitize.errors import DamagedKept, NotKept, NotWritten
from digitize.keep.chain import BEFORE, LATEST, NONE, Link, latest_in, link_in, link_text, link_to
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
  BEFORE               the checksum of the SHA256SUMS of the revision before it

LATEST beside the revisions has the checksum of the last one's SHA256SUMS. "index" beside the
patterns is a list to find them by; it is made anew when it is gone.

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


def folders_in(drawer: Path) -> list[os.DirEntry[str]]:
    """The folders of all patterns, by name; none if there is no drawer yet.

    Links are passed over: they lead out of the drawer. Raises NotKept if it cannot be read.
    """
    try:
        with os.scandir(drawer) as entries:
            own = [each for each in entries if each.is_dir(follow_symlinks=False)]
    except (FileNotFoundError, NotADirectoryError):
        return []
    except OSError as error:
        raise NotKept(f"{drawer}: cannot be read ({error.strerror})") from error
    return sorted((e for e in own if not e.name.startswith(".")), key=lambda entry: entry.name)


def patterns_in(drawer: Path) -> list[str]:
    """The names of all patterns; none if there is no drawer yet; raises NotKept."""
    return [entry.name for entry in folders_in(drawer)]


def revisions_of(drawer: Path, pattern: str) -> list[Revision]:
    """A pattern's revisions, by number; none if it is not there.

    Raises
    ------
    DamagedKept
        If its folder cannot be read.
    """
    folder = drawer / pattern
    if not is_within(pattern) or folder.is_symlink():
        return []
    try:
        with os.scandir(folder) as entries:
            names = [entry.name for entry in entries if entry.is_dir(follow_symlinks=False)]
    except (FileNotFoundError, NotADirectoryError):
        return []
    except OSError as error:
        if error.errno == errno.ENAMETOOLONG:
            return []
        raise DamagedKept(f"{pattern}: cannot be read ({error.strerror})") from error
    numbers = sorted(int(found[1]) for name in names if (found := _REVISION.fullmatch(name)))
    return [Revision(pattern, number, folder / f"revision-{number}") for number in numbers]


_UNKNOWN = "0" * 64  # the checksum of what could not be read
LONGEST_NAME = 120  # of the 255 bytes that most disks allow; endings follow
_REVISION = re.compile(r"revision-([1-9]\d{0,8})")


def put(drawer: Path, pattern: str, after: int, files: Mapping[str, bytes]) -> Revision:
    """Keep files as a pattern's next revision, all or none; it is tied to the one before.

    A number that was there once is not given again, though its revision has gone.

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
    folder = drawer / pattern
    before = _before(folder, after)
    number = before.number + 1
    revision = Revision(pattern, number, folder / f"revision-{number}")
    files = {**files, BEFORE: link_text(before, "../").encode()}
    try:
        drawer.mkdir(parents=True, exist_ok=True)
        sweep(unfinished_in(drawer))
        if not (drawer / ABOUT).exists():
            write_anew(drawer, ABOUT, ABOUT_TEXT.encode())
        for name, content in (*files.items(), (SUMS, sums_text(files).encode())):
            path = aside / name
            path.parent.mkdir(parents=True, exist_ok=True)
            write_synced(path, content)
        for each, _, _ in os.walk(aside):
            sync_folder(Path(each))
        folder.mkdir(exist_ok=True)
        # A later revision may be there while this number's is not: a drawer copied by halves.
        if any(known.number > after for known in revisions_of(drawer, pattern)):
            raise Outrun(str(revision))
        if not (folder / LATEST).exists():
            write_anew(drawer, f"{pattern}/{LATEST}", link_text(before).encode())
        aside.rename(revision.folder)
        sync_folder(folder)
        sync_folder(drawer)
        _say_latest(drawer, pattern)
    except OSError as error:
        if error.errno in (errno.EEXIST, errno.ENOTEMPTY) and revision.folder.exists():
            raise Outrun(str(revision)) from error
        place = error.filename or drawer
        why = error.strerror or str(error)
        raise NotWritten(f"{place}: cannot be written ({why})") from error
    finally:  # nothing is left there once it is in its place
        shutil.rmtree(aside, ignore_errors=True)
    return revision


def _before(folder: Path, after: int) -> Link:
    """What the next revision in a pattern's folder is tied to: the last that there ever was."""
    try:
        said = latest_in(folder) or NONE
    except DamagedKept:
        said = NONE
    if said.number >= after:
        return said
    try:
        return link_to(folder / f"revision-{after}") if after else NONE
    except OSError:
        return Link(after, _UNKNOWN)


def _say_latest(drawer: Path, pattern: str) -> None:
    """Write down which revision is the last, and see that none came after it meanwhile."""
    while True:
        last = revisions_of(drawer, pattern)[-1]
        try:
            link = link_to(last.folder)
        except OSError:
            return  # it is another program's, and damaged: what was said before stands
        write_anew(drawer, f"{pattern}/{LATEST}", link_text(link).encode())
        if revisions_of(drawer, pattern)[-1] == last:
            return


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


def gaps_in(drawer: Path, pattern: str) -> list[str]:
    """A line for each revision of a pattern that has gone, or is another than was kept.

    Raises
    ------
    DamagedKept
        If its folder, or what was kept last in it, cannot be read.
    """
    revisions = {revision.number: revision for revision in revisions_of(drawer, pattern)}
    last = max((*revisions, (latest_in(drawer / pattern) or NONE).number), default=0)
    links = links_to(drawer, pattern)
    gone = [
        f"{pattern}, revision {number}: is missing"
        for number in range(1, last + 1)
        if number not in revisions
    ]
    return gone + [fault for each in revisions.values() if (fault := broken_link(each, links))]


def links_to(drawer: Path, pattern: str) -> dict[int, str]:
    """What is said of a pattern's revisions by those after them, and of the last by ``LATEST``.

    By number, the checksum of each one's list of checksums.

    Raises
    ------
    DamagedKept
        If what was kept last cannot be read, or is missing where it was written.
    """
    links, tied = [], False
    for revision in revisions_of(drawer, pattern):
        try:
            links.append(link_in(content(revision, BEFORE)))
            tied = True
        except (DamagedKept, ValueError):
            continue  # a revision of before, or a damaged one, which is said of it
    latest = latest_in(drawer / pattern)
    if latest is not None:
        links.append(latest)
    elif tied:
        raise DamagedKept(f"{pattern}: {LATEST} is missing, which says what was kept last")
    return {link.number: link.sums for link in links if link.sums not in ("", _UNKNOWN)}


def vouched(drawer: Path, pattern: str, number: int | None = None) -> Revision:
    """A pattern's revision of that number, or its latest, if it is the one that was kept.

    Raises
    ------
    NotKept
        If there never was one.
    DamagedKept
        If it has gone, or is another than was kept.
    """
    revisions = {revision.number: revision for revision in revisions_of(drawer, pattern)}
    last = (latest_in(drawer / pattern) or NONE).number
    wanted = number or max((*revisions, last), default=1)
    if wanted not in revisions:
        there = ", ".join(map(str, revisions)) or "none"
        if wanted > last:
            raise NotKept(f"{pattern}: has no revision {wanted}, but {there}")
        raise DamagedKept(
            f"{pattern}, revision {wanted}: is missing, though it was kept; there are {there}: put "
            "it back from a copy of the drawer, or say with --revision which to take"
        )
    fault = broken_link(revisions[wanted], links_to(drawer, pattern))
    if fault:
        raise DamagedKept(fault)
    return revisions[wanted]


def broken_link(revision: Revision, links: Mapping[int, str]) -> str | None:
    """What is wrong if a revision is not the one that was kept; None if nothing says so."""
    try:
        kept_sums(revision)
        if links.get(revision.number) in (None, link_to(revision.folder).sums):
            return None
    except (DamagedKept, OSError):
        return None  # whose checksums cannot be read, which is said of them
    return f"{revision}: {SUMS} is not the one that was kept"


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
