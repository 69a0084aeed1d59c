"""A tuck told to have opened, on a slit 119.5 mm deep that the trim edge crosses at 90."""

import pytest

from digitize.errors import ToldError
from tests.marks import record_of
from tests.told import with_spread
from tests.tucks.test_tucks import OUTLINE, line_broken_at, slit_at


@pytest.fixture(scope="module")
def slit():
    """A record of one slit that laps by 12 mm at the paper's edge."""
    places = [(150, 12.0)]
    marks = [*slit_at(150, 12.0), *line_broken_at(30, places), *line_broken_at(60, places)]
    return record_of(marks, OUTLINE)


def entered(record):
    return [
        (station.depth, station.lap, station.sigma)
        for station in record.tucks[0].stations
        if station.evidence == "entered"
    ]


def test_a_gap_is_a_lap_less_than_nothing_and_as_sure_as_a_rule(slit):
    told = with_spread(slit, "T1", [(None, 6.0), (40.0, 2.5)])
    trim = slit.tucks[0].depth_at_trim
    assert trim == pytest.approx(90, abs=1)
    # Read with a rule: 0.3 mm (common practice, no source).
    assert entered(told) == [(40.0, -2.5, 0.3), (pytest.approx(trim, abs=1e-3), -6.0, 0.3)]
    assert told.tucks[0].kind == "spread"
    assert told.tucks[0].lap_at_trim == pytest.approx(-6, abs=0.5)
    depths = [station.depth for station in told.tucks[0].stations]
    assert depths == sorted(depths)
    assert len(depths) == len(slit.tucks[0].stations) + 2


def test_gaps_told_anew_take_the_place_of_those_told_before(slit):
    again = with_spread(with_spread(slit, "T1", [(40.0, 2.5)]), "T1", [(60.0, 4.0)])
    assert entered(again) == [(60.0, -4.0, 0.3)]
    back = with_spread(again, "T1", [])
    assert back.tucks[0].kind == "slit" and not entered(back)
    assert back.tucks[0].stations == slit.tucks[0].stations


@pytest.mark.parametrize("depth", [0.0, -40.0, 130.0])
def test_a_gap_beside_the_slit_is_refused(slit, depth):
    with pytest.raises(ToldError, match=r"T1: is 1\d\d mm long"):
        with_spread(slit, "T1", [(depth, 2.5)])


def test_a_fold_told_to_have_opened_is_a_fold_again_when_that_is_taken_back(slit):
    (tuck,) = slit.tucks
    lines = tuple(
        line.model_copy(update={"role": "crease"}) if line.id == tuck.slit else line
        for line in slit.lines
    )
    fold = tuck.model_copy(update={"kind": "fold"})
    record = slit.model_copy(update={"lines": lines, "tucks": (fold,)})
    assert with_spread(record, "T1", []).tucks[0].kind == "fold"
    told = with_spread(record, "T1", [(None, 6.0)])
    assert told.tucks[0].kind == "spread"
    assert with_spread(told, "T1", []).tucks[0].kind == "fold"


def test_a_tuck_that_is_not_there_is_refused_with_those_that_are(slit):
    with pytest.raises(ToldError, match="T9: the pattern has no such tuck; it has T1"):
        with_spread(slit, "T9", [(40.0, 2.5)])
