"""Tucks to shrink: panels of surfaces that are known exactly, from their marks and from photos.

From the marks alone: the lines as drawn, with what a reading is off by, but no photo. Then through
rendered photos of the same panels. A spread leaves nothing to read on the paper: its gap is told,
as measured with a rule.
"""

import subprocess
import sys
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from rich.console import Console
from rich.progress import track
from rich.table import Table

from digitize.floor.photo import open_photo
from digitize.pencil.curves import Curve
from digitize.reading import read_pattern
from digitize.record import Pattern, from_json
from tests.bench.compare import laid_on
from tests.bench.photos import RENDERED, SAMPLES
from tests.bench.take_up import TIP_MM, Fit, TuckScores, coverage, rms, tuck_scores
from tests.marks import record_of
from tests.told import with_spread

Floats = NDArray[np.float64]
SEEN = {"tucked": range(1, 17), "panel": range(1, 5)}
UNSEEN = {"tucked": range(301, 317), "panel": range(53, 57)}  # never looked at while it was made
SHORT_TUCKED = range(1, 9)
READING_MM = 0.05  # RMS by which lap lines in photos are off, slowly to and fro along them
RULE_MM = 0.3
GAPS_TOLD = (0.4, 0.55, 0.7, 0.85, 1.0, 1.1)  # of the depth at the trim edge
WEIGHTS = {"slit": 0.5, "crease": 0.1, "lap": 0.25}
WIDTHS = {"slit": 0.4, "crease": 0.5}
MOST_LAP_MM = {"marks": 0.2, "photos": 0.35}
MOST_DEFICIT_DEG, MOST_CURVATURE, MOST_SHRINK, MOST_TIP_MM = 0.4, 0.03, 0.10, 1.0
BAND = (0.93, 0.98)


def run(console: Console, short: bool) -> tuple[dict[str, object], list[str]]:
    """Measure all panels from their marks, and, unless short, through their photos."""
    halves = {
        f"{kind}-{n}": half
        for half, seeds in (("seen", SEEN), ("unseen", UNSEEN))
        for kind, numbers in seeds.items()
        for n in numbers
    }
    names = [f"tucked-{n}" for n in SHORT_TUCKED] if short else list(halves)
    render_missing(console, names, short)
    scores: dict[str, TuckScores] = {}
    for name in track(names, "tucks", console=console, transient=True):
        truth = from_json((RENDERED / f"{name}.truth.json").read_text())
        ways = {"marks": marks_scores} if short else {"marks": marks_scores, "photos": photo_scores}
        for way, score in ways.items():
            scores.setdefault(f"{way}, {halves[name]}", TuckScores()).add(score(name, truth))
    console.print(_table(scores))
    missed = [miss for name, group in scores.items() for miss in _misses(name, group)]
    return {name: _figures(group) for name, group in scores.items()}, missed


def render_missing(console: Console, names: Sequence[str], marks_only: bool) -> None:
    """Render those that are not there."""
    suffix = "truth.json" if marks_only else "jpg"
    missing = [name.split("-") for name in names if not (RENDERED / f"{name}.{suffix}").exists()]
    if not missing:
        return
    command = [sys.executable, str(SAMPLES / "various.py"), str(RENDERED)]
    for kind, option in (("tucked", "--tucked"), ("panel", "--panels")):
        numbers = [number for name, number in missing if name == kind]
        command += [option, *numbers] if numbers else []
    console.print(f"{'drawing' if marks_only else 'rendering'} {len(missing)} panels by seed")
    subprocess.run([*command, *(["--marks-only"] if marks_only else [])], check=True)


def marks_scores(name: str, truth: Pattern) -> TuckScores:
    """Scores of a panel's marks, as lines that are off by what a reading is off by."""

    def as_it_is(points: object) -> Floats:
        return np.array(points)

    rng = np.random.default_rng([80, *name.encode()])
    found = told(from_marks(truth, rng), truth, as_it_is, rng)
    return tuck_scores(found, truth, as_it_is)


def photo_scores(name: str, truth: Pattern) -> TuckScores:
    """Scores of a panel's photo."""
    path = RENDERED / f"{name}.jpg"
    reading = read_pattern([open_photo(path.name, path.read_bytes())], name, truth.side)
    fitted = laid_on(reading.pattern, truth)
    rng = np.random.default_rng([81, *name.encode()])
    return tuck_scores(told(reading.pattern, truth, fitted, rng), truth, fitted)


def from_marks(truth: Pattern, rng: np.random.Generator, off_mm: float = READING_MM) -> Pattern:
    """A record made of a truth's lines, by all that follows once a photo's lines are found; they
    are off by so much, RMS.
    """
    outline = np.array(truth.outline)
    curves = []
    for line in truth.lines:
        points = np.array(line.points)
        points = points + off_mm * drift(points, rng) * normals_of(points)
        weight, width = WEIGHTS.get(line.role, 0.3), WIDTHS.get(line.role, line.width)
        curves.append(Curve(points, False, width, weight, 1.0, READING_MM, (90, 80, 70)))
    return record_of(curves, outline)


def drift(points: Floats, rng: np.random.Generator) -> Floats:
    """(N, 1) how far a reading lies to and fro about a line through points, of RMS 1."""
    along = np.append(0.0, np.cumsum(np.linalg.norm(np.diff(points, axis=0), axis=1)))
    to_and_fro = sum(
        rng.normal() * np.sin(2 * np.pi * (along / wavelength + rng.random()))
        for wavelength in (17, 31, 53, 97)
    )
    return np.reshape(to_and_fro, (-1, 1)) / np.sqrt(2)


def normals_of(points: Floats) -> Floats:
    """Unit normals (N, 2) of a line through points."""
    tangent = np.gradient(points, axis=0)
    normal = np.column_stack([-tangent[:, 1], tangent[:, 0]])
    return np.asarray(normal / (np.linalg.norm(normal, axis=1, keepdims=True) + 1e-12))


def told(found: Pattern, truth: Pattern, fitted: Fit, rng: np.random.Generator) -> Pattern:
    """The pattern with its spreads' gaps told, each measured with a rule at a few depths."""
    for twin in truth.tucks:
        if twin.kind != "spread":
            continue
        tips = [np.linalg.norm(fitted([tuck.tip])[0] - np.array(twin.tip)) for tuck in found.tucks]
        if not tips or min(tips) > TIP_MM:
            continue
        depths = np.array(GAPS_TOLD) * twin.depth_at_trim
        gaps = -np.interp(depths, [s.depth for s in twin.stations], [s.lap for s in twin.stations])
        gaps = np.maximum(gaps + rng.normal(0, RULE_MM, len(gaps)), 0.05)
        tuck = found.tucks[int(np.argmin(tips))]
        found = with_spread(found, tuck.id, list(zip(depths.tolist(), gaps.tolist(), strict=True)))
    return found


def _figures(group: TuckScores) -> dict[str, float]:
    turned = np.array(group.curvature or [(np.nan, np.nan)])
    share = np.abs(turned[:, 0] / turned[:, 1] - 1)
    return {
        "tucks": group.true,
        "missed": group.missed,
        "false": group.false,
        "lap RMS mm": rms([error for error, _ in group.laps]),
        "lap, worst mm": max((abs(error) for error, _ in group.laps), default=np.nan),
        "laps in their 95 % band": coverage(group.laps),
        "smooth lap RMS mm": rms([error for error, _ in group.profile]),
        "smooth laps in their 95 % band": coverage(group.profile),
        "deficit RMS deg": rms(group.deficits),
        "deficit, worst deg": max((abs(error) for error in group.deficits), default=np.nan),
        "tip RMS mm": rms(group.tips),
        "tip, worst mm": max(group.tips, default=np.nan),
        "closure RMS mm": rms(group.closure),
        "curvature, mean error": float(share.mean()),
        "curvature, worst": float(share.max()),
        "shrink, median error of peak": float(np.median(group.shrink or [np.nan])),
        "the same, worst panel": max(group.shrink, default=np.nan),
        "shrink, RMS error of peak": rms(group.shrink_rms),
        "median, if even over each share": float(np.median(group.plain or [np.nan])),
        "RMS, if even over each share": rms(group.plain_rms),
    }


def _table(scores: dict[str, TuckScores]) -> Table:
    table = Table("measure", *scores, title="Tucks")
    figures = [_figures(group) for group in scores.values()]
    for label in figures[0]:
        shares = any(w in label for w in ("curvature", "peak", "same", "share", "band"))
        counts = label in ("tucks", "missed", "false")
        form = ".1%" if shares else "d" if counts else ".3f"
        table.add_row(label, *(format(each[label], form) for each in figures))
    return table


def _misses(name: str, group: TuckScores) -> list[str]:
    f = _figures(group)
    bars = {
        "lap RMS mm": (0, MOST_LAP_MM[name.split(",")[0]]),
        "deficit, worst deg": (0, MOST_DEFICIT_DEG),
        "curvature, worst": (0, MOST_CURVATURE),
        "the same, worst panel": (0, MOST_SHRINK),
        "tip, worst mm": (0, MOST_TIP_MM),
        "missed": (0, 0),
        "false": (0, 0),
    }
    if name.startswith("photos"):  # the marks are as far off as we made them
        bars["laps in their 95 % band"] = BAND
    return [
        f"tucks: {name}: {label} {f[label]:.3g}, bar {low:g} to {high:g}"
        for label, (low, high) in bars.items()
        if not low <= f[label] <= high
    ]
