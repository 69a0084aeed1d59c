"""Writing so that it outlasts a power cut."""

import os
import shutil
import time
from collections.abc import Iterable
from contextlib import suppress
from pathlib import Path

FORGOTTEN_S = 24 * 3600.0


def write_synced(path: Path, content: bytes) -> None:
    """Write a file, and wait until the disk has it; an OSError names it."""
    try:
        with path.open("wb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
    except OSError as error:
        error.filename = error.filename or str(path)  # a full disk names none
        raise


def sync_folder(folder: Path) -> None:
    """Bring a folder's entries onto the disk, where the system lets folders be opened."""
    try:
        handle = os.open(folder, os.O_RDONLY)
    except PermissionError:
        return
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def sweep(begun: Iterable[Path]) -> None:
    """Remove files and folders that were begun more than a day ago and never finished."""
    for path in begun:
        with suppress(OSError):  # another program has swept it, or it can stay
            if time.time() - path.stat().st_mtime > FORGOTTEN_S:
                shutil.rmtree(path) if path.is_dir() else path.unlink()
