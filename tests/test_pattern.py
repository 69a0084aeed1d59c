import json

import pytest

from digitize.pattern import PatternFileError, from_json, to_json


def test_a_record_survives_writing_and_reading(easy):
    text = to_json(easy.pattern)
    assert from_json(text) == easy.pattern
    assert list(json.loads(text)) == [
        "schema",
        "units",
        "name",
        "side",
        "sources",
        "scale",
        "outline",
        "lines",
        "tucks",
        "zones",
        "bands",
        "closure_rms",
        "sheet",
        "notes",
        "warnings",
    ]


def test_unknown_keys_survive(easy):
    record = json.loads(to_json(easy.pattern))
    record["later"] = {"a": [1, 2]}
    record["lines"][0]["also"] = "kept"
    again = json.loads(to_json(from_json(json.dumps(record))))
    assert again["later"] == {"a": [1, 2]} and again["lines"][0]["also"] == "kept"


@pytest.mark.parametrize(
    ("text", "named"),
    [("{}", "name"), ("no", "JSON"), ('{"schema": 2, "name": "x", "outline": []}', "schema")],
)
def test_a_file_that_is_no_pattern_names_its_fault(text, named):
    with pytest.raises(PatternFileError, match=named):
        from_json(text)
