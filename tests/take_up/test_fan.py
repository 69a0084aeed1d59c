import numpy as np
import pytest

from digitize.plane import running_length
from digitize.take_up.fan import fan_of
from tests.take_up.slits import pattern_with, slit_of, staggered, tuck_in


def fan_on_rays(rays, closed=False):
    """Slits on rays about (0, 0): degrees, radius of tip and of trim edge, slope of the lap."""
    slits, tucks = [], []
    for number, (turn_deg, tip, trim, slope) in enumerate(rays, start=1):
        way = np.array([np.cos(np.radians(turn_deg)), np.sin(np.radians(turn_deg))])
        slits.append(slit_of(f"S{number}", tip * way, (trim + 40) * way))
        tucks.append(tuck_in(slits[-1], trim - tip, lambda d, slope=slope: slope * d))
    return fan_of(pattern_with(slits, tucks), tucks, closed)


def taken_between(fan, depths):
    """The local shrink summed up along a curve, between the half-way places."""
    along = running_length(fan.row(depths))
    shrink = fan.shrinks(depths[None])[0]
    taken = np.concatenate([[0], np.cumsum((shrink[1:] + shrink[:-1]) / 2 * np.diff(along))])
    return np.diff(taken[fan.edges])


def test_depth_is_measured_from_the_innermost_tip():
    record = staggered()
    fan = fan_of(record, record.tucks, False)
    # The curves across upright slits are level: the third tip is the lowest, at a height of -20.
    assert fan.tips == pytest.approx([20, 50, 0], abs=1e-6)
    assert fan.trims == pytest.approx([120, 120, 120], abs=1e-6)


def test_take_up_is_measured_from_each_tucks_own_tip():
    record = staggered()
    fan = fan_of(record, record.tucks, False)
    # 80 mm above the lowest tip is 60, 30 and 80 mm above their own.
    laps = fan.take_up(np.full(3, 80.0))
    assert laps == pytest.approx([0.1 * 60, 0.2 * 30, 0.05 * 80], abs=0.02)
    # At the second tip's height there is nothing to take up yet.
    assert fan.take_up(np.full(3, 45.0))[1] == pytest.approx(0.0, abs=1e-9)


@pytest.mark.parametrize("depth", [0.0, 80.0])
@pytest.mark.parametrize("backwards", [False, True])
def test_a_curve_reaches_half_a_spacing_beyond_the_outermost_tucks(depth, backwards):
    record = staggered()
    tucks = record.tucks[::-1] if backwards else record.tucks
    fan = fan_of(record, tucks, False)
    row = fan.row(np.full(3, depth))
    if backwards:
        row = row[::-1]
    # Spacings of 50 and 100 mm: 25 mm out on the left, 50 mm on the right.
    assert row[:, 1] == pytest.approx(depth - 20, abs=1e-6)
    assert row[fan.seams, 0] == pytest.approx([40, 90, 190], abs=1e-6)
    assert row[fan.edges, 0] == pytest.approx([15, 65, 140, 240], abs=1e-6)
    assert (np.diff(row[:, 0]) > 0).all()


def test_a_lone_tuck_takes_up_over_a_share_of_its_length():
    slit = slit_of("S1", (0, 0), (0, 150))
    tuck = tuck_in(slit, 100.0, lambda d: 0.1 * d)
    fan = fan_of(pattern_with([slit], [tuck]), [tuck], False)
    row = fan.row(fan.trims)
    # Three tenths of its 100 mm to either side; the lap of 10 mm spread over those 60 mm.
    assert sorted(row[[0, -1], 0]) == pytest.approx([-30, 30])
    assert fan.shrinks(fan.trims[None])[0].mean() == pytest.approx(10 / 60, abs=0.002)


def test_curves_across_rays_are_arcs_about_where_those_meet():
    fan = fan_on_rays([(0, 40, 200, 0.1), (50, 75, 200, 0.2)])
    assert fan.tips == pytest.approx([0, 35], abs=0.05)
    assert fan.trims == pytest.approx([160, 160], abs=0.05)
    row = fan.row(fan.trims)
    between = row[fan.seams[0] : fan.seams[1] + 1]
    assert np.hypot(*between.T) == pytest.approx(200, abs=0.1)
    # Fifty degrees of it between the tucks, and half as much straight on beyond each.
    arc = 200 * np.radians(50)
    assert running_length(row)[fan.edges] == pytest.approx([0, arc, 2 * arc], rel=1e-3)


def test_a_lone_tuck_closed_round_its_tip_is_cut_open_across_from_it():
    slit = slit_of("S1", (10, 20), (10, 220))
    tuck = tuck_in(slit, 150.0, lambda d: 0.1 * d)
    fan = fan_of(pattern_with([slit], [tuck]), [tuck], True)
    row = fan.row(np.array([60.0]))
    assert row[fan.seams[0]] == pytest.approx([10, 80], abs=1e-6)
    assert row[0] == pytest.approx([10, -40], abs=1e-6)
    assert row[-1] == pytest.approx(row[0])


def test_the_shrink_of_tucks_all_round_gives_back_every_lap_and_has_no_seam():
    rays = [(0, 30, 150, 0.1), (60, 30, 150, 0.2), (130, 30, 150, 0.05), (220, 30, 150, 0.15)]
    fan = fan_on_rays([*rays, (300, 30, 150, 0.3)], closed=True)
    row, shrink = fan.row(fan.trims), fan.shrinks(fan.trims[None])[0]
    assert row[0] == pytest.approx(row[-1])
    # Half way between the last ray and the first, at 330 degrees.
    assert np.degrees(np.arctan2(row[0, 1], row[0, 0])) == pytest.approx(-30, abs=0.1)
    assert shrink[0] == pytest.approx(shrink[-1])
    assert taken_between(fan, fan.trims) == pytest.approx([12, 24, 6, 18, 36], rel=0.05)
