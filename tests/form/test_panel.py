"""Whether a panel in space holds: a tuck that was missed, or a radius against the laps."""

import numpy as np
import pytest

from digitize.form import formed, uneven_rounds
from digitize.jobs.form import remarks_of
from digitize.take_up import zones_and_fans
from digitize.take_up.derived import derived
from tests.form.bent import line, round_panel, straight_bend

COARSE_MM = 40.0


def without(record, name):
    """The record, had that tuck been missed."""
    left = tuple(tuck for tuck in record.tucks if tuck.id != name)
    return derived(record.model_copy(update={"tucks": left}))


def deeper(tuck):
    """The tuck with half as much lap again."""
    stations = (each.model_copy(update={"lap": 1.5 * each.lap}) for each in tuck.stations)
    return tuck.model_copy(update={"stations": tuple(stations)})


def test_round_a_dome_the_gap_that_a_missed_tuck_leaves_is_found():
    record = round_panel(spreads=False)
    assert not uneven_rounds(zones_and_fans(record))
    # Of eight tucks, those beside the gap have 3/16 of the round each, the others 2/16.
    for name, beside in (("T3", ("T2", "T4")), ("T1", ("T8", "T2")), ("T8", ("T7", "T1"))):
        (found,) = uneven_rounds(zones_and_fans(without(record, name)))
        assert found.tucks == beside
        assert found.share == pytest.approx(1 / 3, abs=0.01)
    # Had the paper been slit more widely there, the neighbours would take up half as much more.
    wider = derived(
        record.model_copy(
            update={
                "tucks": tuple(
                    deeper(tuck) if tuck.id in ("T2", "T4") else tuck
                    for tuck in record.tucks
                    if tuck.id != "T3"
                )
            }
        )
    )
    assert not uneven_rounds(zones_and_fans(wider))
    # What is evenly spaced still, as every other one was missed, cannot be told by this.
    every = record
    for name in ("T1", "T3", "T5", "T7"):
        every = without(every, name)
    assert not uneven_rounds(zones_and_fans(every))


def test_a_dome_less_a_tuck_does_not_hold_and_says_where():
    form = formed(without(round_panel(spreads=False), "T3"), COARSE_MM)
    assert form.solution.holds and not form.holds
    (remark,) = remarks_of(form)
    assert remark.kind == "form-not-round" and remark.about == ("Z1", "T2", "T4")
    assert "takes up 33% less" in remark.words


def test_a_zone_whose_laps_and_radii_contradict_each_other_does_not_hold():
    record = round_panel(spreads=False)
    (zone,) = record.zones
    told = zone.curvature.model_copy(
        update={
            "radii_deg": zone.curvature.laps_deg + 9.0,  # where 1.96 * 2.06 would do
            "radii_sigma_deg": 2.0,
            "laps_sigma_deg": 0.5,
        }
    )
    zones = (zone.model_copy(update={"curvature": told}),)
    form = formed(record.model_copy(update={"zones": zones}), COARSE_MM)
    assert form.solution.holds and not form.holds
    assert [each.kind for each in remarks_of(form)] == ["form-contradicts"]


def test_a_bend_that_turns_with_no_tuck_beside_it_does_not_hold():
    record = straight_bend(60.0, 50.0)
    assert formed(record, COARSE_MM).holds
    # About (130, -100): 40 degrees of arc, bent by 60 / 50 in radians, 69 degrees.
    turn = np.radians(np.arange(110.0, 69.0, -1.0))
    lines = tuple(
        line(name, role, np.column_stack([130 + r * np.cos(turn), r * np.sin(turn) - 100]), radius)
        for name, role, r, radius in (
            ("L2", "radius-start", 190.0, 50.0),
            ("L3", "radius-end", 250.0, None),
        )
    )
    curved = derived(record.model_copy(update={"lines": (record.lines[0], *lines)}))
    assert not formed(curved, COARSE_MM).holds
