"""Strokes of a pencil or pen, as a hand lays them."""

from dataclasses import dataclass

import numpy as np
from corner import Floats
from shapely import LineString


@dataclass(frozen=True)
class Ink:
    """What a stroke leaves: its reflectance (red, green, blue, linear), and how it takes.

    Attributes
    ----------
    grip : how much of it hangs on the paper's high spots; a felt pen soaks in evenly.
    """

    colour: tuple[float, float, float]
    grip: float = 1.0


GRAPHITE = Ink((0.16, 0.16, 0.16))
HARD = Ink((0.22, 0.22, 0.22), grip=1.3)  # 4H: faint, and skips the paper's hollows
FELT = Ink((0.03, 0.03, 0.04), grip=0.0)
BLUE_FELT = Ink((0.03, 0.06, 0.30), grip=0.0)
RED_PENCIL = Ink((0.45, 0.05, 0.05))
BLUE_PENCIL = Ink((0.06, 0.12, 0.42))


@dataclass(frozen=True)
class Stroke:
    """A stroke: (N, 2) points in mm, 0.25 mm apart; width (mm) and pressure (0 to 1).

    A broad stroke has its sharp side on the points and fades out over ``width`` to their left.
    Where a line crosses a lap the pencil runs on over the flap's edge, so it does not fade there.
    """

    points: Floats
    width: float
    pressure: float
    broad: bool = False
    fades: tuple[bool, bool] = (True, True)  # set down gently, lifted gently
    ink: Ink = GRAPHITE


def resample(points: Floats, step: float) -> Floats:
    """Points so many mm apart along a line, from end to end."""
    line = LineString(points)
    count = max(round(line.length / step), 1)
    return np.array(
        [line.interpolate(i / count, normalized=True).coords[0] for i in range(count + 1)]
    )


def by_hand(points: Floats, rng: np.random.Generator, amplitude: float = 0.15) -> Floats:
    """The line as a slightly shaky hand draws it: slow sideways drift, nothing faster."""
    points = resample(points, 0.25)
    along = np.arange(len(points)) * 0.25
    drift = np.zeros(len(points))
    for wavelength in rng.uniform(25, 120, 5):
        drift += np.sin(2 * np.pi * (along / wavelength + rng.random())) / np.sqrt(5)
    tangent = np.gradient(points, axis=0)
    tangent /= np.linalg.norm(tangent, axis=1, keepdims=True)
    normal = np.stack([-tangent[:, 1], tangent[:, 0]], axis=1)
    return np.asarray(points + amplitude * drift[:, None] * normal)


def in_pieces(stroke: Stroke, marks: list[tuple[float, float]]) -> list[Stroke]:
    """The parts of a stroke from and to so many mm along it: dashes, or what a skip leaves."""
    along = np.arange(len(stroke.points)) * 0.25
    parts = [stroke.points[(along >= a) & (along <= b)] for a, b in marks]
    return [
        Stroke(part, stroke.width, stroke.pressure, stroke.broad, stroke.fades, stroke.ink)
        for part in parts
        if len(part) > 4
    ]
