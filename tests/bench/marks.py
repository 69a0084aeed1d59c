"""Marks by another hand, read from photos: lines, ticks, which mark of a tuck is which, laps.

The papers are those of ``marks_paper``, on the floors of ``workshop_photos``. A reading is laid on
its truth by the cards, and then by its lines. A class has one kind of marks beside a panel's plain
ones; half of the seeds are for measuring only, and their pictures are never looked at.
"""

import hashlib
import os
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, fields
from multiprocessing import get_context
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray
from rich.console import Console
from rich.progress import track
from rich.table import Table
from scipy.optimize import linear_sum_assignment
from scipy.spatial import cKDTree

from digitize.errors import DigitizeError
from digitize.floor import open_photo
from digitize.reading import read_pattern
from digitize.record import Pattern, Tuck
from tests.bench import marks_looks
from tests.bench.compare import nearest_line, rigid, sampled
from tests.bench.marks_looks import drawn_on
from tests.bench.marks_paper import CLASSES, Paper, TrueTuck, draw_paper, evenly
from tests.bench.photos import RENDERED
from tests.bench.take_up import NORMAL_95, TIP_MM, Fit, coverage, rms
from tests.bench.workshop import by_cards
from tests.bench.workshop_photos import (
    FLOORS,
    PAPERS,
    PHOTOGRAPHS,
    Look,
    Scene,
    camera_over,
    laid_picture,
    lay_cards,
    pixels_per_mm,
    take,
)

Floats = NDArray[np.float64]
SEEN, UNSEEN = range(1, 33), range(33, 65)  # the latter never looked at
SHORT = (1, 3, 11, 16)
SIZE_PX = (4032, 3024)
FEWEST_PIXELS_PER_MM = 3.0
FEWEST_APART = 20.0  # in Lab, paper from floor: how its edge is found is another bench's matter
DARK_PAPERS: tuple[Look, ...] = (
    ("cardboard_3.png", (0.0, 0.0, 1.0, 1.0), 330, (0.42, 0.28, 0.16)),
    ("Paper001_1K-JPG_Color.jpg", (0.0, 0.0, 1.0, 1.0), 400, (0.035, 0.035, 0.038)),
    ("cardboard_3.png", (0.0, 0.0, 1.0, 1.0), 400, (0.3, 0.22, 0.14)),
)
NEAR_MM, OFF_MM, FALSE_MM, ON_MM = 1.0, 2.0, 20.0, 1.5
FAR_OFF_MM, STATED_MM = 2.0, 1.0
MOST_SAID = 5
NONE = 1e3  # a distance to what is not there, mm
Bars = tuple[tuple[str, float, float], ...]
OF_HALVES: Bars = (
    ("identity right, of those sure", 0.95, 1.0),
    ("slit and lap line swapped", 0.0, 0.01),
    ("false tucks in 40 photos", 0.0, 1.0),
    ("false tucks, sure", 0.0, 0.0),
    ("ticks found", 0.95, 1.0),
    ("laps in their 95 % band", 0.93, 0.98),
    ("laps over 2 mm off, stated under 1 mm", 0.0, 0.0),
    ("tracebacks", 0.0, 0.0),
)
OF_CLASSES: Bars = (("false lines a photo", 0.0, 0.3),)


@dataclass(frozen=True)
class Outcome:
    """What readings of one photo or more came to.

    Attributes
    ----------
    recalled, ticked, true : (points found, points there): of lines, of lines drawn as ticks, and
        of the lines read those that are there. A point is half a mm.
    false_lines : lines of which 20 mm and more lie over 2 mm from any mark that is a line.
    right, swapped, other : tucks found and not said unsure, by whether their cut and lap line are
        the true ones.
    unsure, unsure_right : tucks found that the record calls unsure, and those right of them.
    false, false_sure : tucks read where none is.
    kinds : tucks found whose kind is right.
    tips : errors, mm. laps : (error, stated sigma) at stations, mm.
    """

    photos: int = 1
    recalled: tuple[int, int] = (0, 0)
    ticked: tuple[int, int] = (0, 0)
    true: tuple[int, int] = (0, 0)
    false_lines: int = 0
    tucks: int = 0
    right: int = 0
    swapped: int = 0
    other: int = 0
    unsure: int = 0
    unsure_right: int = 0
    missed: int = 0
    false: int = 0
    false_sure: int = 0
    kinds: int = 0
    tips: tuple[float, ...] = ()
    laps: tuple[tuple[float, float], ...] = ()
    refused: int = 0
    tracebacks: int = 0
    said: tuple[str, ...] = ()

    def with_other(self, other: "Outcome") -> "Outcome":
        """Both counted together; pairs of counts by their members."""
        pairs = ("recalled", "ticked", "true")
        values = {}
        for each in fields(self):
            a, b = getattr(self, each.name), getattr(other, each.name)
            values[each.name] = (a[0] + b[0], a[1] + b[1]) if each.name in pairs else a + b
        return Outcome(**values)


def run(console: Console, short: bool) -> tuple[dict[str, object], list[str]]:
    """Read all papers and print how their marks were read, by halves and by classes."""
    if not PHOTOGRAPHS.exists():
        console.print("marks: left out, the photographs are not here")
        return {}, []
    seeds = list(SHORT) if short else [*SEEN, *UNSEEN]
    outcomes = read_all(console, seeds)
    halves = {"all": outcomes}
    if not short:
        halves = {
            "seen": {seed: each for seed, each in outcomes.items() if seed in SEEN},
            "unseen": {seed: each for seed, each in outcomes.items() if seed in UNSEEN},
        }
    figures, misses = {}, []
    for name, half in halves.items():
        figures[name] = figures_of(together(half.values()))
        classes = {}
        for kind in CLASSES:
            some = [each for seed, each in half.items() if class_of(seed) == kind]
            if some:
                classes[kind] = figures_of(together(some))
        console.print(table_of(f"Marks by another hand, by class: {name}", classes))
        figures |= {f"{name}: {kind}": each for kind, each in classes.items()}
        if name != "seen":
            bars = OF_HALVES if not short else tuple(b for b in OF_HALVES if b[2] == 0)
            misses += missed(name, figures[name], bars)
            for kind, each in classes.items():
                misses += missed(f"{name}: {kind}", each, OF_CLASSES)
    console.print(
        table_of("Marks by another hand", {name: figures[name] for name in halves}, across=False)
    )
    for seed, outcome in outcomes.items():
        # A ruled paper's lines may all be taken for pencil: a few of them say it.
        for said in [*outcome.said[:MOST_SAID], *outcome.said[MOST_SAID:][-MOST_SAID:]]:
            console.print(f"marks-{seed} ({class_of(seed)}): {said}")
    return {name: dict(each) for name, each in figures.items()}, misses


def read_all(console: Console, seeds: Sequence[int]) -> dict[int, Outcome]:
    """Outcomes by seed, by two processes."""
    before = os.environ.get("OPENBLAS_NUM_THREADS")
    os.environ["OPENBLAS_NUM_THREADS"] = "1"
    with ProcessPoolExecutor(2, mp_context=get_context("spawn")) as pool:
        steps = pool.map(outcome_of, seeds)
        outcomes = list(track(steps, "marks", len(seeds), console=console, transient=True))
    if before is None:
        del os.environ["OPENBLAS_NUM_THREADS"]
    else:
        os.environ["OPENBLAS_NUM_THREADS"] = before
    return dict(zip(seeds, outcomes, strict=True))


def class_of(seed: int) -> str:
    """Classes follow one another."""
    return CLASSES[(seed - 1) % len(CLASSES)]


def scene_of(seed: int) -> tuple[Scene, Paper]:
    """A seed's paper on a floor, with enough pixels for its pencil."""
    rng = np.random.default_rng([32, seed])
    largest = 760.0
    floors = list(FLOORS)
    while True:
        paper = draw_paper(seed, largest)
        looks = DARK_PAPERS if paper.kind == "dark paper" else PAPERS
        look = looks[int(rng.integers(len(looks)))]
        floor = floors[int(rng.integers(len(floors)))]
        while _apart(look, floor) < FEWEST_APART:
            floor = floors[int(rng.integers(len(floors)))]
        under, over = lay_cards(rng, paper.outline, int(rng.integers(2, 4)), "plain", 1.0)
        rings = [paper.outline, *(card.sheet() for card in over)]
        everything = np.concatenate([np.array(ring.exterior.coords) for ring in rings])
        scene = Scene(
            seed=seed,
            kind="plain",
            floor=floor,
            paper=look,
            outline=paper.outline,
            lines=(),
            under=under,
            over=over,
            clutter=(),
            size_px=SIZE_PX,
            exposure=float(rng.uniform(-0.3, 0.3)),
            floor_turn=float(rng.normal(0, 3) + rng.choice([0.0, 90.0])),
            curl_mm=float(rng.uniform(0, 0.8)),
            camera=camera_over(rng, everything, SIZE_PX),
        )
        if pixels_per_mm(scene) >= FEWEST_PIXELS_PER_MM:
            return scene, paper
        largest = max(largest * 0.97, 440.0)


def _apart(look: Look, floor: str) -> float:
    """How far a paper's mean colour is from a floor's, in Lab."""
    name, part, _, dye = look
    means = (
        laid_picture(f"papers/{name}", part).mean(axis=(0, 1)) * np.array(dye),
        laid_picture(f"floors/{floor}", (0.0, 0.0, 1.0, 1.0)).mean(axis=(0, 1)),
    )
    encoded = np.clip(np.array(means), 0, 1).astype(np.float32)[None] ** (1 / 2.2)
    lab = cv2.cvtColor(encoded, cv2.COLOR_RGB2LAB)[0]
    return float(np.linalg.norm(lab[0] - lab[1]))


def photo_of(seed: int, scene: Scene, paper: Paper) -> Path:
    """A seed's photo, taken if it is not there: a kept one of another drawing has another name."""
    drawn = hashlib.sha256(Path(marks_looks.__file__).read_bytes() + scene.floor.encode())
    points = [mark.points for mark in (*paper.strokes, *paper.openings, *paper.softs)]
    for values in (*scene.camera.values(), *points):
        drawn.update(np.ascontiguousarray(values).tobytes())
    photo = RENDERED / f"marks-{seed}-{drawn.hexdigest()[:8]}.jpg"
    if not photo.exists():
        RENDERED.mkdir(exist_ok=True)
        photo.write_bytes(take(scene, drawn_on(paper))[0])
    return photo


def outcome_of(seed: int) -> Outcome:
    """Read one paper's photo."""
    scene, paper = scene_of(seed)
    photo = photo_of(seed, scene, paper)
    try:
        pattern = read_pattern([open_photo(photo.name, photo.read_bytes())], "marks").pattern
    except DigitizeError as error:
        missing = len(paper.tucks)
        said = (f"refused: {type(error).__name__}",)
        return Outcome(refused=1, tucks=missing, missed=missing, said=said)
    except Exception as error:  # whatever else it is, it is the defect looked for
        missing = len(paper.tucks)
        said = (f"traceback: {type(error).__name__}: {error}",)
        return Outcome(tracebacks=1, tucks=missing, missed=missing, said=said)
    return judged(paper, pattern, laid_on(scene, paper, pattern))


def laid_on(scene: Scene, paper: Paper, pattern: Pattern) -> Fit:
    """Carries a reading's points onto the paper's: by the cards, then by lines near each other."""
    rotation, shift = by_cards(scene, pattern)
    true = np.concatenate([sampled(line) for line in _marks(paper)])
    found = [sampled(np.array(line.path)) for line in pattern.lines]
    source = np.concatenate(found) if found else np.empty((0, 2))
    tree = cKDTree(true)
    for _ in range(10):
        distance, index = tree.query(source @ rotation.T + shift)
        kept = distance < max(OFF_MM, 3 * float(np.median(distance)) if len(distance) else 0.0)
        if kept.sum() < 20:
            break
        rotation, shift = rigid(source[kept], true[index[kept]])

    def fitted(points: object) -> Floats:
        return np.asarray(np.array(points) @ rotation.T + shift)

    return fitted


def _marks(paper: Paper) -> list[Floats]:
    """All that a reader may rightly call a line."""
    cuts = [tuck.cut for tuck in paper.tucks]
    hidden = [tuck.hidden for tuck in paper.tucks if tuck.hidden is not None]
    return [*(line.points for line in paper.lines), *cuts, *hidden, *paper.beside]


def judged(paper: Paper, pattern: Pattern, fitted: Fit) -> Outcome:
    """A reading against its truth, laid on it."""
    lines = [fitted(line.path) for line in pattern.lines]
    counts = {}
    for name, ticks in (("recalled", False), ("ticked", True)):
        wanted = [sampled(line.points) for line in paper.lines if line.ticks is ticks]
        points = np.concatenate(wanted) if wanted else np.empty((0, 2))
        near = nearest_line(points, lines)[0] < NEAR_MM if lines and len(points) else []
        counts[name] = (int(np.sum(near)), len(points))
    true, points, false, said = 0, 0, 0, []
    for line, found in zip(lines, pattern.lines, strict=True):
        dense = sampled(line)
        away = nearest_line(dense, _marks(paper))[0]
        true, points = true + int((away < NEAR_MM).sum()), points + len(dense)
        off = float((away > OFF_MM).mean()) * found.length
        if off >= FALSE_MM:
            false += 1
            x, y = dense[int(np.argmax(away))]
            said.append(
                f"{off:.0f} mm of {found.id} ({found.role}) are no line, at {x:.0f}, {y:.0f}"
            )
    tucks = _tucks_judged(paper, pattern, fitted)
    return Outcome(
        **counts,
        true=(true, points),
        false_lines=false,
        **{**tucks, "said": (*said, *tucks["said"])},
    )


def _tucks_judged(paper: Paper, pattern: Pattern, fitted: Fit) -> dict[str, object]:
    """An ``Outcome``'s values that tucks have."""
    counts = dict.fromkeys(
        ("right", "swapped", "other", "unsure", "unsure_right", "false", "false_sure", "kinds"), 0
    )
    tips: list[float] = []
    laps: list[tuple[float, float]] = []
    said: list[str] = []
    pairs = _pairs(paper, pattern, fitted)
    for index, tuck in enumerate(pattern.tucks):
        unsure = bool(getattr(tuck, "unsure", False))
        x, y = fitted([tuck.tip])[0]
        if index not in pairs:
            counts["false"] += 1
            counts["false_sure"] += not unsure
            said.append(f"{tuck.id} ({tuck.kind}) is no tuck, at {x:.0f}, {y:.0f}")
            continue
        twin = paper.tucks[pairs[index]]
        identity = _identity(twin, tuck, pattern, fitted)
        if unsure:
            counts["unsure"] += 1
            counts["unsure_right"] += identity == "right"
        else:
            counts[identity] += 1
        counts["kinds"] += twin.kind == tuck.kind
        away = float(np.hypot(*(np.array([x, y]) - twin.tip)))
        tips.append(away)
        errors = _lap_errors(twin, tuck, np.array([x, y]))
        laps += errors
        worst = max((abs(error) for error, _ in errors), default=0.0)
        silent = any(_silently_off(*each) for each in errors)
        if identity != "right" or twin.kind != tuck.kind or silent:
            said.append(
                f"{tuck.id} is {identity}, a {tuck.kind} for a {twin.kind}, tip {away:.1f} mm off, "
                f"laps to {worst:.1f} mm off{', in silence' if silent else ''}"
                f"{', said unsure' if unsure else ''}, at {twin.tip[0]:.0f}, {twin.tip[1]:.0f}"
            )
    for number, twin in enumerate(paper.tucks):
        if number not in pairs.values():
            what = f"{twin.kind} of {twin.reach:.0f} mm, lap {twin.widest_mm:.0f} mm"
            said.append(f"missed: {what}, at {twin.tip[0]:.0f}, {twin.tip[1]:.0f}")
    missing = len(paper.tucks) - len(pairs)
    return {
        **counts,
        "tucks": len(paper.tucks),
        "missed": missing,
        "tips": tuple(tips),
        "laps": tuple(laps),
        "said": tuple(said),
    }


def _pairs(paper: Paper, pattern: Pattern, fitted: Fit) -> dict[int, int]:
    """True tucks by those found: their tips are near, or a mark of theirs was taken for the cut."""
    if not pattern.tucks or not paper.tucks:
        return {}
    costs = np.full((len(pattern.tucks), len(paper.tucks)), NONE)
    for row, tuck in enumerate(pattern.tucks):
        slit, tip = fitted(pattern.line(tuck.slit).points), fitted([tuck.tip])[0]
        for column, twin in enumerate(paper.tucks):
            apart = float(np.linalg.norm(tip - twin.tip))
            marks = (twin.cut, twin.lap_line, twin.hidden)
            along = min(_median_distance(slit, mark) for mark in marks)
            if apart <= TIP_MM or along <= ON_MM:
                costs[row, column] = along + 0.1 * apart
    rows, columns = linear_sum_assignment(costs)
    return {int(r): int(c) for r, c in zip(rows, columns, strict=True) if costs[r, c] < NONE}


def _median_distance(points: Floats, mark: Floats | None) -> float:
    """Of a line's points from a mark, mm; far if it is not there."""
    if mark is None:
        return NONE
    return float(np.median(nearest_line(evenly(points, 0.5), [mark])[0]))


def _identity(twin: TrueTuck, tuck: Tuck, pattern: Pattern, fitted: Fit) -> str:
    """``right``, ``swapped`` or ``other``: whether the cut and lap line are the true ones."""
    slit = fitted(pattern.line(tuck.slit).points)
    to_cut, to_lap = (_median_distance(slit, mark) for mark in (twin.cut, twin.lap_line))
    if to_lap < to_cut and to_lap <= ON_MM:
        return "swapped"
    if to_cut > ON_MM:
        return "other"
    lap = None if tuck.lap_line is None else fitted(pattern.line(tuck.lap_line).points)
    if twin.kind == "fold":  # its second crease may stand where a lap line would
        ok = lap is None or _median_distance(lap, twin.hidden) <= ON_MM
    elif twin.lap_line is None or lap is None:
        ok = twin.lap_line is None and lap is None
    else:
        ok = _median_distance(lap, twin.lap_line) <= ON_MM
    return "right" if ok else "other"


def _lap_errors(twin: TrueTuck, tuck: Tuck, tip: Floats) -> list[tuple[float, float]]:
    """(error, stated sigma) at stations, mm, both measured from the true tip."""
    ahead = (twin.cut[-1] - twin.tip) / twin.reach
    offset = float((tip - twin.tip) @ ahead)
    errors = []
    for station in tuck.stations:
        depth = station.depth + offset
        if 0 < depth <= twin.reach:
            errors.append((station.lap - float(twin.lap(depth)), station.sigma))
    return errors


def _silently_off(error: float, sigma: float) -> bool:
    return abs(error) > FAR_OFF_MM and NORMAL_95 * sigma < STATED_MM


def together(outcomes: Sequence[Outcome] | object) -> Outcome:
    """Some outcomes as one."""
    total = Outcome(photos=0)
    for outcome in outcomes:  # type: ignore[attr-defined]
        total = total.with_other(outcome)
    return total


def figures_of(all_: Outcome) -> dict[str, float]:
    """The figures of some readings, by name."""
    sure = all_.right + all_.swapped + all_.other
    found = sure + all_.unsure
    errors = [error for error, _ in all_.laps]
    return {
        "photos": all_.photos,
        "lines found": _share(*all_.recalled),
        "ticks found": _share(*all_.ticked),
        "lines true": _share(*all_.true),
        "false lines a photo": all_.false_lines / max(all_.photos, 1),
        "tucks": all_.tucks,
        "tucks missed": all_.missed,
        "tucks said unsure": all_.unsure,
        "of these right": all_.unsure_right,
        "false tucks in 40 photos": 40 * all_.false / max(all_.photos, 1),
        "false tucks, sure": all_.false_sure,
        "identity right, of those sure": _share(all_.right, sure),
        "slit and lap line swapped": _share(all_.swapped, sure),
        "kind right": _share(all_.kinds, found),
        "tip RMS mm": rms(list(all_.tips)),
        "tip, worst mm": max(all_.tips, default=float("nan")),
        "lap, mean error mm": float(np.mean(errors)) if errors else float("nan"),
        "lap RMS mm": rms(errors),
        "lap, worst mm": max(map(abs, errors), default=float("nan")),
        "stations": len(errors),
        "laps in their 95 % band": coverage(list(all_.laps)),
        "laps over 2 mm off, stated under 1 mm": sum(_silently_off(*lap) for lap in all_.laps),
        "refused": all_.refused,
        "tracebacks": all_.tracebacks,
    }


def missed(name: str, figures: dict[str, float], bars: Bars) -> list[str]:
    """Which bars a group's figures miss; what there was none of misses none."""
    return [
        f"marks: {name}: {what} {figures[what]:.3g}, bar {low:g} to {high:g}"
        for what, low, high in bars
        if not (low <= figures[what] <= high or np.isnan(figures[what]))
    ]


def table_of(title: str, groups: dict[str, dict[str, float]], across: bool = True) -> Table:
    """Figures of some groups: a row for each measure, or (``across``) for each group."""
    names = list(next(iter(groups.values())))
    if across:
        table = Table("class", *(SHORTER.get(name, name) for name in names if name in SHORTER))
        for group, each in groups.items():
            table.add_row(group, *(_shown(n, each[n]) for n in names if n in SHORTER))
    else:
        table = Table("measure", *groups)
        for name in names:
            table.add_row(name, *(_shown(name, each[name]) for each in groups.values()))
    table.title = title
    return table


SHORTER = {
    "lines found": "lines",
    "ticks found": "ticks",
    "lines true": "true",
    "false lines a photo": "false",
    "tucks": "tucks",
    "tucks missed": "missed",
    "tucks said unsure": "unsure",
    "false tucks in 40 photos": "false/40",
    "identity right, of those sure": "right",
    "slit and lap line swapped": "swapped",
    "lap RMS mm": "RMS",
    "laps in their 95 % band": "band",
    "laps over 2 mm off, stated under 1 mm": "silent",
}
OF_SHARES = (
    "lines found",
    "ticks found",
    "lines true",
    "identity right, of those sure",
    "slit and lap line swapped",
    "kind right",
    "laps in their 95 % band",
)


def _share(part: int, whole: int) -> float:
    return part / whole if whole else float("nan")


def _shown(name: str, value: float) -> str:
    if np.isnan(value):
        return ""
    if name in OF_SHARES:
        return f"{value:.1%}"
    return f"{value:g}" if float(value).is_integer() else f"{value:.2f}"
