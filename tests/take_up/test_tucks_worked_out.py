"""What a tuck's record says of it: depth and lap at the trim edge, turn, deficit, closure."""

import numpy as np
import pytest

from digitize.record import Break, Station
from digitize.take_up.smooth_laps import lap_of, with_laps
from tests.take_up.slits import pattern_with, slit_of, tuck_in

SLIT = slit_of("S1", (0, 0), (0, 120))


def trim(identifier, start, end):
    return slit_of(identifier, start, end, "trim-edge")


def worked_out(tuck, *lines, slit=SLIT):
    """The only tuck of a record, worked out."""
    return with_laps(pattern_with([slit], [tuck], lines)).tucks[0]


def test_the_deficit_is_the_angle_that_closes_the_tuck_and_the_turn_its_slope():
    # A straight lap of 60 mm at 100 mm: a chord, 2 asin(0.3) = 34.915 degrees; 0.6 radians.
    tuck = worked_out(tuck_in(SLIT, 100.0, lambda d: 0.6 * d))
    assert tuck.lap_at_trim == pytest.approx(60.0, abs=0.02)
    assert tuck.deficit_deg == pytest.approx(34.915, abs=0.02)
    assert tuck.turn_deg == pytest.approx(np.degrees(0.6), abs=0.05)


def test_the_turn_of_a_lap_that_grows_is_its_slope_at_the_trim_edge():
    # w = d^2 / 1000 is 9.409 mm at 97 mm; its slope there is 0.194, twice the angle w / d.
    tuck = worked_out(tuck_in(SLIT, 97.0, lambda d: d**2 / 1000, tip="soft"))
    assert tuck.profile[-1].depth == 97.0
    assert tuck.lap_at_trim == tuck.profile[-1].lap == pytest.approx(9.409, abs=0.05)
    assert tuck.turn_deg == pytest.approx(np.degrees(0.194), abs=0.25)
    assert tuck.deficit_deg == pytest.approx(np.degrees(0.097), abs=0.05)


def test_the_turn_s_sigma_is_one_standard_deviation_in_degrees():
    tuck = worked_out(tuck_in(SLIT, 97.0, lambda d: d**2 / 1000, tip="soft"))
    _, (sigma,) = lap_of(tuck).slope_at(np.array([97.0]))
    assert tuck.turn_sigma_deg == pytest.approx(np.degrees(sigma), abs=6e-4)


def test_what_keeps_broken_lines_apart_is_their_lap_over_the_smooth_one():
    """And their closure is the root of the mean of the squares, spreads left out."""

    def broken(tuck, *found):
        breaks = tuple(
            Break(lines=("F", "F"), depth=depth, lap=lap, along=along)
            for depth, lap, along in found
        )
        return tuck.model_copy(update={"breaks": breaks})

    # The lap is 5 mm at 50 and 8 at 80. One line jumps by 3 mm more and is 4 off along the tuck,
    # the other by 0.6 less and 0.8 along: 5 mm and 1 mm apart.
    tuck = broken(tuck_in(SLIT, 100.0, lambda d: 0.1 * d), (50.0, 8.0, 4.0), (80.0, 7.4, 0.8))
    other = slit_of("S2", (80, 0), (80, 120))
    entered = Station(depth=100.0, lap=-6.0, sigma=0.3, evidence="entered")
    spread = tuck_in(other, 100.0, lambda d: 0.1 * d).model_copy(
        update={"kind": "spread", "stations": (entered,)}
    )
    spread = broken(spread, (50.0, 30.0, 40.0))
    form = slit_of("F", (-50, 50), (50, 50), "form")
    record = with_laps(pattern_with([SLIT, other], [tuck, spread], [form]))
    assert [b.across for b in record.tucks[0].breaks] == pytest.approx([3.0, -0.6], abs=0.02)
    assert record.closure_rms == pytest.approx(np.sqrt((25 + 1) / 2), abs=0.02)


def test_the_outermost_line_that_stops_at_a_tuck_is_its_trim_edge():
    lines = [trim("L1", (-60, 70), (-0.3, 70)), trim("L2", (0.3, 90), (60, 90))]
    assert worked_out(tuck_in(SLIT, 100.0, lambda d: 0.1 * d), *lines).depth_at_trim == 90.0
    # One that goes on a lap away says where it is too, but less surely.
    lines = [trim("L1", (-60, 70), (-0.3, 70)), trim("L2", (8, 90), (60, 90))]
    assert worked_out(tuck_in(SLIT, 100.0, lambda d: 0.1 * d), *lines).depth_at_trim == 70.0


def test_without_a_trim_edge_a_tuck_ends_at_its_last_station():
    tuck = tuck_in(SLIT, 85.0, lambda d: 0.1 * d)
    assert worked_out(tuck.model_copy(update={"depth_at_trim": 0.0})).depth_at_trim == 85.0
    far = trim("L1", (-100, 60), (-50, 60))
    assert worked_out(tuck, far).depth_at_trim == 85.0


def bent(start, end, slope=6e-3):
    """A lap whose slope grows evenly between two depths."""

    def lap(depth):
        within = min(max(depth - start, 0.0), end - start)
        return slope * (within**2 / 2 + max(depth - end, 0.0) * (end - start))

    return lap


def test_radius_lines_that_break_at_tucks_say_where_those_bend():
    """The first start and the last end; where no line breaks, as far from the trim edge as else."""
    slits = [slit_of(f"S{k}", (60 * k, 0), (60 * k, 140)) for k in (1, 2, 3)]
    lines = [
        slit_of("R1", (300, 0), (380, 0), "radius-start"),
        slit_of("R2", (300, 20), (380, 20), "radius-start"),
        slit_of("E1", (300, 40), (380, 40), "radius-end"),
        slit_of("E2", (300, 60), (380, 60), "radius-end"),
        slit_of("F", (300, 80), (380, 80), "form"),
    ]

    def at(depth, name):
        return Break(lines=(name, "F"), depth=depth, lap=0.0, along=0.0)

    # The ends lie 40 and 30 mm short of the trim edge, 35 as a rule.
    depths, bends = (120.0, 120.0, 105.0), ((30.0, 80.0), (40.0, 90.0), (0.0, 70.0))
    breaks = (
        (at(50, "R2"), at(30, "R1"), at(70, "E1"), at(80, "E2")),
        (at(40, "R1"), at(100, "R2"), at(90, "E1")),
        (),
    )
    tucks = [
        tuck_in(slit, depth, bent(*bend), tip="soft", breaks=found)
        for slit, depth, bend, found in zip(slits, depths, bends, breaks, strict=True)
    ]
    worked = with_laps(pattern_with(slits, tucks, lines)).tucks
    assert [tuck.shape.bend for tuck in worked] == list(bends)
