"""What one piece of work costs, in a process of its own: CPU, wall time and memory.

CPU time is compared, not the clock's: the machine may have other work. A reading is measured beside
its bare floor, in the same process.
"""

import json
import os
import resource
import subprocess
import sys
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

READ = """
import json, sys, time
from pathlib import Path
from digitize.errors import DigitizeError
from digitize.floor import open_photo
from digitize.reading import read_pattern
rounds, *names = sys.argv[1:]
contents = [(Path(name).name, Path(name).read_bytes()) for name in names]
best = None
for _ in range(int(rounds)):
    begun, said = [], ""
    wall = time.perf_counter()
    begin = time.process_time()
    try:
        photos = [open_photo(*each) for each in contents]
        begun.append(("open", begin))
        read_pattern(photos, "bench", progress=lambda s: begun.append((s, time.process_time())))
    except DigitizeError as error:
        said = type(error).__name__
    end, wall = time.process_time(), time.perf_counter() - wall
    ends = [at for _, at in begun[1:]] + [end]
    stages = {stage: after - at for (stage, at), after in zip(begun, ends)}
    if best is None or end - begin < best["cpu_s"]:
        best = {"cpu_s": end - begin, "wall_s": wall, "stages": stages, "refused": said}
status = Path("/proc/self/status").read_text()  # not getrusage, which counts what started this
best["peak_mib"] = int(status.split("VmHWM:")[1].split()[0]) / 1024
from tests.bench.timing import bare_floor
best["floor_s"] = min(sum(bare_floor(each) for _, each in contents) for _ in range(int(rounds)))
print(json.dumps(best))
"""


@dataclass(frozen=True)
class Cost:
    """Of a reading: seconds of CPU and of the clock, those of CPU by stage, and memory at its peak.

    ``floor_s`` is the CPU of the bare floor for the same photos; ``refused`` the error, if one.
    """

    cpu_s: float
    wall_s: float
    stages: dict[str, float]
    peak_mib: float
    floor_s: float
    refused: str


def cost_of(photos: Sequence[Path], rounds: int = 1) -> Cost:
    """The least that reading photos together costs in so many rounds."""
    return Cost(**run_apart(READ, str(rounds), *map(str, photos)))


def run_apart(script: str, *given: str) -> Any:
    """What a script prints last, as JSON, in a process of its own."""
    command = [sys.executable, "-c", script, *given]
    ran = subprocess.run(command, check=True, capture_output=True, text=True)
    return json.loads(ran.stdout.splitlines()[-1])


def command_s(*words: str) -> float:
    """Seconds of CPU that a whole command takes, the least of three times."""
    taken = []
    for _ in range(3):
        before = resource.getrusage(resource.RUSAGE_CHILDREN)
        subprocess.run([sys.executable, "-m", *words], check=True, capture_output=True)
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
        taken.append(after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime)
    return min(taken)


def cores() -> int:
    """How many this process may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1
