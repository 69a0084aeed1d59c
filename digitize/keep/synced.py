"""Writing so that it outlasts a power cut."""

import os
from pathlib import Path


def write_synced(path: Path, content: bytes) -> None:
    """Write a file, and wait until the disk has it."""
    with path.open("wb") as file:
        file.write(content)
        file.flush()
        os.fsync(file.fileno())


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
