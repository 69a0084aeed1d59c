"""What comes of telling something about a record."""

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from digitize.record import Pattern


@dataclass(frozen=True)
class Changed:
    """A record after something was told about it; the files written, and those taken away."""

    pattern: "Pattern"
    written: tuple[Path, ...]
    gone: tuple[Path, ...] = ()
