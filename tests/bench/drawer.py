"""The drawer under faults: killed while keeping, two writers at once, a full disk; and its speed.

Writers are processes of their own that keep revisions as large as a real one, one after another.
"""

import multiprocessing
import os
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
from rich.console import Console
from rich.table import Table

from digitize.errors import NotWritten
from digitize.keep.drawer import (
    Outrun,
    Revision,
    faults_of,
    gaps_in,
    patterns_in,
    put,
    revisions_of,
)
from digitize.keep.index import Wanted, find
from digitize.keep.slip import SLIP, Slip, slip_text
from digitize.keep.sums import SUMS, sha256, sums_text

SEED = 7
REVISION_BYTES, FILES = 5_000_000, 22
FULL = {"kills": 200, "writing_s": 60.0, "patterns": 10_000}
SHORT = {"kills": 20, "writing_s": 4.0, "patterns": 1_000}
FINDING_S = 0.3
PATTERNS = ("corner-left", "corner-right", "sill-left")
SMALL_DISK = "12m"
fork = multiprocessing.get_context("fork")


def run(console: Console, short: bool) -> tuple[dict[str, Any], list[str]]:
    """Figures, and what was missed."""
    size = SHORT if short else FULL
    figures: dict[str, Any] = {}
    with tempfile.TemporaryDirectory() as folder:
        place = Path(folder)
        figures |= _killed(place / "killed", int(size["kills"]))
        figures |= _two_writers(place / "two", float(size["writing_s"]))
        figures |= _full_disk(place / "full")
        figures |= _finding(place / "many", int(size["patterns"]))
    table = Table("the drawer", "figure", title="drawer", title_justify="left")
    for words, figure in figures.items():
        table.add_row(words, f"{figure:.2f}" if isinstance(figure, float) else str(figure))
    console.print(table)
    must_be_none = [words for words in figures if words.startswith("lost, changed or damaged")]
    missed = [f"drawer: {words}: {figures[words]}" for words in must_be_none if figures[words]]
    if figures["finding, s"] >= FINDING_S and not short:
        missed.append(f"drawer: finding took {figures['finding, s']:.2f} s, not {FINDING_S}")
    return figures, missed


def _revision(rng: np.random.Generator) -> dict[str, bytes]:
    """The files of a revision: a slip, and others of a real one's size."""
    each = REVISION_BYTES // FILES
    slip = Slip("corner", "left", "2026-11-25T09:00:00+00:00", 900.0, 600.0)
    files = {f"drawings/{index}.pdf": rng.bytes(each) for index in range(FILES)}
    return {**files, SLIP: slip_text(slip).encode()}


def _write_on(drawer: Path, seed: int, until: float, counted: Any) -> None:
    """Keep revisions of the patterns in turn, until a time; count those that were kept."""
    rng = np.random.default_rng(seed)
    files = _revision(rng)
    while time.time() < until:
        name = PATTERNS[rng.integers(len(PATTERNS))]
        files["pattern.json"] = rng.bytes(700_000)
        while True:
            known = revisions_of(drawer, name)
            try:
                put(drawer, name, known[-1].number if known else 0, files)
                break
            except Outrun:
                continue
        counted.value += 1


def _all(drawer: Path) -> list[Revision]:
    return [each for name in patterns_in(drawer) for each in revisions_of(drawer, name)]


def _prints(drawer: Path) -> dict[Path, str]:
    """What each kept revision's checksums say: all its files, in one number."""
    return {
        revision.folder: sha256((revision.folder / SUMS).read_bytes()) for revision in _all(drawer)
    }


def _faults(drawer: Path) -> list[str]:
    faults = [fault for revision in _all(drawer) for fault in faults_of(revision)]
    return faults + [gap for name in patterns_in(drawer) for gap in gaps_in(drawer, name)]


def _killed(drawer: Path, kills: int) -> dict[str, Any]:
    """A writer killed at random moments: nothing kept before may be other than it was."""
    rng = np.random.default_rng(SEED)
    harm, kept = 0, 0
    before: dict[Path, str] = {}
    for kill in range(kills):
        counted = fork.Value("i", 0)
        writer = fork.Process(
            target=_write_on, args=(drawer, SEED + kill, time.time() + 60, counted)
        )
        writer.start()
        time.sleep(float(rng.uniform(0.02, 0.4)))
        os.kill(int(writer.pid or 0), signal.SIGKILL)
        writer.join()
        after = _prints(drawer)
        kept += int(counted.value)
        harm += sum(after.get(folder) != value for folder, value in before.items())
        harm += len(after) not in (len(before) + counted.value, len(before) + counted.value + 1)
        harm += sum(bool(faults_of(each)) for each in _all(drawer) if each.folder not in before)
        before = after
        if len(before) > 60:  # read all of them through, and begin anew: disks are not endless
            harm += len(_faults(drawer))
            shutil.rmtree(drawer)
            before = {}
    harm += len(_faults(drawer))
    return {"kills": kills, "kept meanwhile": kept, "lost, changed or damaged by kills": harm}


def _two_writers(drawer: Path, seconds: float) -> dict[str, Any]:
    """Two writers on the same three patterns; all that they kept must be there and sound."""
    until = time.time() + seconds
    counts = [fork.Value("i", 0) for _ in range(2)]
    writers = [
        fork.Process(target=_write_on, args=(drawer, SEED + index, until, count))
        for index, count in enumerate(counts)
    ]
    for writer in writers:
        writer.start()
    for writer in writers:
        writer.join()
    kept = sum(int(count.value) for count in counts)
    harm = abs(len(_prints(drawer)) - kept) + len(_faults(drawer))
    shutil.rmtree(drawer)
    return {
        "two writers, s": seconds,
        "kept by both": kept,
        "lost, changed or damaged by two writers": harm,
    }


def _full_disk(drawer: Path) -> dict[str, Any]:
    """A file system of 12 MB, kept into until it is full; not every machine lets one be made."""
    drawer.mkdir()
    script = f"import tests.bench.drawer as d; d.fill_disk({str(drawer)!r})"
    mount = f"mount -t tmpfs -o size={SMALL_DISK} none {drawer} && exec {sys.executable} -c"
    shell = ["unshare", "--mount", "--map-root-user", "sh", "-c", f'{mount} "{script}"']
    try:
        done = subprocess.run(shell, capture_output=True, check=False, text=True)
    except FileNotFoundError:
        done = subprocess.CompletedProcess(shell, 1, "", "")
    if done.returncode:
        return {"kept until the disk was full": "no small disk could be made"}
    kept, harm = done.stdout.split()
    return {
        "kept until the disk was full": int(kept),
        "lost, changed or damaged by a full disk": int(harm),
    }


def fill_disk(folder: str) -> None:
    """Keep until the disk is full, try again, and print what was kept and what was harmed."""
    drawer, files = Path(folder), _revision(np.random.default_rng(SEED))
    kept, refused = 0, 0
    while refused < 4:
        try:
            put(drawer, PATTERNS[0], kept, files)
            kept += 1
        except NotWritten:
            refused += 1
    left = [path for path in drawer.iterdir() if path.name.startswith(".")]
    print(kept, abs(len(_prints(drawer)) - kept) + len(_faults(drawer)) + len(left))


def fill(drawer: Path, count: int) -> None:
    """Put so many patterns into a drawer, a slip each."""
    for index in range(count):
        slip = Slip(
            f"panel {index}",
            "left" if index % 2 else "right",
            "2026-01-01T00:00:00+00:00",
            900.0 + index % 700,
            600.0,
            reference=f"K-{index:05d}",
            part="caravan, rear roof corner",
            notes=("crown, 2 mm proud", "seat of the window"),
            photos=(sha256(str(index).encode()),),
        )
        folder = drawer / f"panel-{index}-{slip.side}" / "revision-1"
        folder.mkdir(parents=True)
        files = {SLIP: slip_text(slip).encode()}
        (folder / SLIP).write_bytes(files[SLIP])
        (folder / SUMS).write_text(sums_text(files))
        os.utime(folder.parent, (1_700_000_000, 1_700_000_000))


def wanted_of(count: int) -> tuple[str, str]:
    """The reference and side of one of so many patterns."""
    return f"k-{count // 3:05d}", "left" if count // 3 % 2 else "right"


def _finding(drawer: Path, count: int) -> dict[str, Any]:
    """One of very many patterns, by its reference: in the program, and as a whole command."""
    fill(drawer, count)
    reference, side = wanted_of(count)
    wanted = Wanted(words=(reference,), side=side)
    first = _timed(lambda: find(drawer, wanted))
    later = min(_timed(lambda: find(drawer, wanted)) for _ in range(5))
    assert len(find(drawer, wanted).kept) == 1
    command = [sys.executable, "-m", "digitize", "find", *wanted.words, "--drawer", str(drawer)]
    whole = min(
        _timed(lambda: subprocess.run(command, capture_output=True, check=True)) for _ in range(5)
    )
    return {
        "patterns": count,
        "finding with no index yet, s": first,
        "finding, s": later,
        "the whole command, s": whole,
    }


def _timed(work: Callable[[], object]) -> float:
    start = time.perf_counter()
    work()
    return time.perf_counter() - start
