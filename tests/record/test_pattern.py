import json
from pathlib import Path

import numpy as np
import pydantic
import pytest

from digitize import __version__
from digitize.errors import RecordError
from digitize.jobs.draw import FORMATS, Cut, drawings_of
from digitize.jobs.folder import MARKED_UP, load_pattern
from digitize.record import Line, Tuck, Unseen, from_json, mirrored, schema_text, to_json
from digitize.record import file as record_file

RECORDS = Path(__file__).parent / "records"


def test_a_record_survives_writing_and_reading(corner):
    text = to_json(corner)
    assert from_json(text) == corner
    assert list(json.loads(text)) == [
        "schema",
        "written_by",
        "units",
        "name",
        "side",
        "sources",
        "scale",
        "given",
        "outline",
        "outline_unsure",
        "unseen",
        "lines",
        "groups",
        "tucks",
        "zones",
        "bands",
        "closure_rms",
        "sheet",
        "part",
        "reference",
        "stock",
        "unit",
        "allowances",
        "datum",
        "holes",
        "areas",
        "rectified",
        "notes",
        "remarks",
        "told",
        "warnings",
    ]


def test_where_pencil_was_not_seen_survives_and_turns_over_with_the_paper(corner):
    width = max(x for x, _ in corner.outline) + min(x for x, _ in corner.outline)
    area = Unseen(boundary=((0.0, 0.0), (30.0, 0.0), (30.0, 40.0)), reason="blurred")
    pattern = corner.model_copy(update={"unseen": (area,)})
    assert from_json(to_json(pattern)).unseen == (area,)
    (turned,) = mirrored(pattern).unseen
    assert turned.reason == "blurred"
    expected = [(width - 30, 40), (width - 30, 0), (width, 0)]
    assert np.array(turned.boundary) == pytest.approx(np.array(expected))
    assert from_json(to_json(corner)).unseen == ()


def test_unknown_keys_survive(corner):
    record = json.loads(to_json(corner))
    record["later"] = {"a": [1, 2]}
    record["lines"][0]["also"] = "kept"
    again = json.loads(to_json(from_json(json.dumps(record))))
    assert again["later"] == {"a": [1, 2]} and again["lines"][0]["also"] == "kept"


def holds(whole, part):
    """Whether everything in a part of a record is in the whole, as it was."""
    if isinstance(part, dict):
        return all(key in whole and holds(whole[key], value) for key, value in part.items())
    if isinstance(part, list):
        return len(whole) == len(part) and all(map(holds, whole, part))
    return whole == part


@pytest.mark.parametrize("path", sorted(RECORDS.glob("*.json")), ids=lambda path: path.stem)
def test_a_record_of_an_earlier_version_reads_forever(path):
    """Records as versions of the program wrote them, with fewer points, named for what was new."""
    before = json.loads(path.read_text())
    before["later"] = before["lines"][0]["later"] = before["tucks"][0]["later"] = [1]
    pattern = from_json(json.dumps(before))
    assert holds(json.loads(to_json(pattern)), before)
    assert len(pattern.lines) == len(before["lines"]) and len(pattern.tucks) == 7


@pytest.mark.slow
@pytest.mark.parametrize("path", sorted(RECORDS.glob("*.json")), ids=lambda path: path.stem)
def test_a_record_of_an_earlier_version_is_drawn_as_any(path, tmp_path):
    before = json.loads(path.read_text()) | {"later": [1]}
    (tmp_path / "pattern.json").write_text(json.dumps(before))
    pattern = load_pattern(tmp_path)
    drawn, _ = drawings_of(pattern, tmp_path, FORMATS, MARKED_UP, Cut())
    assert len(drawn) == len(FORMATS) and all(tuck.profile for tuck in pattern.tucks)
    assert holds(json.loads(to_json(pattern)), {"name": before["name"], "later": [1]})


@pytest.mark.parametrize(
    ("text", "named"),
    [
        ("{}", "name"),
        ("no", "JSON"),
        ('{"schema": 2, "name": "x", "outline": []}', "later version"),
    ],
)
def test_a_file_that_is_no_pattern_names_its_fault(text, named):
    with pytest.raises(RecordError, match=named):
        from_json(text)


def test_a_file_says_which_version_wrote_it(corner):
    earlier = corner.model_copy(update={"written_by": "0.0.1"})
    assert json.loads(to_json(earlier))["written_by"] == __version__


def test_the_schema_describes_every_key_that_is_written(corner):
    schema = json.loads(schema_text())
    written = json.loads(to_json(corner))
    assert set(written) == set(schema["properties"])
    tuck = schema["$defs"]["Tuck"]["properties"]
    assert set(written["tucks"][0]) == set(tuck)


def test_a_closed_line_is_as_long_as_its_way_back_to_the_start():
    line = Line(
        id="L1",
        role="crease",
        role_confidence=1.0,
        points=((0, 0), (3, 0), (3, 4)),
        width=0.5,
        sigma=0.1,
    )
    assert line.length == 7.0 and line.path == line.points
    closed = line.model_copy(update={"closed": True})
    assert closed.length == 12.0 and closed.path == (*line.points, (0, 0))
    assert closed.model_copy(update={"points": ()}).length == 0


def test_words_of_an_earlier_version_become_remarks_but_only_where_there_are_none():
    said = {"name": "p", "outline": [[0, 0], [9, 0], [9, 9]], "warnings": ["soft"]}
    (remark,) = from_json(json.dumps(said)).remarks
    assert (remark.kind, remark.words, remark.severity) == ("earlier", "soft", "warning")
    said["remarks"] = [{"kind": "blur", "words": "blurred", "at": [1, 2]}]
    assert [each.kind for each in from_json(json.dumps(said)).remarks] == ["blur"]


def test_a_tucks_label_is_its_lap_at_the_trim_edge_and_a_question_if_it_is_unsure():
    tuck = Tuck(
        id="T1", kind="slit", tip=(0, 0), slit="L1", lap_line=None, stations=(), lap_at_trim=7.44
    )
    assert tuck.label == "T1 7.4 mm"
    assert tuck.model_copy(update={"unsure": True}).label == "T1 7.4 mm?"


@pytest.mark.skipif(
    tuple(map(int, pydantic.VERSION.split(".")[:2])) < (2, 12), reason="words schemas otherwise"
)
def test_the_schema_that_is_kept_is_the_one_of_this_record():
    """``digitize schema > digitize/record/schema.json`` brings it up to date."""
    kept = Path(record_file.__file__).with_name("schema.json").read_text()
    assert json.loads(kept) == json.loads(schema_text())
