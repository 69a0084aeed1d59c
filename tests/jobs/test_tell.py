"""Facts told about a record on disk: kept, replayed on the reading beside it, and taken back."""

import json

import pytest
from PIL import Image
from typer.testing import CliRunner

from digitize.cli import app
from digitize.errors import NotRead, RecordError, ToldError
from digitize.jobs.folder import draw_beside, load_pattern
from digitize.jobs.tell import facts_in_file, tell, told_about
from digitize.record import (
    DrawLine,
    EraseLine,
    Rectified,
    TellAbout,
    TellRole,
    TellWords,
    from_json,
    to_json,
)

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
    for words in ("M1: form line drawn", "L18: erased", "hole, diameter 6.0 mm (1/4 in)"):
        assert words in listed.stdout
    tell(folder, facts=[TellAbout(unit="inch")])
    listed = runner.invoke(app, ["told", str(folder)])
    assert "diameter 1/4 in (6.0 mm)" in listed.stdout and "lengths in inches" in listed.stdout
    back = runner.invoke(app, ["told", str(folder), "--take-back", "1"])
    assert back.exit_code == 0 and "taken back" in back.stdout
    assert [heard.counts for heard in told_about(folder)] == [False, *[True] * 4]


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


def test_a_copy_without_its_reading_is_refused_and_says_what_is_missing(folder, tmp_path):
    tell(folder, notes={"L1": "crown"})
    copy = tmp_path / "copy.json"
    copy.write_bytes((folder / "pattern.json").read_bytes())
    with pytest.raises(RecordError, match=r"copy\.reading\.json: is missing"):
        tell(copy, notes={"L2": "edge"})


def test_keys_that_nobody_knows_outlast_what_is_told(folder):
    record = json.loads((folder / "pattern.json").read_text())
    record["customer"] = "K"
    record["lines"][0]["cam"] = 7
    (folder / "pattern.json").write_text(json.dumps(record))
    tell(folder, notes={"L2": "edge"})
    after = json.loads((folder / "pattern.json").read_text())
    assert after["customer"] == "K" and after["lines"][0]["cam"] == 7


def test_a_picture_that_is_not_the_one_read_is_refused(folder, corner):
    place = Rectified(left=0.0, top=600.0, mm_per_px=1.0, size_px=(900, 700))
    for name in ("pattern.json", "reading.json"):
        (folder / name).write_text(to_json(corner.model_copy(update={"rectified": place})))
    Image.new("RGB", (450, 350)).save(folder / "rectified.jpg")
    slit = corner.tucks[0]
    fact = {"kind": "cut", "on": slit.lap_line or slit.slit}
    with pytest.raises(NotRead, match="is not the picture that was read"):
        tell(folder, facts=[fact])
    (folder / "rectified.jpg").write_bytes(b"no picture")
    with pytest.raises(NotRead, match="cannot be read as a picture"):
        tell(folder, facts=[fact])


def test_a_fact_may_name_a_line_that_one_before_it_draws(folder):
    draw = {"kind": "draw", "points": [[100, 300], [250, 320]]}
    changed = tell(folder, facts=[draw, {"kind": "role", "on": "M1", "role": "form"}])
    assert changed.pattern.line("M1").role == "form"


def test_a_fact_of_a_later_kind_is_kept_and_named(folder, corner):
    tell(folder, notes={"L1": "crown"})
    record = json.loads((folder / "pattern.json").read_text())
    record["told"].append({"kind": "polish", "number": 2, "grit": 240})
    (folder / "pattern.json").write_text(json.dumps(record))
    tell(folder, notes={"L2": "edge"})
    after = load_pattern(folder)
    assert [fact.kind for fact in after.told] == ["words", "polish", "words"]
    assert after.told[1].model_extra == {"grit": 240}
    (remark,) = [each for each in after.remarks if each.kind == "told-lost"]
    assert "number 2 (polish)" in remark.words and "a later version" in remark.words


@pytest.mark.parametrize(
    ("fact", "words"),
    [
        (
            {"kind": "erase", "on": "L1", "betwen": [[0, 0], [1, 1]]},
            "called betwen",
        ),
        ({"kind": "polish"}, "no fact is of kind polish"),
        ({"kind": "take-back", "fact": 1}, "no fact has that number"),
        ({"kind": "close", "on": "E1"}, "is 7 lines: name the one"),
        ({"kind": "move-end", "on": "E1", "at": [0, 0], "to": [5, 5]}, "mm off it"),
    ],
)
def test_facts_that_say_something_else_than_was_meant_are_refused(folder, fact, words):
    with pytest.raises(ToldError, match=words):
        tell(folder, facts=[fact])


def test_of_a_group_the_piece_is_meant_on_which_the_place_lies(folder, corner):
    pieces = next(g for g in load_pattern(folder).groups if g.id == "E1").pieces
    line = corner.line(pieces[2].line)
    at = line.points[len(line.points) // 2]
    changed = tell(folder, facts=[{"kind": "split", "on": "e1", "at": at}])
    assert changed.pattern.told[0].on.line == line.id
    assert "M1" in {each.id for each in changed.pattern.lines}


def test_drawings_can_be_left_for_later_and_none_that_is_not_true_stays(folder):
    tell(folder, notes={"L1": "crown"})
    drawn = {path.name for path in folder.iterdir()}
    assert {"pattern.svg", "bands.svg", "shrink.svg", "closed.svg"} <= drawn
    changed = tell(folder, facts=[EraseLine(on="L18")], draw=False)
    assert {path.name for path in folder.iterdir()} == {"pattern.json", "reading.json"}
    assert {path.name for path in changed.gone} == drawn - {"pattern.json", "reading.json"}
    draw_beside(folder)
    assert {path.name for path in folder.iterdir()} == drawn
    assert ">L18" not in (folder / "pattern.svg").read_text()
