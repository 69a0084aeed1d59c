import math

import numpy as np
import pytest

from digitize.record import Band, BandStation, Curvature, Line, Pattern, Tuck, Zone
from digitize.take_up.curvature import contradicted_by, implied_by_radii, untucked_stretches


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
    return implied_by_radii(bent(*bands), np.array(arc("Z", 300, "form", 10, 70).points))


def bent(*bands):
    """A record of such bands alone."""
    lines, found = [], []
    for number, (start, end, *turned) in enumerate(bands, start=1):
        lines += [arc(f"S{number}", start, "radius-start"), arc(f"E{number}", end, "radius-end")]
        found.append(band(number, lines[-2], lines[-1], turned))
    sheet = ((-10, -10), (400, -10), (400, 400), (-10, 400))
    return Pattern(name="p", outline=sheet, lines=tuple(lines), bands=tuple(found))


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


def zone(first, last):
    """A zone beside the bands between two angles (degrees)."""
    inner, outer = (arc("Z", radius, "form", first, last).points for radius in (300, 350))
    boundary = (*inner, *reversed(outer))
    return Zone(
        id="Z1", kind="shrink", boundary=boundary, tucks=("T1",), stations=(), peak_shrink=0.1
    )


@pytest.mark.parametrize(("start", "end", "sign"), [(220, 260, 1), (260, 220, -1)])
def test_a_bend_that_goes_on_past_the_tucks_asks_for_more(start, end, sign):
    record = bent((start, end, 75.0, 75.0))
    (whole,) = untucked_stretches(record)
    # All of the line turns through 90 degrees: 90 * (1 - cos 75) = 66.7; at an end, half a degree
    # goes unseen, as that is where a chord heads.
    assert whole.radii_deg == pytest.approx(sign * 66.7, abs=0.8)
    assert whole.between == (0.0, pytest.approx(start * math.pi / 2, abs=0.1))
    # With a zone from 10 to 70 degrees, the last 20 lack one: 20 * (1 - cos 75) = 14.82, and
    # 20 * sin 75 * (75 in radians) * 0.03 = 0.759 with the headings' 0.734 is 1.056 off.
    first, last = untucked_stretches(record.model_copy(update={"zones": (zone(10, 70),)}))
    assert last.radii_deg == pytest.approx(sign * 14.82, abs=0.4)
    assert last.sigma_deg == pytest.approx(1.056, rel=0.02)
    assert math.degrees(math.atan2(last.at[1], last.at[0])) == pytest.approx(80, abs=0.1)
    assert first.radii_deg == pytest.approx(sign * 7.41, abs=0.4)
    assert (last.band, last.start) == ("B1", "S1")


def beside(record, *zones):
    return untucked_stretches(record.model_copy(update={"zones": zones}))


def test_a_bend_with_tucks_all_along_asks_for_none():
    assert not beside(bent((220, 260, 75.0, 75.0)), zone(0, 90))


def test_less_than_five_degrees_may_have_been_pinned_without_a_tuck():
    # Bent by 15 degrees, 90 of the line hold 3.07 of curvature, sure to 0.18; by 20, 5.43, of which
    # what half a degree at each end holds goes unseen.
    assert not untucked_stretches(bent((220, 260, 15.0, 15.0)))
    (found,) = untucked_stretches(bent((220, 260, 20.0, 20.0)))
    assert found.radii_deg == pytest.approx(5.43, abs=0.08)


@pytest.mark.parametrize(("last", "count"), [(42.6, 0), (43.8, 1)])
def test_less_than_three_sigmas_is_too_little_to_be_sure_of(last, count):
    # Bent by 170 degrees, 1 - cos is 1.985, and the headings alone are 0.7 * sqrt 2 * 1.985 = 1.97
    # off: 2.6 degrees of turn hold 5.2, which is less than 5.9, and 3.8 degrees hold 7.5.
    record = bent((400, 440, 170.0, 170.0))
    assert len(beside(record, zone(0, 40), zone(last, 90))) == count


def test_where_no_radius_was_told_nothing_is_asked_for():
    record = bent((220, 260, 75.0, 75.0))
    (of_all,) = record.bands
    early = tuple(s.model_copy(update={"along": s.along / 2}) for s in of_all.stations)
    half = record.model_copy(update={"bands": (of_all.model_copy(update={"stations": early}),)})
    # 12 mm of the line on past half its length are 3.1 degrees of turn: 48.1 * (1 - cos 75).
    (found,) = untucked_stretches(half)
    assert found.radii_deg == pytest.approx(35.7, abs=0.4)


def test_beside_a_tuck_that_counts_in_no_zone_nothing_more_is_asked_for():
    unsure = Tuck(id="T2", kind="slit", tip=(52.0, 295.0), slit="S1", lap_line=None, stations=())
    record = bent((220, 260, 75.0, 75.0)).model_copy(
        update={"zones": (zone(0, 60),), "tucks": (unsure,)}
    )
    assert not untucked_stretches(record)
