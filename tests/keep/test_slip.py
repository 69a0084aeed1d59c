"""A slip says what a slip can say, or is none; what a later version wrote on it stays."""

import json

import pytest

from digitize.keep.slip import LARGEST_BYTES, Slip, slip_in, slip_text

SLIP = Slip("corner", "left", "2026-11-25T09:00:00+00:00", 900.0, 600.0, notes=("a", "b"), tucks=3)


def changed(**values):
    return json.dumps({**json.loads(slip_text(SLIP)), **values})


def test_a_slip_is_read_as_it_is_written_with_what_nobody_knows():
    assert slip_in(slip_text(SLIP)) == SLIP
    later = slip_in(changed(shelf={"row": [7]}))
    assert later.more == {"shelf": {"row": [7]}}
    assert slip_in(slip_text(later)) == later


@pytest.mark.parametrize(
    "values",
    [
        {"name": 7},
        {"name": None},
        {"width_mm": "900"},
        {"width_mm": True},
        {"width_mm": -1},
        {"height_mm": 1e9},
        {"lines": 1.5},
        {"tucks": -1},
        {"notes": "ab"},
        {"notes": [7]},
        {"photos": {"a": 1}},
        {"accuracy_mm": "good"},
    ],
)
def test_what_no_slip_says_is_refused(values):
    with pytest.raises(ValueError, match=next(iter(values))):
        slip_in(changed(**values))


@pytest.mark.parametrize(
    "text", ["", "[]", "{}", "[" * 100_000, b"\xff", " " * LARGEST_BYTES + "1"]
)
def test_what_is_no_slip_at_all_is_refused(text):
    with pytest.raises(ValueError, match=r"."):
        slip_in(text)


def test_words_on_a_slip_act_on_no_terminal():
    assert slip_in(changed(name="a\x1b[31m", notes=["b\n"])).name == r"a\x1b[31m"
