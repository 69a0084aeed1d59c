"""A piece of paper with a few marks on it, each kind of meeting and of pencil's fault in turn."""

import numpy as np
from corner import Floats
from drawn import Marking, Traces, point
from shapely import LineString, box
from strokes import GRAPHITE, HARD, Ink, Stroke, by_hand, in_pieces, resample

from digitize.record import Line, Pattern

WIDE, HIGH = 140.0, 105.0
KINDS = ("cross", "tee", "corner", "band", "dashes", "double", "skips", "writing")
EDGE = 7.0
BROAD_WIDTH = 2.6
DASHES = ((12.0, 3.0), (6.0, 2.0), (9.0, 4.0))


def draw_piece(
    seed: int, ink: Ink, width: float, pressure: float, rng: np.random.Generator
) -> Marking:
    """The piece of one seed: its kind goes round, so that every kind meets every pencil."""
    lines: list[tuple[Floats, bool]] = []
    strokes: list[Stroke] = []
    notes: tuple[tuple[str, tuple[float, float]], ...] = ()
    kind = KINDS[(seed + seed // 8) % len(KINDS)]

    def stroke(points: Floats, broad: bool = False) -> Stroke:
        wide = BROAD_WIDTH if broad else width * rng.uniform(0.5, 0.9)
        hard = float(np.clip(pressure * rng.uniform(0.65, 0.95), 0, 1))
        return Stroke(points, wide, hard, broad, ink=ink)

    def add(points: Floats) -> Floats:
        points = by_hand(points, rng, 0.12)
        lines.append((points, False))
        strokes.append(stroke(points))
        return points

    first = _smooth(rng)
    if kind == "cross":
        add(first)
        add(_smooth(rng))
    elif kind == "tee":
        bar = add(first)
        at = bar[int(len(bar) * rng.uniform(0.3, 0.7))]
        away = np.array([WIDE / 2, HIGH / 2]) - at
        ahead = bar[min(len(bar) - 1, int(len(bar) * 0.7) + 8)] - at
        normal = np.array([-ahead[1], ahead[0]]) / (np.linalg.norm(ahead) + 1e-9)
        normal *= np.sign(normal @ away) or 1.0
        add(_inside(at + np.linspace(0, 60, 100)[:, None] * normal))
    elif kind == "corner":
        middle = np.array([rng.uniform(50, 90), rng.uniform(35, 70)])
        turn, opening = rng.uniform(0, 2 * np.pi), np.radians(rng.uniform(60, 120))
        arms = [middle + 55 * np.array([np.cos(a), np.sin(a)]) for a in (turn, turn + opening)]
        one = by_hand(_inside(np.array([middle, arms[0]]))[::-1], rng, 0.08)
        two = by_hand(_inside(np.array([middle, arms[1]])), rng, 0.08)
        two = two + (one[-1] - two[0])
        both = np.concatenate([one, two[1:]])
        lines.append((both, False))
        strokes.append(stroke(both))
    elif kind == "band":
        points = add(first)
        tangent = np.gradient(points, axis=0)
        tangent /= np.linalg.norm(tangent, axis=1, keepdims=True)
        width_at = np.linspace(*rng.uniform(12, 28, 2), len(points))[:, None]
        beside = points + width_at * np.stack([-tangent[:, 1], tangent[:, 0]], axis=1)
        beside = _inside(beside)
        if len(beside) > 100:
            add(beside)
    elif kind == "dashes":
        points = by_hand(first, rng, 0.12)
        lines.append((points, True))
        dash, gap = DASHES[seed % len(DASHES)]
        starts = np.arange(0, len(points) * 0.25, dash + gap)
        strokes += in_pieces(stroke(points), [(a, a + dash) for a in starts])
        add(_smooth(rng))
    elif kind == "double":
        points = add(first)
        part = points[int(len(points) * 0.2) : int(len(points) * rng.uniform(0.6, 1.0))]
        strokes.append(stroke(by_hand(part, rng, 0.3)))
    elif kind == "skips":
        points = by_hand(first, rng, 0.12)
        lines.append((points, False))
        length = len(points) * 0.25
        bounds = [0.0]
        for at in np.arange(rng.uniform(12, 25), length - 12, 25.0):
            bounds += [at, at + rng.uniform(1.5, 5.0)]
        bounds.append(length)
        pairs = list(zip(bounds[::2], bounds[1::2], strict=True))
        strokes += in_pieces(stroke(points), pairs)
    else:
        add(first)
        x, y = rng.uniform([15, 15], [95, 80])
        text = str(rng.choice(["R 60", "R100", "L.H.", "3 1/4"]))
        if not LineString(first).intersects(box(x - 3, y - 3, x + 40, y + 14)):
            notes = ((text, (float(x), float(y))),)
    if kind in ("tee", "writing") and ink in (GRAPHITE, HARD):
        strokes[0] = Stroke(lines[0][0], BROAD_WIDTH, 0.7, broad=True, ink=ink)
    pattern = Pattern(
        name=kind,
        outline=((0, 0), (WIDE, 0), (WIDE, HIGH), (0, HIGH)),
        lines=tuple(
            Line(
                id=f"L{i + 1}",
                role="form",
                role_confidence=1.0,
                points=tuple(point(p) for p in resample(points, 0.5)),
                stroke="dashed" if dashed else "solid",
                width=0.7,
                sigma=0.0,
            )
            for i, (points, dashed) in enumerate(lines)
        ),
    )
    return Marking(pattern, tuple(strokes), (), (), notes, _traces(rng))


def _smooth(rng: np.random.Generator) -> Floats:
    """A line, an arc, or a curve whose curvature changes evenly, over most of the piece."""
    while True:
        heading = rng.uniform(0, 2 * np.pi)
        bend, growth = rng.choice([0.0, 1.0]) * rng.normal(0, 0.012), rng.choice([0.0, 1e-4])
        along = np.arange(-70, 70, 0.25)
        turn = heading + bend * along + growth * along**2
        points = np.cumsum(0.25 * np.stack([np.cos(turn), np.sin(turn)], axis=1), axis=0)
        points += rng.uniform([50, 35], [90, 70]) - points[len(points) // 2]
        points = _inside(points)
        if len(points) > 240:
            return points


def _inside(points: Floats) -> Floats:
    cut = LineString(points).intersection(box(EDGE, EDGE, WIDE - EDGE, HIGH - EDGE))
    parts = getattr(cut, "geoms", [cut])
    longest = max(parts, key=lambda part: part.length)
    return resample(np.array(longest.coords), 0.25) if longest.length > 1 else np.zeros((0, 2))


def _traces(rng: np.random.Generator) -> Traces:
    def across() -> Floats:
        a, b = rng.uniform([10, 10], [130, 95], (2, 2))
        return np.asarray(a + (b - a) * np.linspace(0, 1, 300)[:, None])

    def place() -> tuple[float, float]:
        return float(rng.uniform(15, 125)), float(rng.uniform(15, 90))

    return Traces(
        erased=(across(),) if rng.random() < 0.3 else (),
        smudges=(place(),) if rng.random() < 0.4 else (),
        tapes=((*place(), float(rng.uniform(0, 180))),) if rng.random() < 0.25 else (),
        wrinkles=(across(),) if rng.random() < 0.35 else (),
    )
