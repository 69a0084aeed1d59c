"""What becomes of a few papers where one of a room's numbers is half, or twice.

The numbers of ``thresholds.py`` in ``pencil/``, ``tucks/`` and ``paper/``, each changed before the
room's modules are loaded, and nothing else of the job. ``thresholds_pencil.py``,
``thresholds_tucks.py`` and ``thresholds_paper.py`` say on what papers, and what is compared. A
number that changes nothing here may still matter on papers that are not here.
"""

import importlib
import importlib.util
import os
import pickle
import re
import sys
from collections.abc import Sequence
from pathlib import Path
from types import ModuleType
from typing import Any

import cv2
import numpy as np
from rich.console import Console
from rich.progress import track
from rich.table import Table

import digitize
from tests.bench import thresholds_paper, thresholds_pencil, thresholds_tucks
from tests.bench.workshop_photos import PHOTOGRAPHS

# Each has SEEDS and SHORT, ``part_of`` a seed, what is ``seen_here`` of parts (by a room as it is
# loaded, where a file's number was changed), and what is a ``change`` between two such.
ROOMS: dict[str, ModuleType] = {
    "pencil": thresholds_pencil,
    "tucks": thresholds_tucks,
    "paper": thresholds_paper,
}
FACTORS = (0.5, 2.0)


def run(console: Console, short: bool) -> tuple[dict[str, object], list[str]]:
    """Print what half and double of each number change; misses no bar."""
    if not PHOTOGRAPHS.exists():
        console.print("thresholds: left out, the photographs are not here")
        return {}, []
    cv2.setNumThreads(1)  # a fork has none of its threads, and might wait for them
    figures: dict[str, object] = {}
    for room, own in ROOMS.items():
        parts = [own.part_of(seed) for seed in (own.SHORT if short else own.SEEDS)]
        names = numbers(room)
        if short:
            names = dict(list(names.items())[:1])
        usual = {file: seen(room, parts, file) for file in set(names.values())}
        table = Table("number", "is", "at half", "at double", title=f"The numbers of {room}/")
        same = 0
        for name, file in track(names.items(), room, console=console, transient=True):
            changes = [
                changed(room, usual[file], seen(room, parts, file, name, factor))
                for factor in FACTORS
            ]
            table.add_row(f"{file[:-3]}: {name}", shown(value_of(room, name)), *changes)
            figures[f"{room}: {name}"] = changes
            same += changes == ["", ""]
        console.print(table)
        console.print(f"of {len(names)} numbers of {room}/, {same} change nothing here")
    return figures, []


def folder_of(room: str) -> Path:
    """Where a room's files are."""
    return Path(digitize.__file__).parent / room


def numbers(room: str) -> dict[str, str]:
    """A room's numbers, in their order, and the files that they are for."""
    found, file = {}, ""
    for line in (folder_of(room) / "thresholds.py").read_text().splitlines():
        if re.fullmatch(r"# \w+\.py", line):
            file = line[2:]
        named = re.match(r"([A-Z][A-Z0-9_]*): Final = ", line)
        if named:
            found[named[1]] = file
    return found


def value_of(room: str, name: str) -> Any:
    """A number as it is."""
    return getattr(importlib.import_module(f"digitize.{room}.thresholds"), name)


def shown(value: Any) -> str:
    """A value in a few characters; turns are in radians."""
    if isinstance(value, tuple):
        return ", ".join(shown(each) for each in value)
    return f"{len(value)} values" if isinstance(value, np.ndarray) else f"{value:.4g}"


def times(value: Any, factor: float) -> Any:
    """A value times a factor; of a count a count, one at least."""
    if isinstance(value, tuple):
        return tuple(times(each, factor) for each in value)
    if isinstance(value, int):
        return max(round(value * factor), 1)
    return value * factor


def seen(
    room: str, parts: Sequence[Any], file: str, name: str | None = None, factor: float = 1.0
) -> Any:
    """What a room makes of the parts with a number changed; or, in words, what it fails with.

    In a process of its own: the room's modules take their numbers when they are loaded.
    """
    reads, writes = os.pipe()
    child = os.fork()
    if child == 0:
        os.close(reads)
        answer: Any
        try:
            loaded_anew(room, name, factor)
            answer = ROOMS[room].seen_here(parts, file)
        except Exception as error:  # a number twice as high may make no sense at all
            answer = type(error).__name__
        with os.fdopen(writes, "wb") as out:
            pickle.dump(answer, out)
        os._exit(0)
    os.close(writes)
    with os.fdopen(reads, "rb") as into:
        told = into.read()
    os.waitpid(child, 0)
    return pickle.loads(told) if told else "stopped"  # noqa: S301 (what the fork above wrote)


def loaded_anew(room: str, name: str | None, factor: float) -> None:
    """Load a room again, with one of its numbers changed."""
    whole = f"digitize.{room}"
    for module in [key for key in sys.modules if key == whole or key.startswith(f"{whole}.")]:
        del sys.modules[module]
    path = folder_of(room) / "thresholds.py"
    own = importlib.util.spec_from_file_location(f"{whole}.thresholds", path)
    if own is None or own.loader is None:
        raise FileNotFoundError(str(path))
    table = importlib.util.module_from_spec(own)
    sys.modules[f"{whole}.thresholds"] = table
    own.loader.exec_module(table)
    if name is not None:
        setattr(table, name, times(getattr(table, name), factor))


def changed(room: str, usual: Any, other: Any) -> str:
    """In words what differs; nothing where nothing does."""
    if isinstance(usual, str) or isinstance(other, str):
        return f"fails: {usual if isinstance(usual, str) else other}"
    return str(ROOMS[room].change(usual, other))
