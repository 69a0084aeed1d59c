"""A record's file that does not hang together is refused in a line that names what is wrong."""

import json

import pytest

from digitize.errors import RecordError
from digitize.record import from_json, to_json
from digitize.record.sound import MOST_LINES, fault_in
from tests.draw.lopsided import PATTERN


def changed(change):
    record = json.loads(to_json(PATTERN))
    change(record)
    return json.dumps(record)


def put(key, value, at=0, part="lines"):
    return lambda record: record[part][at].update({key: value})


FAULTS = {
    "two lines of one id": (put("id", "L2"), "L2: is the id of two lines"),
    "a line of one point": (put("points", [[1, 1]]), "L1: has fewer than two points"),
    "no outline": (lambda r: r.update(outline=[[0, 0], [1, 1]]), "outline: has fewer than three"),
    "far away": (
        put("points", [[0, 0], [1e9, 0]]),
        "lines.0.points.1.0: Input should be less than or equal to 20000",
    ),
    "a tip far away": (
        put("tip", [0, -3e4], part="tucks"),
        "tucks.0.tip.1: Input should be greater than or equal to -20000",
    ),
    "a cut that is not there": (put("slit", "L99", part="tucks"), "T1: names L99"),
    "a zone of no tuck": (put("tucks", ["T7"], part="zones"), "Z1: names T7"),
    "a band from nowhere": (
        lambda r: r.update(bands=[{"id": "B1", "start": "L0", "ends": [], "stations": []}]),
        "B1: names L0",
    ),
    "a group of nothing": (
        lambda r: r.update(groups=[{"id": "E1", "role": "form", "pieces": [{"line": "X"}]}]),
        "E1: names X",
    ),
    "too many lines": (
        lambda r: r.update(lines=[{**r["lines"][0], "id": f"L{k}"} for k in range(MOST_LINES + 1)]),
        "no pattern has more than 5000",
    ),
    "a radius of nothing": (put("radius", 0), "lines.0.radius"),
    "a radius below nothing": (
        put("radii", [{"along": 1, "radius": -3}]),
        "lines.0.radii.0.radius",
    ),
    "more than sure": (put("role_confidence", 7), "lines.0.role_confidence"),
    "no number": (put("sigma", float("nan")), "lines.0.sigma"),
    "no end": (put("width", float("inf")), "lines.0.width"),
    "words for a number": (put("width", "12"), "lines.0.width: Input should be a valid number"),
    "yes for a number": (put("width", True), "lines.0.width: Input should be a valid number"),
    "a number for words": (put("id", 7), "lines.0.id: Input should be a valid string"),
    "words without end": (put("note", "w" * 5001), "lines.0.note: Value error, has more than 5000"),
    "a number without end": (
        put("lap_at_trim", 1e300, part="tucks"),
        "tucks.0.lap_at_trim: Value error, is more than any pattern has",
    ),
    "too many notes": (
        lambda r: r.update(notes=[{"id": str(k), "box": [0, 0, 1, 1]} for k in range(5001)]),
        "notes: there are more than 5000",
    ),
    "a hole of nothing": (
        lambda r: r.update(holes=[{"id": "H1", "at": [1, 1], "diameter": 0}]),
        "holes.0.diameter",
    ),
    "a kilometre of metal": (lambda r: r.update(allowances=[{"width": 1e6}]), "allowances.0.width"),
}


@pytest.mark.parametrize("fault", FAULTS)
def test_what_no_pattern_has_is_named(fault):
    change, words = FAULTS[fault]
    with pytest.raises(RecordError) as raised:
        from_json(changed(change))
    assert words in str(raised.value) and "\n" not in str(raised.value)


def test_what_is_sound_is_read(corner):
    assert fault_in(PATTERN) is None and fault_in(corner) is None
    assert from_json(to_json(corner)).lines == corner.lines


@pytest.mark.parametrize("text", ["", "[" * 100_000, '{"a":' * 50_000, "null", "\x00", "[1e999]"])
def test_what_is_no_record_at_all_is_one_line(text):
    with pytest.raises(RecordError, match="not a pattern file"):
        from_json(text)


def test_words_that_would_act_on_a_terminal_are_escaped_as_they_are_read():
    record = from_json(changed(lambda r: r.update(name="a\x1b[31mb\nc")))
    assert record.name == r"a\x1b[31mb c"


@pytest.mark.parametrize("text", [b'{"name": "\xff"}', '{"name": "\udc80"}'])
def test_what_is_no_utf_8_is_refused_and_nothing_put_in_its_place(text):
    with pytest.raises(RecordError, match="not a pattern file"):
        from_json(text)


def test_a_mark_at_the_files_beginning_is_passed_over():
    assert from_json(b"\xef\xbb\xbf" + to_json(PATTERN).encode()).lines == PATTERN.lines


def test_a_later_schema_is_named_with_the_version_that_wrote_it():
    text = changed(lambda r: r.update(schema=2, written_by="0.9.1"))
    with pytest.raises(RecordError, match=r"schema 2, written by 0\.9\.1 .* reads schema 1"):
        from_json(text)
    for schema in (0, -1, "2", 1.5, None):
        with pytest.raises(RecordError, match="not a pattern file: schema"):
            from_json(changed(lambda r, s=schema: r.update(schema=s)))


@pytest.mark.parametrize("later", [float("nan"), [{"a": float("inf")}]])
def test_what_nobody_knows_is_refused_where_it_could_not_be_written_again(later):
    for change in (lambda r: r.update(later=later), put("later", later)):
        with pytest.raises(RecordError, match="a number in it is none"):
            from_json(changed(change))
    deep = '"later": ' + "[" * 60 + "]" * 60 + ', "units"'
    with pytest.raises(RecordError, match="nested too deep"):
        from_json(to_json(PATTERN).replace('"units"', deep, 1))
