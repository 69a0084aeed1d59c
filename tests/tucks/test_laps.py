"""A tuck's stations, from its own marks and from the lines that break at it."""

import math
from dataclasses import replace

import numpy as np
import pytest

from digitize.tucks.laps import is_borne_out, measure_laps
from digitize.tucks.slits import TuckMarks
from tests.marks import blank, curve_of

# What a mark of 0.6 mm leaves open of the edge it was led along, a quarter of it, and the hand's
# 0.15 mm.
LED_ALONG = math.hypot(0.15, 0.15)
MAIN = replace(curve_of([[0, 0], [0, 120]], 0.5), sigma=0.05)


def beside(slope, first=24.0, last=116.0, side=1.0):
    """A mark that leaves the tip by a slope, seen from one depth to another."""
    place = [[side * slope * y, y] for y in (first, last)]
    return replace(curve_of(place), sigma=0.12)


@pytest.mark.parametrize("side", [1.0, -1.0])
def test_a_lap_line_has_a_station_every_centimetre_of_depth_where_it_is_seen(side):
    marks = TuckMarks("slit", MAIN, beside(0.06, side=side))
    reading = measure_laps(marks, 0.0, [], blank)
    assert [station.depth for station in reading.stations] == list(range(30, 120, 10))
    for station in reading.stations:
        # On a cone about the tip the lap is a chord; the flap's edge lay half of the mark's
        # 0.6 mm before its middle.
        lap = 2 * station.depth * math.sin(math.atan(0.06 - 0.3 / station.depth) / 2)
        assert station.lap == pytest.approx(lap, abs=0.002)
        close = 0.1 if lap < 2.2 else 0.0
        sigma = math.hypot(0.05, 0.12, 0.03, LED_ALONG, close)
        assert station.sigma == pytest.approx(sigma, abs=0.001)


def test_a_lap_line_that_runs_on_past_its_cut_has_no_station_there():
    marks = TuckMarks("slit", MAIN, beside(0.06, last=145.0))
    stations = measure_laps(marks, 0.0, [], blank).stations
    assert [station.depth for station in stations] == list(range(30, 120, 10))


def test_a_fold_takes_up_twice_what_its_creases_stand_apart_and_is_half_as_sure():
    marks = TuckMarks("fold", replace(MAIN, weight=0.1), beside(0.04))
    stations = measure_laps(marks, 0.0, [], blank).stations
    assert stations[-1].depth == 110
    for station in stations:
        lap = 2 * station.depth * math.sin(math.atan(0.08) / 2)
        assert station.lap == pytest.approx(lap, abs=0.01)
    # 2 * (0.05, 0.12 and 0.08 together), and as no line bears them out 2 * 0.5.
    assert stations[-1].sigma == pytest.approx(math.hypot(0.305, 1.0), abs=0.001)


def test_creases_that_a_line_bears_out_are_surer():
    marks = TuckMarks("fold", replace(MAIN, weight=0.1), beside(0.04))
    reading = measure_laps(marks, 0.0, broken({60: 4.8}, 1.0), blank)
    assert len(reading.breaks) == 1
    deepest = max((s for s in reading.stations if s.evidence == "crease"), key=lambda s: s.depth)
    assert deepest.sigma == pytest.approx(0.305, abs=0.001)


def broken(laps, side):
    """Lines across the tuck at some depths that go on to one side of it by a lap each."""
    pieces = []
    for depth, lap in laps.items():
        pieces.append(curve_of([[-60 * side, depth], [0, depth]]))
        pieces.append(curve_of([[lap * side, depth], [60 * side, depth]]))
    return pieces


@pytest.mark.parametrize("side", [1.0, -1.0])
@pytest.mark.parametrize(
    ("laps", "seen"),
    [
        ({40: 2.0, 60: 4.0, 90: 6.5}, {40: 2.0, 60: 4.0, 90: 6.5}),
        ({40: 0.0, 60: 0.0, 90: 6.5}, {90: 6.5}),  # most run on: the others tell the side
    ],
)
def test_the_flap_that_lay_below_is_where_the_lines_go_on_later(laps, seen, side):
    marks = TuckMarks("slit", MAIN, None)
    reading = measure_laps(marks, 1e7, broken(laps, side), blank)
    assert [s.evidence for s in reading.stations] == ["line-break"] * len(seen)
    assert {round(s.depth): s.lap for s in reading.stations} == pytest.approx(seen, abs=0.01)


def test_a_line_that_ends_short_of_the_cut_does_not_go_on_beyond_it():
    lines = [curve_of([[-60, 60], [-6, 60]]), curve_of([[4, 60], [60, 60]])]
    lap_line = beside(0.06)
    reading = measure_laps(TuckMarks("slit", MAIN, lap_line), 1e7, lines, blank)
    assert not reading.breaks


def test_where_a_line_ends_at_a_lap_line_it_is_surer_than_at_the_cut_alone():
    lines = broken({60: 3.6}, 1.0)
    (alone,) = measure_laps(TuckMarks("slit", MAIN, None), 1e7, lines, blank).breaks
    marks = TuckMarks("slit", MAIN, beside(0.06))
    (at_lap_line,) = measure_laps(marks, 1e7, lines, blank).breaks
    assert alone.sigma == pytest.approx(math.hypot(0.22, 0.25, 0.05, 0.07, 0.03, 0.6), abs=0.001)
    at_end = math.hypot(0.12, 0.03, LED_ALONG)
    assert at_lap_line.sigma == pytest.approx(math.hypot(at_end, 0.05, 0.07, 0.03), abs=0.001)
    assert (alone.lap, at_lap_line.lap) == pytest.approx((3.6, 3.3), abs=0.005)


@pytest.mark.parametrize(("lap", "count"), [(4.4, 1), (8.0, 0)])
def test_a_line_that_goes_on_far_from_the_lap_line_is_some_other(lap, count):
    lines = [curve_of([[-60, 60], [0, 60]]), curve_of([[lap, 60], [80, 60]])]
    marks = TuckMarks("slit", MAIN, beside(0.06))  # 3.6 mm there
    assert len(measure_laps(marks, 1e7, lines, blank).breaks) == count


@pytest.mark.parametrize(("lap", "count"), [(5.6, 1), (7.2, 1), (8.4, 0), (3.2, 0)])
def test_beyond_its_lap_line_a_line_goes_on_as_laps_may_grow_from_there(lap, count):
    marks = TuckMarks("slit", MAIN, beside(0.06, last=92.0))
    # 5.1 mm at the last station, 90 mm deep: 0.9 * 5.7 mm at 100 mm, in proportion, to 6.3 by the
    # square of the depth, and 1.2 mm to either side.
    reading = measure_laps(marks, 1e7, broken({100: lap}, 1.0), blank)
    assert reading.stations[-1].lap == pytest.approx(5.1 if not count else lap - 0.3, abs=0.02)
    assert len(reading.breaks) == count


def test_the_deepest_line_that_runs_on_says_that_the_lap_is_too_small_to_show():
    lines = broken({40: 0.0, 90: 0.0}, 1.0)
    (station,) = measure_laps(TuckMarks("slit", MAIN, None), 1e7, lines, blank).stations
    assert (round(station.depth), station.lap, station.sigma) == (90, 1.1, 0.6)


def test_a_lap_lines_stations_hold_what_is_not_known_of_the_pivot():
    wide = measure_laps(TuckMarks("slit", MAIN, beside(0.16)), 1e7, [], blank).stations
    lone = measure_laps(TuckMarks("slit", MAIN, beside(0.16)), 0.0, [], blank).stations
    (far,) = (s for s in wide if s.depth == 90)
    (near,) = (s for s in lone if s.depth == 90)
    # Half of what the pivot changes, 0.0676 mm at 14.1 mm of lap 90 mm deep.
    assert far.sigma**2 - near.sigma**2 == pytest.approx(0.065**2, rel=0.2)


def test_an_unsteady_lap_line_is_as_unsure_as_it_strays_from_its_course():
    y = np.arange(0.0, 100.0)
    wobble = math.sqrt(2) * np.sin(2 * math.pi * y / 20.0)  # RMS 1
    steady, unsteady = (
        measure_laps(TuckMarks("slit", MAIN, line), 1e7, [], blank).stations[-1].sigma
        for line in (curve_of(np.column_stack([0.06 * y + a * wobble, y])) for a in (0.0, 0.25))
    )
    # The usual hand's 0.15 mm are in both.
    assert unsteady**2 - steady**2 == pytest.approx(0.25**2 - 0.15**2, rel=0.15)


@pytest.mark.parametrize(
    ("laps", "off"),
    [
        ({60: 3.6, 90: 5.4}, None),  # as on a cone
        # 4.5 / 90 is 0.83 of 3.6 / 60, and no lap grows by less than 0.9: 4.86 there, or 3.33 here.
        ({60: 3.6, 90: 4.5}, (0.27, 0.36)),
        # 2.17 times as much for its depth, and none grows by more than 2: 10.8 there, or 3.9 here.
        ({60: 3.6, 90: 11.7}, (0.3, 0.9)),
        ({60: 3.6, 90: 9.9}, None),
    ],
)
def test_a_break_that_no_other_bears_out_is_as_unsure_as_they_disagree(laps, off):
    reading = measure_laps(TuckMarks("slit", MAIN, None), 0.0, broken(laps, 1.0), blank)
    end = math.hypot(0.22, 0.25, 0.05, 0.07, 0.03)
    lone = [0.0, 0.0] if off is None else [math.hypot(0.6, each) for each in off]
    assert [s.sigma for s in reading.stations] == pytest.approx(
        [math.hypot(end, each) for each in lone], abs=0.05
    )


def test_a_lap_too_steep_for_any_tuck_is_none():
    laps = {60: 3.6, 80: 26.0}  # 0.33 of its depth
    reading = measure_laps(TuckMarks("slit", MAIN, None), 0.0, broken(laps, 1.0), blank)
    assert [round(s.depth) for s in reading.stations] == [60]


def test_laps_hold_what_they_would_be_if_cut_and_lap_line_were_the_other_way_about():
    """A cut's 0.6 mm and a lap line's 1.4 mm: they differ by half of 0.8 mm."""
    second = replace(beside(0.06), width=1.4)
    known, even = (
        measure_laps(TuckMarks("slit", MAIN, second, sure), 1e7, [], blank).stations[-1]
        for sure in (1.0, 0.5)
    )
    assert known.lap == even.lap
    # Two values 0.4 mm apart, as likely either: half of that.
    assert even.sigma**2 - known.sigma**2 == pytest.approx(0.2**2, abs=0.0015)


def test_a_slit_is_borne_out_by_a_lap_and_a_lone_crease_by_two_lines_that_break():
    breaks = [
        [curve_of([[-60, y], [0, y]]), curve_of([[0.08 * y, y], [60, y]])] for y in (60.0, 100.0)
    ]
    slit, crease = TuckMarks("slit", MAIN, None), TuckMarks("fold", MAIN, None)
    for lines, borne_out in (([], (False, False)), (breaks[1], (True, False))):
        marks = [slit, crease]
        found = [measure_laps(each, 0.0, lines, blank) for each in marks]
        assert tuple(map(is_borne_out, marks, found)) == borne_out
    both = measure_laps(crease, 0.0, [*breaks[0], *breaks[1]], blank)
    assert len(both.breaks) == 2 and is_borne_out(crease, both)


@pytest.mark.parametrize(("laps", "agree"), [({60: 4.8, 100: 8.0}, True), ({60: 8, 100: 5}, False)])
def test_breaks_that_contradict_each_other_bear_no_lone_crease_out(laps, agree):
    """Laps only grow with the depth; a cut is one whatever they do."""
    for kind, borne_out in (("fold", agree), ("slit", True)):
        marks = TuckMarks(kind, MAIN, None)
        found = measure_laps(marks, 0.0, broken(laps, 1.0), blank)
        assert len(found.breaks) == 2 and is_borne_out(marks, found) == borne_out


def test_laps_that_may_be_nothing_bear_no_lone_crease_out():
    marks = TuckMarks("fold", MAIN, None)
    found = measure_laps(marks, 0.0, broken({60: 4.8, 100: 8.0}, 1.0), blank)
    assert is_borne_out(marks, found)
    unsure = tuple(replace(each, sigma=each.lap / 1.9) for each in found.breaks)
    assert not is_borne_out(marks, replace(found, breaks=unsure))


def test_two_creases_that_lines_contradict_are_no_surer_than_a_lone_one():
    """They say 4.8 mm where the line says 9; the line is believed, and is one."""
    marks = TuckMarks("fold", replace(MAIN, weight=0.1), beside(0.04))
    found = measure_laps(marks, 0.0, broken({60: 9.0}, 1.0), blank)
    assert {s.evidence for s in found.stations} == {"line-break"}
    assert not is_borne_out(marks, found)
    assert is_borne_out(marks, measure_laps(marks, 0.0, [], blank))


@pytest.mark.parametrize(("at_tip", "borne_out"), [(0.0, True), (0.5, True), (2.0, False)])
def test_creases_that_do_not_meet_at_the_tip_measure_no_fold_for_sure(at_tip, borne_out):
    """0.05 mm aside for each mm of depth: they meet 10 mm before the tip, or 40."""
    second = curve_of([[at_tip, 0], [at_tip + 5.0, 100]])
    fold = TuckMarks("fold", MAIN, second)
    found = measure_laps(fold, 1e7, [], blank)
    (middle,) = (s for s in found.stations if s.depth == 50)
    assert middle.lap == pytest.approx(2 * (at_tip + 2.5), abs=0.1)
    assert is_borne_out(fold, found) is borne_out
    # A lap of 4 mm where there should be none is what the others may be off by, and 1 mm by which
    # creases may be off that no line bears out.
    assert middle.sigma == pytest.approx(1.0 if borne_out else math.hypot(4.0, 1.0), abs=0.1)
