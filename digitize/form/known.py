"""What a record tells of its panel's shape.

Lengths are the paper's, less the smooth field of take-up. Across a band the curvature is 1 / radius
where its radius was told; along it, and beyond it where the metal shrinks, it is what the start's
own curving says, and as open as that is large: the lengths decide. Where metal shrinks and no band
is, it is taken for a surface of revolution if its tucks stand all round, and else to bulge alike in
all directions with the curvature of the zone's laps; that is as open too. All else is plain.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import KDTree
from shapely import Polygon, contains_xy

from digitize.form.marks import carrier_of
from digitize.form.metric import Form, TakenUp, form_along, metric_of, of_vectors, taken_up
from digitize.form.rounds import round_bend
from digitize.form.shape import Shape
from digitize.form.strips import Placed, Strip, beside, foretold_by, strips_of
from digitize.record import Pattern
from digitize.take_up import Fan, shrink_fields, zones_and_fans

Floats = NDArray[np.float64]
PLAIN_PER_MM = 1e-4  # a flat that is as much as 10 m round is flat
RADIUS_SHARE = 0.03  # by which a gauge held to the metal misses its radius
DOME_OFF, ROUND_OFF = 0.5, 0.04  # of the curvature taken of a zone without a band
OPEN_PER_MM = 0.02  # the curvature of a bend whose radius was not told
STRAIN = 5e-4  # of the paper, and of marks on it
TAKE_UP_STRAIN = 3e-3  # a lap's fifth of a mm over the tens of mm that it is spread over


@dataclass(frozen=True)
class Dome:
    """Where metal shrinks and no band is.

    Attributes
    ----------
    inside : the zone with what it closes round.
    bend : its second form: of a surface of revolution where the tucks stand all round, and else of
        a sphere.
    open_by : by how much lengths may move its curvatures, 1 / mm: as large as those of the sphere.
    off_by : what its curvatures are off by, 1 / mm: less, if it is one of revolution.
    """

    inside: Polygon
    bend: Form
    open_by: float
    off_by: float


@dataclass(frozen=True)
class _Bends:
    """What is known of the second form, by strips and domes."""

    strips: tuple[Strip, ...]
    domes: tuple[Dome, ...]
    metric: Form

    def placed(self, places: Floats) -> tuple[Placed, NDArray[np.bool_]]:
        """Beside the strip that each place belongs to; and whether it lies on a bend's side."""
        return beside(self.strips, places)[:2]

    def bend(self, places: Floats) -> Floats:
        """(N, 3) the second form."""
        metric = self.metric(places)
        whole = np.zeros((len(places), 3))
        free = np.ones(len(places), dtype=bool)
        if self.strips:
            at, of_a_bend = self.placed(places)
            free = ~of_a_bend
            within = of_a_bend & (at.depth < at.width) & np.isfinite(at.radius)
            along = np.column_stack([-at.out[:, 1], at.out[:, 0]])
            across = np.where(within, 1 / at.radius, 0.0)
            turned = np.where(of_a_bend & np.isfinite(at.radius), at.turned, 0.0)
            # k sin p / G, per square of the paper's length there, which is 1 + v k times the
            # start's: the metal's is G times.
            flat = np.maximum(1 + at.curving * at.depth, 0.1)
            round_ = at.curving * np.sin(turned) * np.sqrt(of_vectors(metric, along, along)) / flat
            for size, way in ((across, at.out), (np.where(of_a_bend, round_, 0.0), along)):
                whole += form_along(way, size)
        for dome in self.domes:
            here = free & contains_xy(dome.inside, places[:, 0], places[:, 1])
            whole[here] += dome.bend(places[here])
        return whole

    def across(self, places: Floats) -> Floats:
        """(N, 2) the way across."""
        if not self.strips:
            return np.tile([1.0, 0.0], (len(places), 1))
        return self.placed(places)[0].out

    def sigma(self, places: Floats) -> Floats:
        """(N, 3) what curvature across, twist and curvature along may be off by."""
        found = np.full((len(places), 3), PLAIN_PER_MM)
        free = np.ones(len(places), dtype=bool)
        if self.strips:
            at, of_a_bend = self.placed(places)
            free = ~of_a_bend
            within = of_a_bend & (at.depth < at.width)
            told = np.where(np.isfinite(at.radius), RADIUS_SHARE / at.radius, OPEN_PER_MM)
            found[:, 0] = np.where(within, np.hypot(told, PLAIN_PER_MM), PLAIN_PER_MM)
            found[of_a_bend, 1:] += at.curved[of_a_bend, None]
        for dome in self.domes:
            here = free & contains_xy(dome.inside, places[:, 0], places[:, 1])
            found[here] = np.maximum(found[here], dome.open_by)
        return found


@dataclass(frozen=True)
class Known:
    """What a record tells of its panel.

    Attributes
    ----------
    shape : at any place.
    strips : beside each radius start; metal : where each zone's tucks take up; domes.
    carried : marks (N, 2) of the flat paper to where they lie on the net's.
    """

    shape: Shape
    strips: tuple[Strip, ...]
    metal: tuple[TakenUp, ...]
    domes: tuple[Dome, ...]
    carried: Callable[[Floats], Floats]


def shape_of(pattern: Pattern) -> Shape:
    """What a record tells of its panel's shape."""
    return known_of(pattern).shape


def known_of(pattern: Pattern) -> Known:
    """What a record tells of its panel, by its parts."""
    fans, strips = zones_and_fans(pattern), strips_of(pattern)
    metal = tuple(taken_up(fan, foretold_by(strips)) for _, fan in fans)
    metric = metric_of(metal)
    domes = tuple(
        dome_of(fan, zone.curvature.laps_deg, metric) for zone, fan in fans if zone.curvature
    )
    bends = _Bends(strips, domes, metric)

    def strain(places: Floats) -> Floats:
        taken = np.abs(metric(places) - [1.0, 0.0, 1.0]).max(axis=1) > 0
        return np.asarray(np.where(taken, TAKE_UP_STRAIN, STRAIN))

    shape = Shape(metric, bends.bend, bends.across, strain, bends.sigma)
    return Known(shape, strips, metal, domes, carrier_of(metal))


def dome_of(fan: Fan, turned_deg: float, metric: Form) -> Dome:
    """What is taken of a zone with that total curvature, where no band is."""
    inner, outer = (fan.row(depths) for depths in (fan.tips, fan.trims))
    inside = Polygon(outer if fan.closed else np.concatenate([inner, outer[::-1]])).buffer(0)
    mean = math.radians(turned_deg) / inside.area
    if fan.closed:
        bend = round_bend(fan)
    else:

        def bend(places: Floats) -> Floats:
            return math.sqrt(max(mean, 0.0)) * metric(places)

    open_by = math.sqrt(abs(mean)) + PLAIN_PER_MM
    return Dome(inside, bend, open_by, (ROUND_OFF if fan.closed else DOME_OFF) * open_by)


def curved_parts(pattern: Pattern) -> Form:
    """How far places (N, 2) lie from where the panel bends or shrinks, mm."""
    strips = strips_of(pattern)
    rows = [field.places.reshape(-1, 2) for field in shrink_fields(zones_and_fans(pattern))]
    tree = KDTree(np.concatenate(rows)) if rows else None

    def away(places: Floats) -> Floats:
        found = np.full(len(places), np.inf)
        for strip in strips:
            at = strip.placed(places)
            found = np.minimum(found, np.maximum(-at.depth, at.depth - at.width))
        if tree is not None:
            found = np.minimum(found, tree.query(places)[0])
        return np.asarray(np.maximum(found, 0.0))

    return away
