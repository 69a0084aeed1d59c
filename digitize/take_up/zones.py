"""Where the metal has to be shrunk or stretched, and by how much.

A zone is as deep as its tucks, from their tips to the trim edge, and reaches half a spacing beyond
the outermost ones.
"""

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.spatial.distance import pdist

from digitize.plane import running_length, signed_angle
from digitize.record import Curvature, Pattern, Point, Tuck, Zone, ZoneKind, ZoneStation
from digitize.take_up.curvature import implied_by_radii
from digitize.take_up.fan import Fan, fan_of

Floats = NDArray[np.float64]
ZoneFan = tuple[Zone, Fan]
WIDEST_SPACING = 2.5  # of the tucks' length
ROUND_SHARE = 0.2  # by which a round trim edge's distance from the middle may vary
STATION_STEP_MM = 15.0
LAST_STEP_MM = 5.0
FIELD_ROWS = 24


def with_zones(pattern: Pattern) -> Pattern:
    """The pattern with its zones as its tucks have them; the tucks' laps are worked out before."""
    zones: list[Zone] = []
    for tucks, closed in clusters(pattern):
        fan = fan_of(pattern, tucks, closed)
        zones.append(_zone(pattern, tucks, fan, f"Z{len(zones) + 1}"))
    return pattern.model_copy(update={"zones": tuple(zones)})


def zones_and_fans(pattern: Pattern) -> tuple[ZoneFan, ...]:
    """Each zone of a pattern, with the fan of its tucks."""
    found = zip(pattern.zones, clusters(pattern), strict=True)
    return tuple((zone, fan_of(pattern, tucks, closed)) for zone, (tucks, closed) in found)


@dataclass(frozen=True)
class ShrinkField:
    """The local shrink over a zone.

    Attributes
    ----------
    places : (R, M, 2) rows of equal depth from the tips to the trim edge, mm.
    shrink : (R, M) share of the length there; negative where metal is stretched.
    """

    zone: Zone
    places: Floats
    shrink: Floats


def shrink_fields(fans: Sequence[ZoneFan]) -> tuple[ShrinkField, ...]:
    """The shrink over each zone."""
    return tuple(
        ShrinkField(zone, fan.rows(depths), fan.shrinks(depths))
        for zone, fan in fans
        for depths in (field_depths(fan),)
    )


def clusters(pattern: Pattern) -> list[tuple[tuple[Tuck, ...], bool]]:
    """Neighbouring tucks of one kind, in order along the edge; and whether they go all round.

    A tuck that is unsure counts in none, unless a spread was told there.
    """
    found: list[list[Tuck]] = []
    tucks = [
        tuck
        for tuck in pattern.tucks
        if tuck.stations and tuck.depth_at_trim > 0 and (tuck.kind == "spread" or not tuck.unsure)
    ]
    for tuck in tucks:
        if found and _neighbours(pattern, found[-1][-1], tuck):
            found[-1].append(tuck)
        else:
            found.append([tuck])
    if len(found) == 1 and _goes_round(pattern, tucks):
        return [(tuple(tucks), True)]
    if len(found) > 1 and _neighbours(pattern, tucks[-1], tucks[0]):
        found = [found[-1] + found[0], *found[1:-1]]
    return [(tuple(cluster), False) for cluster in found]


def _neighbours(pattern: Pattern, one: Tuck, two: Tuck) -> bool:
    apart = pdist([_middle(pattern, one), _middle(pattern, two)])[0]
    reach = (one.depth_at_trim + two.depth_at_trim) / 2
    return kind_of(one) == kind_of(two) and bool(apart < WIDEST_SPACING * reach)


def _goes_round(pattern: Pattern, tucks: Sequence[Tuck]) -> bool:
    """Whether the tucks stand all round a middle: a lone one, if the trim edge does so."""
    if len(tucks) == 1:
        trim = [p for line in pattern.lines if line.role == "trim-edge" for p in line.points]
        away = np.linalg.norm(np.reshape(trim, (-1, 2)) - tucks[0].tip, axis=1)
        return len(away) > 0 and bool(np.ptp(away) < ROUND_SHARE * away.mean())
    ways = [np.subtract(pattern.line(t.slit).points[-1], t.tip) for t in (*tucks, tucks[0])]
    turns = [signed_angle(a, b) for a, b in itertools.pairwise(ways)]
    return abs(sum(turns)) > math.radians(350) and _neighbours(pattern, tucks[-1], tucks[0])


def _middle(pattern: Pattern, tuck: Tuck) -> Point:
    points = pattern.line(tuck.slit).points
    return points[len(points) // 2]


def kind_of(tuck: Tuck) -> ZoneKind:
    """What the metal needs at a tuck."""
    return "stretch" if tuck.kind == "spread" else "shrink"


def _zone(pattern: Pattern, tucks: Sequence[Tuck], fan: Fan, identifier: str) -> Zone:
    inner, outer = fan.row(fan.tips), fan.row(fan.trims)
    boundary = np.concatenate([inner, outer[::-1]])
    # Whole curves of one depth as far as they stay inside the trim edge; then the edge itself.
    whole = np.arange(STATION_STEP_MM, float(fan.trims.min()) - LAST_STEP_MM, STATION_STEP_MM)
    stations = _stations(fan, np.vstack([np.tile(whole[:, None], len(tucks)), fan.trims]))
    field = np.abs(fan.shrinks(field_depths(fan)))
    implied = implied_by_radii(pattern, inner)
    return Zone(
        id=identifier,
        kind=kind_of(tucks[0]),
        boundary=tuple((round(float(x), 3), round(float(y), 3)) for x, y in boundary),
        tucks=tuple(tuck.id for tuck in tucks),
        stations=stations,
        peak_shrink=max((station.shrink for station in stations), key=abs),
        peak_local=round(math.copysign(float(field.max()), stations[-1].take_up), 5),
        curvature=Curvature(
            laps_deg=round(sum(tuck.turn_deg for tuck in tucks), 2),
            laps_sigma_deg=round(math.hypot(*(tuck.turn_sigma_deg for tuck in tucks)), 2),
            radii_deg=round(implied[0], 2) if implied else None,
            radii_sigma_deg=round(implied[1], 2) if implied else None,
        ),
    )


def field_depths(fan: Fan) -> Floats:
    """(FIELD_ROWS, T) depths at each tuck of rows from the tips to the trim edge."""
    share = np.linspace(0.0, 1.0, FIELD_ROWS)[:, None]
    return np.asarray(fan.tips + share * (fan.trims - fan.tips))


def _stations(fan: Fan, depths: Floats) -> tuple[ZoneStation, ...]:
    """Stations along rows at a depth for each tuck (R, T)."""
    flat, take_up = running_length(fan.rows(depths))[:, -1], fan.take_up(depths).sum(axis=1)
    rows = zip(depths.mean(axis=1).tolist(), flat.tolist(), take_up.tolist(), strict=True)
    return tuple(
        ZoneStation(
            depth=round(depth, 3),
            flat_length=round(length, 3),
            take_up=round(taken, 3),
            shrink=round(taken / length, 5) if length else 0.0,
        )
        for depth, length, taken in rows
    )
