import numpy as np
import pytest

from digitize.draw.bands import bands_svg
from digitize.errors import LabelError
from digitize.mend.labels import labelled
from digitize.record import Pattern
from digitize.take_up.bands import jumps_of, radius_at, radius_bands
from tests.mend.test_carry import line


def bend(widths=(60.0, 60.0)):
    """A radius start 400 mm long with two radius ends across from it, broken by a tuck."""
    a, b = widths
    return Pattern(
        name="bend",
        outline=((0, 0), (420, 0), (420, 200), (0, 200)),
        lines=(
            line("L1", [[10, 150], [410, 150]], "radius-start"),
            line("L2", [[10, 150 - a], [205, 150 - a]], "radius-end"),
            line("L3", [[215, 150 - b], [410, 150 - b]], "radius-end"),
        ),
    )


def test_a_band_is_as_wide_as_its_arc_is_long():
    told = labelled(bend(), {}, {"L1": 60.0}, {})
    (band,) = told.bands
    assert (band.start, band.ends) == ("L1", ("L2", "L3"))
    assert {s.width for s in band.stations} == {60.0}
    # A radian is the arc as long as its radius.
    assert band.stations[0].turned_deg == pytest.approx(np.degrees(1.0), abs=0.001)
    assert not jumps_of(told.bands)


def test_radii_at_stations_are_joined_by_straight_lines():
    told = labelled(bend(), {}, {"L1": ((0.0, True, 60.0), (1.0, True, 100.0))}, {})
    assert radius_at(told.line("L1"), 100) == pytest.approx(70)
    assert radius_at(told.line("L1"), 400) == pytest.approx(100)
    assert radius_at(bend().line("L1"), 100) is None


def test_a_jump_of_the_angle_is_a_flat_or_a_kink():
    told = labelled(bend((60.0, 75.0)), {}, {"L1": 60.0}, {})
    (jump,) = jumps_of(told.bands)
    assert (jump.band, jump.start, jump.what, jump.along) == ("B1", "L1", "turned angle", 190.0)
    assert jump.before == pytest.approx(57.3, abs=0.1) and jump.after == pytest.approx(
        71.6, abs=0.1
    )


def test_a_line_without_a_radius_end_across_has_no_band():
    lonely = bend().model_copy(update={"lines": bend().lines[:1]})
    assert radius_bands(lonely) == ()


def test_a_station_beyond_the_line_is_refused():
    with pytest.raises(LabelError, match="lies beyond"):
        labelled(bend(), {}, {"L1": ((500.0, False, 60.0),)}, {})


def test_the_plot_shows_what_is_known():
    text = bands_svg(labelled(bend(), {}, {"L1": 60.0}, {}))
    assert "width mm: 60 to 60" in text and "turned deg: 57 to 57" in text
    assert "radius mm" not in bands_svg(labelled(bend(), {}, {}, {}))
