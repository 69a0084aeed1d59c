"""Surfaces known exactly: their forms on a paper, and where its places come to lie."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.spatial.transform import Rotation
from shapely import Point, Polygon, box

from digitize.form.shape import Shape

Floats = NDArray[np.float64]
SURE_PER_MM = 1e-4
SURE_STRAIN = 1e-3


@dataclass(frozen=True)
class Exact:
    """A surface; ``places`` carries (N, 2) on the paper to (N, 3), with the marked face up."""

    inside: Polygon
    shape: Shape
    places: Callable[[Floats], Floats]


def shape_of(metric, bend, across=None, open_along=None):
    """What is known exactly; with ``open_along``, the twist and what runs along only so well."""

    def sigma(places):
        found = np.full((len(places), 3), SURE_PER_MM)
        if open_along is not None:
            found[:, 1:] = open_along
        return found

    return Shape(
        metric=metric,
        bend=bend,
        across=across or (lambda p: np.tile([1.0, 0.0], (len(p), 1))),
        strain_sigma=lambda p: np.full(len(p), SURE_STRAIN),
        bend_sigma=sigma,
    )


def as_paper(places):
    return np.tile([1.0, 0.0, 1.0], (len(places), 1))


def polar(places):
    """Distance from the origin, and unit vectors outwards and counter-clockwise."""
    r = np.maximum(np.linalg.norm(places, axis=1), 1e-9)
    out = places / r[:, None]
    return r, out, np.column_stack([-out[:, 1], out[:, 0]])


def form(one, two, first, second):
    """The form that is ``first`` along unit vectors ``one``, and ``second`` along ``two``."""
    parts = [
        value[:, None] * np.column_stack([v[:, 0] ** 2, v[:, 0] * v[:, 1], v[:, 1] ** 2])
        for value, v in ((first, one), (second, two))
    ]
    return parts[0] + parts[1]


def flat():
    return Exact(
        box(0, 0, 300, 200),
        shape_of(as_paper, lambda p: np.zeros((len(p), 3))),
        lambda p: np.column_stack([p, np.zeros(len(p))]),
    )


def cylinder(radius):
    return Exact(
        box(0, 0, 300, 200),
        shape_of(as_paper, lambda p: np.tile([1 / radius, 0.0, 0.0], (len(p), 1))),
        lambda p: np.column_stack(
            [radius * np.sin(p[:, 0] / radius), p[:, 1], radius * np.cos(p[:, 0] / radius)]
        ),
    )


def cone(half_apex):
    """Rolled from a sector of paper about the origin: nothing shrinks, and rulings run outwards."""
    sin, cos = np.sin(half_apex), np.cos(half_apex)
    turn = np.linspace(-0.7, 0.7, 60)
    ring = np.column_stack([np.cos(turn), np.sin(turn)])

    def bend(p):
        r, out, round_ = polar(p)
        return form(out, round_, np.zeros(len(p)), cos / sin / r)

    def places(p):
        r, angle = np.linalg.norm(p, axis=1), np.arctan2(p[:, 1], p[:, 0]) / sin
        return np.column_stack([r * sin * np.cos(angle), r * sin * np.sin(angle), -r * cos])

    return Exact(
        Polygon(np.concatenate([100 * ring, 320 * ring[::-1]])),
        shape_of(as_paper, bend, lambda p: polar(p)[2]),
        places,
    )


def sphere(radius, reach):
    """A cap in geodesic polar coordinates about its pole."""

    def metric(p):
        r, out, round_ = polar(p)
        return form(out, round_, np.ones(len(p)), (radius * np.sin(r / radius) / r) ** 2)

    def places(p):
        r, out, _ = polar(p)
        up = radius * np.cos(r / radius)
        return np.column_stack([radius * np.sin(r / radius)[:, None] * out, up])

    return Exact(
        Point(0, 0).buffer(reach, 64), shape_of(metric, lambda p: metric(p) / radius), places
    )


def torus_corner(middle, tube, open_along=None):
    """A flat roof that rolls down all along an arc about the origin, as the outside of a torus."""
    turn = np.linspace(-0.6, 0.6, 60)
    ring = np.column_stack([np.cos(turn), np.sin(turn)])
    most = 1.3 * tube

    def rolled(p):
        r, out, round_ = polar(p)
        down = np.clip((r - middle) / tube, 0.0, None)
        return r, out, round_, down, np.where(down > 0, middle + tube * np.sin(down), r)

    def metric(p):
        r, out, round_, _, at = rolled(p)
        return form(out, round_, np.ones(len(p)), (at / r) ** 2)

    def bend(p):
        r, out, round_, down, at = rolled(p)
        return form(out, round_, np.where(down > 0, 1 / tube, 0), np.sin(down) * at / r**2)

    def places(p):
        _, out, _, down, at = rolled(p)
        return np.column_stack([at[:, None] * out, -tube * (1 - np.cos(down))])

    return Exact(
        Polygon(np.concatenate([(middle - 60) * ring, (middle + most) * ring[::-1]])),
        shape_of(metric, bend, lambda p: polar(p)[1], open_along),
        places,
    )


def soap_film(size, twisted):
    """A helicoid, or else a catenoid, of the same lengths; twisted is the helicoid."""

    def metric(p):
        return as_paper(p) * np.cosh(p[:, 1] / size)[:, None] ** 2

    def bend(p):
        parts = [0.0, 1 / size, 0.0] if twisted else [1 / size, 0.0, -1 / size]
        return np.tile(parts, (len(p), 1))

    def helicoid(p):
        u, w = p.T / size
        return size * np.column_stack([np.sinh(w) * np.cos(u), np.sinh(w) * np.sin(u), -u])

    def catenoid(p):
        u, w = p.T / size
        return size * np.column_stack([np.cosh(w) * np.cos(u), np.cosh(w) * np.sin(u), w])

    inside = box(-0.9 * size, -0.7 * size, 0.9 * size, 0.7 * size)
    return Exact(inside, shape_of(metric, bend), helicoid if twisted else catenoid)


def off_by(found, true):
    """(N,) distances of points found from true ones, once laid on them (never mirrored)."""
    one, two = found - found.mean(axis=0), true - true.mean(axis=0)
    turn, _ = Rotation.align_vectors(two, one)
    return np.linalg.norm(turn.apply(one) - two, axis=1)


def rms(values):
    return float(np.sqrt(np.mean(np.square(values))))
