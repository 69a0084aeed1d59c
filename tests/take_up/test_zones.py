import numpy as np
import pytest
from shapely import Point, Polygon

from digitize.errors import ToldError
from digitize.plane import running_length
from digitize.take_up.fan import fan_of
from digitize.take_up.zones import field_depths, with_zones, zones_and_fans
from tests.marks import curve_of, record_of
from tests.take_up.slits import pattern_with, slit_of, staggered, tuck_in
from tests.told import with_spread
from tests.tucks.test_tucks import OUTLINE, line_broken_at, slit_at

PLACES = [(120, 8.0), (180, 12.0), (240, 8.0)]


def pattern(places=PLACES):
    """A paper with slits side by side, and two lines that break at each."""
    marks = [mark for x, lap in places for mark in slit_at(x, lap)]
    return record_of([*marks, *line_broken_at(30, places), *line_broken_at(60, places)], OUTLINE)


def test_a_zone_adds_up_its_tucks():
    record = pattern()
    (zone,) = record.zones
    last = zone.stations[-1]
    assert zone.kind == "shrink" and zone.tucks == ("T1", "T2", "T3")
    assert last.take_up == pytest.approx(28 * 0.75, abs=0.3)
    assert last.flat_length == pytest.approx(180, abs=1)
    assert zone.peak_shrink == pytest.approx(21 / 180, abs=0.005)
    assert zone.peak_local == pytest.approx(9 / 60, abs=0.02)
    turn = np.degrees(28 / 120)
    assert zone.curvature.laps_deg == pytest.approx(turn, abs=0.3)
    assert abs(zone.curvature.laps_deg - turn) < 2.5 * zone.curvature.laps_sigma_deg


def test_the_field_gives_back_every_lap():
    record = pattern()
    fan = fan_of(record, record.tucks, False)
    along = running_length(fan.row(fan.trims))
    shrink = fan.shrinks(fan.trims[None])[0]
    taken = np.concatenate([[0], np.cumsum((shrink[1:] + shrink[:-1]) / 2 * np.diff(along))])
    shares = np.diff(taken[fan.edges])
    assert shares == pytest.approx(fan.take_up(fan.trims), rel=0.05)


def test_no_shrink_short_of_the_slits_or_beyond_the_outermost():
    record = pattern()
    fan = fan_of(record, record.tucks, False)
    assert fan.shrinks(fan.tips[None])[0] == pytest.approx(0.0, abs=1e-6)
    xs = np.array(record.zones[0].boundary)[:, 0]
    assert xs.min() == pytest.approx(90, abs=1) and xs.max() == pytest.approx(270, abs=1)


def test_tucks_far_apart_are_two_zones():
    assert [zone.tucks for zone in pattern([(60, 8.0), (340, 8.0)]).zones] == [("T1",), ("T2",)]


def test_an_unsure_tuck_counts_in_no_zone_until_a_spread_is_told_there():
    record = pattern()
    tucks = [record.tucks[0], record.tucks[1], record.tucks[2].model_copy(update={"unsure": True})]
    (zone,) = with_zones(record.model_copy(update={"tucks": tuple(tucks)})).zones
    assert zone.tucks == ("T1", "T2")
    assert zone.stations[-1].take_up == pytest.approx(20 * 0.75, abs=0.3)
    told = record.model_copy(update={"tucks": tuple(tucks)})
    told = with_spread(told, "T3", [(90.0, 4.0)])
    assert [zone.tucks for zone in told.zones] == [("T1", "T2"), ("T3",)]


def test_broken_lines_meet_again_when_the_tucks_are_closed():
    record = pattern()
    assert record.closure_rms < 0.3
    assert all(abs(found.across) < 0.3 for tuck in record.tucks for found in tuck.breaks)


def test_a_spread_is_told_and_taken_back():
    record = pattern([(120, 8.0), (180, 12.0)])
    told = with_spread(record, "T2", [(None, 6.0)])
    assert told.tuck("T2").kind == "spread"
    assert told.tuck("T2").lap_at_trim == pytest.approx(-6.0, abs=0.3)
    assert [zone.kind for zone in told.zones] == ["shrink", "stretch"]
    assert told.zones[1].stations[-1].take_up == pytest.approx(-6.0, abs=0.3)
    back = with_spread(told, "T2", [])
    assert back.model_copy(update={"told": ()}) == record


@pytest.mark.parametrize(("name", "depth"), [("T9", None), ("T1", 500.0)])
def test_a_spread_that_fits_nothing_is_refused(name, depth):
    with pytest.raises(ToldError):
        with_spread(pattern(), name, [(depth, 6.0)])


def test_slits_all_round_are_one_closed_zone():
    turns = np.linspace(0, 2 * np.pi, 6, endpoint=False)
    middle, marks = np.array([200.0, 150.0]), []
    for turn in turns:
        way, onward = (np.array([np.cos(turn + a), np.sin(turn + a)]) for a in (0, np.pi / 2))
        marks.append(curve_of([middle + 30 * way, middle + 147 * way], 0.7, width=0.4))
        marks.append(curve_of([middle + 33 * way, middle + 147 * way + 9 * onward]))
    outline = middle + 148 * np.column_stack(
        [np.cos(np.linspace(0, 2 * np.pi, 200)), np.sin(np.linspace(0, 2 * np.pi, 200))]
    )
    for turn in turns:
        for radius in (70.0, 120.0):
            lap = 9 * (radius - 33) / 114 / radius
            arc = np.linspace(turn + lap, turn + np.pi / 3, 60)
            marks.append(curve_of(middle + radius * np.column_stack([np.cos(arc), np.sin(arc)])))
    record = record_of(marks, outline)
    (zone,) = record.zones
    assert len(zone.tucks) == 6
    assert zone.stations[-1].flat_length == pytest.approx(2 * np.pi * 120, rel=0.01)


def test_a_station_s_shrink_is_take_up_over_flat_length():
    """Level curves of 225 mm across slits that lap by 0.1, 0.2 and 0.05 of their own depths."""
    (zone,) = with_zones(staggered()).zones
    stations = {station.depth: station for station in zone.stations}
    assert list(stations) == [15, 30, 45, 60, 75, 90, 105, 120]
    assert {station.flat_length for station in zone.stations} == {225.0}
    # 45 mm above the lowest tip is 25 above the first and below the second; 120 the trim edge.
    assert stations[45].take_up == pytest.approx(2.5 + 2.25, abs=0.03)
    assert stations[120].take_up == pytest.approx(10 + 14 + 6, abs=0.03)
    assert stations[120].shrink == pytest.approx(30 / 225, abs=2e-4)
    assert zone.peak_shrink == stations[120].shrink


def test_a_zone_is_the_area_from_the_tips_to_the_trim_edge():
    record = with_zones(staggered())
    ((zone, fan),) = zones_and_fans(record)
    area = Polygon(zone.boundary)
    assert area.is_valid
    places = [(40, 50), (90, 50), (190, 50), (16, 98), (239, 98)]
    assert all(area.contains(Point(place)) for place in places)
    assert not any(area.contains(Point(place)) for place in [(90, 20), (40, -10), (14, 98)])
    rows = field_depths(fan)
    assert rows[0] == pytest.approx([20, 50, 0], abs=1e-6)
    assert rows[-1] == pytest.approx([120, 120, 120], abs=1e-6)


def test_whole_curves_stop_short_of_the_nearest_trim_edge():
    slits = [slit_of("S1", (0, 0), (0, 150)), slit_of("S2", (100, 0), (100, 150))]
    tucks = [
        tuck_in(slits[0], 120.0, lambda d: 0.1 * d),
        tuck_in(slits[1], 60.0, lambda d: 0.2 * d),
    ]
    (zone,) = with_zones(pattern_with(slits, tucks)).zones
    # Within 5 mm of 60; and along the trim edge itself, between 60 and 120 deep.
    assert [station.depth for station in zone.stations] == [15, 30, 45, 90]
    assert zone.stations[-1].take_up == pytest.approx(12 + 12, abs=0.03)


def test_the_turns_of_a_zone_s_tucks_add_up_and_their_sigmas_square():
    told = zip(staggered().tucks, (5.0, 7.0, 11.0), (3.0, 4.0, 12.0), strict=True)
    tucks = tuple(
        tuck.model_copy(update={"turn_deg": turn, "turn_sigma_deg": sigma, "deficit_deg": 4.0})
        for tuck, turn, sigma in told
    )
    (zone,) = with_zones(staggered().model_copy(update={"tucks": tucks})).zones
    assert zone.curvature.laps_deg == 23.0
    assert zone.curvature.laps_sigma_deg == 13.0
    assert zone.curvature.radii_deg is None


def test_a_stretch_is_a_negative_shrink():
    slit = slit_of("S1", (0, 0), (0, 150))
    gaping = tuck_in(slit, 100.0, lambda d: -0.06 * d)
    stations = tuple(s.model_copy(update={"evidence": "entered"}) for s in gaping.stations)
    spread = gaping.model_copy(update={"kind": "spread", "stations": stations})
    (zone,) = with_zones(pattern_with([slit], [spread])).zones
    assert zone.kind == "stretch"
    # 6 mm over three tenths of its 100 mm to either side.
    assert zone.peak_shrink == pytest.approx(-0.1, abs=0.001)
    assert zone.peak_local == pytest.approx(-0.1, abs=0.001)


def test_tucks_on_both_sides_of_where_the_count_begins_are_one_zone():
    places = {"S1": 300, "S2": -300, "S3": -350, "S4": 340}
    slits = [slit_of(name, (x, 0), (x, 150)) for name, x in places.items()]
    tucks = [tuck_in(slit, 100.0, lambda d: 0.1 * d) for slit in slits]
    zones = with_zones(pattern_with(slits, tucks)).zones
    assert [zone.tucks for zone in zones] == [("T4", "T1"), ("T2", "T3")]
