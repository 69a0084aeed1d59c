"""Which fact is the next to be undone, and which to be done again."""

import json

import pytest
from hypothesis import given, strategies

from digitize.errors import RecordError
from digitize.record import (
    TakeBack,
    TellAgain,
    TellHole,
    facts_from_json,
    facts_of,
    numbered,
    standing,
    steps_of,
)

HOLE = TellHole(at=(1, 2), diameter=5)


def told(*facts):
    return numbered(facts)


def test_what_was_told_last_is_undone_first_and_what_was_undone_last_is_done_again_first():
    assert steps_of(()) == (None, None)
    assert steps_of(told(HOLE, HOLE)) == (2, None)
    assert steps_of(told(HOLE, HOLE, TakeBack(fact=2))) == (1, 2)
    assert steps_of(told(HOLE, HOLE, TakeBack(fact=2), TakeBack(fact=1))) == (None, 1)
    back_and_on = told(HOLE, HOLE, TakeBack(fact=2), TakeBack(fact=1), TellAgain(fact=1))
    assert steps_of(back_and_on) == (1, 2)
    assert steps_of((*back_and_on, *numbered([HOLE], 5))) == (6, None)  # something new


@given(strategies.lists(strategies.sampled_from(["tell", "undo", "redo"]), max_size=30))
def test_steps_are_those_of_an_editor(steps):
    """Against the plain way to keep them: a list, and a place in it."""
    facts, done, place = [], [], 0
    for step in steps:
        undo, redo = steps_of(facts)
        number = len(facts) + 1
        if step == "tell":
            facts += numbered([HOLE], len(facts))
            done, place = [*done[:place], number], place + 1
        elif step == "undo" and undo is not None:
            facts += numbered([TakeBack(fact=undo)], len(facts))
            place -= 1
        elif step == "redo" and redo is not None:
            facts += numbered([TellAgain(fact=redo)], len(facts))
            place += 1
        assert [fact.number for fact in standing(tuple(facts))] == done[:place]


@pytest.mark.parametrize(
    ("fact", "fault"),
    [
        ({"kind": "hole", "at": [1e300, 0], "diameter": 3}, "at.0: Input should be less"),
        ({"kind": "hole", "at": [0, -2e5], "diameter": 3}, "at.1: Input should be greater"),
        ({"kind": "hole", "at": [0, 0], "diameter": "3"}, "diameter: Input should be a valid"),
        ({"kind": "hole", "at": [0, 0], "diameter": 1e7}, "diameter: Value error, is more than"),
        ({"kind": "allowance", "width": 1e6}, "width: Input should be less than or equal to 1000"),
        ({"kind": "erase", "on": 7}, "on"),
        ({"kind": "words", "on": "L1", "words": "w" * 6000}, "words: Value error, has more than"),
        ({"kind": "take-up", "on": "L1", "laps": [{"depth": 1, "lap": float("nan")}]}, "lap"),
    ],
)
def test_a_fact_that_no_paper_has_is_one_line_that_names_it(fact, fault):
    for read in (lambda: facts_of([fact]), lambda: facts_from_json(json.dumps([fact]))):
        with pytest.raises(RecordError) as raised:
            read()
        assert fault in str(raised.value) and "\n" not in str(raised.value)
