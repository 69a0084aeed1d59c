"""What nobody should give the program, drawn by seed: each case ends well, or in one line.

Cases run in forked workers, so that one that crashes, hangs or takes too much memory is counted and
the rest go on. Each family of cases (``hostile_cases.py``) knows what would be right where the
program does not refuse: anything else is silently wrong, which is the worst.
"""

import contextlib
import json
import multiprocessing
import os
import random
import resource
import select
import signal
import sys
import tempfile
import time
import traceback
import warnings
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
from rich.console import Console
from rich.table import Table

from digitize.errors import DigitizeError
from tests.bench.hostile_cases import FAMILIES, Family
from tests.jobs.test_disk import state_after_kill

SEED = 20_000  # one a case, from here on
SHORT_SHARE = 0.05
KILLS = 200
MOST_CPU_S, MOST_MIB, HANG_S = 5.0, 1024, 60.0
ENDS = ("clean", "traceback", "crash", "hang", "leaked warning", "over memory", "silently wrong")
LIGHT = "other light"  # of a picture alone: no file of its kind can tell
fork = multiprocessing.get_context("fork")


def run(console: Console, short: bool) -> tuple[dict[str, Any], list[str]]:
    """Figures, and what was missed."""
    figures: dict[str, Counter[str]] = {}
    examples: list[str] = []
    for name, family in FAMILIES.items():
        count = max(round(family.cases * SHORT_SHARE), 10) if short else family.cases
        ends: Counter[str] = Counter()
        for number, end, words in ended(family, count):
            ends[end] += 1
            if end in ENDS[1:]:
                examples.append(f"hostile: {name} {number}: {end}: {words}")
        figures[name] = ends
    figures["kills while writing"] = killed(10 if short else KILLS, examples)
    figures["all"] = sum(figures.values(), Counter())
    table = Table("cases of", "all", "refused", *ENDS, LIGHT, title="hostile", title_justify="left")
    for name, ends in figures.items():
        counts = [ends[end] for end in (*ENDS, LIGHT)]
        table.add_row(name, str(ends.total()), str(ends["refused"]), *map(str, counts))
    console.print(table)
    console.print(
        "refused: in one line. clean: taken, and what came of it is right. other light: bytes of a "
        "picture were changed that no decoder can miss; it is darker or paler in places."
    )
    return {name: dict(ends) for name, ends in figures.items()}, examples


def killed(kills: int, examples: list[str]) -> Counter[str]:
    """A program killed at random moments while it writes a folder's files, again and again."""
    ends: Counter[str] = Counter()
    with tempfile.TemporaryDirectory() as folder:
        for kill in range(kills):
            _, states = state_after_kill(Path(folder), random.Random(SEED + kill))
            end = "clean" if states == 1 else "silently wrong"
            ends[end] += 1
            if states != 1:
                examples.append(f"hostile: kill {kill}: files of {states} states")
    return ends


def ended(family: Family, count: int) -> Iterator[tuple[int, str, str]]:
    """How each case ended: its number, one of ENDS or refused, and words."""
    begin = 0
    while begin < count:
        reading, writing = os.pipe()
        worker = fork.Process(target=_work, args=(family, begin, count, writing))
        worker.start()
        os.close(writing)
        with os.fdopen(reading) as lines:
            while begin < count:
                ready, _, _ = select.select([lines], [], [], HANG_S)
                line = lines.readline() if ready else ""
                if not line:
                    break
                yield tuple(json.loads(line))
                begin += 1
            if begin < count:
                worker.kill() if not ready else worker.join(5)
                worker.join()
                yield begin, "crash" if ready else "hang", f"exit {worker.exitcode}"
                begin += 1
        worker.join()


def _work(family: Family, begin: int, count: int, writing: int) -> None:
    """Run cases from one on, and say of each how it ended."""
    signal.signal(signal.SIGINT, signal.SIG_DFL)
    warnings.simplefilter("default")
    resource.setrlimit(resource.RLIMIT_AS, (6 << 30, 6 << 30))
    with tempfile.TemporaryFile() as said, os.fdopen(writing, "w", buffering=1) as lines:
        os.dup2(said.fileno(), 2)
        os.dup2(said.fileno(), 1)
        for number in range(begin, count):
            end, words = _one(family, number)
            sys.stderr.flush()
            sys.stdout.flush()
            if said.seek(0, 2) and end in ("clean", "refused", LIGHT):
                said.seek(0)
                end, words = "leaked warning", said.read(300).decode(errors="replace")
            said.truncate(0)
            said.seek(0)
            lines.write(json.dumps([number, end, words]) + "\n")
    os._exit(0)


def _one(family: Family, number: int) -> tuple[str, str]:
    """How a case ended, and words about it."""
    rng = np.random.default_rng(SEED + number)
    Path("/proc/self/clear_refs").write_text("5")  # the peak is counted from here
    before, began = _peak_mib(), time.process_time()
    with tempfile.TemporaryDirectory() as folder, contextlib.chdir(folder):
        try:
            wrong = family.case(rng, Path(folder))
            end, words = ("silently wrong", wrong) if wrong else ("clean", "")
            end = LIGHT if words.startswith("light") else end
        except DigitizeError as error:
            text = str(error)
            one_line = text.isprintable() and 0 < len(text) < 2000 and "None" not in text
            end, words = ("refused", "") if one_line else ("traceback", repr(text)[:300])
        except Exception as error:
            last = traceback.extract_tb(error.__traceback__)[-1]
            where = f"{Path(last.filename).name}:{last.lineno}"
            end, words = "traceback", f"{type(error).__name__} {where} {str(error)[:200]!r}"
    if _peak_mib() - before > MOST_MIB:
        return "over memory", f"{_peak_mib():.0f} MiB"
    if time.process_time() - began > MOST_CPU_S:
        return "hang", f"{time.process_time() - began:.1f} s; {words}"
    return end, words


def _peak_mib() -> float:
    status = Path("/proc/self/status").read_text()
    return int(status.split("VmHWM:")[1].split()[0]) / 1024
