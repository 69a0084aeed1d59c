"""The pinned paper's flaps: where a point of the panel comes to lie on each."""

import numpy as np
from corner import Development, Floats
from scipy.interpolate import RegularGridInterpolator


class Flaps:
    """Where a point of the surface comes to lie on each flap of the pinned paper."""

    def __init__(self, development: Development, upper_is_next: tuple[bool, ...]) -> None:
        self.d = development
        self.upper_is_next = upper_is_next
        self.tucks = len(upper_is_next)
        begin, end = development.zone
        self.pitch = (end - begin) / self.tucks
        self.seams = begin + self.pitch * (np.arange(self.tucks) + 0.5)
        self.centres = np.concatenate(
            [[begin], begin + self.pitch * np.arange(1, self.tucks), [end]]
        )
        surface = np.array([development.lengths(v)[1] for v in development.v])
        self.surface = RegularGridInterpolator((development.v, development.s), surface)
        self.heading = np.concatenate(
            [[0], np.cumsum(development.curvature[1:] * np.diff(development.s))]
        )

    def flat_length(self, s: Floats, v: Floats) -> Floats:
        """Length along the flat paper's curve at depth v, up to s."""
        return np.asarray(s + v * np.interp(s, self.d.s, self.heading))

    def flat_place(self, length: Floats, v: Floats) -> Floats:
        """The inverse of flat_length at each depth."""
        length, v = np.broadcast_arrays(np.atleast_1d(length), np.atleast_1d(v))
        return np.array(
            [
                np.interp(a, self.d.s + b * self.heading, self.d.s)
                for a, b in zip(length, v, strict=True)
            ]
        )

    def place(self, flap: int, s: Floats, v: Floats) -> Floats:
        """Where on the flap's paper the surface point (s, v) is pinned."""
        middle = np.full_like(v, self.centres[flap])
        along = self.surface((v, s)) - self.surface((v, middle))
        return self.flat_place(self.flat_length(middle, v) + along, v)

    def lap(self, tuck: int, v: Floats) -> Floats:
        """Take-up of a tuck at depth v: flat less surface length between the flaps' centres."""
        v = np.atleast_1d(v)
        a, b = np.full_like(v, self.centres[tuck]), np.full_like(v, self.centres[tuck + 1])
        flat = self.flat_length(b, v) - self.flat_length(a, v)
        return np.asarray(flat - (self.surface((v, b)) - self.surface((v, a))))

    def chord(self, tuck: int, v: Floats) -> Floats:
        """The same as a straight distance on the flat paper, as a shaper would measure it."""
        v = np.atleast_1d(v)
        edge = self.d.flat(np.full_like(v, self.seams[tuck]), v)
        apart = self.d.flat(self.lap_place(tuck, v), v) - edge
        lap = self.lap(tuck, v)
        return np.asarray(np.where(lap > 0, np.linalg.norm(apart, axis=1), lap))

    def lap_place(self, tuck: int, v: Floats, share: float = 1.0) -> Floats:
        """Where the upper flap's edge lay on the lower flap, as s on the lower flap's paper."""
        v = np.atleast_1d(v)
        sign = -1.0 if self.upper_is_next[tuck] else 1.0
        seam = np.full_like(v, self.seams[tuck])
        lap = np.maximum(self.lap(tuck, v), 0.0)  # where the paper is short the slit opens
        return self.flat_place(self.flat_length(seam, v) + sign * share * lap, v)

    def visible(self, flap: int, s: Floats, v: Floats) -> Floats:
        """Pinned places of the surface points (s, v) on the flap's open side, covered ones cut."""
        at = self.place(flap, s, v)
        low, high = np.full_like(at, -np.inf), np.full_like(at, np.inf)
        if flap > 0:
            upper = self.upper_is_next[flap - 1]
            low = np.full_like(at, self.seams[flap - 1]) if upper else self.lap_place(flap - 1, v)
        if flap < self.tucks:
            lower = self.upper_is_next[flap]
            high = self.lap_place(flap, v) if lower else np.full_like(at, self.seams[flap])
        points = self.d.flat(at, v)
        first, last = np.flatnonzero((at >= low) & (at <= high))[[0, -1]]
        pieces = [points[first : last + 1]]
        for inside, outside, bound in ((first, first - 1, low), (last, last + 1, high)):
            if 0 <= outside < len(at):
                a, b = at[inside] - bound[inside], at[outside] - bound[outside]
                end = points[inside] + a / (a - b) * (points[outside] - points[inside])
                pieces.insert(0 if outside < inside else len(pieces), end[None])
        return np.concatenate(pieces)
