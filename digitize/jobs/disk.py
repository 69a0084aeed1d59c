"""Reading files, and writing several of them at once: all or none, and safely on the disk."""

import getpass
import json
import os
import re
import tempfile
from collections.abc import Collection, Iterator, Mapping
from contextlib import contextmanager, suppress
from pathlib import Path

from filelock import FileLock

from digitize.errors import NotRead, NotWritten, RecordError
from digitize.keep import SUMS, is_within, read_regular, sha256, sweep, sync_folder, write_synced

RECORD, MIRRORED, READING = "pattern.json", "pattern.mirrored.json", "reading.json"
SCHEMA = 1
BEGUN = ".begun.json"
OURS = re.compile(
    rb'{\s*"schema"\s*:\s*%d\s*,' % SCHEMA
)  # how a record that this program wrote begins
PART = re.compile(r"\.(.+)\.\d+(?:\.before)?\.part")  # a file by its other name


@contextmanager
def alone(folder: Path) -> Iterator[None]:
    """Nobody else on this computer changes what lies in a folder, as long as the block lasts.

    May be held again by who holds it. What holds it lets go when it ends, however it ends.
    """
    locks = Path(tempfile.gettempdir()) / f"digitize-{getpass.getuser()}"
    locks.mkdir(mode=0o700, exist_ok=True)
    name = sha256(str(folder.resolve()).encode())[:32]
    with FileLock(locks / f"{name}.lock", is_singleton=True):
        yield


def content_of(path: Path) -> bytes:
    """A regular file's content; raises NotRead."""
    try:
        return read_regular(path)
    except OSError as error:
        raise NotRead(f"{path}: cannot be read ({error.strerror})") from error


def write_all(files: Mapping[Path, bytes], gone: Collection[Path] = ()) -> None:
    """Write all files or none: each under another name first, then renamed.

    What is to be renamed is written down before, so that whoever next reads or writes there can
    finish what was broken off (``settle``): a folder has all of the old files or all of the new.

    Parameters
    ----------
    gone : files that are no longer true of what is written, and are taken away.

    Raises
    ------
    RecordError
        If one would take the place of a record of a later version of this program.
    NotWritten
        If one cannot be written; then none has been.
    """
    for folder in {path.parent for path in files}:
        if (folder / SUMS).exists():
            raise NotWritten(
                f"{folder}: is a kept revision, and those are not changed; "
                "take it out with digitize take, change that, and keep it again"
            )
    for path in files:
        if path.is_dir():
            raise NotWritten(f"{path}: is a folder, where a file is to be written")
        if path.name in (RECORD, MIRRORED, READING):
            _refuse_later_record(path)
    folders = sorted({path.parent for path in (*files, *gone)})
    parts = {path: path.with_name(f".{path.name}.{os.getpid()}.part") for path in files}
    try:
        for folder in folders:
            folder.mkdir(parents=True, exist_ok=True)
            settle(folder)
            sweep(folder.glob(".*.part"))
        for path, content in files.items():
            write_synced(parts[path], content)
        for folder in folders:
            _write_down(folder, parts, gone)
    except BaseException as error:  # Ctrl-C among them: nothing has been renamed yet
        _forget([*(folder / BEGUN for folder in folders), *parts.values()])
        if isinstance(error, OSError):
            raise _not_written(error) from error
        raise
    with _as_before([*files, *gone]):
        for folder in folders:
            settle(folder)


@contextmanager
def _as_before(paths: Collection[Path]) -> Iterator[None]:
    """If the block cannot rename or take away a file, all are as they were; raises NotWritten."""
    before: dict[Path, Path | None] = {}
    try:
        for path in paths:
            link = path.with_name(f".{path.name}.{os.getpid()}.before.part")
            try:
                link.hardlink_to(path)
                before[path] = link
            except FileNotFoundError:
                before[path] = None
            except OSError:  # this disk has no links: what is renamed stays so
                continue
        yield
    except OSError as error:
        for path, kept in before.items():
            with suppress(OSError):
                kept.replace(path) if kept else path.unlink(missing_ok=True)
        _forget([path.with_name(BEGUN) for path in paths])
        _forget([path.with_name(f".{path.name}.{os.getpid()}.part") for path in paths])
        raise _not_written(error) from error
    finally:
        _forget([link for link in before.values() if link])


def _forget(paths: Collection[Path]) -> None:
    """Take files away that nobody needs, as far as it can be done."""
    for path in paths:
        with suppress(OSError):
            path.unlink(missing_ok=True)


def _not_written(error: OSError) -> NotWritten:
    """What is said of a file that cannot be written: which, and why."""
    why = error.strerror or str(error) or type(error).__name__
    path = Path(error.filename or "files")
    meant = PART.fullmatch(path.name)
    return NotWritten(f"{path.with_name(meant[1]) if meant else path}: cannot be written ({why})")


def _write_down(folder: Path, parts: Mapping[Path, Path], gone: Collection[Path]) -> None:
    """Say in a folder what is to be renamed there, and what goes."""
    begun = {
        "written": {path.name: part.name for path, part in parts.items() if path.parent == folder},
        "gone": [path.name for path in gone if path.parent == folder],
    }
    aside = folder / f"{BEGUN}.{os.getpid()}.part"
    write_synced(aside, json.dumps(begun).encode())
    aside.replace(folder / BEGUN)
    sync_folder(folder)


def settle(folder: Path) -> None:
    """Finish what was begun in a folder and broken off, by a kill or a power cut.

    Done by several at once, it comes to the same.

    Raises
    ------
    OSError
        If it cannot be: the folder may not be written, say.
    """
    try:
        begun = json.loads(read_regular(folder / BEGUN))
        written, gone = dict(begun["written"]), list(begun["gone"])
        names = [*written, *written.values(), *gone]
    except FileNotFoundError:
        return
    except (ValueError, KeyError, TypeError, RecursionError):
        written, gone, names = {}, [], []  # nothing that this program wrote
    if all(isinstance(name, str) and "/" not in name and is_within(name) for name in names):
        for name, part in written.items():
            with suppress(FileNotFoundError):
                (folder / part).replace(folder / name)
        for name in gone:
            (folder / name).unlink(missing_ok=True)
        sync_folder(folder)
    (folder / BEGUN).unlink(missing_ok=True)


def _refuse_later_record(path: Path) -> None:
    try:
        content = path.read_bytes()
        record = {} if OURS.match(content) else json.loads(content)
    except (OSError, ValueError, RecursionError):
        return
    schema = record.get("schema") if isinstance(record, dict) else None
    if schema not in (None, SCHEMA):
        by = record.get("written_by") or "a later version"
        raise RecordError(
            f"{path}: is a record of schema {schema}, written by {by} of this program, and is not "
            f"overwritten by one that knows schema {SCHEMA}: use the later program, or another "
            "folder"
        )
