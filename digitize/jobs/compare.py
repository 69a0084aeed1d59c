"""Lay one pattern on another, and say whether they are the same."""

from dataclasses import dataclass
from pathlib import Path

from digitize.compare import (
    SURE,
    Comparison,
    Verdict,
    about_growth,
    compared,
    doubt,
    verdict_on,
)
from digitize.defaults import DRAWER, SAME_MM
from digitize.draw import compared_svg
from digitize.jobs.disk import write_all
from digitize.jobs.keep import record_named

__all__ = [
    "SURE",
    "Compared",
    "Comparison",
    "Verdict",
    "about_growth",
    "compare_patterns",
    "doubt",
]


@dataclass(frozen=True)
class Compared:
    """Two patterns laid on each other, the verdict, and the files that were written."""

    comparison: Comparison
    verdict: Verdict
    written: tuple[Path, ...]


def compare_patterns(
    pattern: str | Path,
    other: str | Path,
    *,
    mirror: bool = False,
    tolerance_mm: float = SAME_MM,
    out: Path | None = None,
    drawer: Path = DRAWER,
) -> Compared:
    """Compare two patterns: line by line, tuck by tuck, and one verdict.

    Parameters
    ----------
    pattern, other : each a record's file or folder, or a name in the drawer.
    mirror : the other is of the opposite side; it is flipped over.
    tolerance_mm : what may differ and still be the same.
    out : where to write the picture, if one is wanted.

    Raises
    ------
    NotRead, RecordError, NotKept, DamagedKept, CompareError, NotWritten
    """
    one, two = record_named(drawer, pattern), record_named(drawer, other)
    comparison = compared(one, two, mirror)
    # What a reading may be off by is no doubt about a record and itself.
    itself = Verdict("same", ("it is the same record",))
    verdict = itself if one == two and not mirror else verdict_on(comparison, tolerance_mm)
    files = {}
    if out is not None:
        files[out] = compared_svg(comparison, verdict, tolerance_mm).encode()
        write_all(files)
    return Compared(comparison, verdict, tuple(files))
