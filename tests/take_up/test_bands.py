import numpy as np
import pytest

from digitize.draw.bands import bands_svg
from digitize.errors import ToldError
from digitize.record import Band, BandStation, Pattern, RadiusAt
from digitize.take_up.bands import jumps_of, radius_at, radius_bands
from tests.mend.test_carry import line
from tests.told import labelled


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
    with pytest.raises(ToldError, match="lies beyond"):
        labelled(bend(), {}, {"L1": ((500.0, False, 60.0),)}, {})


def test_the_plot_shows_what_is_known():
    text = bands_svg(labelled(bend(), {}, {"L1": 60.0}, {}))
    assert "width mm: 60 to 60" in text and "turned deg: 57 to 57" in text
    assert "radius mm" not in bands_svg(labelled(bend(), {}, {}, {}))


def paper_with(*lines):
    """A sheet of 500 by 400 mm with these lines; a line has a radius if one is told."""
    return Pattern(name="p", outline=((0, 0), (500, 0), (500, 400), (0, 400)), lines=lines)


def with_radius(drawn, radius):
    return drawn.model_copy(update={"radius": radius})


def test_the_nearest_radius_end_square_across_on_either_side_is_the_bands():
    # The start runs 4 mm right for 3 mm up. One end lies 45 mm to its left, another 80 to its
    # right; arc over radius is 45 / 90 = 0.5 radians, 28.648 degrees.
    left, right = np.array([-0.6, 0.8]), np.array([0.6, -0.8])
    a, b = np.array([150.0, 100.0]), np.array([390.0, 280.0])
    start = with_radius(line("L1", [a, b], "radius-start"), 90.0)
    near = line("L2", [a + 45 * left, b + 45 * left], "radius-end")
    far = line("L3", [a + 80 * right, b + 80 * right], "radius-end")
    (band,) = radius_bands(paper_with(start, far, near))
    assert band.ends == ("L2",)
    for station in band.stations:
        assert station.width == pytest.approx(45.0, abs=0.01)
        assert station.turned_deg == pytest.approx(28.648, abs=0.01)
    # The same seen in a mirror: the near one to the right.
    near, far = (
        line("L2", [a + 45 * right, b + 45 * right], "radius-end"),
        line("L3", [a + 80 * left, b + 80 * left], "radius-end"),
    )
    (band,) = radius_bands(paper_with(start, far, near))
    assert band.ends == ("L2",)
    assert band.stations[0].width == pytest.approx(45.0, abs=0.01)


def test_a_radius_end_across_the_whole_paper_is_no_end_of_the_band():
    # The side of a square as large as the paper is 447 mm, and 0.45 of that 201 mm.
    start = line("L1", [(50, 350), (450, 350)], "radius-start")
    assert radius_bands(paper_with(start, line("L2", [(50, 80), (450, 80)], "radius-end"))) == ()
    assert radius_bands(paper_with(start, line("L2", [(50, 180), (450, 180)], "radius-end")))


def test_a_radius_told_of_an_end_is_that_of_its_own_band_alone():
    # 40 over 80 mm is half a radian, 30 over 120 a quarter.
    first = line("L1", [(50, 300), (450, 300)], "radius-start")
    second = line("L3", [(50, 100), (450, 100)], "radius-start")
    its_end = with_radius(line("L2", [(50, 260), (450, 260)], "radius-end"), 80.0)
    other = with_radius(line("L4", [(50, 70), (450, 70)], "radius-end"), 120.0)
    upper, lower = radius_bands(paper_with(first, its_end, second, other))
    assert {s.turned_deg for s in upper.stations} == {28.648}
    assert {s.turned_deg for s in lower.stations} == {14.324}


def test_ends_told_with_two_radii_leave_the_bands_open():
    start = line("L1", [(50, 300), (450, 300)], "radius-start")
    one = with_radius(line("L2", [(50, 260), (245, 260)], "radius-end"), 80.0)
    two = with_radius(line("L3", [(255, 260), (450, 260)], "radius-end"), 120.0)
    (band,) = radius_bands(paper_with(start, one, two))
    assert {(s.radius, s.turned_deg) for s in band.stations} == {(None, None)}


def test_radii_count_by_their_places_in_whatever_order_they_are_told():
    # 90 mm at the start and 60 at 300 mm: a third of the way there 80 mm.
    told = tuple(
        RadiusAt(along=a, radius=r) for a, r in ((300.0, 60.0), (400.0, 75.0), (0.0, 90.0))
    )
    drawn = line("L1", [(0, 0), (400, 0)], "radius-start").model_copy(update={"radii": told})
    assert radius_at(drawn, 100.0) == pytest.approx(80.0)
    assert radius_at(drawn, 350.0) == pytest.approx(67.5)


def band_of(turned, radii):
    """A band with stations 20 mm apart."""
    stations = tuple(
        BandStation(along=20.0 * k, width=30.0, radius=radius, turned_deg=deg)
        for k, (deg, radius) in enumerate(zip(turned, radii, strict=True))
    )
    return Band(id="B1", start="L1", ends=("L2",), stations=stations)


def test_a_bend_that_grows_steadily_has_no_jump():
    # Steps of 8 degrees and 9 mm, more than 12 % of either, but all alike.
    assert jumps_of([band_of(20.0 + 8 * np.arange(6), 30.0 + 9 * np.arange(6))]) == ()


def test_a_jump_stands_between_the_two_stations_that_it_parts():
    # Steps of 4 and one of 12 degrees; of 2 and one of 14 mm.
    turned = [20.0, 24.0, 28.0, 40.0, 44.0, 48.0, 52.0]
    radii = [50.0, 52.0, 54.0, 56.0, 58.0, 72.0, 74.0]
    angle, radius = jumps_of([band_of(turned, radii)])
    assert (angle.what, angle.along, angle.before, angle.after) == (
        "turned angle",
        40.0,
        28.0,
        40.0,
    )
    assert (radius.what, radius.along, radius.before, radius.after) == ("radius", 80.0, 58.0, 72.0)


@pytest.mark.parametrize(
    ("turned", "radii"),
    [
        # 6 degrees over an even course are less than 12 % of about 60,
        ([54.0, 56.0, 58.0, 66.0, 68.0, 70.0, 72.0], [50.0] * 7),
        # 3 degrees are less than 4, whatever they are a share of,
        ([10.0, 10.0, 10.0, 13.0, 13.0, 13.0, 13.0], [50.0] * 7),
        # and 6 mm are less than 12 % of about 62.
        ([40.0] * 7, [50.0, 52.0, 54.0, 62.0, 64.0, 66.0, 68.0]),
    ],
    ids=["a small share", "a small angle", "a small share of the radius"],
)
def test_a_step_that_is_small_is_no_jump(turned, radii):
    assert jumps_of([band_of(turned, radii)]) == ()


def test_the_band_of_a_closed_line_goes_all_round():
    def ring(identifier, half, role):
        corners = [(250 - half, 200 - half), (250 + half, 200 - half)]
        corners += [(250 + half, 200 + half), (250 - half, 200 + half)]
        drawn = line(identifier, [(0, 0), (1, 1)], role, corners)
        return drawn.model_copy(update={"closed": True})

    # A square of 200 mm inside one of 260: 30 mm wide along all of its 800 mm.
    (band,) = radius_bands(
        paper_with(ring("L1", 100, "radius-start"), ring("L2", 130, "radius-end"))
    )
    assert [station.along for station in band.stations] == pytest.approx(np.arange(10, 800, 20))
    assert {station.width for station in band.stations} == {30.0}
