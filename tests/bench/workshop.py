"""Photos of another make, read from end to end: is the scene right, or said to be wrong?

The photos are those of ``workshop_photos``. A found outline is laid on the true one by the cards
alone, so that an outline cannot help itself.
"""

import hashlib
import json
import os
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from multiprocessing import get_context
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray
from rich.console import Console
from rich.progress import track
from rich.table import Table
from scipy.ndimage import uniform_filter1d
from scipy.spatial import cKDTree
from shapely import LinearRing, LineString, MultiLineString, Point, Polygon, contains_xy, union_all

from digitize.errors import DigitizeError
from digitize.floor import open_photo
from digitize.reading import read_pattern
from digitize.record import Pattern
from tests.bench import workshop_photos
from tests.bench.compare import rigid
from tests.bench.photos import RENDERED
from tests.bench.workshop_photos import (
    PHOTOGRAPHS,
    Scene,
    draw_scene,
    edge_points,
    pixels_per_mm,
    project,
    take,
)

Floats = NDArray[np.float64]
SEEN, UNSEEN = range(1, 77), range(201, 277)  # the latter never looked at
POOR_SEEN, POOR_UNSEEN = range(301, 317), range(401, 417)  # pencil that is hard to see
SHORT = (2, 36, 40, 72)
WRONG_MM, WITHIN_MM = 5.0, 3.0
NAMED_MM = 25.0  # so near to a stretch that is named, an outline is not silently wrong
SEEN_SHARE = 0.97  # of the edge not covered, of a paper that a person sees whole
LINE_MM, FOUND_MM = 10.0, 2.0
FEWEST_PIXELS_PER_MM = 1.0  # fewer are to be refused: a pencil line is half a mm wide
# A person sees a line that is darker by a hundredth of all light, averaged over so much of it;
# common practice, no source.
LEAST_DARKER, ALONG_LINE_MM, BESIDE_LINE_MM = 1.0, 20.0, 3.0
PENCIL_GONE = 0.1  # of the lines: where less is seen, nothing could be read on the paper
COARSE = "coarse-picture"
Bars = tuple[tuple[str, float, float], ...]
OF_EACH: Bars = (
    ("outline silently wrong", 0.0, 0.0),
    ("tracebacks", 0.0, 0.0),
    ("warnings in plain photos", 0.0, 0.0),
    ("print scale right, called off", 0.0, 0.0),
)
OF_SHARES: Bars = (
    ("outline within 3 mm, of those seen", 0.95, 1.0),
    ("stated accuracy held", 0.93, 1.0),
    ("print scale off, noticed", 0.95, 1.0),
    ("lines lost in silence", 0.0, 0.01),
    ("lines named for nothing", 0.0, 0.01),
)
# Where pencil is hard to see, the rest is as hard, and no bar of the other photos' is fit for it.
OF_POOR_LIGHT: Bars = (
    ("tracebacks", 0.0, 0.0),
    ("lines lost in silence", 0.0, 0.02),
    ("lines named for nothing", 0.0, 0.1),
)
PRINT_OFF = 0.01
SHARES = tuple(name for name, _, _ in OF_SHARES)


@dataclass(frozen=True)
class Outcome:
    """What a reading of a scene came to.

    Attributes
    ----------
    visible : whether a person sees the paper's edge all round, where nothing covers it, in a
        picture that has enough pixels for pencil at all.
    refused : the error's name, or nothing.
    worst_mm : how far the outline is off at worst, seen or not.
    worst_seen_mm : the same where a person sees it.
    silent_mm : the same where nothing names it and no stated accuracy holds it.
    overlap : intersection over union of the outlines.
    stated_mm : the accuracy that the record states.
    line_95_mm : how far 95 % of the found lines' points are off, laid on the true ones.
    print_off : how far the cards' print is off its nominal size, as a share.
    print_named : whether the record says so.
    lost_in_silence : share of the lines' points on the paper as read, not covered, that are
        neither found nor in an area that the record names as one where pencil is not seen.
    named_for_nothing : share of the same that are found and lie in such an area.
    pencil_seen : share of the lines' points at which a person sees pencil; asked of photos that
        were refused alone.
    """

    seed: int
    kind: str
    visible: bool
    refused: str | None = None
    worst_mm: float = 0.0
    worst_seen_mm: float = 0.0
    silent_mm: float = 0.0
    overlap: float = 0.0
    stated_mm: float = 0.0
    line_95_mm: float = 0.0
    recall: float = 0.0
    false_tucks: int = 0
    warnings: tuple[str, ...] = ()
    print_off: float = 0.0
    print_named: bool = False
    lost_in_silence: float = 0.0
    named_for_nothing: float = 0.0
    pencil_seen: float = 1.0


def run(console: Console, short: bool) -> tuple[dict[str, object], list[str]]:
    """Read all scenes and print what went wrong, said or unsaid."""
    if not PHOTOGRAPHS.exists():
        console.print("workshop: left out, the photographs are not here")
        return {}, []
    seeds = list(SHORT) if short else [*SEEN, *UNSEEN, *POOR_SEEN, *POOR_UNSEEN]
    os.environ["OPENBLAS_NUM_THREADS"] = "1"
    with ProcessPoolExecutor(2, mp_context=get_context("spawn")) as pool:
        steps = pool.map(outcome_of, seeds)
        outcomes = list(
            track(steps, "workshop photos", len(seeds), console=console, transient=True)
        )
    del os.environ["OPENBLAS_NUM_THREADS"]
    groups = {"all": outcomes}
    if not short:
        groups = {
            "seen": [o for o in outcomes if o.seed in SEEN],
            "unseen": [o for o in outcomes if o.seed in UNSEEN],
            "poor light, seen": [o for o in outcomes if o.seed in POOR_SEEN],
            "poor light, unseen": [o for o in outcomes if o.seed in POOR_UNSEEN],
        }
    figures = {name: figures_of(group) for name, group in groups.items()}
    table = Table("measure", *figures, title="Photos of another make on real floors")
    for row in next(iter(figures.values())):
        table.add_row(row, *(_shown(row, each[row]) for each in figures.values()))
    console.print(table)
    for outcome in outcomes:
        if is_wrong(outcome):
            console.print(
                f"workshop-{outcome.seed} ({outcome.kind}): {outcome.refused or 'read'}, outline "
                f"{outcome.worst_seen_mm:.1f} mm off where it is seen, {outcome.silent_mm:.1f} mm "
                "off in silence"
            )
    # Shares of so few photos as the short form reads are no shares.
    if short:
        misses = missed("all", figures["all"], OF_EACH)
    else:
        poor = "poor light, unseen"
        misses = [*missed("unseen", figures["unseen"]), *missed(poor, figures[poor], OF_POOR_LIGHT)]
    return {name: dict(each) for name, each in figures.items()}, misses


def outcome_of(seed: int) -> Outcome:
    """Read one scene's photo, taking it first if it is not there."""
    photo, truth = photo_of(seed)
    scene = draw_scene(seed)
    edge, visible = np.array(truth["edge"]), np.array(truth["visible"])
    covered = np.array(truth["covered"])
    whole = float(visible[~covered].mean()) >= SEEN_SHARE if (~covered).any() else False
    whole = whole and pixels_per_mm(scene) >= FEWEST_PIXELS_PER_MM
    print_off = abs(scene.cards[0].scale - 1)
    try:
        opened = open_photo(photo.name, photo.read_bytes())
        pattern = read_pattern([opened], "workshop").pattern
    except DigitizeError as error:
        refused, pencil = type(error).__name__, pencil_seen(scene, opened.pixels)
        return Outcome(seed, scene.kind, whole, refused, print_off=print_off, pencil_seen=pencil)
    except Exception as error:  # whatever else it is, it is the defect looked for
        refused = f"traceback: {type(error).__name__}"
        return Outcome(seed, scene.kind, whole, refused, print_off=print_off)
    return _judged(scene, pattern, edge, visible, whole, print_off)


def photo_of(seed: int) -> tuple[Path, dict[str, list[object]]]:
    """A scene's photo, and the truth about the paper's edge in it."""
    drawn = hashlib.sha256(Path(workshop_photos.__file__).read_bytes()).hexdigest()[:8]
    photo = RENDERED / f"workshop-{seed}-{drawn}.jpg"
    truth = photo.with_suffix(".json")
    if not truth.exists():
        scene = draw_scene(seed)
        jpeg, edge, visible = take(scene)
        covers = [card.sheet() for card in scene.over] + [shape for shape, _ in scene.clutter]
        covered = [any(cover.distance(Point(p)) <= 6 for cover in covers) for p in edge]
        RENDERED.mkdir(exist_ok=True)
        photo.write_bytes(jpeg)
        known = {"edge": edge.round(3).tolist(), "visible": visible.tolist(), "covered": covered}
        truth.write_text(json.dumps(known))
    return photo, json.loads(truth.read_text())


def _judged(
    scene: Scene,
    pattern: Pattern,
    edge: Floats,
    visible: NDArray[np.bool_],
    whole: bool,
    print_off: float,
) -> Outcome:
    rotation, shift = by_cards(scene, pattern)

    # An untold print scale is judged by whether it is named, and not by the outline again.
    scale = scene.cards[0].scale

    def laid(points: Sequence[tuple[float, float]] | Floats) -> Floats:
        return np.asarray(points) * scale @ rotation.T + shift

    found, true = laid(pattern.outline), np.array(scene.outline.exterior.coords)
    ring = LinearRing(found)
    off = np.array([ring.distance(Point(p)) for p in edge])
    dense = edge_points(Polygon(found))
    # A stretch that is named speaks for all of the true edge that lies nearest to it.
    beside = dense[cKDTree(dense).query(edge)[1]]
    back, nearest = cKDTree(edge).query(dense)
    true_ring = LinearRing(true)
    back = np.array([true_ring.distance(Point(p)) for p in dense])
    shape, truth = Polygon(found).buffer(0), scene.outline
    stated = pattern.scale.accuracy_mm if pattern.scale else 0.0
    named = MultiLineString([laid(each) for each in pattern.outline_unsure])
    silent = [
        away
        for away, point in [*zip(off, beside, strict=True), *zip(back, dense, strict=True)]
        if away > max(WRONG_MM, stated)
        and (named.is_empty or named.distance(Point(point)) > NAMED_MM)
    ]
    lines = [laid(line.points) for line in pattern.lines]
    errors, recall, distance = _line_errors(scene, lines)
    silently, for_nothing = _seen_and_said(
        scene, distance, shape, [Polygon(laid(area.boundary)) for area in pattern.unseen]
    )
    wordy = tuple(r.kind for r in pattern.remarks if r.severity != "note")
    kinds = [r.kind for r in pattern.remarks]
    return Outcome(
        seed=scene.seed,
        kind=scene.kind,
        visible=whole,
        worst_mm=float(max(off.max(), back.max())),
        worst_seen_mm=float(
            max(off[visible].max(initial=0.0), back[visible[nearest]].max(initial=0.0))
        ),
        silent_mm=float(max(silent, default=0.0)),
        overlap=float(shape.intersection(truth).area / shape.union(truth).area),
        stated_mm=stated,
        line_95_mm=float(np.percentile(errors, 95)) if len(errors) else float("nan"),
        recall=recall,
        false_tucks=len(pattern.tucks),
        warnings=wordy,
        print_off=print_off,
        print_named="print-scale" in kinds,
        lost_in_silence=silently,
        named_for_nothing=for_nothing,
    )


def pencil_seen(scene: Scene, pixels: NDArray[np.uint8]) -> float:
    """Share of the lines' points at which a person sees pencil in a photo (H, W, 3).

    A line is seen where, averaged along it, some place across it is darker than what lies beside.
    """
    light = cv2.cvtColor(np.asarray(pixels, np.float32) / 255, cv2.COLOR_RGB2LAB)[..., 0]
    across = np.arange(-BESIDE_LINE_MM, BESIDE_LINE_MM + 0.1, 0.25)
    shares = []
    for line in scene.lines:
        points = _sampled(line)
        way = np.gradient(points, axis=0)
        normal = np.stack([way[:, 1], -way[:, 0]], axis=1) / np.linalg.norm(way, axis=1)[:, None]
        places = points[:, None] + across[:, None] * normal[:, None]
        at = project(scene, places.reshape(-1, 2)).reshape(places.shape).astype(np.float32)
        tones = cv2.remap(light, at[..., 0], at[..., 1], cv2.INTER_LINEAR)
        tones = uniform_filter1d(tones, round(ALONG_LINE_MM / 0.5), axis=0)
        shares.append(np.median(tones, axis=1) - tones.min(axis=1) > LEAST_DARKER)
    return float(np.concatenate(shares).mean())


def by_cards(scene: Scene, pattern: Pattern) -> tuple[Floats, Floats]:
    """What carries the pattern onto the true floor, by the cards' places and turns."""
    seen, true = [], []
    assert pattern.scale is not None
    for card in pattern.scale.cards:
        laid = next(each for each in scene.cards if each.number == card.number)
        for turn, angle in ((card.turn_deg, 0.0), (card.turn_deg, 90.0)):
            way = np.radians(turn + angle)
            seen.append(
                laid.scale * np.array(card.centre) + 100 * np.array([np.cos(way), np.sin(way)])
            )
            way = laid.turn + np.radians(angle)
            true.append(np.array([laid.x, laid.y]) + 100 * np.array([np.cos(way), np.sin(way)]))
    return rigid(np.array(seen), np.array(true))


def _seen_and_said(
    scene: Scene, distance: Floats, paper: Polygon, areas: Sequence[Polygon]
) -> tuple[float, float]:
    """Shares of lines' points lost in silence, and named for nothing; ``distance`` to those found.

    Of the points on the paper as it was read: where it ends is another figure.
    """
    x, y = _points_of(scene).T
    covers = [card.sheet() for card in scene.over] + [shape for shape, _ in scene.clutter]
    counted = contains_xy(paper, x, y) & ~contains_xy(union_all(covers).buffer(FOUND_MM), x, y)
    found = distance < FOUND_MM
    named = contains_xy(union_all(areas).buffer(FOUND_MM), x, y)
    count = max(int(counted.sum()), 1)
    return (
        float((counted & ~found & ~named).sum() / count),
        float((counted & found & named).sum() / count),
    )


def _points_of(scene: Scene) -> Floats:
    return np.concatenate([line[::4] for line in scene.lines])


def _line_errors(scene: Scene, lines: Sequence[Floats]) -> tuple[Floats, float, Floats]:
    """How far the lines found are from true ones, rigidly laid on; the share found; all distances.

    Asked of what was found: a true line that was not has no place that could be off, and where few
    were, the nearest of them, taken for its place, would say what was lost and turn the fit.
    """
    points = _points_of(scene)
    none = np.full(len(points), np.inf)
    if not lines:
        return np.empty(0), 0.0, none
    moved = np.concatenate([_sampled(line) for line in lines])
    true = np.concatenate([_sampled(line) for line in scene.lines])
    on_true = cKDTree(true)
    for _ in range(8):
        away, index = on_true.query(moved)
        kept = away < max(LINE_MM, 3 * float(np.median(away)))
        if kept.sum() < 10:
            return np.empty(0), 0.0, none
        rotation, shift = rigid(moved[kept], true[index[kept]])
        moved = moved @ rotation.T + shift
    away, _ = on_true.query(moved)
    distance, _ = cKDTree(moved).query(points)
    return away[away < LINE_MM], float((distance < FOUND_MM).mean()), distance


def _sampled(line: Floats) -> Floats:
    path = LineString(line)
    count = max(int(path.length / 0.5), 1)
    return np.array(
        [path.interpolate(i / count, normalized=True).coords[0] for i in range(count + 1)]
    )


def is_wrong(outcome: Outcome) -> bool:
    """Whether something is wrong with a reading that the record does not say."""
    refused_wrongly = outcome.refused is not None and outcome.visible
    off = outcome.visible and outcome.worst_seen_mm > WITHIN_MM
    return refused_wrongly or off or outcome.silent_mm > 0


def figures_of(outcomes: Sequence[Outcome]) -> dict[str, float]:
    """The figures of some readings, by name."""
    read = [o for o in outcomes if o.refused is None]
    visible = [o for o in outcomes if o.visible]
    seen = [o for o in read if o.visible]
    refused = [o for o in outcomes if o.refused is not None]
    plain = [o for o in read if o.kind == "plain"]
    sound = [o for o in read if not o.print_named and np.isfinite(o.line_95_mm)]
    misprinted = [o for o in read if o.print_off >= PRINT_OFF]
    printed = [o for o in read if o.print_off < PRINT_OFF / 2]
    within = [o for o in seen if o.worst_seen_mm <= WITHIN_MM]
    return {
        "photos": len(outcomes),
        "paper seen whole by a person": len(visible),
        "outline silently wrong": sum(o.silent_mm > 0 for o in read),
        "outline within 3 mm, of those seen": len(within) / max(len(visible), 1),
        "outline worst mm, median of those seen": _median([o.worst_seen_mm for o in seen]),
        "overlap, 5th percentile": float(np.percentile([o.overlap for o in read], 5)),
        "stated accuracy held": _share([o.line_95_mm <= o.stated_mm for o in sound]),
        "stated over true, median": _median([o.stated_mm / o.line_95_mm for o in sound]),
        "lines found": _median([o.recall for o in seen]),
        "lines lost in silence": _mean([o.lost_in_silence for o in read]),
        "lines named for nothing": _mean([o.named_for_nothing for o in read]),
        "false tucks": sum(o.false_tucks for o in read),
        "refused rightly": sum(not o.visible for o in refused),
        "refused wrongly": sum(o.visible for o in refused),
        "of these, no pencil seen either": sum(
            o.visible and o.pencil_seen < PENCIL_GONE for o in refused
        ),
        "tracebacks": sum("traceback" in (o.refused or "") for o in refused),
        "warnings a photo": float(np.mean([len(o.warnings) for o in read])),
        # That a picture has too few pixels for tucks is true of it, and no light or floor's fault.
        "warnings in plain photos": sum(len(set(o.warnings) - {COARSE}) for o in plain),
        "pictures too coarse, named": sum(COARSE in o.warnings for o in read),
        "print scale off, noticed": _share([o.print_named for o in misprinted]),
        "print scale right, called off": sum(o.print_named for o in printed),
    }


def missed(name: str, figures: dict[str, float], bars: Bars = ()) -> list[str]:
    """Which bars a group's figures miss: all, or those given."""
    bars = bars or (*OF_EACH, *OF_SHARES)
    return [
        f"workshop: {name}: {what} {figures[what]:.3g}, bar {low:g} to {high:g}"
        for what, low, high in bars
        if not low <= figures[what] <= high
    ]


def _median(values: Sequence[float]) -> float:
    return float(np.median(values)) if values else float("nan")


def _mean(values: Sequence[float]) -> float:
    return float(np.mean(values)) if values else float("nan")


def _share(flags: Sequence[bool]) -> float:
    return float(np.mean(flags)) if flags else 1.0


def _shown(name: str, value: float) -> str:
    if name in SHARES or name.startswith("lines "):
        return f"{value:.1%}"
    return f"{value:g}" if float(value).is_integer() else f"{value:.2f}"
