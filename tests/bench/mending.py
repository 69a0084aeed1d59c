"""Misreadings put right by facts: how many it takes, and whether they find their place again.

Papers of ``marks`` are read, one thing in each reading is made wrong as readers do (a line lost, a
false one, two run together, one in two, a slit and its lap line swapped, a tuck missed), and a user
who knows the truth, and points within 3 mm of it, tells facts. Mended, a reading is to be no worse
than it was before it was made wrong. Then a fact told about each line is carried over to a photo
of the same paper from elsewhere, and is to stand there on the same line.
"""

import os
import time
from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from multiprocessing import get_context

import numpy as np
from numpy.typing import NDArray
from rich.console import Console
from rich.progress import track
from rich.table import Table
from shapely import LineString, Point

from digitize.compare import same_paper
from digitize.errors import ToldError
from digitize.floor import open_photo
from digitize.jobs.folder import as_kept
from digitize.mend import moved, picture_of, placed, replayed
from digitize.mend.lines import joined, with_lines, without_lines
from digitize.mend.places import lines_along, on_line
from digitize.plane import laid_on as paper_laid_on
from digitize.reading import read_pattern
from digitize.record import (
    DrawLine,
    EraseLine,
    FollowPencil,
    JoinLines,
    Line,
    Pattern,
    RadiusHere,
    TellCut,
    TellFold,
    TellRadius,
    TellRole,
    TellWords,
    Told,
    from_json,
    numbered,
    to_json,
)
from digitize.take_up import derived
from tests.bench.compare import nearest_line, sampled
from tests.bench.marks import Outcome, judged, laid_on, photo_of, scene_of
from tests.bench.marks_paper import Paper
from tests.bench.take_up import Fit
from tests.bench.workshop_photos import PHOTOGRAPHS, camera_over
from tests.conftest import RECORDS

Floats = NDArray[np.float64]
# Classes whose papers are read well enough that one thing made wrong is one: see ``marks``.
SEEDS = tuple(s for s in range(1, 65) if (s - 1) % 16 not in (3, 9, 11, 15))[:40]
SHORT = (SEEDS[0], SEEDS[2])
KINDS = ("lost", "false", "swapped", "run together", "in two", "missed tuck")
POINTED_MM = 3.0
STEP_MM = 150.0  # between the places that a finger points at
MOST_FACTS = 3
SAME_LINE_MM = 1.0
SHOWN = 0.6  # of a line
FALSE_LINE_MM = 90.0
MANY, MOST_OPENED_S, MOST_TOLD_S = 500, 1.0, 0.3
LEAST_RIGHT, LEAST_FOUND, LEAST_PLACED = 1.0, 0.995, 0.98
Place = tuple[float, float]
Pointing = Callable[[Floats], Place]


@dataclass(frozen=True)
class Mended:
    """How one misreading was put right; ``facts`` 0 where this paper has nothing to make wrong."""

    kind: str
    facts: int
    right: bool
    said: str
    placed: int
    wrongly: int
    there: int
    tell_s: float


def run(console: Console, short: bool) -> tuple[dict[str, object], list[str]]:
    """Mend all, and print how it went."""
    if not PHOTOGRAPHS.exists():
        console.print("mending: left out, as the photographs of floors are not at hand")
        return {}, []
    seeds = SHORT if short else SEEDS
    workers = 1 if short else min(len(seeds), os.cpu_count() or 1)
    if workers == 1:
        outcomes = [
            mended(seed) for seed in track(seeds, "mending", console=console, transient=True)
        ]
    else:
        with ProcessPoolExecutor(workers, mp_context=get_context("spawn")) as pool:
            outcomes = list(
                track(
                    pool.map(mended, seeds), "mending", len(seeds), console=console, transient=True
                )
            )
    table = Table("misread", "papers", "put right", "facts, at most", title="Mending")
    for kind in KINDS:
        own = [each for each in outcomes if each.kind == kind and each.facts]
        most = max((each.facts for each in own), default=0)
        table.add_row(kind, str(len(own)), str(sum(each.right for each in own)), str(most))
    console.print(table)
    opened_s, told_s = _many_facts()
    tried = [each for each in outcomes if each.facts]
    there = sum(each.there for each in outcomes)
    figures: dict[str, float] = {
        "papers": len(tried),
        "put right": sum(each.right for each in tried) / max(len(tried), 1),
        "facts, at most": max((each.facts for each in tried), default=0),
        "facts on lines that another photo shows": there,
        "placed right there": sum(each.placed for each in outcomes) / max(there, 1),
        "placed on another line, in silence": sum(each.wrongly for each in outcomes),
        f"{MANY} facts, opened in s": opened_s,
        f"{MANY} facts, one more told in s": told_s,
        "a fact told, median s": float(np.median([each.tell_s for each in tried])),
    }
    for name, value in figures.items():
        console.print(f"{name}: {value:.3f}" if value % 1 else f"{name}: {value:.0f}")
    for each in outcomes:
        if not each.right or each.placed < each.there or each.wrongly:
            console.print(f"  {each.said}", highlight=False)
    bars = (
        ("put right", LEAST_RIGHT, 1.0),
        ("facts, at most", 0, MOST_FACTS),
        ("placed right there", LEAST_PLACED, 1.0),
        ("placed on another line, in silence", 0, 0),
    )
    if not short:  # seconds of a machine that may have other work
        bars += (
            (f"{MANY} facts, opened in s", 0.0, MOST_OPENED_S),
            (f"{MANY} facts, one more told in s", 0.0, MOST_TOLD_S),
        )
    missed = [
        f"mending: {name} {figures[name]:.3f}, bar {low:g} to {high:g}"
        for name, low, high in bars
        if not low <= figures[name] <= high
    ]
    return dict(figures), missed


def mended(seed: int) -> Mended:
    """One paper read, made wrong, put right, and its facts carried to another photo of it."""
    rng = np.random.default_rng([23, seed])
    scene, paper = scene_of(seed)
    photo = photo_of(seed, scene, paper)
    reading = read_pattern([open_photo(photo.name, photo.read_bytes())], "mending")
    fit = laid_on(scene, paper, reading.pattern)

    def pointed(place: Floats) -> tuple[float, float]:
        off, way = POINTED_MM * np.sqrt(rng.uniform()), rng.uniform(0, 2 * np.pi)
        return float(place[0] + off * np.cos(way)), float(place[1] + off * np.sin(way))

    picture = picture_of(reading.pattern, as_kept(reading.raster))
    kind, wrong, facts = _made_wrong(seed, reading.pattern, rng, pointed)
    own = judged(paper, reading.pattern, fit)
    said = f"{seed} ({kind}): "
    right, spent = True, 0.0
    if facts:
        wrong = derived(wrong)
        told = numbered(each for fact in facts for each in placed(wrong, fact))
        start = time.process_time()
        made = replayed(wrong, told, lambda: picture)
        spent = (time.process_time() - start) / len(told)
        outcome = judged(paper, made.pattern, fit)
        worse = _worse(outcome, own)
        right = not made.lost and not worse and len(told) <= MOST_FACTS
        said += "; ".join([each.why for each in made.lost] + worse)
    found, wrongly, there, missing = _carried(seed, paper, reading.pattern, fit)
    if missing:
        said += f" facts on {', '.join(missing)} not placed right"
    return Mended(kind, len(facts), right, said, found, wrongly, there, spent)


def _made_wrong(
    seed: int, pattern: Pattern, rng: np.random.Generator, pointed: Pointing
) -> tuple[str, Pattern, list[Told]]:
    """The seed's kind of misreading, or the first after it that this paper has something for."""
    first = SEEDS.index(seed)
    for kind in (KINDS[(first + further) % len(KINDS)] for further in range(len(KINDS))):
        wrong, facts = MAKE_WRONG[kind](pattern, rng, pointed)
        if facts:
            break
    return kind, wrong, facts


def _many_facts() -> tuple[float, float]:
    """Processor seconds to open a record with many facts, and to replay them and write it anew."""
    reading = from_json((RECORDS / "as-read.json").read_text())
    lines = [line for line in reading.lines if not line.is_tuck_mark]
    facts: list[Told] = []
    for index in range(MANY):
        line = on_line(lines[index % len(lines)])
        middle = line.points[len(line.points) // 2]
        facts.append(
            (
                TellWords(on=line, words=f"words {index}"),
                TellRole(on=line, role="form"),
                TellRadius(on=line, radii=(RadiusHere(at=middle, radius=50.0 + index),)),
                DrawLine(points=((100.0, 300.0 + index), (400.0, 310.0 + 2 * index))),
            )[index % 4]
        )
    told = numbered(facts)
    start = time.process_time()
    text = to_json(replayed(reading, told).pattern)
    replay_s = time.process_time() - start
    start = time.process_time()
    from_json(text)
    return time.process_time() - start, replay_s


def _worse(outcome: Outcome, own: Outcome) -> list[str]:
    """In what a mended reading is worse than the one that was made wrong."""
    found, wanted = outcome.recalled
    worse = []
    if found < own.recalled[0] - (1 - LEAST_FOUND) * wanted:
        worse.append(f"{(own.recalled[0] - found) / 2:.0f} mm of lines less")
    if outcome.false_lines > own.false_lines:
        worse.append("a false line")
    if outcome.right < own.right or outcome.swapped > own.swapped or outcome.false > own.false:
        worse.append("a tuck less")
    off = [sum(abs(e) > 2 and 1.96 * s < 1 for e, s in each.laps) for each in (outcome, own)]
    if off[0] > off[1]:
        worse.append("a lap off in silence")
    return worse


def _carried(seed: int, paper: Paper, first: Pattern, fit: Fit) -> tuple[int, int, int, list[str]]:
    """Facts about lines carried to another photo: how many stand on the same lines, how many on
    another, how many of their lines that photo shows; and the lines that it shows and they miss.
    """
    scene, _ = scene_of(seed)
    rings = [scene.outline, *(card.sheet() for card in scene.over)]
    everything = np.concatenate([np.array(ring.exterior.coords) for ring in rings])
    camera = camera_over(np.random.default_rng([29, seed]), everything, scene.size_px)
    elsewhere = replace(scene, camera=camera)
    photo = photo_of(seed, elsewhere, paper)
    second = read_pattern([open_photo(photo.name, photo.read_bytes())], "mending").pattern
    back = laid_on(elsewhere, paper, second)
    onto = paper_laid_on(same_paper(first), same_paper(second))
    seen = [back(line.path) for line in second.lines if not line.is_tuck_mark]
    right, wrongly, there, missing = 0, 0, 0, []
    for line in first.lines:
        if line.is_tuck_mark:
            continue
        own = sampled(fit(line.path))
        shown = bool(seen) and (nearest_line(own, seen)[0] < SAME_LINE_MM).mean() > SHOWN
        there += shown
        (fact,) = placed(first, TellRole(on=line.id, role=line.role))
        (alone,) = carried_to(second, moved(fact, onto)) or (None,)
        if alone is None:
            missing += [line.id] if shown else []
            continue
        # A line in pieces is told on each; one that is longer there lies along it.
        twins = [sampled(back(each.path)) for each in alone]
        off = [
            min(np.median(nearest_line(a, [b])[0]) for a, b in ((twin, own), (own, twin)))
            for twin in twins
        ]
        wrongly += max(off) >= SAME_LINE_MM
        right += bool(shown and max(off) < SAME_LINE_MM)
    return right, wrongly, there, missing


def carried_to(pattern: Pattern, fact: Told) -> list[tuple[Line, ...]]:
    """The lines on which a fact stands, if it finds any."""
    try:
        return [lines_along(pattern, fact.on)]
    except ToldError:
        return []


def _usual(pattern: Pattern, rng: np.random.Generator) -> Line | None:
    """A line of the metal, long enough to matter."""
    lines = [
        line
        for line in pattern.lines
        if not line.is_tuck_mark and line.stroke == "solid" and line.length > 80
    ]
    return lines[int(rng.integers(len(lines)))] if lines else None


def _places(line: Line, pointed: Pointing) -> tuple[tuple[float, float], ...]:
    path = LineString(line.path)
    count = max(int(path.length / STEP_MM) + 1, 2)
    along = np.linspace(0, path.length, count + 1)
    return tuple(pointed(np.array(path.interpolate(at).coords[0])) for at in along)


def _lost(
    pattern: Pattern, rng: np.random.Generator, pointed: Pointing
) -> tuple[Pattern, list[Told]]:
    line = _usual(pattern, rng)
    if line is None or line.closed:
        return pattern, []
    return without_lines(pattern, [line.id]), [
        FollowPencil(points=_places(line, pointed), role=line.role)
    ]


def _false(
    pattern: Pattern, rng: np.random.Generator, pointed: Pointing
) -> tuple[Pattern, list[Told]]:
    corners = np.array(pattern.outline)
    middle, way = corners.mean(axis=0), rng.uniform(0, 2 * np.pi)
    reach = FALSE_LINE_MM / 2 * np.array([np.cos(way), np.sin(way)])
    ends = (tuple((middle - reach).tolist()), tuple((middle + reach).tolist()))
    false = Line(id="L900", role="form", role_confidence=0.9, points=ends, width=0.5, sigma=0.05)
    return with_lines(pattern, [false]), [EraseLine(on="L900")]


def _swapped(
    pattern: Pattern, rng: np.random.Generator, pointed: Pointing
) -> tuple[Pattern, list[Told]]:
    tuck = next((each for each in pattern.tucks if each.lap_line), None)
    if tuck is None or tuck.lap_line is None:
        return pattern, []
    wrong = tuck.model_copy(
        update={"slit": tuck.lap_line, "lap_line": tuck.slit, "stations": (), "breaks": ()}
    )
    roles = {tuck.slit: "lap", tuck.lap_line: "slit"}
    lines = [
        line.model_copy(update={"role": roles.get(line.id, line.role)}) for line in pattern.lines
    ]
    tucks = tuple(wrong if each.id == tuck.id else each for each in pattern.tucks)
    wrongly = pattern.model_copy(update={"lines": tuple(lines), "tucks": tucks})
    return wrongly, [TellCut(on=tuck.slit, lap_line=tuck.lap_line)]


def _run_together(
    pattern: Pattern, rng: np.random.Generator, pointed: Pointing
) -> tuple[Pattern, list[Told]]:
    lines = [
        line
        for line in pattern.lines
        if not line.is_tuck_mark and not line.closed and line.length > 40
    ]
    pairs = [
        (
            min(np.hypot(*np.subtract(a.points[i], b.points[j])) for i in (0, -1) for j in (0, -1)),
            a,
            b,
        )
        for k, a in enumerate(lines)
        for b in lines[k + 1 :]
        if a.role != b.role
    ]
    pairs = [pair for pair in pairs if 5 < pair[0] < 120]
    if not pairs:
        return pattern, []
    _, one, two = min(pairs, key=lambda pair: pair[0])
    fact = JoinLines(on=one.id, to=two.id)
    (fact,) = placed(pattern, fact)
    together = joined(pattern, fact)
    _, first, second = _apart(one, two)
    between = (pointed(np.array(first)), pointed(np.array(second)))
    whole = LineString(together.line(one.id).points)
    middles = [whole.project(Point(each.points[len(each.points) // 2])) for each in (one, two)]
    # The first part of what is left keeps the id; the other is told by its place.
    other = two if middles[0] < middles[1] else one
    return together, [
        EraseLine(on=one.id, between=between),
        TellRole.model_validate(
            {
                "on": {"line": "M1", "points": [*other.points[:: max(len(other.points) // 8, 1)]]},
                "role": other.role,
            }
        ),
    ]


def _apart(one: Line, two: Line) -> tuple[float, Place, Place]:
    """How far two lines' nearest ends are apart, mm, and which these are."""
    ends = [(one.points[i], two.points[j]) for i in (0, -1) for j in (0, -1)]
    return min((float(np.hypot(*np.subtract(a, b))), a, b) for a, b in ends)


def _in_two(
    pattern: Pattern, rng: np.random.Generator, pointed: Pointing
) -> tuple[Pattern, list[Told]]:
    line = _usual(pattern, rng)
    if line is None or line.closed:
        return pattern, []
    path = LineString(line.path)
    middle = [np.array(path.interpolate(path.length / 2 + off).coords[0]) for off in (-8, 8)]
    (erase,) = placed(
        pattern, EraseLine(on=line.id, between=(tuple(middle[0]), tuple(middle[1])), number=900)
    )
    broken = replayed(pattern, [erase]).pattern.model_copy(update={"told": ()})
    return broken, [JoinLines(on=line.id, to="M900")]


def _missed_tuck(
    pattern: Pattern, rng: np.random.Generator, pointed: Pointing
) -> tuple[Pattern, list[Told]]:
    if not pattern.tucks:
        return pattern, []
    tuck = pattern.tucks[int(rng.integers(len(pattern.tucks)))]
    marks = [pattern.line(name) for name in (tuck.slit, tuck.lap_line) if name]
    # Its marks were read, as lines of no role.
    lines = [line.model_copy(update={"role": "unknown"}) for line in marks]
    tucks = tuple(each for each in pattern.tucks if each.id != tuck.id)
    without = with_lines(pattern, lines).model_copy(update={"tucks": tucks})
    if tuck.kind == "fold":
        return without, [TellFold(on=tuck.slit)]
    return without, [TellCut.model_validate({"on": tuck.slit, "lap_line": tuck.lap_line})]


MAKE_WRONG: dict[
    str, Callable[[Pattern, np.random.Generator, Pointing], tuple[Pattern, list[Told]]]
] = {
    "lost": _lost,
    "false": _false,
    "swapped": _swapped,
    "run together": _run_together,
    "in two": _in_two,
    "missed tuck": _missed_tuck,
}
