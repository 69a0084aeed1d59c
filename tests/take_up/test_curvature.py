import math

import numpy as np
import pytest

from digitize.record import Band, BandStation, Curvature, Line, Pattern
from digitize.take_up.curvature import contradicted_by, implied_by_radii


def arc(identifier, radius, role, first=0.0, last=90.0):
    """A line round the origin between two angles (degrees), a point every degree."""
    turn = np.radians(np.arange(first, last + 0.5))
    points = tuple(
        (float(x), float(y)) for x, y in radius * np.column_stack([np.cos(turn), np.sin(turn)])
    )
    return Line(id=identifier, role=role, role_confidence=1.0, points=points, width=0.5, sigma=0.05)


def band(number, start, end, turned):
    """A band between two lines whose bend turns by so many degrees at its two ends."""
    along = (0.0, start.length)
    return Band(
        id=f"B{number}",
        start=start.id,
        ends=(end.id,),
        stations=tuple(
            BandStation(along=a, width=40.0, radius=30.0, turned_deg=deg)
            for a, deg in zip(along, turned, strict=True)
        ),
    )


def implied(*bands):
    """What bands, each (radius of start, of end, degrees turned at either end), say of a zone.

    It lies beside them between 10 and 70 degrees.
    """
    lines, found = [], []
    for number, (start, end, *turned) in enumerate(bands, start=1):
        lines += [arc(f"S{number}", start, "radius-start"), arc(f"E{number}", end, "radius-end")]
        found.append(band(number, lines[-2], lines[-1], turned))
    sheet = ((-10, -10), (400, -10), (400, 400), (-10, 400))
    pattern = Pattern(name="p", outline=sheet, lines=tuple(lines), bands=tuple(found))
    return implied_by_radii(pattern, np.array(arc("Z", 300, "form", 10, 70).points))


# The start line turns through 60 degrees beside the zone, and the metal through 75 across it:
# 60 * (1 - cos 75) = 44.47. A radius wrong by 3 % is an angle wrong by 2.25 degrees:
# 60 * sin 75 * (75 in radians) * 0.03 = 2.276; and either end's heading is sure to 0.7 degrees:
# 0.7 * sqrt 2 * (1 - cos 75) = 0.734.
OF_75 = 44.47, math.hypot(2.276, 0.734)
# Through 40 degrees likewise: 14.04; 60 * sin 40 * 0.6981 * 0.03 = 0.808; 0.7 sqrt 2 * 0.234.
OF_40 = 14.04, math.hypot(0.808, 0.2316)


@pytest.mark.parametrize(("turned", "known"), [(75.0, OF_75), (40.0, OF_40)])
def test_a_bend_out_from_an_arc_holds_the_turn_its_far_edge_lacks(turned, known):
    total, sigma = implied((220, 260, turned, turned))
    assert total == pytest.approx(known[0], abs=0.1)
    assert sigma == pytest.approx(known[1], rel=0.01)


def test_a_bend_in_towards_the_middle_curves_the_other_way():
    total, sigma = implied((260, 220, 75.0, 75.0))
    assert total == pytest.approx(-OF_75[0], abs=0.1)
    assert sigma == pytest.approx(OF_75[1], rel=0.01)


def test_an_angle_that_changes_along_the_band_counts_as_it_is_beside_the_zone():
    # From 30 degrees at one end of the line to 75 at the other: 35 to 65 beside the zone. The
    # integral of 1 - cos b is there 60 * (1 - (sin 65 - sin 35) / (30 in radians)).
    total, _ = implied((220, 260, 30.0, 75.0))
    mean = (math.sin(math.radians(65)) - math.sin(math.radians(35))) / math.radians(30)
    assert total == pytest.approx(60 * (1 - mean), abs=0.1)


def test_two_bends_beside_a_zone_add_up():
    total, sigma = implied((220, 260, 75.0, 75.0), (280, 310, 40.0, 40.0))
    assert total == pytest.approx(OF_75[0] + OF_40[0], abs=0.2)
    assert sigma == pytest.approx(math.hypot(OF_75[1], OF_40[1]), rel=0.01)


@pytest.mark.parametrize(("laps", "radii"), [(50.0, 60.5), (60.5, 50.0)])
def test_laps_and_radii_further_apart_than_95_percent_contradict_each_other(laps, radii):
    # Sigmas of 3 and 4 are 5 together, and 1.96 of those 9.8.
    told = Curvature(laps_deg=laps, laps_sigma_deg=3.0, radii_deg=radii, radii_sigma_deg=4.0)
    assert contradicted_by(told) == pytest.approx(9.8)


@pytest.mark.parametrize("radii", [59.0, 41.0, None])
def test_laps_and_radii_within_95_percent_agree(radii):
    told = Curvature(laps_deg=50.0, laps_sigma_deg=3.0, radii_deg=radii, radii_sigma_deg=4.0)
    assert contradicted_by(told) is None
    assert contradicted_by(None) is None
