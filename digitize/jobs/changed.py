"""What comes of telling something about a record."""

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from digitize.record import Pattern, Point, Told


@dataclass(frozen=True)
class Heard:
    """A fact that was told; whether it counts still, and why it does not fit the reading, if so."""

    fact: "Told"
    at: "Point | None"
    counts: bool
    lost: str | None = None


@dataclass(frozen=True)
class Changed:
    """A record after something was told about it; the files written, and those taken away.

    ``told`` is all that was ever told about it.
    """

    pattern: "Pattern"
    written: tuple[Path, ...]
    gone: tuple[Path, ...] = ()
    told: tuple[Heard, ...] = ()
