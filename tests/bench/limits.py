"""What the largest that is let in takes: memory and time, each in a process of its own."""

import json
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import Any

import numpy as np
from PIL import Image
from rich.console import Console
from rich.table import Table

from digitize.jobs.formats import FORMATS
from digitize.record import Line, Pattern, to_json
from tests.bench.photos import RENDERED, SAMPLES
from tests.scene import Floor, Shot

MANY, PLACES = 60, 6  # photos, and places along the paper that they are taken from
MOST_MIB = {"one photo of 108 MP": 1536, "photos of 12 MP": 4096, "of 1,000 lines": 1024}
MOST_DRAWING_S = 10.0
PLAIN = ("svg", "dxf", "pdf")
PHOTO_PX = (4000, 3000)
LARGE_PX = (12000, 9000)

MEASURED = """
import sys, time, json
from pathlib import Path
from digitize.errors import DigitizeError
{work}
# Not getrusage, which counts what the program was that started this one.
status = Path("/proc/self/status").read_text()
peak = int(status.split("VmHWM:")[1].split()[0]) / 1024
print(json.dumps([peak, time.process_time(), said]))
"""
READ = """
from digitize.jobs.read import read_photos
try:
    said = len(read_photos([Path(each) for each in sys.argv[2:]], Path(sys.argv[1])).pattern.lines)
except DigitizeError as error:
    said = str(error)
"""
DRAW = """
from digitize.jobs.draw import draw_pattern
said = len(draw_pattern(Path(sys.argv[2]), Path(sys.argv[1]), formats=[FORMAT]).written)
"""


def run(console: Console, short: bool) -> tuple[dict[str, Any], list[str]]:
    """Figures, and what was missed."""
    figures: dict[str, Any] = {}
    with tempfile.TemporaryDirectory() as folder:
        place = Path(folder)
        large, record = place / "large.jpg", place / "record"
        record.mkdir()
        (record / "pattern.json").write_text(to_json(many_lines(1000)))
        if not short:
            whole = Image.open(SAMPLES / "easy.jpg")
            whole.resize(LARGE_PX).save(large, quality=90, exif=whole.getexif())
            figures["one photo of 108 MP"] = measured(READ, place / "one", large)
            figures[f"{MANY} photos of 12 MP"] = measured(READ, place / "many", *many_photos(MANY))
        for each in PLAIN if short else FORMATS:
            draw = DRAW.replace("FORMAT", repr(each))
            figures[f"{each} of 1,000 lines"] = measured(draw, place / "drawn", record)
    table = Table("what", "peak MiB", "CPU s", "lines read or files drawn", title="limits")
    missed = []
    for words, (peak, seconds, said) in figures.items():
        table.add_row(words, f"{peak:.0f}", f"{seconds:.1f}", str(said))
        most = next(mib for name, mib in MOST_MIB.items() if words.endswith(name))
        if peak > most:
            missed.append(f"limits: {words}: {peak:.0f} MiB, not {most}")
        if not isinstance(said, int):
            missed.append(f"limits: {words}: {said}")
        # The short form runs where other work goes on, on whatever machine that is.
        slow = words.endswith("of 1,000 lines") and seconds > MOST_DRAWING_S
        if slow and not short:
            missed.append(f"limits: {words}: {seconds:.0f} s, not {MOST_DRAWING_S:.0f}")
    console.print(table)
    return figures, missed


def measured(work: str, *given: Path) -> tuple[float, float, Any]:
    """Peak MiB, seconds of CPU, and what came of it, of work done in a process of its own."""
    ran = subprocess.run(
        [sys.executable, "-c", MEASURED.format(work=work), *map(str, given)],
        capture_output=True,
        text=True,
        check=False,
    )
    if ran.returncode:
        return 0.0, 0.0, ran.stderr.strip().splitlines()[-1]
    peak, seconds, said = json.loads(ran.stdout.splitlines()[-1])
    return peak, seconds, said


def many_photos(count: int) -> list[Path]:
    """Photos of one long paper beside fourteen cards, each from another place; rendered once."""
    folder = RENDERED / "many"
    paths = [folder / f"{number}.jpg" for number in range(count)]
    if not all(path.exists() for path in paths):
        folder.mkdir(parents=True, exist_ok=True)
        floor = Floor(half=1500.0)
        for number in range(7):
            floor.lay_card(2 * number + 1, -1260 + 420 * number, 480, 0)
            floor.lay_card(2 * number + 2, -1260 + 420 * number, -480, 180)
        floor.lay_sheet(np.array([[-1350, -320], [1350, -320], [1350, 320], [-1350, 320]]), SHEET)
        rng = np.random.default_rng(11)
        for line in range(12):
            x = np.linspace(-1300, 1300, 200)
            y = -270 + 48 * line + 14 * np.sin(x / rng.uniform(150, 400) + line)
            floor.draw(np.stack([x, y], axis=1), 0.6, PENCIL)
        for number, path in enumerate(paths):
            if path.exists():
                continue
            x = -1000 + 2000 * (number % PLACES + rng.uniform(-0.3, 0.3)) / (PLACES - 1)
            y = rng.uniform(-150, 150)
            aim = (float(x + rng.uniform(-120, 120)), float(y + rng.uniform(-80, 80)))
            shot = Shot((float(x), float(y), 1150.0), aim, 2900.0, PHOTO_PX)
            Image.fromarray(floor.photograph(shot)).save(path, quality=90)
    return paths


SHEET, PENCIL = (214, 200, 170), (70, 66, 62)


def many_lines(count: int) -> Pattern:
    """A record of so many lines of a hundred points in rows of 25, on a paper of 4 m."""
    along = np.linspace(0, 130, 100)
    lines = []
    for number in range(count):
        x, y = 20 + 158 * (number % 25) + along, 20 + 60 * (number // 25) + 9 * np.sin(along / 20)
        lines.append(
            Line(
                id=f"L{number}",
                role="form",
                role_confidence=0.9,
                points=tuple(zip(x.tolist(), y.tolist(), strict=True)),
                width=0.5,
                sigma=0.1,
            )
        )
    high = 60.0 * -(-count // 25) + 40
    sheet = ((0.0, 0.0), (4000.0, 0.0), (4000.0, high), (0.0, high))
    return Pattern(name="many", outline=sheet, lines=tuple(lines))
