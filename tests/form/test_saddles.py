"""Zones that open where nothing says how they bend."""

from digitize.form import saddles_of
from tests.form.bent import round_panel, straight_bend


def test_a_zone_that_opens_about_a_pole_is_a_saddle_and_a_dome_is_none():
    (zone,) = saddles_of(round_panel(spreads=True))
    assert zone.id == "Z1" and zone.curvature.laps_deg < -20
    assert not saddles_of(round_panel(spreads=False))
    assert not saddles_of(straight_bend(60.0, 50.0))


def test_what_is_no_more_than_its_doubt_is_none():
    record = round_panel(spreads=True)
    (zone,) = record.zones
    for sigma, count in ((0.4, 1), (0.6, 0)):
        vague = zone.curvature.model_copy(
            update={"laps_sigma_deg": -sigma * zone.curvature.laps_deg}
        )
        own = record.model_copy(update={"zones": (zone.model_copy(update={"curvature": vague}),)})
        assert len(saddles_of(own)) == count
