"""Do the tests notice a mistake in a formula? ``python -m tests.mutants [ROOM ...]``.

Each mistake of the table is made in a copy of the program, and the quick tests of its room and
those of ``tests/checks`` are run against it. What they notice is killed; what survives is listed.
The table is of mistakes that a hand makes in formulas whose result ends on metal: a flipped sign, a
swapped axis, a dropped factor, an end left out. Exit 1 if a room is below its bar.
"""

import argparse
import os
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from queue import SimpleQueue

from rich.console import Console
from rich.table import Table

from tests.mutants.mistakes import BARS, Mistake, all_mistakes

ROOT = Path(__file__).parent.parent.parent
MOST_SECONDS = 300


def tests_of(room: str) -> list[str]:
    """The folders whose tests ought to notice a mistake in a room."""
    own = ROOT / "tests" / room
    single = ROOT / "tests" / f"test_{room}.py"
    there = [path for path in (own, single, ROOT / "tests" / "checks") if path.exists()]
    return [str(path.relative_to(ROOT)) for path in there]


def is_noticed(mistake: Mistake, copy: Path) -> bool:
    """Whether a test fails with the mistake made in a copy of the repository."""
    path = copy / mistake.file
    sound = path.read_text()
    path.write_text(sound.replace(mistake.was, mistake.becomes))
    try:
        return not passes(tests_of(mistake.room), copy)
    except subprocess.TimeoutExpired:
        return True
    finally:
        path.write_text(sound)


def passes(tests: Sequence[str], copy: Path) -> bool:
    """Whether the quick ones of some tests pass in a copy of the repository."""
    command = [sys.executable, "-m", "pytest", "-x", "-n0", "-p", "no:cacheprovider", *tests]
    # One thread each: several at once on few cores only wait for one another.
    quiet = {
        **os.environ,
        "PYTHONPATH": str(copy),
        "PYTHONDONTWRITEBYTECODE": "1",
        "OPENBLAS_NUM_THREADS": "1",
    }
    ran = subprocess.run(
        command, cwd=copy, env=quiet, capture_output=True, timeout=MOST_SECONDS, check=False
    )
    return ran.returncode == 0


def run(mistakes: Sequence[Mistake], workers: int, console: Console) -> dict[Mistake, bool]:
    """Which mistakes are noticed; so many are tried at once, each in a copy of its own."""
    with tempfile.TemporaryDirectory() as folder:
        copies: SimpleQueue[Path] = SimpleQueue()
        for index in range(workers):
            copy = Path(folder) / str(index)
            for part in ("digitize", "tests", "sample_photos"):
                ignored = shutil.ignore_patterns("__pycache__", "out", ".*_cache")
                shutil.copytree(ROOT / part, copy / part, ignore=ignored)
            for file in ("pyproject.toml", "README.md", "DEVELOPERS.md"):
                shutil.copy(ROOT / file, copy / file)
            copies.put(copy)
        for room in dict.fromkeys(each.room for each in mistakes):
            if not passes(tests_of(room), copy):
                sys.exit(f"{room}: its tests fail without any mistake")

        def tried(mistake: Mistake) -> bool:
            copy = copies.get()
            try:
                noticed = is_noticed(mistake, copy)
            finally:
                copies.put(copy)
            if not noticed:
                console.print(f"survived: {mistake.words}", markup=False, highlight=False)
            return noticed

        with ThreadPoolExecutor(workers) as pool:
            return dict(zip(mistakes, pool.map(tried, mistakes), strict=True))


def main() -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.mutants", description=__doc__)
    parser.add_argument("rooms", nargs="*", metavar="ROOM", help="; or all")
    parser.add_argument("--workers", type=int, default=os.cpu_count() or 1)
    arguments = parser.parse_args()
    mistakes = [
        each for each in all_mistakes() if not arguments.rooms or each.room in arguments.rooms
    ]
    console = Console(width=110) if not sys.stdout.isatty() else Console()
    noticed = run(mistakes, arguments.workers, console)
    table = Table("room", "mistakes", "killed", "survived", "share", "bar")
    below = []
    for room in dict.fromkeys(each.room for each in mistakes):
        own = [noticed[each] for each in mistakes if each.room == room]
        share, bar = sum(own) / len(own), BARS[room]
        survived = len(own) - sum(own)
        table.add_row(
            room, str(len(own)), str(sum(own)), str(survived), f"{share:.0%}", f"{bar:.0%}"
        )
        if share < bar:
            below.append(room)
    console.print(table)
    for each in mistakes:
        if not noticed[each]:
            why = each.why or "no test notices it"
            console.print(f"{each.words}: {why}", markup=False, highlight=False)
    console.print("all bars met" if not below else f"below the bar: {', '.join(below)}")
    return 1 if below else 0


if __name__ == "__main__":
    sys.exit(main())
