"""Ridges to strokes: following each line's crest from pixel to pixel.

A stroke is followed in its own direction, so that at a crossing it goes straight on: there the
other line hides it for a millimetre or two, and the tracer coasts along the curve it has seen so
far. It stops where nothing continues it.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from digitize.pencil.ridges import RidgeMap

Floats = NDArray[np.float64]
# Strengths in units of the noise on blank paper. A faint stroke is believed when it is long.
START_NOISE = 6.0
FOLLOW_NOISE = 4.0
PLAIN_NOISE = 10.0
FAINT_NOISE = 5.0
FAINT_LENGTH_MM = 30.0
COAST_MM = 2.1
TURN_LIMIT = np.radians(24.0)
TANGENT_MM = 3.0
SHORTEST_MM = 3.0
CLAIM_MM = 0.6


@dataclass(frozen=True)
class Stroke:
    """A traced line: (N, 2) points in raster pixels (column, row), about one pixel apart."""

    points: Floats
    closed: bool = False


class _Tracer:
    """Follows crests and remembers which pixels are taken."""

    def __init__(self, ridges: RidgeMap, mm_per_px: float) -> None:
        self.blank = ridges.blank
        self.noise = ridges.noise
        self.strength = ridges.strength
        self.direction = ridges.direction
        self.start = self.blank + START_NOISE * ridges.noise
        self.follow = self.blank + FOLLOW_NOISE * ridges.noise
        self.mm_per_px = mm_per_px
        self.coast = int(COAST_MM / mm_per_px)
        self.tangent = int(TANGENT_MM / mm_per_px)
        self.taken = np.full(ridges.strength.shape, -1.0, np.float32)
        self.claim = max(round(CLAIM_MM / mm_per_px), 1)
        self.rows, self.columns = ridges.strength.shape

    def trace_from(self, column: int, row: int) -> Stroke | None:
        angle = float(self.direction[row, column])
        if self._is_taken(column, row, angle):
            return None
        begin = np.array([float(column), float(row)])
        ahead = np.array([np.cos(angle), np.sin(angle)])
        forward = self._walk(begin, ahead, [])
        backward = self._walk(begin, -ahead, [begin, *forward][: self.tangent][::-1])
        points = np.array([*backward[::-1], begin, *forward])
        length = len(points) * self.mm_per_px
        at = np.round(points).astype(int)
        excess = (float(self.strength[at[:, 1], at[:, 0]].mean()) - self.blank) / self.noise
        faint = excess < FAINT_NOISE or (excess < PLAIN_NOISE and length < FAINT_LENGTH_MM)
        if length < SHORTEST_MM or faint:
            return None
        self._take(points)
        gap = float(np.linalg.norm(points[0] - points[-1])) * self.mm_per_px
        closed = gap < 1.5 * COAST_MM and len(points) * self.mm_per_px > 60
        return Stroke(points, closed)

    def _walk(self, begin: Floats, ahead: Floats, before: list[Floats]) -> list[Floats]:
        points: list[Floats] = []
        trail = [*before, begin]
        at, coasted, followed_taken = begin, 0, 0
        while True:
            best = self._look(at, ahead)
            if best is None:
                at = at + ahead
                coasted += 1
                if coasted > self.coast or not self._inside(at):
                    return points[: len(points) - coasted + 1]
            else:
                at, coasted = best, 0
                angle = float(np.arctan2(ahead[1], ahead[0]))
                taken = self._is_taken(round(at[0]), round(at[1]), angle)
                followed_taken = followed_taken + 1 if taken else 0
                if followed_taken > 3:
                    return points[:-2]
            points.append(at)
            trail.append(at)
            if len(points) > 200_000:
                return points
            if coasted == 0:
                reach = min(len(trail) - 1, self.tangent)
                if reach >= 4:
                    ahead = trail[-1] - trail[-1 - reach]
                    # The chord lags the tangent on a curve; the last part leads it back.
                    half = trail[-1] - trail[-1 - reach // 2]
                    ahead = half / np.linalg.norm(half) * 1.5 - ahead / np.linalg.norm(ahead) * 0.5
                    ahead = ahead / np.linalg.norm(ahead)
            if len(points) > 80 and np.linalg.norm(at - begin) < 1.0 and not before:
                return points  # round once: a closed line

    def _inside(self, at: Floats) -> bool:
        return bool(2 < at[0] < self.columns - 3 and 2 < at[1] < self.rows - 3)

    def _look(self, at: Floats, ahead: Floats) -> Floats | None:
        """The crest one pixel ahead, to a fraction of a pixel, or None."""
        target = at + ahead
        if not self._inside(target):
            return None
        across = np.array([-ahead[1], ahead[0]])
        heading = float(np.arctan2(ahead[1], ahead[0]))
        offsets = (-1.0, -0.5, 0.0, 0.5, 1.0)
        values = [self._strength_at(target + offset * across, heading) for offset in offsets]
        index = int(np.argmax(values))
        if values[index] < self.follow:
            return None
        offset = offsets[index]
        if 0 < index < len(offsets) - 1:
            low, mid, high = values[index - 1 : index + 2]
            bend = low - 2 * mid + high
            if bend < 0:
                offset += 0.25 * (low - high) / bend
        return np.asarray(target + offset * across)

    def _strength_at(self, at: Floats, heading: float) -> float:
        column, row = int(at[0]), int(at[1])
        near_column, near_row = int(at[0] + 0.5), int(at[1] + 0.5)
        turn = (
            float(self.direction[near_row, near_column]) - heading + np.pi / 2
        ) % np.pi - np.pi / 2
        if abs(turn) > TURN_LIMIT:
            return 0.0
        fx, fy = at[0] - column, at[1] - row
        s = self.strength
        return float(
            (s[row, column] * (1 - fx) + s[row, column + 1] * fx) * (1 - fy)
            + (s[row + 1, column] * (1 - fx) + s[row + 1, column + 1] * fx) * fy
        )

    def _is_taken(self, column: int, row: int, angle: float) -> bool:
        held = float(self.taken[row, column])
        return held >= 0 and abs((held - angle + np.pi / 2) % np.pi - np.pi / 2) < TURN_LIMIT

    def _take(self, points: Floats) -> None:
        tangent = np.gradient(points, axis=0)
        angles = np.arctan2(tangent[:, 1], tangent[:, 0]) % np.pi
        normal = np.stack([-np.sin(angles), np.cos(angles)], axis=1)
        for offset in np.arange(-self.claim, self.claim + 0.1, 0.5):
            at = np.round(points + offset * normal).astype(int)
            inside = ((at >= 0) & (at < [self.columns, self.rows])).all(axis=1)
            self.taken[at[inside, 1], at[inside, 0]] = angles[inside]


def trace_strokes(ridges: RidgeMap, mm_per_px: float) -> tuple[Stroke, ...]:
    """All strokes in a ridge map, strongest first."""
    tracer = _Tracer(ridges, mm_per_px)
    rows, columns = np.nonzero(ridges.crest & (ridges.strength > tracer.start))
    inside = (rows > 3) & (rows < tracer.rows - 4) & (columns > 3) & (columns < tracer.columns - 4)
    rows, columns = rows[inside], columns[inside]
    order = np.argsort(-ridges.strength[rows, columns], kind="stable")
    strokes = (tracer.trace_from(int(columns[i]), int(rows[i])) for i in order)
    return tuple(stroke for stroke in strokes if stroke is not None)
