"""A zone whose tucks stand all round a middle and that no band crosses, as a surface of revolution.

Round a circle of the paper, r from the middle, the finished panel measures 2 pi G(r). As a surface
of revolution it falls there by an angle p with G' = cos p, so that it curves by p' outwards and by
sin p / G round (M. do Carmo, Differential Geometry of Curves and Surfaces, 1976, section 3-3,
example 4). A cap of a sphere is one, and a cone, whose curvature is all in its point. Where G' is
more than 1, as on a saddle, there is none: nothing is said of its bending.

On such a surface every part of a circle takes up as much for its length as any other. Where the
paper does not, a tuck was missed or the panel is not round, and the form is another.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import LinearNDInterpolator

from digitize.form.metric import Form, field_depths, form_along, ways_along
from digitize.plane import running_length
from digitize.take_up import Fan, ZoneFan

Floats = NDArray[np.float64]
LEAST_RADIUS_MM = 1.0
# Of evenly spaced tucks one that is missed takes a third off what its two neighbours take up for
# their length. How evenly paper is pinned round a panel is not known: no source.
UNEVEN_SHARE = 0.25
NEAR_TRIM = 0.9  # of the depth of the nearest trim edge, where laps are large


def round_bend(fan: Fan) -> Form:
    """The second form of the surface of revolution that has a closed fan's lengths."""
    depths = field_depths(fan)
    rows = fan.rows(depths)
    length = running_length(rows)[:, -1]
    metal = (length - fan.take_up(depths).sum(axis=1)) / (2 * np.pi)
    radius = length / (2 * np.pi)
    fall = np.arccos(np.clip(np.gradient(metal, radius), -1.0, 1.0))
    outward = np.gradient(fall, radius)
    # Per square of the paper's length, of which the metal has G / r.
    around = np.sin(fall) * metal / np.maximum(radius, LEAST_RADIUS_MM) ** 2
    along = ways_along(rows)
    out = np.stack([along[..., 1], -along[..., 0]], axis=-1)
    parts = form_along(out, outward[:, None]) + form_along(along, around[:, None])
    found = LinearNDInterpolator(rows.reshape(-1, 2), parts.reshape(-1, 3), fill_value=0.0)
    return lambda places: np.asarray(found(places))


@dataclass(frozen=True)
class UnevenRound:
    """Two neighbouring tucks (ids) of a zone all round, that take up less for their length than any
    others, by a share of what those do that take up most.
    """

    zone: str
    tucks: tuple[str, str]
    share: float


def uneven_rounds(zones: Sequence[ZoneFan]) -> tuple[UnevenRound, ...]:
    """Zones all round that do not take up evenly, by more than UNEVEN_SHARE."""
    found = []
    for zone, fan in zones:
        if not fan.closed or len(zone.tucks) < 3:
            continue
        depths = np.full((1, len(zone.tucks)), NEAR_TRIM * float(fan.trims.min()))
        laps, row = fan.take_up(depths)[0], running_length(fan.rows(depths))[0]
        shares = np.diff(row[fan.edges])
        # With its right neighbour, as what is missed between two is missed by both.
        of_two = (laps + np.roll(laps, -1)) / (shares + np.roll(shares, -1))
        least = int(np.argmin(of_two))
        share = float(1.0 - of_two[least] / of_two.max())
        if share > UNEVEN_SHARE:
            tucks = zone.tucks[least], zone.tucks[(least + 1) % len(laps)]
            found.append(UnevenRound(zone.id, tucks, share))
    return tuple(found)
