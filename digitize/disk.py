"""Reading files, and writing several of them at once: all or none."""

import os
from pathlib import Path

from digitize.keep.sums import SUMS


class NotRead(Exception):
    """A file that cannot be read; the message says why."""


class NotWritten(Exception):
    """A file that cannot be written; the message says why."""


def content_of(path: Path) -> bytes:
    """A file's content; raises NotRead."""
    try:
        return path.read_bytes()
    except OSError as error:
        raise NotRead(f"{path}: cannot be read ({error.strerror})") from error


def write_all(files: dict[Path, bytes]) -> None:
    """Write all files or none: each under another name first, then renamed.

    Raises
    ------
    NotWritten
        If one cannot be; then none has been.
    """
    parts: dict[Path, Path] = {}
    for folder in {path.parent for path in files}:
        if (folder / SUMS).exists():
            raise NotWritten(
                f"{folder}: is a kept revision, and those are not changed; "
                "take it out with digitize take, change that, and keep it again"
            )
    try:
        for path, content in files.items():
            path.parent.mkdir(parents=True, exist_ok=True)
            part = path.with_name(f".{path.name}.{os.getpid()}.part")
            parts[path] = part
            part.write_bytes(content)
        for path, part in parts.items():
            part.replace(path)
    except OSError as error:
        for part in parts.values():
            part.unlink(missing_ok=True)
        raise NotWritten(f"{error.filename}: cannot be written ({error.strerror})") from error
