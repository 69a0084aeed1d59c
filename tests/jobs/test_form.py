"""The form as a job: what it writes, and what it says where something is missing."""

import re

import pytest
from typer.testing import CliRunner

from digitize import form_pattern, tell
from digitize.cli import app
from digitize.errors import FormError
from digitize.jobs.formats import FORM_FILES
from digitize.record import to_json
from digitize.take_up.derived import derived
from tests.form.bent import round_panel, straight_bend


def kept(pattern, folder):
    path = folder / "pattern.json"
    path.write_text(to_json(pattern))
    return path


@pytest.mark.slow
def test_a_record_becomes_models_gauges_and_sheets_of_both_sides(tmp_path):
    record = kept(straight_bend(60.0, 50.0), tmp_path)
    result = CliRunner().invoke(
        app, ["form", str(record), "--out", str(tmp_path / "out"), "--between", "40,60", "60,150"]
    )
    assert result.exit_code == 0, result.output
    assert {path.name for path in (tmp_path / "out").iterdir()} == set(FORM_FILES)
    assert "Over all" in result.output and "within" in result.output and "Gloves" in result.output
    sheet = (tmp_path / "out" / "form.svg").read_text()
    assert re.search(r"Over all \(95 %\): length \d+ mm \([\d/ ]+ in\) within \d", sheet)
    assert "Views 1:" in sheet and "data:image/png" in sheet


@pytest.mark.slow
def test_what_is_not_determined_is_said_with_what_would_gain_most(tmp_path):
    pattern = straight_bend(60.0, 50.0)
    band = pattern.bands[0]
    # Told at one end alone: at the other it is open.
    stations = tuple(
        s.model_copy(update={"radius": None, "turned_deg": None}) if s.along > 60 else s
        for s in band.stations
    )
    half = pattern.model_copy(update={"bands": (band.model_copy(update={"stations": stations}),)})
    shaped = form_pattern(kept(half, tmp_path))
    (remark,) = [each for each in shaped.remarks if each.kind == "form-open"]
    assert "not determined" in remark.words and '--radius L2="76mm@0%' in remark.words
    assert remark.about == ("B1",)


def test_without_a_radius_it_says_which_band_to_measure_and_how_to_tell_it(tmp_path):
    record = kept(straight_bend(60.0, None), tmp_path)
    with pytest.raises(FormError, match=r"along L2.*band B1, 160 mm long.*--radius L2="):
        form_pattern(record)
    result = CliRunner().invoke(app, ["form", str(record)])
    assert result.exit_code == 33


def test_without_bends_it_says_what_to_tell(tmp_path):
    flat = straight_bend(60.0, 50.0).model_copy(update={"bands": (), "zones": ()})
    with pytest.raises(FormError, match=r"--role L1=radius-start"):
        form_pattern(kept(flat, tmp_path))


@pytest.mark.parametrize(
    "option", [("--face", "upper"), ("--sheet", "a9"), ("--between", "1,2", "3")]
)
def test_an_option_that_cannot_be_understood_is_refused(tmp_path, option):
    record = kept(straight_bend(60.0, 50.0), tmp_path)
    result = CliRunner().invoke(app, ["form", str(record), *option])
    assert result.exit_code == 2


def test_a_form_is_taken_away_once_it_is_no_longer_true(tmp_path):
    kept(straight_bend(60.0, 50.0), tmp_path)
    for name in FORM_FILES:
        (tmp_path / name).write_bytes(b"of before")
    changed = tell(tmp_path, radii={"L2": 55.0})
    assert {path.name for path in changed.gone} == set(FORM_FILES)
    assert not any((tmp_path / name).exists() for name in FORM_FILES)


def test_a_saddle_is_refused_with_the_reason(tmp_path):
    record = round_panel(spreads=True)
    assert record.zones[0].curvature.laps_deg < -20
    with pytest.raises(FormError, match=r"zone Z1 opens by \d+ degrees: a saddle"):
        form_pattern(kept(record, tmp_path))


def test_what_does_not_hold_is_not_said_to_be_within_anything(tmp_path, monkeypatch):
    monkeypatch.setattr("digitize.form.solve.HOLDS", 0.0)
    shaped = form_pattern(kept(straight_bend(60.0, 50.0), tmp_path))
    assert not shaped.holds and shaped.within_95 is None
    assert not any("within" in words for words in shaped.words)
    assert all(gauge.doubtful for gauge in shaped.gauges)
    sheet = (tmp_path / "form.svg").read_text()
    assert "nobody knows" in sheet and "lies within" not in sheet


def test_a_tuck_that_no_zone_counts_is_asked_about(tmp_path):
    record = round_panel(spreads=False)
    unsure = tuple(tuck.model_copy(update={"unsure": tuck.id == "T3"}) for tuck in record.tucks)
    record = derived(record.model_copy(update={"tucks": unsure}))
    with pytest.raises(FormError, match=r"without the lap of T3 .* digitize tuck FOLDER"):
        form_pattern(kept(record, tmp_path))
