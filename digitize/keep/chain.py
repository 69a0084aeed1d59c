"""What ties a pattern's revisions together, so that one taken away or put in another's place shows.

Each revision holds in ``BEFORE`` the checksum of the list of checksums of the one before, and
``LATEST`` beside them has that of the last. Both are lists as ``sha256sum --check`` reads them. A
revision is put into its place first and ``LATEST`` is written last: where a program was killed
between, revisions go on beyond it, which harms nothing.
"""

import re
from dataclasses import dataclass
from pathlib import Path

from digitize.errors import DamagedKept
from digitize.keep.regular import read_regular
from digitize.keep.sums import SUMS, sha256

BEFORE, LATEST = "BEFORE", "LATEST"
NOTHING = "nothing before\n"
_LINK = re.compile(rf"([0-9a-f]{{64}})  (?:\.\./)?revision-([1-9]\d{{0,8}})/{SUMS}\n")


@dataclass(frozen=True)
class Link:
    """A revision by its number, 0 where there was none; and its list of checksums by its own."""

    number: int
    sums: str = ""


NONE = Link(0)


def link_text(link: Link, up: str = "") -> str:
    """The text of ``LATEST``, or of ``BEFORE``, from whose folder it is one ``up``."""
    return f"{link.sums}  {up}revision-{link.number}/{SUMS}\n" if link.number else NOTHING


def link_in(content: bytes) -> Link:
    """The link that a file holds; ValueError if it holds none."""
    if content == NOTHING.encode():
        return NONE
    found = _LINK.fullmatch(content.decode("ascii"))
    if found is None:
        raise ValueError("no link")
    return Link(int(found[2]), found[1])


def latest_in(folder: Path) -> Link | None:
    """What ``LATEST`` in a pattern's folder says; None in drawers of before there was one.

    Raises
    ------
    DamagedKept
        If it cannot be read.
    """
    try:
        return link_in(read_regular(folder / LATEST))
    except FileNotFoundError:
        return None
    except (OSError, ValueError) as error:
        why = error.strerror if isinstance(error, OSError) else "it has changed"
        raise DamagedKept(f"{folder.name}: {LATEST} cannot be read ({why})") from error


def link_to(folder: Path) -> Link:
    """The link to the revision in a folder as it is now; OSError if it cannot be read."""
    return Link(int(folder.name.rpartition("-")[2]), sha256(read_regular(folder / SUMS)))
