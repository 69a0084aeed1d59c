"""The shrink table: how much to take out, where, and where it fades to nothing."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from digitize.plane import running_length
from digitize.record import Pattern, Zone, ZoneKind
from digitize.shop.metal import thickness_after
from digitize.take_up import Fan, ZoneFan
from digitize.units import INCH_MM

STEPS_MM = {
    "mm": (10.0, 15.0, 20.0, 25.0, 30.0, 40.0, 50.0, 75.0, 100.0),
    "inch": tuple(INCH_MM * inches for inches in (0.5, 0.75, 1.0, 1.5, 2.0, 3.0, 4.0)),
}
MOST_COLUMNS = 5


@dataclass(frozen=True)
class ShrinkRow:
    """One tuck's share of a zone.

    Attributes
    ----------
    width : of the metal that takes it, along the trim edge, mm.
    taken : mm to take out at each distance in from the trim edge; negative to let in.
    fades : how far in from the edge it is nothing, mm.
    shrink : share of the length at the edge.
    thickness : of the sheet there afterwards, mm; None if no sheet is told.
    """

    tuck: str
    width: float
    taken: tuple[float, ...]
    fades: float
    shrink: float
    thickness: float | None


@dataclass(frozen=True)
class ShrinkTable:
    """A zone's rows, its tucks in order along the edge; distances in from the trim edge, mm."""

    zone: str
    kind: ZoneKind
    distances: tuple[float, ...]
    rows: tuple[ShrinkRow, ...]


def shrink_tables(pattern: Pattern, fans: Sequence[ZoneFan]) -> tuple[ShrinkTable, ...]:
    """A table for each zone, in order along the paper's edge; ``fans`` are the pattern's."""
    return tuple(_table(pattern, zone, fan) for zone, fan in fans)


def _table(pattern: Pattern, zone: Zone, fan: Fan) -> ShrinkTable:
    tucks = [pattern.tuck(name) for name in zone.tucks]
    widths = np.diff(running_length(fan.row(fan.trims))[fan.edges])
    deepest = max(tuck.depth_at_trim for tuck in tucks)
    steps = STEPS_MM[pattern.unit]
    step = next((s for s in steps if deepest / s < MOST_COLUMNS), steps[-1])
    distances = tuple(float(d) for d in np.arange(0.0, deepest, step))
    rows = []
    for tuck, lap, width in zip(tucks, fan.laps, widths, strict=True):
        depths = np.maximum(tuck.depth_at_trim - np.array(distances), 0.0)
        laps = lap.at(depths)[0]
        shrink = tuck.lap_at_trim / float(width)
        sheet = pattern.sheet
        rows.append(
            ShrinkRow(
                tuck=tuck.id,
                width=float(width),
                taken=tuple(float(lap) for lap in laps),
                fades=tuck.depth_at_trim,
                shrink=shrink,
                thickness=thickness_after(sheet.thickness, shrink) if sheet else None,
            )
        )
    return ShrinkTable(zone.id, zone.kind, distances, tuple(rows))
