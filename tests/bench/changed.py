"""Pairs of patterns that differ by what is known, by seed, each as a reading has it.

The patterns are panels drawn by seed, as they were marked. The other of a pair is the same, changed
in one way by up to 3 mm; then both are read with the errors of a reading, and the other is turned,
shifted, its lines named and cut otherwise, one left out, and mirrored in half of the pairs.
"""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import least_squares
from scipy.spatial import cKDTree

from digitize.compare.deviation import metal_lines
from digitize.compare.verdict import STRETCH_MM
from digitize.plane.registration import EVEN, HUBER, STEP_MM
from digitize.record import LapAt, Line, Pattern, Scale, from_json, mirrored
from tests.bench.photos import RENDERED
from tests.bench.tucks import drift, normals_of

Floats = NDArray[np.float64]
Field = Callable[[Floats], Floats]
PAIRS, GROWN = 90, 91  # what seeds are of
# tucked-10 looks the same turned by a quarter: nothing says which way it lies.
BASES = [f"panel-{n}" for n in range(1, 9)] + [f"tucked-{n}" for n in (*range(1, 10), 11, 12)]
CHANGES = ("one place", "an area", "overall", "the trim edge", "a lap")
MOST_MM = 3.0
LINE_MM, PAPER_MM = 0.05, 0.04  # RMS of a reading's errors along a line, and over the paper
ACCURACY_MM = 0.3  # as stated (95 %), for both
LAP_MM = 0.08
STEADY = 0.05  # how firmly what lines do not settle, as how round panels are turned, stays


@dataclass(frozen=True)
class Pair:
    """A pattern and another, and how far (mm) the other was moved at a line's place.

    ``largest_mm`` is the largest difference over a stretch, of lines or a lap.
    """

    pattern: Pattern
    other: Pattern
    mirror: bool
    moved: Callable[[str, Floats], Floats]
    lap_mm: dict[str, float]
    largest_mm: float


def bases_of(pairs: Iterable[int], grown: Iterable[int]) -> list[str]:
    """The panels that pairs and grown papers by seed are made of."""
    seeds = [(PAIRS, seed) for seed in pairs] + [(GROWN, seed) for seed in grown]
    return sorted({_begun(*each)[1] for each in seeds})


def _begun(kind: int, seed: int) -> tuple[np.random.Generator, str]:
    rng = np.random.default_rng([kind, seed])
    return rng, BASES[int(rng.integers(len(BASES)))]


def pair_of(seed: int, change: str) -> Pair:
    """A pair by seed, changed in one way by up to 3 mm."""
    rng, base = _begun(PAIRS, seed)
    pattern = from_json((RENDERED / f"{base}.truth.json").read_text())
    pattern = _with_laps(pattern, {}, rng)
    amount = float(rng.uniform(0, MOST_MM)) * float(rng.choice([-1, 1]))
    moved, laps = _change(pattern, change, amount, rng)
    forms = [line.id for line in pattern.lines if line.role == "form"]
    lost = str(rng.choice(forms)) if len(forms) > 1 else ""
    if change == "overall":
        moved = _less_best_fit([line for line in metal_lines(pattern) if line.id != lost], moved)
    mirror = bool(rng.integers(2))
    other = _with_laps(_moved(pattern, moved), laps, rng)
    other = _elsewhere(_read(other, rng), lost, rng)
    largest = max((_over_a_stretch(line, moved) for line in metal_lines(pattern)), default=0.0)
    largest = max(largest, *(abs(each) for each in laps.values()), 0.0)
    return Pair(
        _read(pattern, rng), mirrored(other) if mirror else other, mirror, moved, laps, largest
    )


def grown_pair(seed: int) -> tuple[Pattern, Pattern, tuple[float, float]]:
    """Two readings of one paper by seed, the later grown or shrunk; and by how much, as shares.

    The larger share comes first. The later lies turned and shifted.
    """
    rng, base = _begun(GROWN, seed)
    pattern = _with_laps(from_json((RENDERED / f"{base}.truth.json").read_text()), {}, rng)
    along = float(rng.uniform(0.001, 0.01)) * float(rng.choice([-1, 1]))
    across = along * float(rng.uniform(-0.3, 0.6))
    turn = rng.uniform(0, np.pi)
    way = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
    strain = way @ np.diag([along, across]) @ way.T
    later = _moved(pattern, lambda name, points: points @ strain)
    later = _elsewhere(_read(later, rng), "", rng)
    return _read(pattern, rng), later, (along, across)


def _change(
    pattern: Pattern, change: str, amount: float, rng: np.random.Generator
) -> tuple[Callable[[str, Floats], Floats], dict[str, float]]:
    """Where points of a line (by id) come to lie, as shifts (N, 2); and laps that differ (mm)."""
    lines = metal_lines(pattern)
    middle = np.concatenate([line.points for line in lines]).mean(axis=0)
    normals = {line.id: _outward(line, middle) for line in lines}

    def still(name: str, points: Floats) -> Floats:
        return np.zeros_like(points)

    if change == "a lap" and pattern.tucks:
        return still, {str(rng.choice([tuck.id for tuck in pattern.tucks])): amount}
    if change == "overall":
        every = np.concatenate([_dense(np.array(line.path)) for line in lines])
        centre = every.mean(axis=0)
        reach = float(np.linalg.norm(every - centre, axis=1).max())
        return lambda name, points: (points - centre) * amount / reach, {}
    if change == "an area":
        line = lines[int(rng.integers(len(lines)))]
        at, width = np.array(line.points[len(line.points) // 2]), rng.uniform(50, 110)
        way = _unit(rng.normal(size=2))
        return lambda name, points: amount * way * _bump(points, at, width), {}
    roles = ("trim-edge",) if change == "the trim edge" else ("trim-edge", "radius-start", "form")
    chosen = [line for line in lines if line.role in roles]
    if change == "one place":
        line = max(chosen, key=lambda line: line.length * rng.random())
        chosen = [line]
        at, width = np.array(line.points[int(rng.integers(len(line.points)))]), rng.uniform(25, 90)

    def along(name: str, points: Floats) -> Floats:
        if name not in {line.id for line in chosen}:
            return np.zeros_like(points)
        share = _bump(points, at, width) if change == "one place" else 1.0
        return amount * share * normals[name](points)

    return along, {}


def _less_best_fit(
    lines: Sequence[Line], moved: Callable[[str, Floats], Floats]
) -> Callable[[str, Floats], Floats]:
    """The shifts less the turn and shift that fit them best: a difference that is everywhere has no
    lines that stayed. Fitted from the true shifts with a library's robust least squares.
    """
    points = [_dense(np.array(line.path)) for line in lines]
    normals = np.concatenate([normals_of(each) for each in points])
    shifts = np.concatenate([moved(line.id, p) for line, p in zip(lines, points, strict=True)])
    arms = np.concatenate(points)
    moves = np.column_stack([(_quarter(arms) * normals).sum(axis=1), normals])
    moves = np.vstack([moves, np.diag([STEADY * float(np.ptp(arms)), STEADY, STEADY])])
    off = np.append((shifts * normals).sum(axis=1), np.zeros(3))
    scale = HUBER * np.hypot(LINE_MM, LINE_MM)
    fitted = least_squares(lambda way: moves @ way - off, np.zeros(3), loss=_loss, f_scale=scale)
    best = fitted.x
    return lambda name, places: moved(name, places) - best[0] * _quarter(places) - best[1:]


def _loss(squared: Floats) -> Floats:
    """Huber's loss and its derivatives, with the fit's share of plain least squares."""
    far = np.maximum(squared, 1.0)
    huber = np.where(squared <= 1, squared, 2 * np.sqrt(far) - 1)
    slope = np.where(squared <= 1, 1.0, far**-0.5)
    bend = np.where(squared <= 1, 0.0, -0.5 * far**-1.5)
    return np.array([huber + EVEN * squared, slope + EVEN, bend])


def _quarter(points: Floats) -> Floats:
    """Points turned by a quarter: how they move with a small turn."""
    return np.column_stack([-points[:, 1], points[:, 0]])


def _outward(line: Line, middle: Floats) -> Field:
    """The line's unit normals away from the pattern's middle, at points near it."""
    points = np.array(line.path)
    normal = normals_of(points)
    if np.sign(((points - middle) * normal).sum(axis=1)).sum() < 0:
        normal = -normal
    tree = cKDTree(points)
    return lambda places: normal[tree.query(places)[1]]


def _bump(points: Floats, at: Floats, width: float) -> Floats:
    return np.exp(-(((points - at) ** 2).sum(axis=1, keepdims=True)) / (2 * width**2))


def _unit(vector: Floats) -> Floats:
    return np.asarray(vector / np.linalg.norm(vector))


def _over_a_stretch(line: Line, moved: Callable[[str, Floats], Floats]) -> float:
    """The largest shift across a line that holds over a stretch of it."""
    points = _dense(np.array(line.path))
    off = np.sort(np.abs((moved(line.id, points) * normals_of(points)).sum(axis=1)))[::-1]
    return float(off[min(round(STRETCH_MM / STEP_MM), len(off) - 1)])


def _dense(path: Floats) -> Floats:
    along = np.append(0.0, np.cumsum(np.linalg.norm(np.diff(path, axis=0), axis=1)))
    at = np.arange(0, along[-1], STEP_MM)
    return np.column_stack([np.interp(at, along, path[:, axis]) for axis in (0, 1)])


def _moved(pattern: Pattern, shift: Callable[[str, Floats], Floats]) -> Pattern:
    """The pattern with its lines' points shifted, and its tucks' tips as their slits'."""

    def at(name: str, points: object) -> tuple[tuple[float, float], ...]:
        places = np.array(points, float)
        return tuple((float(x), float(y)) for x, y in places + shift(name, places))

    return pattern.model_copy(
        update={
            "lines": tuple(
                line.model_copy(update={"points": at(line.id, line.points), "pieces": ()})
                for line in pattern.lines
            ),
            "tucks": tuple(
                tuck.model_copy(update={"tip": at(tuck.slit, [tuck.tip])[0]})
                for tuck in pattern.tucks
            ),
        }
    )


def _with_laps(pattern: Pattern, more: dict[str, float], rng: np.random.Generator) -> Pattern:
    """The pattern with its laps as measured, some larger by so much."""
    tucks = []
    for tuck in pattern.tucks:
        lap = tuck.lap_at_trim + more.get(tuck.id, 0.0) + float(rng.normal(0, LAP_MM))
        profile = (LapAt(depth=tuck.depth_at_trim, lap=lap, sigma=LAP_MM),)
        tucks.append(tuck.model_copy(update={"lap_at_trim": lap, "profile": profile}))
    return pattern.model_copy(update={"tucks": tuple(tucks)})


def _read(pattern: Pattern, rng: np.random.Generator) -> Pattern:
    """The pattern as a reading has it: lines to and fro, the paper a little out of shape."""
    waves = [
        (rng.normal(size=2) / 2, rng.normal(size=2) / rng.uniform(150, 500), rng.uniform(0, 7))
        for _ in range(8)
    ]

    def shift(name: str, points: Floats) -> Floats:
        paper = sum(way * np.sin(points @ wave + phase)[:, None] for way, wave, phase in waves)
        to_and_fro = LINE_MM * drift(points, rng)
        normals = normals_of(points) if len(points) > 1 else np.zeros_like(points)
        return PAPER_MM * paper + to_and_fro * normals

    read = _moved(pattern, shift)
    lines = tuple(line.model_copy(update={"sigma": LINE_MM}) for line in read.lines)
    scale = Scale.model_validate(
        {
            "cards": (),
            "reprojection_px": 0.1,
            "print_correction": {},
            "accuracy_mm": ACCURACY_MM,
            "accuracy_cards_mm": 0.0,
            "accuracy_print_mm": 0.0,
            "accuracy_flatness_mm": ACCURACY_MM,
        }
    )
    return read.model_copy(update={"lines": lines, "scale": scale})


def _elsewhere(pattern: Pattern, lost: str, rng: np.random.Generator) -> Pattern:
    """The pattern lying otherwise, one line lost, its others in another order and cut."""
    turn, shift = rng.uniform(0, 2 * np.pi), rng.uniform(-300, 300, 2)
    matrix = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
    lines: list[Line] = []
    for line in pattern.lines:
        if line.id == lost:
            continue
        metal = not line.is_tuck_mark
        points = line.points[::-1] if metal and rng.integers(2) else line.points
        cut = len(points) // 2 if metal and len(points) > 40 else 0
        for name, part in ((line.id, points[cut:]), (f"{line.id}b", points[: cut + 1])):
            if len(part) > 1:
                lines.append(line.model_copy(update={"id": name, "points": part}))
    order = rng.permutation(len(lines))
    laid = _moved(
        pattern.model_copy(update={"lines": tuple(lines[index] for index in order)}),
        lambda name, points: points @ matrix.T + shift - points,
    )

    def at(points: tuple[tuple[float, float], ...]) -> tuple[tuple[float, float], ...]:
        return tuple((float(x), float(y)) for x, y in np.array(points) @ matrix.T + shift)

    zones = tuple(zone.model_copy(update={"boundary": at(zone.boundary)}) for zone in laid.zones)
    return laid.model_copy(update={"outline": at(laid.outline), "zones": zones})
