"""A hand's capitals, numbers, circles and arrows, as strokes of a pen; shapes of our own."""

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
# Strokes in a box of 1 high: each a row of x, y. Round ones are rounded when they are written.
LETTERS: dict[str, tuple[tuple[float, ...], ...]] = {
    "A": ((0, 0, 0.32, 1, 0.62, 0), (0.1, 0.38, 0.52, 0.38)),
    "B": ((0, 0, 0, 1, 0.4, 0.95, 0.45, 0.6, 0.05, 0.52, 0.5, 0.42, 0.5, 0.08, 0, 0),),
    "C": ((0.55, 0.85, 0.3, 1, 0, 0.7, 0, 0.3, 0.3, 0, 0.58, 0.15),),
    "D": ((0, 0, 0, 1, 0.4, 0.9, 0.55, 0.5, 0.4, 0.1, 0, 0),),
    "E": ((0.5, 1, 0, 1, 0, 0, 0.52, 0), (0, 0.52, 0.4, 0.52)),
    "F": ((0.5, 1, 0, 1, 0, 0), (0, 0.5, 0.4, 0.5)),
    "H": ((0, 0, 0, 1), (0.5, 0, 0.5, 1), (0, 0.5, 0.5, 0.5)),
    "I": ((0.1, 0, 0.1, 1),),
    "K": ((0, 0, 0, 1), (0.5, 1, 0.02, 0.45, 0.52, 0)),
    "L": ((0, 1, 0, 0, 0.48, 0),),
    "N": ((0, 0, 0, 1, 0.5, 0, 0.5, 1),),
    "O": ((0.3, 1, 0, 0.75, 0, 0.25, 0.3, 0, 0.6, 0.25, 0.6, 0.75, 0.28, 1),),
    "P": ((0, 0, 0, 1, 0.45, 0.95, 0.48, 0.55, 0, 0.48),),
    "R": ((0, 0, 0, 1, 0.45, 0.95, 0.46, 0.55, 0, 0.5, 0.5, 0),),
    "S": ((0.5, 0.88, 0.25, 1, 0.02, 0.75, 0.45, 0.35, 0.3, 0, 0, 0.12),),
    "T": ((0, 1, 0.6, 1), (0.3, 1, 0.3, 0)),
    "U": ((0, 1, 0, 0.25, 0.27, 0, 0.54, 0.25, 0.54, 1),),
    "X": ((0, 0, 0.52, 1), (0, 1, 0.52, 0)),
    "0": ((0.28, 1, 0, 0.7, 0.02, 0.28, 0.28, 0, 0.54, 0.3, 0.52, 0.75, 0.26, 1),),
    "1": ((0.05, 0.75, 0.25, 1, 0.25, 0),),
    "2": ((0.02, 0.8, 0.28, 1, 0.52, 0.72, 0.02, 0, 0.56, 0),),
    "3": ((0.03, 0.9, 0.45, 0.95, 0.4, 0.58, 0.15, 0.52, 0.52, 0.4, 0.4, 0.02, 0, 0.08),),
    "4": ((0.4, 0, 0.4, 1, 0, 0.35, 0.58, 0.35),),
    "5": ((0.5, 1, 0.06, 1, 0.03, 0.56, 0.45, 0.56, 0.45, 0.1, 0, 0.03),),
    "6": ((0.45, 1, 0.08, 0.6, 0.02, 0.2, 0.3, 0, 0.5, 0.25, 0.3, 0.48, 0.05, 0.3),),
    "7": ((0, 1, 0.52, 1, 0.18, 0), (0.1, 0.5, 0.45, 0.5)),
    "9": ((0.07, 0, 0.44, 0.4, 0.5, 0.8, 0.22, 1, 0.02, 0.75, 0.22, 0.52, 0.47, 0.7),),
    "8": ((0.28, 0.54, 0.06, 0.8, 0.28, 1, 0.48, 0.8, 0.06, 0.25, 0.28, 0, 0.5, 0.25, 0.26, 0.54),),
}
WORDS = ("TOP", "FRONT", "R30", "R 12", "LH", "RH", "DOOR", "OUT", "CUT 3", "SHRINK", "NO 4", "58")
ROUND = set("BCDOPRSU0235689")


def written(what: str, height_mm: float, rng: np.random.Generator) -> list[Floats]:
    """Strokes (N, 2), mm, of a ``word``, a ``circled`` number or an ``arrow``."""
    if what == "arrow":
        return _arrow(height_mm, rng)
    if what == "circled":
        return _circled(min(height_mm, 12.0), rng)
    return _word(str(rng.choice(WORDS)), height_mm, rng)


def _word(word: str, height_mm: float, rng: np.random.Generator) -> list[Floats]:
    slant, lean = float(rng.normal(0.12, 0.12)), float(rng.normal(0, 0.06))
    strokes, at = [], 0.0
    for letter in word:
        if letter == " ":
            at += 0.5
            continue
        size = float(rng.uniform(0.9, 1.08))
        wide = 0.0
        for row in LETTERS[letter]:
            points = np.reshape(row, (-1, 2)) * [1.05, 1.0]
            points = points * size + rng.normal(0, 0.025, points.shape)
            wide = max(wide, float(points[:, 0].max()))
            points = _rounded(points, 3 if letter in ROUND else 1)
            points[:, 0] += at + slant * points[:, 1]
            points[:, 1] += float(rng.normal(0, 0.01)) + lean * points[:, 0]
            strokes.append(points * height_mm)
        at += wide + float(rng.uniform(0.15, 0.3))
    return strokes


def _rounded(points: Floats, times: int) -> Floats:
    """Corners cut at a quarter and three quarters of each side, again and again."""
    for _ in range(times):
        if len(points) < 3:
            break
        low, high = points[:-1] * 0.75 + points[1:] * 0.25, points[:-1] * 0.25 + points[1:] * 0.75
        mixed = np.stack([low, high], axis=1).reshape(-1, 2)
        points = np.concatenate([points[:1], mixed[1:-1], points[-1:]])
    return points.copy()


def _circled(height_mm: float, rng: np.random.Generator) -> list[Floats]:
    strokes = _word(str(rng.integers(1, 20)), height_mm, rng)
    everything = np.concatenate(strokes)
    middle = (everything.min(axis=0) + everything.max(axis=0)) / 2
    radius = height_mm * float(rng.uniform(0.85, 1.0))
    turn = np.linspace(0, 2 * np.pi * float(rng.uniform(0.97, 1.1)), 50) + float(rng.uniform(0, 6))
    swell = radius * (1 + 0.05 * np.sin(2 * turn + 1) + 0.04 * turn / 6.28)
    ring = middle + swell[:, None] * np.column_stack([np.cos(turn), np.sin(turn)])
    return [*strokes, ring]


def _arrow(height_mm: float, rng: np.random.Generator) -> list[Floats]:
    long, way = height_mm * float(rng.uniform(1.0, 2.2)), float(rng.uniform(0, 2 * np.pi))
    ahead = np.array([np.cos(way), np.sin(way)])
    across = np.array([-ahead[1], ahead[0]])
    t = np.linspace(0, 1, 20)[:, None]
    shaft = t * long * ahead + 0.06 * long * np.sin(np.pi * t) * across
    barb = min(0.3 * long, 6.0)
    end = shaft[-1]
    head = np.array([end - barb * ahead + 0.6 * barb * across, end])
    other = np.array([end, end - barb * ahead - 0.6 * barb * across])
    return [shaft, head, other]
