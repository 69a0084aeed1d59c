"""The panel in space: panels of surfaces that are known exactly, from their marks and told radii.

Without a photo in two ways: exact marks with exact radii at many places; and lines with what a
reading is off by, with radii told at a few places, each as far off as a gauge held to the metal.
Then some of them through their rendered photos, with radii told so. What one told radius is off by
moves all of a panel at once, so each is told several times anew. What is found is laid on the true
surface without mirroring, and the distances of its places from theirs are counted.
"""

import subprocess
import sys
import time
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from rich.console import Console
from rich.progress import track
from rich.table import Table
from scipy.interpolate import CloughTocher2DInterpolator
from scipy.spatial import KDTree
from scipy.spatial.transform import Rotation

from digitize.errors import FormError
from digitize.floor import PrintScale, open_photo
from digitize.form import (
    Formed,
    Solution,
    formed,
    gauges_of,
    is_contradicted,
    net_of,
    shape_of,
    solved,
    uneven_rounds,
)
from digitize.form.marks import placed_on
from digitize.form.section import square_off
from digitize.jobs.form import refuse_untold
from digitize.plane import running_length
from digitize.reading import Asked, read_pattern
from digitize.record import Pattern, from_json
from digitize.take_up import derived, zones_and_fans
from tests.bench.compare import laid_on
from tests.bench.photos import RENDERED, SAMPLES
from tests.bench.take_up import Fit, rms
from tests.bench.tucks import BAND, READING_MM, from_marks, render_missing
from tests.told import labelled

Floats = NDArray[np.float64]
Made = tuple[Pattern, Pattern, Fit]  # a record; its truth; and what fits it on
FOLDER = RENDERED / "form"
# By seed these are, in turn: a corner of two radii, a torus, a cap, a flange, a corner, a cap, a
# cone. The eighth is a saddle with more round its pole than there is in space.
SEEN = [n for n in range(1, 17) if n % 8 != 7]
UNSEEN = [n for n in range(301, 317) if n % 8 != 7]  # never looked at while it was made
SHORT = (1, 2, 3, 4)
STARTS, STARTS_EDGES_MM = 4, (12.0, 6.0)
KINDS = ("corner", "torus", "cap", "flange", "corner", "cap", "cone")
PHOTOS = {"seen": (1, 2, 3, 4, 6, 8), "unseen": (302, 304, 305, 306, 307, 308)}
MOST_RMS_MM = {"exact": 0.8, "told": 2.5, "photo": 1.5}
MOST_SECONDS = 20.0
TELLINGS = 4  # of marks and radii, off anew each time
TELLINGS_OF_A_PHOTO = 12  # of radii alone: what is read stays, and the panels are fewer
FEWEST = 10  # forms, for a share of places to be judged


@dataclass(frozen=True)
class Way:
    """By how much lines (mm) and radii (a share) are off, RMS; and at how many places along a bend
    its radius is told.
    """

    off_mm: float
    radius_share: float
    stations: int


WAYS = {"exact": Way(0.0, 0.0, 15), "told": Way(READING_MM, 0.03, 6)}


def as_it_is(points: object) -> Floats:
    """Points of a record that lies as its truth does."""
    return np.array(points, dtype=float)


@dataclass(frozen=True)
class Score:
    """One panel: distances from the truth (mm, RMS and the largest), seconds, whether the
    solution says that it holds, how many corners its net has, how many of its places were compared,
    how many of them lie as near as is stated (95 %), what is stated at the middle one (mm), and how
    many times that the worst is off; gauges, their places, how many of these lie as near as is
    stated, and the furthest, mm.
    """

    rms: float
    most: float
    seconds: float
    holds: bool
    corners: int
    places: int
    within: int
    stated: float
    worst_share: float
    gauges: int
    gauge_places: int
    gauge_within: int
    gauge_worst: float


def run(console: Console, short: bool) -> tuple[dict[str, object], list[str]]:
    """Measure all panels."""
    halves = dict.fromkeys(SEEN, "seen") | dict.fromkeys(UNSEEN, "unseen")
    chosen = list(SHORT) if short else list(halves)
    draw_missing(console, chosen)
    scores: dict[str, list[Score]] = {}
    tellings = 1 if short else TELLINGS
    ways: dict[tuple[int, str, str], partial[Iterator[Made]]] = {}
    for n in chosen:
        ways[n, "exact", halves[n]] = partial(from_marks_told, n, WAYS["exact"], 1)
        ways[n, "told", halves[n]] = partial(from_marks_told, n, WAYS["told"], tellings)
    if not short:
        render_missing(console, [f"tucked-{n}" for half in PHOTOS.values() for n in half], False)
        for half, numbers in PHOTOS.items():
            ways |= {
                (n, "photo", half): partial(through_photo, n, TELLINGS_OF_A_PHOTO) for n in numbers
            }
    for (n, name, half), made in track(ways.items(), "form", console=console, transient=True):
        for record, truth, fitted in made():
            try:
                refuse_untold(record)
            except FormError as error:
                console.print(f"panel {n}, {name}: refused: {error}")
                continue
            group = scores.setdefault(f"{KINDS[n % 8]}, {name}, {half}", [])
            group.append(score_of(n, record, truth, fitted))
    columns = (
        "RMS mm",
        "worst RMS",
        "furthest mm",
        "stated 95 %",
        "held",
        "worst share",
        "gauges",
        "furthest mm",
        "held",
        "hold",
        "s",
    )
    table = Table("panels", "forms", *columns, title="Form")
    for name, group in sorted(scores.items()):
        table.add_row(
            name,
            str(len(group)),
            f"{rms([s.rms for s in group]):.2f}",
            f"{max(s.rms for s in group):.2f}",
            f"{max(s.most for s in group):.2f}",
            f"{np.median([s.stated for s in group]):.2f}",
            f"{held(group):.1%}",
            f"{max(s.worst_share for s in group):.1f}",
            str(sum(s.gauges for s in group)),
            f"{max(s.gauge_worst for s in group):.2f}",
            f"{gauges_held(group):.1%}",
            str(sum(s.holds for s in group)),
            f"{max(s.seconds for s in group):.1f}",
        )
    for name, group in _together(scores).items():
        cells = ("", "", "", "", f"{held(group):.1%}", "", "", "", f"{gauges_held(group):.1%}")
        table.add_row(f"all, {name}", str(len(group)), *cells)
    console.print(table)
    console.print(missed_tucks({n: halves[n] for n in chosen}))
    # On the fine net a start from flat paper takes as long as two panels do.
    console.print(starts(STARTS, STARTS_EDGES_MM[: 1 if short else None]))
    return {name: [vars(s) for s in group] for name, group in scores.items()}, _misses(scores)


def _together(scores: dict[str, list[Score]]) -> dict[str, list[Score]]:
    """All panels of each half, told and through photos."""
    found: dict[str, list[Score]] = {}
    for name, group in scores.items():
        _, way, half = name.split(", ")
        if way != "exact":
            found.setdefault(f"{way}, {half}", []).extend(group)
    return found


def held(group: Sequence[Score]) -> float:
    """The share of places that lie as near as is stated."""
    return sum(s.within for s in group) / sum(s.places for s in group)


def gauges_held(group: Sequence[Score]) -> float:
    """The share of gauges' places that lie as near as is stated; nan without any."""
    places = sum(s.gauge_places for s in group)
    return sum(s.gauge_within for s in group) / places if places else float("nan")


def _misses(scores: dict[str, list[Score]]) -> list[str]:
    missed = []
    for name, group in scores.items():
        most = MOST_RMS_MM[name.split(", ")[1]]
        worst, slowest = max(s.rms for s in group), max(s.seconds for s in group)
        if worst > most:
            missed.append(f"form: {name}: RMS {worst:.2f} mm, bar {most:g}")
        if slowest > MOST_SECONDS:
            missed.append(f"form: {name}: {slowest:.0f} s, bar {MOST_SECONDS:g}")
    together = _together(scores)
    for half in ("seen", "unseen"):
        told, through = (together.get(f"{way}, {half}", []) for way in ("told", "photo"))
        if len(told) < FEWEST:
            continue
        for what, share in (("places", held(told)), ("gauges", gauges_held([*told, *through]))):
            if not BAND[0] <= share <= BAND[1]:
                missed.append(f"form: {half}: {what} {share:.1%} as near as stated, bar 93 to 98 %")
    return missed


def draw_missing(console: Console, numbers: Sequence[int]) -> None:
    """Draw those that are not there."""
    missing = [str(n) for n in numbers if not _truth(n).exists()]
    if missing:
        console.print(f"drawing {len(missing)} panels by seed")
        command = [sys.executable, str(SAMPLES / "various.py"), str(FOLDER), "--marks-only"]
        subprocess.run([*command, "--tucked", *missing], check=True)


def _truth(number: int) -> Path:
    return FOLDER / f"tucked-{number}.truth.json"


def score_of(number: int, record: Pattern, truth: Pattern, fitted: Fit) -> Score:
    """How near the form of a panel's record comes to the truth, which the record is fitted on."""
    # Threads that wait for each other count as CPU, other programs as time gone by.
    begun, since = time.process_time(), time.perf_counter()
    form = formed(record)
    seconds = min(time.process_time() - begun, time.perf_counter() - since)
    found = form.solution
    off, stated = distances_of(found, truth, form.doubt.within_95, fitted)
    return Score(
        rms(list(off)),
        float(off.max()),
        seconds,
        found.holds,
        len(found.places),
        len(off),
        int((off <= stated).sum()),
        float(np.median(stated)),
        float((off / stated).max()),
        *(gauge_scores(form, truth, fitted) if KINDS[number % 8] != "flange" else (0, 0, 0, 0.0)),
    )


def gauge_scores(form: Formed, truth: Pattern, fitted: Fit) -> tuple[int, int, int, float]:
    """How many gauges are proposed, their places, those within what is stated, the furthest mm.

    Not for flanges: the truth's places are 10 mm apart, and their bends no wider.
    """
    true = np.array((truth.model_extra or {})["true_form"])
    found = form.solution
    surface = CloughTocher2DInterpolator(true[:, :2], true[:, 2:])
    paper = fitted(found.mesh.paper)
    at_corners = surface(paper)
    here = np.isfinite(at_corners[:, 0])
    centre, true_centre = found.places[here].mean(axis=0), at_corners[here].mean(axis=0)
    turn, _ = Rotation.align_vectors(found.places[here] - centre, at_corners[here] - true_centre)
    gauges = gauges_of(form)
    off, within = [], []
    for gauge in gauges:
        section = gauge.section
        places = turn.apply(surface(section.of(paper)) - true_centre) + centre
        known = np.isfinite(places[:, 0])
        if known.sum() < 5:
            continue
        moved = (places - section.of(found.places))[known]
        flat = np.stack([moved @ gauge.ahead, moved @ gauge.up], axis=-1)[None]
        gap = np.abs(square_off(section.profile[known], flat)[0])
        off += gap.tolist()
        within += (gap <= gauge.within_95[known]).tolist()
    return len(gauges), len(off), sum(within), max(off, default=0.0)


def missed_tucks(halves: dict[int, str]) -> Table:
    """Each tuck of each panel left out in turn, as if it had not been read: is that noticed?"""
    title = "Form: a tuck missed"
    table = Table("", "whole", "said to lack one", "a tuck left out", "noticed", title=title)
    for half in ("seen", "unseen"):
        whole, missed = [], []
        for n in (n for n, its in halves.items() if its == half):
            ((record, _, _),) = from_marks_told(n, WAYS["told"])
            whole.append(lacks_a_tuck(record))
            for one in record.tucks:
                left = tuple(tuck for tuck in record.tucks if tuck is not one)
                missed.append(lacks_a_tuck(derived(record.model_copy(update={"tucks": left}))))
        if whole:
            cells = (len(whole), sum(whole), len(missed), sum(missed))
            table.add_row(half, *(str(each) for each in cells))
    return table


def lacks_a_tuck(record: Pattern) -> bool:
    """Whether the program says so, or that there is too little to tell a form by."""
    try:
        refuse_untold(record)
    except FormError:
        return True
    return is_contradicted(record) or bool(uneven_rounds(zones_and_fans(record)))


def starts(number: int, edges_mm: Sequence[float]) -> Table:
    """One panel's solution by where it starts from, on nets of such edges."""
    ((record, truth, _),) = from_marks_told(number, WAYS["told"])
    shape = shape_of(record)
    title = f"Form: {KINDS[number % 8]} {number} by its start"
    table = Table("net", "start", "steps", "RMS mm", "hold", "s", title=title)
    for edge_mm in edges_mm:
        net = net_of(record, edge_mm)
        flat = np.column_stack([net.paper, np.zeros(len(net.paper))])
        for words, start in (("frames", None), ("flat", flat)):
            begun = time.process_time()
            found = solved(net, shape, start)
            seconds = time.process_time() - begun
            none = np.zeros(len(found.places))
            off = rms(list(distances_of(found, truth, none, as_it_is)[0]))
            held = "yes" if found.holds else "no"
            cells = (words, str(found.steps), f"{off:.2f}", held, f"{seconds:.1f}")
            table.add_row(f"{edge_mm:g} mm, {len(net.paper)} corners", *cells)
    return table


def distances_of(
    found: Solution, truth: Pattern, stated: Floats, fitted: Fit
) -> tuple[Floats, Floats]:
    """(N,) of a form's places from the true ones, and what is stated of them (V,) there, mm."""
    true = np.array((truth.model_extra or {})["true_form"])
    # Some lie a pencil's width outside the trim edge, where the net ends.
    mesh = replace(found.mesh, paper=fitted(found.mesh.paper))
    at = placed_on(mesh, true[:, :2])
    places, here = at.of(mesh, np.column_stack([found.places, stated])), at.on
    return distances(places[here, :3], true[here, 2:]), places[here, 3]


def through_photo(number: int, tellings: int) -> Iterator[Made]:
    """A panel's record as its photo is read, with radii told so many times."""
    truth = from_json(_truth(number).read_text())
    path = RENDERED / f"tucked-{number}.jpg"
    # The cards are as long as they say, and the paper lies flat: both are told.
    asked = Asked(PrintScale(1.0, 1.0), held_flat=True)
    photo = open_photo(path.name, path.read_bytes())
    record = read_pattern([photo], path.stem, truth.side, asked).pattern
    fitted = laid_on(record, truth)
    for rng in _draws(83, number, tellings):
        yield with_radii(record, truth, WAYS["told"], rng, fitted), truth, fitted


def from_marks_told(number: int, way: Way, tellings: int = 1) -> Iterator[Made]:
    """A panel's record from its marks and told radii, off anew so many times."""
    truth = from_json(_truth(number).read_text())
    for rng in _draws(82, number, tellings):
        record = from_marks(truth, rng, way.off_mm)
        yield with_radii(record, truth, way, rng, as_it_is), truth, as_it_is


def _draws(of: int, number: int, count: int) -> Iterator[np.random.Generator]:
    for turn in range(count):
        yield np.random.default_rng([of, number, *([turn] if turn else [])])


def with_radii(
    record: Pattern, truth: Pattern, way: Way, rng: np.random.Generator, fitted: Fit
) -> Pattern:
    """The record with radii told at places along its radius starts."""
    true = np.array((truth.model_extra or {})["true_radii"])
    if not len(true):
        return record
    tree, radii = KDTree(true[:, :2]), {}
    for line in record.lines:
        if line.role != "radius-start":
            continue
        along = running_length(np.array(line.path))
        told = np.linspace(0.02, 0.98, way.stations) * along[-1]
        places = [np.interp(told, along, np.array(line.path)[:, axis]) for axis in (0, 1)]
        _, nearest = tree.query(fitted(np.column_stack(places)))
        sizes = true[nearest, 2] * (1 + way.radius_share * rng.normal(size=len(told)))
        radii[line.id] = [(float(at), False, float(r)) for at, r in zip(told, sizes, strict=True)]
    return labelled(record, {}, radii, {})


def distances(found: Floats, true: Floats) -> Floats:
    """(N,) of points from their true places, once turned and shifted onto them."""
    one, two = found - found.mean(axis=0), true - true.mean(axis=0)
    turn, _ = Rotation.align_vectors(two, one)
    return np.asarray(np.linalg.norm(turn.apply(one) - two, axis=1))
