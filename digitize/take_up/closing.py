"""The tucks closed on the record: where lines come to lie once every lap is taken up."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import LinearNDInterpolator, RegularGridInterpolator

from digitize.plane import places_along, running_length
from digitize.record import Pattern, Tuck
from digitize.take_up.fan import Fan
from digitize.take_up.zones import ZoneFan

Floats = NDArray[np.float64]
ROWS, BEYOND_MM = 40, 12.0
DISAGREES = 3.0  # sigmas


@dataclass(frozen=True)
class ClosedZone:
    """A zone with its tucks closed.

    Attributes
    ----------
    lines : id and (N, 2) points of each stretch of a line in it, mm.
    seams : (N, 2) where each tuck closed.
    breaks : tuck id, (2,) place, and closure error (mm) of each broken line.
    """

    zone: str
    lines: tuple[tuple[str, Floats], ...]
    seams: tuple[Floats, ...]
    breaks: tuple[tuple[str, Floats, float], ...]


def closed_zones(pattern: Pattern, fans: Sequence[ZoneFan]) -> tuple[ClosedZone, ...]:
    """Each zone with every flap slid along its curves of equal depth until its tuck is closed.

    The paper cannot lie flat so; along each curve it is what the metal will measure.

    Parameters
    ----------
    fans : the pattern's zones with their fans.
    """
    return tuple(
        _closed(pattern, zone.id, [pattern.tuck(name) for name in zone.tucks], fan)
        for zone, fan in fans
    )


def _closed(pattern: Pattern, name: str, tucks: Sequence[Tuck], fan: Fan) -> ClosedZone:
    depths = np.linspace(0.0, float(fan.trims.max()) + BEYOND_MM, ROWS)
    rows = fan.rows(np.tile(depths[:, None], len(tucks)))
    columns = np.arange(rows.shape[1], dtype=float)
    where = LinearNDInterpolator(
        rows.reshape(-1, 2),
        np.column_stack([np.repeat(depths, len(columns)), np.tile(columns, len(rows))]),
    )
    alongs, laps = running_length(rows), fan.take_up(np.tile(depths[:, None], len(tucks)))
    onto = [
        _on_grid(depths, columns, _slid(rows, alongs, laps, flap)) for flap in range(len(tucks) + 1)
    ]
    marks = {tuck.slit for tuck in pattern.tucks} | {tuck.lap_line for tuck in pattern.tucks}
    pieces = [
        (line.id, onto[flap](part))
        for line in pattern.lines
        if line.id not in marks and line.role != "crease" and not line.withdrawn
        for flap, part in _flap_by_flap(np.asarray(where(np.array(line.path))), fan)
    ]
    seams, breaks = [], []
    for index, (tuck, seam) in enumerate(zip(tucks, fan.seams, strict=True)):
        # Closed, a tuck lies where the edge of its lower flap was covered.
        flap = index + (_lower_side(pattern, tuck, where, float(seam)) < 0)
        tip, trim = float(fan.tips[index]), float(fan.trims[index])
        seams.append(onto[flap](np.column_stack([np.linspace(tip, trim, 20), np.full(20, seam)])))
        for found in tuck.breaks:
            place = onto[flap](np.array([[tip + found.depth, float(seam)]]))[0]
            breaks.append((tuck.id, place, float(np.hypot(found.across, found.along))))
    return ClosedZone(name, tuple(pieces), tuple(seams), tuple(breaks))


def _on_grid(depths: Floats, columns: Floats, places: Floats) -> RegularGridInterpolator:
    """What gives a place (2,) for depths and columns (N, 2), by those on a grid (K, M, 2).

    What was found between the same nodes may lie a rounding error beyond them.
    """
    return RegularGridInterpolator((depths, columns), places, bounds_error=False, fill_value=None)


def _slid(rows: Floats, alongs: Floats, laps: Floats, flap: int) -> Floats:
    """(K, M, 2) where a flap's places come to lie: as far along as the metal measures.

    Parameters
    ----------
    rows, alongs : (K, M, 2) places across the tucks, and (K, M) how far along each is, mm.
    laps : (K, T) each tuck's lap there, mm.
    """
    places = np.empty_like(rows)
    for k, (row, along, taken) in enumerate(zip(rows, alongs, laps, strict=True)):
        at = along - taken[:flap].sum() + taken.sum() / 2
        places[k] = places_along(row, at, along)
    return places


def _flap_by_flap(known: Floats, fan: Fan) -> list[tuple[int, Floats]]:
    """Stretches of a line on one flap each: which, and (N, 2) depths and columns."""
    middle = (known[:-1] + known[1:]) / 2
    inside = np.isfinite(middle[:, 0])
    flap = np.where(inside, np.searchsorted(fan.seams, middle[:, 1]), -1)
    edges = np.flatnonzero(np.diff(flap)) + 1
    return [
        (int(flap[start]), known[start : stop + 1])
        for start, stop in zip([0, *edges], [*edges, len(flap)], strict=True)
        if stop > start and flap[start] >= 0
    ]


def _lower_side(pattern: Pattern, tuck: Tuck, where: LinearNDInterpolator, seam: float) -> float:
    """On which side of a tuck (columns) its lower flap lies: where lines go on further off."""
    names = [tuck.lap_line] if tuck.lap_line else [n for b in tuck.breaks for n in b.lines]
    reaches = [0.0]
    for name in names:
        columns = np.asarray(where(np.array(pattern.line(name).path)))[:, 1]
        near = columns[np.isfinite(columns)]
        if tuck.lap_line and len(near):
            reaches.append(float(np.median(near)) - seam)
        elif len(near):
            reaches.append(float(near[np.argmin(np.abs(near - seam))]) - seam)
    return max(reaches, key=abs)


@dataclass(frozen=True)
class Disagreement:
    """A tuck whose two witnesses disagree: a line that breaks there, and its lap line or creases.

    Attributes
    ----------
    depth : from the tip, mm.
    broken, marked : the lap by the broken line, and by the marks, mm.
    """

    tuck: Tuck
    depth: float
    broken: float
    marked: float


def disagreements_of(pattern: Pattern) -> tuple[Disagreement, ...]:
    """Broken lines that the marks at their tucks contradict, by more than DISAGREES sigmas."""
    return tuple(found for tuck in pattern.tucks for found in _disagreements(tuck))


def _disagreements(tuck: Tuck) -> list[Disagreement]:
    marks = [s for s in tuck.stations if s.evidence in ("lap-line", "crease")]
    if len(marks) < 2 or tuck.kind == "spread":
        return []
    depths, laps = [s.depth for s in marks], [s.lap for s in marks]
    found = []
    for station in tuck.stations:
        if station.evidence == "line-break" and depths[0] <= station.depth <= depths[-1]:
            marked = float(np.interp(station.depth, depths, laps))
            sigma = float(np.hypot(station.sigma, max(s.sigma for s in marks)))
            if abs(station.lap - marked) > DISAGREES * sigma:
                found.append(Disagreement(tuck, station.depth, station.lap, marked))
    return found
