"""How what the program costs grows: with megapixels, photos, lines, and patterns in the drawer.

All of it in one run, in CPU time, beside the bare floor of one photo of 12 megapixels.
"""

import time
from collections.abc import Callable
from pathlib import Path
from tempfile import TemporaryDirectory

from PIL import Image
from rich.console import Console
from rich.table import Table

from digitize.jobs.draw import draw_pattern
from digitize.jobs.folder import RECTIFIED
from digitize.jobs.tell import tell
from digitize.record import Pattern, Rectified, to_json
from tests.bench.cost import Cost, command_s, cores, cost_of, run_apart
from tests.bench.drawer import fill, wanted_of
from tests.bench.limits import many_lines, many_photos
from tests.bench.photos import RENDERED, SAMPLES, render_sets

MEGAPIXELS = (1, 3, 12, 27, 48, 108)
PHOTOS = (1, 2, 3, 6, 12, 24)
LINES = (10, 30, 100, 300, 1000, 3000)
PATTERNS = (10, 1_000, 10_000, 100_000)
CURLED = ("other-side", "other-side-2", "other-side-3")
COMMANDS = ("photo", "label", "draw", "keep", "find", "compare", "form", "page")
RECTIFIED_MM = 0.5

MOST_OVER_FLOOR, MOST_OF_THREE, MOST_OF_SIX, MOST_WALL = 1.8, 3.3, 6.5, 0.65
MOST_MIB = {"one photo": 350, "six photos": 900, "108 megapixels": 1536}
MOST_S = {"telling a fact": 0.3, "a command's help": 0.25, "finding": 0.4, "preview": 0.7}

GLANCE = """
import json, sys, time
from pathlib import Path
from digitize.floor import open_photo
from digitize.reading import glance_at
content = Path(sys.argv[1]).read_bytes()
taken = []
for _ in range(3):
    wall, begin = time.perf_counter(), time.process_time()
    glance_at(open_photo("photo.jpg", content))
    taken.append((time.process_time() - begin, time.perf_counter() - wall))
print(json.dumps(min(taken)))
"""
FIND = """
import json, sys, time
from pathlib import Path
from digitize.keep.index import Wanted, find
wanted = Wanted(words=(sys.argv[2],))
find(Path(sys.argv[1]), wanted)
begin = time.process_time()
found = len(find(Path(sys.argv[1]), wanted).kept)
print(json.dumps([time.process_time() - begin, found]))
"""


def run(console: Console, short: bool) -> tuple[dict[str, object], list[str]]:
    """All tables, or what a minute has room for; figures, and what was missed."""
    figures: dict[str, object] = {}
    missed: list[str] = []
    for part in (readings, answers) if short else (readings, megapixels, photos, lines, drawer):
        some, misses = part(console, short)
        figures |= some
        missed += misses
    if not short:
        some, misses = answers(console, short)
        figures |= some
        missed += misses
    return figures, missed


def readings(console: Console, short: bool) -> tuple[dict[str, object], list[str]]:
    """One, three and six photos over their bare floor, by stage, and over one of them."""
    cases = {"easy": [SAMPLES / "easy.jpg"]}
    if not short:
        render_sets(console)
        curled = [SAMPLES / f"{name}.jpg" for name in CURLED]
        long = [RENDERED / f"long-{n}.jpg" for n in range(1, 7)]
        cases |= {
            "shadow": [SAMPLES / "shadow.jpg"],
            "one-card": [SAMPLES / "one-card.jpg"],
            "curled, 1 photo": curled[:1],
            "curled, 3 photos": curled,
            "the same, the other way about": curled[::-1],
            "long, 1 photo": long[:1],
            "long, 6 photos": long,
        }
    costs = {
        name: cost_of(paths, 1 if len(paths) > 1 or short else 2) for name, paths in cases.items()
    }
    stages = list(dict.fromkeys(stage for cost in costs.values() for stage in cost.stages))
    table = Table(
        "reading", "floor s", "over floor", *stages, "over one", "clock / CPU", "peak MiB"
    )
    table.title = f"Readings in CPU time over their bare floor, on {cores()} cores"
    for name, cost in costs.items():
        alone = costs.get(f"{name.split(',')[0]}, 1 photo", cost)
        table.add_row(
            name,
            f"{cost.floor_s:.2f}",
            f"{cost.cpu_s / cost.floor_s:.2f}",
            *(f"{cost.stages.get(stage, 0.0) / cost.floor_s:.2f}" for stage in stages),
            f"{cost.cpu_s / alone.cpu_s:.2f}",
            f"{cost.wall_s / cost.cpu_s:.2f}",
            f"{cost.peak_mib:.0f}",
        )
    console.print(table)
    return {name: vars(cost) for name, cost in costs.items()}, _missed_readings(costs)


def _missed_readings(costs: dict[str, Cost]) -> list[str]:
    missed = [
        f"time: {name} takes {cost.cpu_s / cost.floor_s:.2f} times its bare floor"
        for name, cost in costs.items()
        if "photo" not in name and "about" not in name
        if cost.cpu_s > MOST_OVER_FLOOR * cost.floor_s
    ]
    for name, one, most in (
        ("curled, 3 photos", "curled, 1 photo", MOST_OF_THREE),
        ("the same, the other way about", "curled, 1 photo", MOST_OF_THREE),
        ("long, 6 photos", "long, 1 photo", MOST_OF_SIX),
    ):
        if name not in costs:
            continue
        cost, ratio = costs[name], costs[name].cpu_s / costs[one].cpu_s
        if ratio > most:
            missed.append(f"time: {name} take {ratio:.2f} times one")
        if cost.wall_s > MOST_WALL * cost.cpu_s:
            missed.append(f"time: {name} take {cost.wall_s / cost.cpu_s:.2f} of CPU by the clock")
    for name, kind in (("easy", "one photo"), ("long, 6 photos", "six photos")):
        if name in costs and costs[name].peak_mib > MOST_MIB[kind]:
            missed.append(f"memory: {kind}: {costs[name].peak_mib:.0f} MiB, not {MOST_MIB[kind]}")
    return missed


def megapixels(console: Console, short: bool) -> tuple[dict[str, object], list[str]]:
    """One photo, made smaller and larger."""
    with TemporaryDirectory() as folder:
        whole = Image.open(SAMPLES / "easy.jpg")
        costs = {}
        for each in MEGAPIXELS:
            share = (each * 1e6 / (whole.width * whole.height)) ** 0.5
            path = Path(folder) / f"{each}.jpg"
            size = round(whole.width * share), round(whole.height * share)
            whole.resize(size).save(path, quality=90, exif=whole.getexif())
            costs[each] = cost_of([path])
    figures = _grown(console, "megapixels", costs, 12)
    peak, most = costs[108].peak_mib, MOST_MIB["108 megapixels"]
    return figures, [f"memory: 108 megapixels: {peak:.0f} MiB, not {most}"] if peak > most else []


def photos(console: Console, short: bool) -> tuple[dict[str, object], list[str]]:
    """Photos of 12 megapixels of one long paper, together."""
    paths = many_photos(max(PHOTOS))
    return _grown(console, "photos", {n: cost_of(paths[:n]) for n in PHOTOS}, 1), []


def _grown(console: Console, what: str, costs: dict[int, Cost], unit: int) -> dict[str, object]:
    table = Table(
        what, "CPU s", f"over {unit}", "over its floor", "clock / CPU", "peak MiB", "said"
    )
    for count, cost in costs.items():
        table.add_row(
            str(count),
            f"{cost.cpu_s:.2f}",
            f"{cost.cpu_s / costs[unit].cpu_s:.2f}",
            f"{cost.cpu_s / cost.floor_s:.2f}",
            f"{cost.wall_s / cost.cpu_s:.2f}",
            f"{cost.peak_mib:.0f}",
            cost.refused or "read",
        )
    console.print(table)
    return {f"{count} {what}": vars(cost) for count, cost in costs.items()}


def lines(console: Console, short: bool) -> tuple[dict[str, object], list[str]]:
    """A record drawn, and a fact told of it, by how many lines it has."""
    figures: dict[str, object] = {}
    table = Table("lines", "drawn CPU s", "over 100", "a fact told CPU s", "over 100")
    costs = {}
    with TemporaryDirectory() as folder:
        for count in LINES:
            record = record_of(Path(folder) / str(count), many_lines(count))
            drawn = _cpu(
                lambda record=record: draw_pattern(record, record / "drawn", formats=["svg"])
            )
            costs[count] = drawn, telling_s(record)
    for count, both in costs.items():
        over = [now / hundred for now, hundred in zip(both, costs[100], strict=True)]
        figures[f"{count} lines"] = both
        cells = [f"{both[0]:.2f}", f"{over[0]:.2f}", f"{both[1]:.2f}", f"{over[1]:.2f}"]
        table.add_row(str(count), *cells)
    console.print(table)
    return figures, []


def record_of(folder: Path, pattern: Pattern) -> Path:
    """A folder with a record, its reading, and the paper's picture, blank."""
    high = max(y for _, y in pattern.outline)
    wide = max(x for x, _ in pattern.outline)
    size = round(wide / RECTIFIED_MM), round(high / RECTIFIED_MM)
    place = Rectified(left=0.0, top=high, mm_per_px=RECTIFIED_MM, size_px=size)
    whole = to_json(pattern.model_copy(update={"rectified": place}))
    folder.mkdir(parents=True)
    for name in ("pattern.json", "reading.json"):
        (folder / name).write_text(whole)
    Image.new("RGB", size, (190, 160, 120)).save(folder / RECTIFIED)
    return folder


def telling_s(record: Path) -> float:
    """CPU of telling a role and having record, drawings and overlay current; less of two times."""
    return min(
        _cpu(lambda role=role: tell(record, roles={"L3": role})) for role in ("crease", "form")
    )


def _cpu(work: Callable[[], object]) -> float:
    begin = time.process_time()
    work()
    return time.process_time() - begin


def drawer(console: Console, short: bool) -> tuple[dict[str, object], list[str]]:
    """One of so many patterns found, once its index is there: in the program, and as a command."""
    table = Table("patterns in the drawer", "find CPU s", "over 10,000", "the command CPU s")
    costs = {}
    with TemporaryDirectory() as folder:
        for count in PATTERNS:
            place = Path(folder) / str(count)
            fill(place, count)
            words = wanted_of(count)[0]
            seconds, found = run_apart(FIND, str(place), words)
            assert found == 1
            costs[count] = seconds, command_s("digitize", "find", words, "--drawer", str(place))
    for count, (seconds, whole) in costs.items():
        ratio = seconds / costs[10_000][0]
        table.add_row(f"{count:,}", f"{seconds:.3f}", f"{ratio:.2f}", f"{whole:.2f}")
    console.print(table)
    whole = costs[10_000][1]
    missed = [f"time: find in 10,000: {whole:.2f} s"] if whole > MOST_S["finding"] else []
    return {f"{count} patterns": each for count, each in costs.items()}, missed


def answers(console: Console, short: bool) -> tuple[dict[str, object], list[str]]:
    """What somebody waits for: a preview, a fact told, a command's help."""
    preview, clock = run_apart(GLANCE, str(SAMPLES / "easy.jpg"))
    with TemporaryDirectory() as folder:
        told = telling_s(record_of(Path(folder) / "told", many_lines(300)))
    empty = command_s("site")
    helps = {name: command_s("digitize", name, "--help") for name in COMMANDS[: 2 if short else 8]}
    helps["digitize"] = command_s("digitize", "--help")
    slowest = max(helps, key=lambda name: helps[name])
    figures = {
        "preview": preview,
        "telling a fact": told,
        "a command's help": helps[slowest],
    }
    table = Table("what is waited for", "CPU s", "bar s", "beside")
    beside = {
        "preview": f"of one photo of 12 megapixels; {clock:.2f} by the clock",
        "telling a fact": "of 300 lines, with record, drawings and overlay written",
        "a command's help": f"of {slowest}, the slowest; python alone takes {empty:.2f}",
    }
    for what, seconds in figures.items():
        table.add_row(what, f"{seconds:.2f}", f"{MOST_S[what]:.2f}", beside[what])
    console.print(table)
    missed = [
        f"time: {what}: {seconds:.2f} s, not {MOST_S[what]}"
        for what, seconds in figures.items()
        if seconds > MOST_S[what]
    ]
    return {**figures, "helps": helps}, missed
