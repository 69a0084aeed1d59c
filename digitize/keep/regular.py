"""Reading files that anyone may have put there."""

import errno
import os
import stat
from pathlib import Path

MOST_MB = 500  # of a file that is read


def read_regular(path: Path) -> bytes:
    """The content of a regular file of no more than MOST_MB; OSError if it is none.

    A pipe or a device, which may never end, is not waited for.
    """
    try:
        handle = os.open(path, os.O_RDONLY | os.O_NONBLOCK | getattr(os, "O_BINARY", 0))
    except ValueError as error:  # a zero byte in its name
        raise OSError(errno.EINVAL, "no file has that name", str(path)) from error
    with os.fdopen(handle, "rb") as file:
        about = os.fstat(handle)
        if not stat.S_ISREG(about.st_mode):
            raise OSError(errno.EINVAL, "it is not a file that can be read as a whole", str(path))
        if about.st_size > MOST_MB * 1e6:
            why = f"it has {about.st_size / 1e6:.0f} MB, and more than {MOST_MB} are not read"
            raise OSError(errno.EFBIG, why, str(path))
        return file.read()
