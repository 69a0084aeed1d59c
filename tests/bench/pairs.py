"""Two patterns compared: pairs that differ by what is known, and rendered photos of one panel."""

from dataclasses import dataclass, field

import numpy as np
from rich.console import Console
from rich.progress import track
from rich.table import Table
from scipy.spatial import cKDTree

from digitize.compare.deviation import Comparison, compared
from digitize.compare.verdict import verdict_on
from digitize.defaults import SAME_MM
from digitize.floor.photo import open_photo
from digitize.reading import read_pattern
from digitize.record import Pattern, from_json
from tests.bench.changed import ACCURACY_MM, CHANGES, Pair, bases_of, grown_pair, pair_of
from tests.bench.compare import laid_on
from tests.bench.photos import SAMPLES
from tests.bench.tucks import render_missing

SEEDS = {"seen": range(1, 41), "unseen": range(101, 141)}
SHORT = range(1, 11)
GROWN, GROWN_SHORT = range(1, 21), range(1, 5)
MOST_RMS_MM, MOST_WRONG = 0.1, 0.02
NEAR_MM = 2.0
# Photos of one panel, drawn by hand each time: by what the drawings differ is known.
PHOTOS = {
    "easy": ("easy",),
    "shadow": ("shadow",),
    "other side": ("other-side", "other-side-2", "other-side-3"),
}
PHOTO_PAIRS = (("easy", "shadow", False), ("easy", "other side", True))


@dataclass
class Scores:
    """What came of some pairs."""

    off: list[float] = field(default_factory=list)
    sure: list[bool] = field(default_factory=list)
    laps: list[float] = field(default_factory=list)
    pairs: int = 0
    wrong: int = 0
    untold: int = 0
    same_beyond: int = 0


def run(console: Console, short: bool) -> tuple[dict[str, object], list[str]]:
    """Compare all pairs; the seeds of the second half were never looked at."""
    halves = {"seen": SHORT} if short else SEEDS
    grown = GROWN_SHORT if short else GROWN
    chosen = [seed for seeds in halves.values() for seed in seeds]
    render_missing(console, bases_of(chosen, grown), marks_only=True)
    scores: dict[str, dict[str, Scores]] = {}
    for half, seeds in halves.items():
        scores[half] = {change: Scores() for change in (*CHANGES, "all")}
        for seed in track(seeds, "pairs", console=console, transient=True):
            change = CHANGES[seed % len(CHANGES)]
            pair = pair_of(seed, change)
            comparison = compared(pair.pattern, pair.other, pair.mirror)
            for group in (change, "all"):
                _add(scores[half][group], pair, comparison)
    figures = {
        f"{change}, {half}": _figures(group)
        for half, groups in scores.items()
        for change, group in groups.items()
    }
    console.print(_table(figures))
    figures["grown"] = _grown(grown)
    console.print(
        f"paper grown by up to 1 %, {figures['grown']['pairs']} pairs: growth off by "
        f"{figures['grown']['growth RMS error']:.3%} RMS, within what is stated in "
        f"{figures['grown']['within what is stated (95 %)']:.0%}; deviations off by "
        f"{figures['grown']['deviation RMS error mm']:.3f} mm RMS",
        highlight=False,
    )
    if not short:
        for name, off in _through_photos().items():
            console.print(f"{name}: deviations off by {off:.3f} mm RMS", highlight=False)
            figures[name] = {"deviation RMS error mm": off}
    missed = []
    for half in halves:
        whole = figures[f"all, {half}"]
        if whole["deviation RMS error mm"] > MOST_RMS_MM:
            missed.append(f"pairs, {half}: deviations are off by more than {MOST_RMS_MM} mm")
        if whole["verdict wrong"] > MOST_WRONG * whole["pairs"] or whole["same beyond all doubt"]:
            missed.append(f"pairs, {half}: a verdict was wrong")
    return dict(figures), missed


def _add(scores: Scores, pair: Pair, comparison: Comparison) -> None:
    for each in comparison.deviations:
        there = np.isfinite(each.off)
        true = (pair.moved(each.line, each.points) * each.normals).sum(axis=1)
        error = each.off[there] - true[there]
        scores.off += error.tolist()
        scores.sure += (np.abs(error) <= np.hypot(1.96 * each.sigma[there], ACCURACY_MM)).tolist()
    for tuck in comparison.tucks:
        if tuck.tuck and tuck.other:
            scores.laps.append(tuck.off - pair.lap_mm.get(tuck.tuck, 0.0))
    verdict = verdict_on(comparison)
    differ = pair.largest_mm > SAME_MM
    scores.pairs += 1
    scores.wrong += verdict.says == ("same" if differ else "different")
    scores.untold += verdict.says == "cannot tell"
    beyond = pair.largest_mm > SAME_MM + 2 * ACCURACY_MM
    scores.same_beyond += beyond and verdict.says == "same"


def _figures(group: Scores) -> dict[str, float]:
    return {
        "pairs": group.pairs,
        "deviation RMS error mm": float(np.sqrt(np.mean(np.square(group.off)))),
        "deviations within what is stated (95 %)": float(np.mean(group.sure)),
        "lap difference RMS error mm": float(np.sqrt(np.mean(np.square(group.laps)))),
        "verdict wrong": group.wrong,
        "cannot tell": group.untold,
        "same beyond all doubt": group.same_beyond,
    }


def _table(figures: dict[str, dict[str, float]]) -> Table:
    table = Table("pairs that differ in", *next(iter(figures.values())))
    table.title, table.title_justify = "pairs compared", "left"
    for name, values in figures.items():
        table.add_row(
            name, *(f"{v:.0f}" if isinstance(v, int) else f"{v:.3f}" for v in values.values())
        )
    return table


def _grown(seeds: range) -> dict[str, float]:
    """How well growth is found, apart from what else differs, which is nothing."""
    errors, held, off = [], [], []
    for seed in seeds:
        pattern, later, true = grown_pair(seed)
        comparison = compared(pattern, later, growing=True)
        assert comparison.growth is not None
        found = comparison.growth
        error = np.array([found.along, found.across]) - true
        errors += error.tolist()
        held += (np.abs(error) <= found.within).tolist()
        off += _all(comparison)[1].tolist()
    return {
        "pairs": len(seeds),
        "growth RMS error": float(np.sqrt(np.mean(np.square(errors)))),
        "within what is stated (95 %)": float(np.mean(held)),
        "deviation RMS error mm": float(np.sqrt(np.mean(np.square(off)))),
    }


def _through_photos() -> dict[str, float]:
    """By how much (RMS, mm) readings' deviations from each other differ from the truths'."""
    truths, readings = {}, {}
    for name, stems in PHOTOS.items():
        truths[name] = from_json((SAMPLES / f"{stems[0]}.truth.json").read_text())
        paths = [SAMPLES / f"{stem}.jpg" for stem in stems]
        photos = [open_photo(path.name, path.read_bytes()) for path in paths]
        readings[name] = read_pattern(photos, name, truths[name].side).pattern
    return {
        f"{a} against {b}": _differ(readings[a], readings[b], truths[a], truths[b], mirror)
        for a, b, mirror in PHOTO_PAIRS
    }


def _differ(a: Pattern, b: Pattern, true_a: Pattern, true_b: Pattern, mirror: bool) -> float:
    places, off = _all(compared(a, b, mirror))
    true_places, true_off = _all(compared(true_a, true_b, mirror))
    distance, nearest = cKDTree(true_places).query(laid_on(a, true_a)(places))
    near = distance < NEAR_MM
    return float(np.sqrt(np.mean((off[near] - true_off[nearest[near]]) ** 2)))


def _all(comparison: Comparison) -> tuple[np.ndarray, np.ndarray]:
    """Places (N, 2) with a counterpart, and how far off that is (N,)."""
    places = np.concatenate([each.points for each in comparison.deviations])
    off = np.concatenate([each.off for each in comparison.deviations])
    return places[np.isfinite(off)], off[np.isfinite(off)]
