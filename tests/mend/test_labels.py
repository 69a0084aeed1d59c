"""What is told about lines, by hand on a bend 200 mm long and 60 mm wide."""

import math

import pytest

from digitize.errors import ToldError
from digitize.mend import RadiusTold
from digitize.record import Line, Pattern
from tests.told import labelled


def line(identifier, role, y):
    return Line(
        id=identifier,
        role=role,
        role_confidence=0.6,
        points=((20.0, y), (120.0, y), (220.0, y)),
        width=0.5,
        sigma=0.1,
    )


def bend():
    return Pattern(
        name="bend",
        outline=((0.0, 0.0), (400.0, 0.0), (400.0, 180.0), (0.0, 180.0)),
        lines=(line("L1", "radius-start", 30.0), line("L2", "unknown", 90.0)),
    )


def test_a_role_and_a_radius_told_turn_the_band_by_its_width_over_the_radius():
    told = labelled(bend(), {"L2": "radius-end"}, {"L1": 100.0}, {})
    assert (told.line("L2").role_by, told.line("L2").role_confidence) == ("told", 1.0)
    assert told.line("L1").role_by == "proposed"
    (band,) = told.bands
    # 60 mm over 100 are 0.6 radians.
    assert {station.turned_deg for station in band.stations} == {round(math.degrees(0.6), 3)}


def test_radii_are_told_in_mm_or_as_a_share_of_the_length():
    told = labelled(bend(), {}, {"L1": ((0.75, True, 80.0), (0.5, False, 50.0))}, {})
    assert [(s.along, s.radius) for s in told.line("L1").radii] == [(0.5, 50), (150, 80)]


@pytest.mark.parametrize(("end", "along"), [("left", 30.0), ("right", 170.0)])
def test_places_along_a_line_count_from_the_end_that_is_named(end, along):
    radii = (RadiusTold(30.0, False, 80.0, end),)
    told = labelled(bend(), {}, {"L1": radii}, {}).line("L1")
    assert [(each.along, each.radius) for each in told.radii] == [(along, 80.0)]
    back = line("L1", "radius-start", 30.0).model_copy(
        update={"points": ((220.0, 30.0), (120.0, 30.0), (20.0, 30.0))}
    )
    turned = bend().model_copy(update={"lines": (back,)})
    (other,) = labelled(turned, {}, {"L1": radii}, {}).line("L1").radii
    assert other.along == 200 - along


@pytest.mark.parametrize(("end", "along"), [("top", 50.0), ("bottom", 150.0)])
def test_an_upright_lines_ends_are_top_and_bottom(end, along):
    upright = line("L1", "radius-start", 30.0).model_copy(
        update={"points": ((40.0, 220.0), (40.0, 120.0), (40.0, 20.0))}
    )
    pattern = bend().model_copy(update={"lines": (upright,)})
    told = labelled(pattern, {}, {"L1": (RadiusTold(0.25, True, 80.0, end),)}, {})
    assert [each.along for each in told.line("L1").radii] == [along]


def test_a_closed_line_has_no_end_to_count_from():
    ring = line("L1", "radius-start", 30.0).model_copy(
        update={"points": ((20.0, 30.0), (120.0, 30.0), (70.0, 90.0)), "closed": True}
    )
    pattern = bend().model_copy(update={"lines": (ring,)})
    with pytest.raises(ToldError, match="L1: is closed and has no left end"):
        labelled(pattern, {}, {"L1": (RadiusTold(5.0, False, 80.0, "left"),)}, {})


def test_a_radius_told_anew_takes_the_place_of_what_was_told():
    along = labelled(bend(), {}, {"L1": ((10.0, False, 50.0),)}, {})
    whole = labelled(along, {}, {"L1": 70.0}, {})
    assert (whole.line("L1").radius, whole.line("L1").radii) == (70, ())
    again = labelled(whole, {}, {"L1": ((10.0, False, 50.0),)}, {})
    assert again.line("L1").radius is None and len(again.line("L1").radii) == 1


@pytest.mark.parametrize(("place", "is_share"), [(240.0, False), (1.2, True), (-1.0, False)])
def test_a_radius_told_beyond_the_lines_ends_is_refused(place, is_share):
    with pytest.raises(ToldError, match=r"L1: is 200 mm long"):
        labelled(bend(), {}, {"L1": ((place, is_share, 50.0),)}, {})
    assert labelled(bend(), {}, {"L1": ((200.0, False, 50.0),)}, {}).line("L1").radii


def test_a_note_of_no_words_takes_the_note_away():
    noted = labelled(bend(), {}, {}, {"L1": "crown"})
    assert noted.line("L1").note == "crown" and noted.line("L2").note is None
    assert labelled(noted, {}, {}, {"L1": ""}).line("L1").note is None
    assert labelled(noted, {}, {"L1": 70.0}, {}).line("L1").note == "crown"


@pytest.mark.parametrize(
    "told", [({"L9": "form"}, {}, {}), ({}, {"L9": 9.0}, {}), ({}, {}, {"L9": "x"})]
)
def test_a_line_that_is_not_there_is_refused_with_those_that_are(told):
    with pytest.raises(ToldError, match="L9: the pattern has no such line; it has L1 L2"):
        labelled(bend(), *told)


def test_a_radius_may_be_a_whole_number(corner):
    assert labelled(corner, {}, {"L8": 76}, {}).line("L8").radius == 76.0
