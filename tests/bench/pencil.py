"""Pencil to curves: rendered photos and pieces of paper against what was drawn, and other ways."""

import json
import subprocess
import sys
from collections.abc import Callable, Sequence
from dataclasses import asdict

import numpy as np
from numpy.typing import NDArray
from PIL import Image
from rich.console import Console
from rich.progress import track
from rich.table import Table

from digitize.floor.photo import open_photo
from digitize.floor.raster import Raster
from digitize.lines.junctions import meet_at_corners, meet_at_tees
from digitize.lines.traces import without_traces
from digitize.pencil.curves import fit_curves
from digitize.pencil.ridges import find_ridges
from digitize.pencil.ruled import set_print_aside
from digitize.pencil.strokes import find_strokes
from digitize.pencil.ticks import gather_ticks
from digitize.pencil.writing import set_writing_aside
from digitize.reading import read_pattern
from digitize.record import Pattern, from_json
from tests.bench.compare import Scores, compare, laid_on
from tests.bench.general import by_ridge_filter, by_threshold
from tests.bench.photos import RENDERED, SAMPLES
from tests.bench.strokes import LineScores, score_lines

Floats = NDArray[np.float64]
PIECES = 64
# The second half of the pieces, and the second group of panels, were never looked at while the
# reader was made.
PANELS = {"seen": range(1, 5), "unseen": range(53, 57)}
OTHER_WAYS = {"adaptive threshold": by_threshold, "ridge filter": by_ridge_filter}
WAYS = ("ours", *OTHER_WAYS)
SHORT_PIECES = (*range(1, 9), *range(PIECES // 2 + 1, PIECES // 2 + 9))
LEAST = {"0.5 mm": 0.98, "0.3 mm": 0.95}
LEAST_WHOLE, LEAST_ROLES, MOST_FALSE = 0.95, 0.95, 1.0


def run(console: Console, short: bool) -> tuple[dict[str, object], list[str]]:
    """Read pieces and whole photos, and print how the lines compare; pieces only, if short."""
    pieces = SHORT_PIECES if short else range(1, PIECES + 1)
    panels = [] if short else [number for group in PANELS.values() for number in group]
    _render(console, panels, pieces)
    scores: dict[str, dict[str, LineScores]] = {}
    for number in track(pieces, "pieces", console=console, transient=True):
        group = "pieces, seen seeds" if number <= PIECES // 2 else "pieces, unseen seeds"
        _add(scores, group, piece_scores(number))
    roles: dict[str, list[tuple[Scores, Pattern]]] = {}
    for number in track(panels, "photos", console=console, transient=True):
        group = f"photos, {'seen' if number in PANELS['seen'] else 'unseen'} seeds"
        lines, whole, pattern = photo_scores(number)
        _add(scores, group, lines)
        roles.setdefault(group, []).append((whole, pattern))
    for group, ways in scores.items():
        console.print(_table(group, ways))
    missed = []
    for group, read in roles.items():
        whole = [score for score, _ in read]
        wrong = float(np.mean([s.wrong_role_share for s in whole]))
        stated = [line.role_confidence for _, pattern in read for line in pattern.lines]
        right = 1 - sum(s.wrong_roles for s in whole) / len(stated)
        console.print(
            f"{group}: wrong roles {wrong:.1%} of length; {np.mean(stated):.1%} sure of them, "
            f"{right:.1%} right; of {sum(s.tucks_true for s in whole)} tucks "
            f"{sum(s.slits_missed for s in whole)} slits missed, "
            f"{sum(s.tucks_false for s in whole)} false"
        )
        missed += _misses(group, scores[group]["ours"], wrong)
    figures: dict[str, object] = {
        group: {way: asdict(s) for way, s in ways.items()} for group, ways in scores.items()
    }
    return figures, missed


def _render(console: Console, panels: Sequence[int], pieces: Sequence[int]) -> None:
    """Render those that are not there."""
    command = [sys.executable, str(SAMPLES / "various.py"), str(RENDERED)]
    for kind, numbers in (("panel", panels), ("piece", pieces)):
        missing = [n for n in numbers if not (RENDERED / f"{kind}-{n}.truth.json").exists()]
        if missing:
            console.print(f"rendering {len(missing)} {kind}s by seed")
            subprocess.run([*command, f"--{kind}s", *map(str, missing)], check=True)


def _add(scores: dict[str, dict[str, LineScores]], group: str, new: dict[str, LineScores]) -> None:
    ways = scores.setdefault(group, {way: LineScores() for way in WAYS})
    for way, score in new.items():
        ways[way] += score


def piece_scores(number: int) -> dict[str, LineScores]:
    """Each way's scores on one piece of paper."""
    truth_text = (RENDERED / f"piece-{number}.truth.json").read_text()
    truth, mm_per_px = from_json(truth_text), json.loads(truth_text)["mm_per_px"]
    pixels = np.array(Image.open(RENDERED / f"piece-{number}.png"))
    outline = np.array(truth.outline)
    top = float(outline[:, 1].max())
    raster = Raster(mm_per_px / 2, top - mm_per_px / 2, mm_per_px, pixels)
    true = lines_of(truth)
    found = {way: read(raster, outline) for way, read in OTHER_WAYS.items()}
    found["ours"] = read_piece(raster, outline)
    return {way: score_lines(lines, true) for way, lines in found.items()}


def read_piece(raster: Raster, outline: Floats) -> list[Floats]:
    """Our lines on a piece of paper."""
    ridges = find_ridges(raster, outline)
    marks = fit_curves(find_strokes(ridges), ridges, raster)
    drawn, _ = set_print_aside(marks, outline, ridges.darkness_at)
    curves, _ = set_writing_aside(gather_ticks(drawn, ridges.darkness_at), ridges.darkness_at)
    met = meet_at_tees(meet_at_corners(without_traces(curves)), [])
    return [np.concatenate([c.points, c.points[:1]]) if c.closed else c.points for c in met]


def photo_scores(number: int) -> tuple[dict[str, LineScores], Scores, Pattern]:
    """Each way's scores on one whole photo, our record's, and the record."""
    path = RENDERED / f"panel-{number}.jpg"
    truth = from_json((RENDERED / f"panel-{number}.truth.json").read_text())
    reading = read_pattern([open_photo(path.name, path.read_bytes())], path.stem, truth.side)
    laid = laid_on(reading.pattern, truth)
    outline = np.array(reading.pattern.outline)
    found = {way: read(reading.raster, outline) for way, read in OTHER_WAYS.items()}
    found["ours"] = lines_of(reading.pattern)
    true = lines_of(truth)
    scores = {
        way: score_lines([laid(line) for line in lines], true) for way, lines in found.items()
    }
    return scores, compare(reading.pattern, truth), reading.pattern


def lines_of(pattern: Pattern) -> list[Floats]:
    """Every line's points, a closed one's first point again at its end."""
    return [
        np.array([*line.points, line.points[0]] if line.closed else line.points)
        for line in pattern.lines
    ]


ROWS: dict[str, Callable[[LineScores], str]] = {
    "placement RMS mm": lambda s: f"{s.placement_mm:.3f}",
    "recall, 0.5 mm": lambda s: f"{s.recall[0]:.1%}",
    "recall, 0.3 mm": lambda s: f"{s.recall[1]:.1%}",
    "precision, 0.5 mm": lambda s: f"{s.precision[0]:.1%}",
    "precision, 0.3 mm": lambda s: f"{s.precision[1]:.1%}",
    "drawn lines with one found line": lambda s: f"{s.whole_share:.1%}",
    "pieces per line": lambda s: f"{s.pieces_per_line:.2f}",
    "false lines a picture": lambda s: f"{s.false_lines / s.pictures:.2f}",
    "curvature RMS error 1/m": lambda s: f"{s.curvature_per_m:.2f}",
}


def _table(group: str, ways: dict[str, LineScores]) -> Table:
    pictures = next(iter(ways.values())).pictures
    table = Table("measure", *ways, title=f"{group} ({pictures})")
    for label, words in ROWS.items():
        table.add_row(label, *(words(score) for score in ways.values()))
    return table


def _misses(group: str, ours: LineScores, wrong_roles: float) -> list[str]:
    bars = [("lines whole", ours.whole_share, LEAST_WHOLE)]
    for index, (name, least) in enumerate(LEAST.items()):
        bars.append((f"recall at {name}", ours.recall[index], least))
        bars.append((f"precision at {name}", ours.precision[index], least))
    bars.append(("right roles", 1 - wrong_roles, LEAST_ROLES))
    missed = [
        f"{group}: {words} {value:.1%}, at least {least:.0%}"
        for words, value, least in bars
        if value < least
    ]
    if ours.false_lines / ours.pictures > MOST_FALSE:
        missed.append(f"{group}: {ours.false_lines / ours.pictures:.2f} false lines a photo")
    return missed
