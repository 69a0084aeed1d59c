"""Every sample photo's reading against its truth."""

import json
import subprocess
import sys
from dataclasses import asdict
from pathlib import Path
from tempfile import TemporaryDirectory

from rich.console import Console
from rich.table import Table

from digitize.pattern import from_json
from tests.bench.compare import Scores, compare

SAMPLES = Path(__file__).parents[2] / "sample_photos"
BARRED = "easy"
# Runs one reading in a process of its own, so that its time and peak memory are its own.
CHILD = """
import json, resource, sys, time
from pathlib import Path
from digitize.floor.photo import open_photo
from digitize.pattern import to_json
from digitize.pipeline import read_pattern
begin = time.perf_counter()
path = Path(sys.argv[1])
reading = read_pattern([open_photo(path.name, path.read_bytes())], path.stem)
seconds = time.perf_counter() - begin
Path(sys.argv[2]).write_text(to_json(reading.pattern))
peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
print(json.dumps({"seconds": seconds, "peak_mib": peak}))
"""


def run(console: Console, short: bool) -> tuple[dict[str, object], list[str]]:
    """Read the sample photos (only the barred one if short) and print how they compare."""
    names = sorted(path.stem for path in SAMPLES.glob("*.jpg"))
    figures: dict[str, object] = {}
    missed: list[str] = []
    columns: dict[str, list[str]] = {}
    for name in [BARRED] if short else names:
        scores, cost = _read(name)
        figures[name] = {**asdict(scores), **cost}
        columns[name] = _column(scores, cost)
        if name == BARRED:
            missed += _misses(scores)
    table = Table("measure", *columns, title="Sample photos against their truth")
    for row, label in enumerate(LABELS):
        table.add_row(label, *(column[row] for column in columns.values()))
    console.print(table)
    return figures, missed


def _read(name: str) -> tuple[Scores, dict[str, float]]:
    with TemporaryDirectory() as folder:
        record = Path(folder) / "pattern.json"
        command = [sys.executable, "-c", CHILD, str(SAMPLES / f"{name}.jpg"), str(record)]
        done = subprocess.run(command, check=True, capture_output=True, text=True)
        found = from_json(record.read_text())
    truth = from_json((SAMPLES / f"{name}.truth.json").read_text())
    return compare(found, truth), json.loads(done.stdout)


LABELS = (
    "line placement RMS mm",
    "line placement 95 % mm",
    "stated accuracy (95 %) mm",
    "recall by length, 1 mm",
    "precision by length, 1 mm",
    "lines with a wrong role",
    "their share of length",
    "tucks found of true",
    "slits missed",
    "false tucks",
    "lap error RMS mm",
    "lap error worst mm",
    "deficit error worst deg",
    "zone overlap (IoU)",
    "seconds",
    "peak memory MiB",
)


def _column(scores: Scores, cost: dict[str, float]) -> list[str]:
    return [
        f"{scores.placement_rms_mm:.3f}",
        f"{scores.placement_95_mm:.3f}",
        f"{scores.stated_accuracy_mm:.2f}",
        f"{scores.recall:.1%}",
        f"{scores.precision:.1%}",
        f"{scores.wrong_roles}",
        f"{scores.wrong_role_share:.1%}",
        f"{scores.tucks_found} of {scores.tucks_true}",
        f"{scores.slits_missed}",
        f"{scores.tucks_false}",
        f"{scores.lap_rms_mm:.3f}",
        f"{scores.lap_worst_mm:.3f}",
        f"{scores.deficit_worst_deg:.2f}",
        f"{scores.zone_overlap:.1%}",
        f"{cost['seconds']:.1f}",
        f"{cost['peak_mib']:.0f}",
    ]


def _misses(scores: Scores) -> list[str]:
    bars = (
        ("line placement RMS at most 0.3 mm", scores.placement_rms_mm <= 0.3),
        ("recall at least 95 %", scores.recall >= 0.95),
        ("precision at least 95 %", scores.precision >= 0.95),
        ("every slit found", scores.slits_missed == 0),
        ("no false tuck", scores.tucks_false == 0),
        ("lap error at most 0.5 mm", scores.lap_worst_mm <= 0.5),
    )
    return [f"{BARRED}: {bar}" for bar, met in bars if not met]
