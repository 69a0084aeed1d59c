"""A room's numbers stand in one table, and half or twice of one is seen to matter."""

import ast
import re
import sys

import numpy as np
import pytest

from digitize.pencil import ticks
from tests.bench import thresholds_paper, thresholds_tucks
from tests.bench.thresholds import ROOMS, changed, folder_of, numbers, seen, times, value_of
from tests.bench.thresholds_pencil import Part, Seen
from tests.pencil.test_pencil import paper_with
from tests.pencil.test_ticks import ticks_along

# From which nothing is told: what a processor's cache holds, colours' weights, filters' rows.
ELSEWHERE = {
    "pencil/ridges.py": {
        "DIRECTIONS",
        "ROW_PX",
        "SHORT_ROW_PX",
        "ALONG_REACH",
        "TILE_PX",
        "BAND_ROWS",
    },
    "pencil/profile.py": {"BLOCKS_AT_ONCE"},
    "pencil/visibility.py": {"GREY"},
    "pencil/handwriting.py": {"SHADES"},
    "pencil/tick_courses.py": {"UNIT_MM"},
    "tucks/pressed.py": {"GREY"},
    "paper/beside.py": {"PLACES_AT_ONCE"},
    "paper/divide.py": {"STEPS_AT_ONCE"},
    "paper/settle.py": {"STRIP_ROWS"},
}
FILES = [path for room in ROOMS for path in sorted(folder_of(room).glob("*.py"))]


def named_numbers(path):
    """The names of a module's numbers that it states itself."""
    names = set()
    for node in ast.parse(path.read_text()).body:
        if isinstance(node, ast.Assign):
            parts = list(ast.walk(node.value))
            values = [each.value for each in parts if isinstance(each, ast.Constant)]
            literal = values and not any(isinstance(each, str) for each in values)
            if literal and {each.id for each in parts if isinstance(each, ast.Name)} <= {
                "np",
                "math",
            }:
                targets = ast.walk(node.targets[0])
                names |= {each.id for each in targets if isinstance(each, ast.Name)}
    return names


def named(path):
    return f"{path.parent.name}/{path.name}"


@pytest.mark.parametrize("path", FILES, ids=named)
def test_no_file_keeps_a_number_of_its_own(path):
    own = {name for name in named_numbers(path) if name.isupper()}
    if path.name == "thresholds.py":
        assert not own and len(numbers(path.parent.name)) > 150
    else:
        assert own == ELSEWHERE.get(named(path), set())


@pytest.mark.parametrize("room", ROOMS)
def test_each_number_is_used(room):
    modules = [path for path in folder_of(room).glob("*.py") if path.name != "thresholds.py"]
    used = set(re.findall(r"\w+", "".join(path.read_text() for path in modules)))
    assert set(numbers(room)) <= used
    assert all((folder_of(room) / file).exists() for file in numbers(room).values())


def test_half_and_twice():
    assert times(5, 0.5) == 2 and times(1, 0.5) == 1 and times(3, 2.0) == 6
    assert times((1.0, 4.0), 2.0) == (2.0, 8.0)
    assert times(np.array([1.0, 3.0]), 0.5).tolist() == [0.5, 1.5]


def test_a_number_changed_in_a_process_of_its_own_loses_a_line_there_and_nowhere_else():
    course = np.array([[10, 60], [140, 60]], float)
    parts = [Part(*paper_with(ticks_along(course, 20.0)))]
    before, module = value_of("pencil", "TICK_FEWEST"), sys.modules["digitize.pencil.ticks"]
    usual = seen("pencil", parts, "ticks.py")
    assert isinstance(usual, Seen) and len(usual.lines[0]) == 1
    assert changed("pencil", usual, seen("pencil", parts, "ticks.py")) == ""
    # Seven ticks are fewer than eight; at least two are a row as well.
    twice, half = (seen("pencil", parts, "ticks.py", "TICK_FEWEST", by) for by in (2.0, 0.5))
    assert changed("pencil", usual, twice).startswith("-1")
    assert changed("pencil", usual, half) == ""
    assert value_of("pencil", "TICK_FEWEST") == before
    assert sys.modules["digitize.pencil.ticks"] is module is ticks


def test_what_fails_says_with_what():
    assert changed("paper", "NoPaper", "NoPaper") == "fails: NoPaper"
    fine = thresholds_paper.Seen((), ())
    assert changed("paper", fine, "NoPaper") == "fails: NoPaper"


def test_what_becomes_of_tucks_in_words():
    # Paper, tip, lap, sure: the second is lost, the third is another paper's; a new one is far off.
    usual = np.array([[0, 10, 10, 4.0, 1], [0, 90, 10, 2.0, 1], [1, 90, 13, 7.0, 1]], float)
    other = np.array([[0, 10, 13, 4.5, 0], [1, 90, 13, 7.0, 1], [1, 50, 50, 1.0, 1]], float)
    one, two = thresholds_tucks.Seen(usual), thresholds_tucks.Seen(other)
    said = thresholds_tucks.change(one, two)
    assert said == "-1 tucks, +1 tucks, -1 sure, laps 0.5 mm, tips 3.0 mm"
    assert thresholds_tucks.change(one, one) == ""
    unread = usual.copy()
    unread[0, 3] = np.nan
    assert thresholds_tucks.change(one, thresholds_tucks.Seen(unread)) == "1 laps read or not"


def test_what_becomes_of_an_edge_in_words():
    square = np.array([[0, 0], [100, 0], [100, 100], [0, 100]], float)
    usual = thresholds_paper.Seen((square, square), (10.0, 0.0))
    dented = square + np.array([[0, 0], [0, 0], [4, 3], [0, 0]])
    other = thresholds_paper.Seen((square, dented), (10.0, 25.0))
    assert thresholds_paper.change(usual, other) == "edge 5.0 mm, +25 mm unsure"
    assert thresholds_paper.change(usual, usual) == ""
