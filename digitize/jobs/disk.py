"""Reading files, and writing several of them at once: all or none, and safely on the disk."""

import getpass
import json
import os
import tempfile
from collections.abc import Collection, Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path

from filelock import FileLock

from digitize.errors import NotRead, NotWritten, RecordError
from digitize.keep import SUMS, read_regular, sha256, sync_folder, write_synced

RECORD, MIRRORED, READING = "pattern.json", "pattern.mirrored.json", "reading.json"
SCHEMA = 1


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
    parts: dict[Path, Path] = {}
    for folder in {path.parent for path in files}:
        if (folder / SUMS).exists():
            raise NotWritten(
                f"{folder}: is a kept revision, and those are not changed; "
                "take it out with digitize take, change that, and keep it again"
            )
    for path in files:
        if path.name in (RECORD, MIRRORED, READING):
            _refuse_later_record(path)
    try:
        for path, content in files.items():
            path.parent.mkdir(parents=True, exist_ok=True)
            part = path.with_name(f".{path.name}.{os.getpid()}.part")
            parts[path] = part
            write_synced(part, content)
        for path, part in parts.items():
            part.replace(path)
        for path in gone:
            path.unlink(missing_ok=True)
        for folder in {path.parent for path in files}:
            sync_folder(folder)
    except OSError as error:
        for part in parts.values():
            part.unlink(missing_ok=True)
        why = error.strerror or str(error)
        raise NotWritten(f"{error.filename or 'files'}: cannot be written ({why})") from error


def _refuse_later_record(path: Path) -> None:
    try:
        record = json.loads(path.read_bytes())
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
