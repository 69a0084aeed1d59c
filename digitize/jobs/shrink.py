"""How much to take out of the metal, where, and how thick it gets."""

from dataclasses import dataclass
from pathlib import Path

from digitize.draw import CAUTION
from digitize.jobs.folder import load_pattern
from digitize.record import Pattern
from digitize.shop import ShrinkTable, sheet_words, shrink_tables
from digitize.take_up import zones_and_fans

__all__ = ["CAUTION", "Shrink", "ShrinkTable", "shrink_of"]


@dataclass(frozen=True)
class Shrink:
    """A record's tables, one for each zone; and its sheet metal in words, if it is told."""

    pattern: Pattern
    tables: tuple[ShrinkTable, ...]
    sheet: str | None


def shrink_of(pattern: Path) -> Shrink:
    """The shrink tables of a record's file or folder; raises NotRead, RecordError."""
    record = load_pattern(pattern)
    tables = shrink_tables(record, zones_and_fans(record))
    return Shrink(record, tables, sheet_words(record.sheet) if record.sheet else None)
