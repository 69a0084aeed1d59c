"""Facts told about a record on disk: kept, replayed on the reading beside it, and taken back."""

import json

import pytest
from typer.testing import CliRunner

from digitize.cli import app
from digitize.errors import RecordError, ToldError
from digitize.jobs.folder import load_pattern
from digitize.jobs.tell import facts_in_file, tell, told_about
from digitize.record import DrawLine, EraseLine, TellRole, TellWords, from_json, to_json

runner = CliRunner(env={"COLUMNS": "130"})


@pytest.fixture
def folder(corner, tmp_path):
    (tmp_path / "pattern.json").write_text(to_json(corner))
    (tmp_path / "reading.json").write_text(to_json(corner))
    return tmp_path


def test_what_the_photos_gave_stays_and_the_record_follows_from_it(folder, corner):
    before = (folder / "reading.json").read_bytes()
    tell(folder, facts=[EraseLine(on="L18")], notes={"L1": "crown"})
    record = load_pattern(folder)
    assert (folder / "reading.json").read_bytes() == before
    assert {line.id for line in corner.lines} - {line.id for line in record.lines} == {"L18"}
    assert [(fact.number, fact.kind) for fact in record.told] == [(1, "erase"), (2, "words")]
    assert all(fact.time for fact in record.told)
    tell(folder, take_back=[1])
    record = load_pattern(folder)
    assert record.line("L18").points == corner.line("L18").points
    assert record.line("L1").note == "crown"
    tell(folder, again=[1], take_back=[2])
    record = load_pattern(folder)
    assert "L18" not in {line.id for line in record.lines} and record.line("L1").note is None


def test_a_record_of_before_gets_a_reading_and_the_facts_that_it_carries(corner, tmp_path):
    path = tmp_path / "pattern.json"
    lines = tuple(
        line.model_copy(update={"note": "crown"}) if line.id == "L1" else line
        for line in corner.lines
    )
    path.write_text(to_json(corner.model_copy(update={"lines": lines})))
    tell(tmp_path, roles={"L18": "unknown"})
    record = load_pattern(tmp_path)
    assert [fact.kind for fact in record.told] == ["words", "role"]
    assert record.line("L1").note == "crown"
    assert from_json((tmp_path / "reading.json").read_text()).line("L1").note is None


def test_a_record_under_another_name_has_its_reading_beside_it(corner, tmp_path):
    path = tmp_path / "sill.json"
    path.write_text(to_json(corner))
    tell(path, notes={"L1": "crown"})
    assert (tmp_path / "sill.reading.json").exists()
    tell(path, take_back=[1])
    assert load_pattern(path).line("L1").note is None


def test_what_does_not_fit_changes_nothing(folder):
    before = {path: path.read_bytes() for path in folder.iterdir()}
    for wrong in (
        {"facts": [DrawLine(points=((0, 0), (1, 0)))]},
        {"facts": [EraseLine(on="L99")]},
        {"take_back": [3]},
        {"facts": [EraseLine(on="L1"), TellWords(at=(-900.0, 0.0), words="x")]},
    ):
        with pytest.raises(ToldError):
            tell(folder, **wrong)
    assert {path: path.read_bytes() for path in folder.iterdir()} == before


def test_a_reading_of_other_photos_is_refused(folder, corner):
    source = corner.sources[0].model_copy(update={"sha256": "0" * 64})
    other = corner.model_copy(update={"sources": (source,)})
    (folder / "reading.json").write_text(to_json(other))
    with pytest.raises(RecordError, match="read from other photos"):
        tell(folder, notes={"L1": "crown"})


def test_drawings_that_are_no_longer_true_are_taken_away(folder, corner):
    stale = [
        folder / f"easy-{side}{end}" for side in ("left", "right") for end in (".dxf", "-a4.pdf")
    ]
    for path in (*stale, folder / "overlay.jpg", folder / "mine.pdf"):
        path.write_bytes(b"of before")
    changed = tell(folder, notes={"L1": "crown"})
    assert set(changed.gone) == {*stale, folder / "overlay.jpg"}
    assert not any(path.exists() for path in stale)
    assert (folder / "mine.pdf").exists()


def test_a_group_or_its_end_stands_for_its_lines(folder):
    tell(folder, radii={"r1-start": 76.2}, notes={"E1": "folded edge"})
    record = load_pattern(folder)
    group = next(group for group in record.groups if group.id == "E1")
    assert all(record.line(piece.line).note == "folded edge" for piece in group.pieces)
    start = record.bands[0].start
    assert record.line(start).radius == 76.2
    tell(folder, radii={"r1-start": ()})
    end = record.bands[0].ends[0]
    tell(folder, radii={end.lower(): 80.0})
    record = load_pattern(folder)
    assert record.line(start).radius == 80.0 and record.line(end).radius is None


def test_facts_come_from_a_file_all_or_none(folder, tmp_path):
    file = tmp_path / "facts.json"
    file.write_text(
        json.dumps(
            [
                {"kind": "draw", "points": [[100, 300], [250, 320]], "role": "form"},
                {"kind": "erase", "on": "l18"},
                {"kind": "hole", "at": [150, 250], "diameter": 6},
            ]
        )
    )
    result = runner.invoke(app, ["tell", str(folder), str(file)])
    assert result.exit_code == 0, result.output
    record = load_pattern(folder)
    assert record.line("M1").role == "form" and record.holes[0].id == "H3"
    listed = runner.invoke(app, ["told", str(folder)])
    for words in ("M1: form line drawn", "L18: erased", "hole of 6 mm"):
        assert words in listed.stdout
    back = runner.invoke(app, ["told", str(folder), "--take-back", "1"])
    assert back.exit_code == 0 and "taken back" in back.stdout
    assert [heard.counts for heard in told_about(folder)] == [False, True, True, True]


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("no", "not a file of facts"),
        ("{}", "not a file of facts"),
        ('[{"kind": "paint"}]', "not a file of facts: 0"),
        ('[{"kind": "hole", "at": [1, 2], "diameter": -4}]', "greater than 0"),
        ('[{"kind": "hole", "at": [1, 2], "diameter": 1e999}]', "finite"),
        ('[{"kind": "draw", "points": [[1, 2]]}]', "at least 2"),
    ],
)
def test_a_file_that_holds_no_facts_is_explained(tmp_path, text, words):
    file = tmp_path / "facts.json"
    file.write_text(text)
    with pytest.raises(ToldError, match=words):
        facts_in_file(file)


def test_roles_go_in_any_case_and_near_misses_are_named(folder):
    result = runner.invoke(app, ["label", str(folder), "--role", "l18=Radius Start"])
    assert result.exit_code == 0, result.output
    assert load_pattern(folder).line("L18").role == "radius-start"
    wrong = runner.invoke(app, ["label", str(folder), "--role", "L18=radius-strat"])
    assert wrong.exit_code == 2 and "did you mean radius-start?" in wrong.stderr


def test_bare_numbers_are_in_the_users_unit(folder):
    fraction = runner.invoke(app, ["label", str(folder), "--radius", "L8=3 1/4"])
    assert fraction.exit_code == 2 and "has no unit" in fraction.stderr
    tell(folder, facts=[{"kind": "about", "unit": "inch"}])
    result = runner.invoke(app, ["label", str(folder), "--radius", "L8=3 1/4@0%,3,5@100%"])
    assert result.exit_code == 0, result.output
    radii = load_pattern(folder).line("L8").radii
    assert [each.radius for each in radii] == pytest.approx([82.55, 88.9])


def test_a_role_told_is_found_again_by_its_place_in_the_file(folder):
    tell(folder, facts=[TellRole(on="L18", role="unknown")])
    (fact,) = load_pattern(folder).told
    assert fact.on.line == "L18" and len(fact.on.points) >= 2
