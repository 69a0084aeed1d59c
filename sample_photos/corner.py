"""The demo panel: a vintage caravan's rear roof corner, and the paper pattern taken off it.

The panel is a surface whose every length is known. A curve C runs along the flat roof where the
bend starts; in plan it is straight, turns through the corner with a curvature that grows and
fades smoothly, and is straight again. Square to C the roof rolls down through an arc whose
radius grows along the bend, then goes on straight down the wall:

    P(s, p) = C(s) + r(s) * (a(p) * n(s) - b(p) * z)

with a = sin p, b = 1 - cos p on the arc. Paper pinned over it follows the geodesics square to C
(found by integrating Hamilton's equations of the surface's own metric), and lies on the surface
without strain along them. Across them the flat paper is longer than the surface: the excess is
what the tucks take up. See do Carmo, Differential Geometry of Curves and Surfaces (1976),
section 4-6, for geodesic coordinates and Gauss's lemma.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.integrate import cumulative_trapezoid
from scipy.interpolate import RegularGridInterpolator
from scipy.spatial import KDTree

Floats = NDArray[np.float64]

BEND_TURN = np.radians(75.0)
WALL, MARGIN = 24.0, 28.0
STEP = 0.5
FORM_STRIDE = 20  # steps


@dataclass(frozen=True)
class Panel:
    """Sizes of a roof corner, in mm and radians; as they stand, those of the demo panel.

    Attributes
    ----------
    width, height : of the paper.
    corner_turn, corner_radius, ramp : how far the corner turns in plan, how tightly in its middle,
        and over what length its curvature grows and fades.
    radii : of the bend, where the corner begins and where it ends.
    after : length of the straight that follows the corner.
    bend_turn, wall : how far the roof rolls down, and how far it goes on to the trim edge.
    """

    width: float = 900.0
    height: float = 650.0
    corner_turn: float = float(np.radians(80.0))
    corner_radius: float = 240.0
    ramp: float = 80.0
    radii: tuple[float, float] = (60.0, 100.0)
    after: float = 420.0
    bend_turn: float = BEND_TURN
    wall: float = WALL


DEMO = Panel()


def _smooth_step(x: Floats) -> Floats:
    x = np.clip(x, 0, 1)
    return np.asarray(x * x * (3 - 2 * x))


def _profile(p: Floats, turn: float) -> tuple[Floats, Floats, Floats, Floats]:
    """The section in units of the radius: a, b and their derivatives by p."""
    arc = np.minimum(p, turn)
    rest = np.maximum(p - turn, 0)
    cos, sin = np.cos(arc), np.sin(arc)
    return sin + rest * cos, 1 - cos + rest * sin, cos, sin


@dataclass(frozen=True)
class Development:
    """The surface in geodesic coordinates: s along C (columns), v square to it (rows).

    Attributes
    ----------
    width, height : of the paper, mm.
    wall : how far the trim edge lies beyond the bend's end.
    s, v : grid, mm.
    start : (S, 2) the curve C on the flat paper; outward : (S, 2) its unit normal.
    curvature : (S,) of C.
    stretch : (V, S) length on the surface per length along C at depth v.
    end_depth : (S,) depth at which the bend's radius ends.
    radius : (S,) of the bend.
    zone : s at which the corner begins and ends.
    places : (V, S, 3) the surface in space, C on the plane z = 0, proud upwards; None where it has
        none that is known.
    """

    width: float
    height: float
    wall: float
    s: Floats
    v: Floats
    start: Floats
    outward: Floats
    curvature: Floats
    stretch: Floats
    end_depth: Floats
    radius: Floats
    zone: tuple[float, float]
    places: Floats | None = None

    def flat(self, s: Floats, v: Floats) -> Floats:
        """(N, 2) the flat paper's point at (s, v)."""
        x = np.interp(s, self.s, self.start[:, 0]) + v * np.interp(s, self.s, self.outward[:, 0])
        y = np.interp(s, self.s, self.start[:, 1]) + v * np.interp(s, self.s, self.outward[:, 1])
        return np.stack([x, y], axis=-1)

    def trim_depth(self, s: Floats) -> Floats:
        """Depth of the trim edge."""
        return np.asarray(np.interp(s, self.s, self.end_depth) + self.wall)

    def lengths(self, depth: float) -> tuple[Floats, Floats]:
        """(S,) running lengths along C's offset at ``depth``: on flat paper, on the surface."""
        row = min(round(depth / STEP), len(self.v) - 1)
        flat = cumulative_trapezoid(1 + self.curvature * depth, self.s, initial=0)
        surface = cumulative_trapezoid(self.stretch[row], self.s, initial=0)
        return flat, surface

    def total_curvature(self) -> float:
        """Of the surface inside the trim edge of the zone, radians (Gauss-Bonnet)."""
        rate = np.gradient(self.stretch, self.v, axis=0)
        at = RegularGridInterpolator((self.v, self.s), rate)
        begin, end = self.zone
        s = np.linspace(begin, end, 2000)
        turning = np.interp(s, self.s, self.curvature) - at((self.trim_depth(s), s))
        return float(np.trapezoid(turning, s))

    def shrink(self) -> Floats:
        """(N, 3) places on the flat paper in the zone, and what the metal has to shrink there."""
        begin, end = self.zone
        s, v = np.meshgrid(np.linspace(begin, end, 40), self.v[::16])
        s, v = s.ravel(), v.ravel()
        inside = v < self.trim_depth(s)
        s, v = s[inside], v[inside]
        stretch = RegularGridInterpolator((self.v, self.s), self.stretch)((v, s))
        flat = 1 + v * np.interp(s, self.s, self.curvature)
        return np.column_stack([self.flat(s, v), 1 - stretch / flat])

    def form(self) -> Floats:
        """(N, 5) places on the flat paper inside the trim edge, and theirs in space."""
        if self.places is None:
            return np.zeros((0, 5))
        row, column = (
            k.ravel()
            for k in np.meshgrid(
                np.arange(0, len(self.v), FORM_STRIDE), np.arange(0, len(self.s), FORM_STRIDE)
            )
        )
        s, v = self.s[column], self.v[row]
        bent = np.column_stack([self.flat(s, v), self.places[row, column]])
        bent = bent[v < self.trim_depth(s)]
        if self.wall == 0.0:  # round panels have no roof
            return bent
        s = self.s[::FORM_STRIDE]
        inner = [self.flat(s, np.full_like(s, -depth)) for depth in np.arange(25.0, 400.0, 25.0)]
        roof = np.concatenate(inner)
        away, _ = KDTree(self.start).query(roof)
        roof = roof[away > np.repeat(np.arange(25.0, 400.0, 25.0), len(s)) - 0.1]
        return np.concatenate([bent, np.column_stack([roof, roof, np.zeros(len(roof))])])

    def radii(self) -> Floats:
        """(N, 3) places where the bend starts on the flat paper, and its radius there."""
        if self.wall == 0.0:
            return np.zeros((0, 3))
        return np.column_stack([self.start, self.radius])[::FORM_STRIDE]


def develop(panel: Panel = DEMO) -> Development:
    """Develop a panel's bend onto flat paper."""
    turning_length = panel.corner_turn * panel.corner_radius  # area under the trapezium
    corner = turning_length + panel.ramp
    depth_bottom, depth_right = (
        panel.bend_turn * radius + panel.wall + MARGIN for radius in panel.radii
    )

    def curvature_at(u: Floats) -> Floats:
        rise = _smooth_step(u / panel.ramp)
        fall = _smooth_step((corner - u) / panel.ramp)
        return np.asarray(np.minimum(rise, fall) / panel.corner_radius)

    # Plan of the corner first, to learn how far it reaches; then the straights before and after.
    u = np.arange(0, corner, STEP)
    heading = cumulative_trapezoid(curvature_at(u), u, initial=0)
    reach_x = np.trapezoid(np.cos(heading), u)
    before = panel.width - depth_right - reach_x - 66.0
    s = np.arange(0, before + corner + panel.after, STEP)
    curvature = np.where((s > before) & (s < before + corner), curvature_at(s - before), 0.0)
    heading = cumulative_trapezoid(curvature, s, initial=0)
    start = np.stack(
        [
            cumulative_trapezoid(np.cos(heading), s, initial=0),
            depth_bottom + cumulative_trapezoid(np.sin(heading), s, initial=0),
        ],
        axis=-1,
    )
    outward = np.stack([np.sin(heading), -np.cos(heading)], axis=-1)

    def radius_at(position: Floats) -> Floats:
        first, last = panel.radii
        return first + (last - first) * _smooth_step((position - before) / corner)

    def energy(q: Floats) -> Floats:
        """Half the squared speed, from position (s, p) and momentum: the Hamiltonian."""
        position, p, momentum_s, momentum_p = q
        bend = radius_at(position)
        slope = (radius_at(position + 0.01) - radius_at(position - 0.01)) / 0.02
        kappa = np.interp(position, s, curvature)
        a, b, da, db = _profile(p, panel.bend_turn)
        e = (1 + kappa * bend * a) ** 2 + slope**2 * (a * a + b * b)
        f = bend * slope * (a * da + b * db)
        g = bend**2
        return np.asarray(
            0.5
            * (g * momentum_s**2 - 2 * f * momentum_s * momentum_p + e * momentum_p**2)
            / (e * g - f * f)
        )

    def flow(q: Floats) -> Floats:
        rate = np.empty_like(q)
        for axis, size in enumerate((1e-3, 1e-5, 1e-5, 1e-3)):
            step = np.zeros((4, 1))
            step[axis] = size
            rate[axis] = (energy(q + step) - energy(q - step)) / (2 * size)
        return np.stack([rate[2], rate[3], -rate[0], -rate[1]])

    def place(q: Floats) -> Floats:
        position, p = q[0], q[1]
        bend = radius_at(position)
        a, b, _, _ = _profile(p, panel.bend_turn)
        x = np.interp(position, s, start[:, 0]) + bend * a * np.interp(position, s, outward[:, 0])
        y = np.interp(position, s, start[:, 1]) + bend * a * np.interp(position, s, outward[:, 1])
        return np.stack([x, y, -bend * b], axis=-1)

    v = np.arange(0, max(depth_bottom, depth_right) + 30.0, STEP)
    q = np.stack([s, np.zeros_like(s), np.zeros_like(s), radius_at(s)])
    stretch = np.ones((len(v), len(s)))
    angles = np.zeros((len(v), len(s)))
    places = np.empty((len(v), len(s), 3))
    places[0] = place(q)
    for row in range(1, len(v)):
        k1 = flow(q)
        k2 = flow(q + STEP / 2 * k1)
        k3 = flow(q + STEP / 2 * k2)
        k4 = flow(q + STEP * k3)
        q = q + STEP / 6 * (k1 + 2 * k2 + 2 * k3 + k4)
        # Gauss's lemma: neighbouring geodesics stay square to the curves of equal depth.
        places[row] = place(q)
        stretch[row] = np.linalg.norm(np.gradient(places[row], s, axis=0), axis=1)
        angles[row] = q[1]
    end_depth = np.array(
        [np.interp(panel.bend_turn, angles[:, column], v) for column in range(len(s))]
    )
    return Development(
        panel.width,
        panel.height,
        panel.wall,
        s,
        v,
        start,
        outward,
        curvature,
        stretch,
        end_depth,
        radius_at(s),
        (before, before + corner),
        places,
    )
