"""The pencil's numbers stand in one table, and half or twice of one is seen to matter."""

import ast
import re
import sys

import numpy as np
import pytest

from digitize.pencil import ticks
from tests.bench.thresholds import FOLDER, Part, Seen, change, numbers, seen, times, value_of
from tests.pencil.test_pencil import paper_with
from tests.pencil.test_ticks import ticks_along

# From which nothing is told: what a processor's cache holds, colours' weights, filters' rows.
ELSEWHERE = {
    "ridges.py": {
        "DIRECTIONS",
        "ROW_PX",
        "SHORT_ROW_PX",
        "ALONG_REACH",
        "TILE_PX",
        "PLACES_IN_ROW",
    },
    "visibility.py": {"GREY"},
    "handwriting.py": {"SHADES"},
    "tick_courses.py": {"UNIT_MM"},
}
WORDS = ("INKS", "REASONS")


def named_numbers(path):
    """The names of a module's numbers that it states itself."""
    names = set()
    for node in ast.parse(path.read_text()).body:
        if isinstance(node, ast.Assign):
            parts = list(ast.walk(node.value))
            literal = any(isinstance(each, ast.Constant) for each in parts)
            if literal and {each.id for each in parts if isinstance(each, ast.Name)} <= {"np"}:
                targets = ast.walk(node.targets[0])
                names |= {each.id for each in targets if isinstance(each, ast.Name)}
    return names


@pytest.mark.parametrize("path", sorted(FOLDER.glob("*.py")), ids=lambda path: path.name)
def test_no_file_keeps_a_number_of_its_own(path):
    own = {name for name in named_numbers(path) if name.isupper() and name not in WORDS}
    if path.name == "thresholds.py":
        assert not own and len(numbers()) > 200
    else:
        assert own == ELSEWHERE.get(path.name, set())


def test_each_number_is_used():
    modules = [path for path in FOLDER.glob("*.py") if path.name != "thresholds.py"]
    used = set(re.findall(r"\w+", "".join(path.read_text() for path in modules)))
    assert set(numbers()) <= used
    assert all((FOLDER / file).exists() for file in numbers().values())


def test_half_and_twice():
    assert times(5, 0.5) == 2 and times(1, 0.5) == 1 and times(3, 2.0) == 6
    assert times((1.0, 4.0), 2.0) == (2.0, 8.0)
    assert times(np.array([1.0, 3.0]), 0.5).tolist() == [0.5, 1.5]


def test_a_number_changed_in_a_process_of_its_own_loses_a_line_there_and_nowhere_else():
    course = np.array([[10, 60], [140, 60]], float)
    parts = [Part(*paper_with(ticks_along(course, 20.0)))]
    before, module = value_of("TICK_FEWEST"), sys.modules["digitize.pencil.ticks"]
    usual = seen(parts, "ticks.py")
    assert isinstance(usual, Seen) and len(usual.lines[0]) == 1
    assert change(usual, seen(parts, "ticks.py")) == ""
    # Seven ticks are fewer than eight; at least two are a row as well.
    assert change(usual, seen(parts, "ticks.py", "TICK_FEWEST", 2.0)).startswith("-1")
    assert change(usual, seen(parts, "ticks.py", "TICK_FEWEST", 0.5)) == ""
    assert value_of("TICK_FEWEST") == before
    assert sys.modules["digitize.pencil.ticks"] is module is ticks
