import numpy as np
import pytest

from digitize.errors import TuckError
from digitize.mend.spread import with_spread
from digitize.plane import running_length
from digitize.take_up.fan import fan_of
from tests.marks import curve_of, record_of
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
    assert with_spread(told, "T2", []) == record


@pytest.mark.parametrize(("name", "depth"), [("T9", None), ("T1", 500.0)])
def test_a_spread_that_fits_nothing_is_refused(name, depth):
    with pytest.raises(TuckError):
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
