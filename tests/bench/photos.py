"""Readings of rendered photos against their truth."""

import json
import subprocess
import sys
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from tempfile import TemporaryDirectory

from rich.console import Console
from rich.table import Table

from digitize.record import from_json
from tests.bench.compare import Scores, compare

SAMPLES = Path(__file__).parents[2] / "sample_photos"
RENDERED = SAMPLES / "out"  # the sets that are too large to keep; rendered when first asked for
# Runs one reading in a process of its own, so that its time and peak memory are its own.
CHILD = """
import json, sys, time
from pathlib import Path
from digitize.floor.photo import open_photo
from digitize.record import to_json
from digitize.reading import Asked, read_pattern, solve_camera
record, *names = sys.argv[1:]
opened = [open_photo(Path(name).name, Path(name).read_bytes()) for name in names]
shots = [photo for photo in opened if photo.name.startswith("cards-")]
photos = [photo for photo in opened if photo not in shots]
camera = solve_camera(shots)[0] if shots else None
begin = time.perf_counter()
reading = read_pattern(photos, "bench", asked=Asked(kept_camera=camera))
seconds = time.perf_counter() - begin
Path(record).write_text(to_json(reading.pattern))
status = Path("/proc/self/status").read_text().split()
peak = int(status[status.index("VmHWM:") + 1]) / 1024
print(json.dumps({"seconds": seconds, "peak_mib": peak}))
"""


@dataclass(frozen=True)
class Case:
    """Photos of one paper, the truth's file, and the most that placement may be off (mm).

    ``everything`` sets the bars for recall, precision, tucks and laps too.
    """

    photos: tuple[str, ...]
    truth: str
    rms_mm: float | None = None
    p95_mm: float | None = None
    everything: bool = False


CASES = {
    "easy": Case(("easy",), "easy", 0.15, 0.35, everything=True),
    "shadow": Case(("shadow",), "shadow", 0.15, 0.35),
    "one-card": Case(("one-card",), "one-card"),
    "one-card, kept camera": Case(
        ("one-card", *(f"out/cards-{n}" for n in range(1, 5))), "one-card", 0.3
    ),
    "curled": Case(("other-side",), "other-side"),
    "curled, 3 photos": Case(("other-side", "other-side-2", "other-side-3"), "other-side", 0.3),
    "long, 6 photos": Case(tuple(f"out/long-{n}" for n in range(1, 7)), "out/long", 0.25, 0.6),
}


def run(console: Console, short: bool) -> tuple[dict[str, object], list[str]]:
    """Read the photos (only the easy one if short) and print how they compare."""
    figures: dict[str, object] = {}
    missed: list[str] = []
    columns: dict[str, list[str]] = {}
    if not short:
        render_sets(console)
    for name, case in CASES.items():
        if short and not case.everything:
            continue
        scores, cost = _read(case)
        figures[name] = {**asdict(scores), **cost}
        columns[name] = _column(scores, cost)
        missed += [f"{name}: {miss}" for miss in _misses(case, scores)]
    table = Table("measure", *columns, title="Rendered photos against their truth")
    for row, label in enumerate(LABELS):
        table.add_row(label, *(column[row] for column in columns.values()))
    console.print(table)
    return figures, missed


def render_sets(console: Console) -> None:
    """Render the sets that are not kept, if they are not there."""
    if not (RENDERED / "long.truth.json").exists():
        console.print("rendering the sets that are not kept: about four minutes")
        subprocess.run([sys.executable, str(SAMPLES / "quick.py"), str(RENDERED)], check=True)


def _read(case: Case) -> tuple[Scores, dict[str, float]]:
    photos = [SAMPLES / f"{photo}.jpg" for photo in case.photos]
    with TemporaryDirectory() as folder:
        record = Path(folder) / "pattern.json"
        cost = _child(record, photos)
        found = from_json(record.read_text())
    truth = from_json((SAMPLES / f"{case.truth}.truth.json").read_text())
    return compare(found, truth), cost


def _child(record: Path, photos: Sequence[Path]) -> dict[str, float]:
    command = [sys.executable, "-c", CHILD, str(record), *map(str, photos)]
    done = subprocess.run(command, check=True, capture_output=True, text=True)
    cost: dict[str, float] = json.loads(done.stdout)
    return cost


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


def _misses(case: Case, scores: Scores) -> list[str]:
    bars = [("placement 95 %", scores.placement_95_mm, scores.stated_accuracy_mm)]
    if case.rms_mm is not None:
        bars.append(("placement RMS", scores.placement_rms_mm, case.rms_mm))
    if case.p95_mm is not None:
        bars.append(("placement 95 %", scores.placement_95_mm, case.p95_mm))
    if case.everything:
        bars += [
            ("share not recalled", 1 - scores.recall, 0.05),
            ("share not in the truth", 1 - scores.precision, 0.05),
            ("slits missed", scores.slits_missed, 0),
            ("false tucks", scores.tucks_false, 0),
            ("worst lap error", scores.lap_worst_mm, 0.5),
        ]
    return [
        f"{words} is {value:.3f}, at most {most:.3f}" for words, value, most in bars if value > most
    ]
