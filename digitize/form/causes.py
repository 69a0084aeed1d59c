"""What a form may be off by, cause by cause: each told radius, each lap, each line, and the rest.

Every cause is a change, of one sigma, of the lengths and curvatures wanted. Radii and laps are
taken one by one; a lap by the few courses that its covariance is made of. What is known of no
place by itself (the metal between two tucks, a plain part that is not quite flat, curvature along
a bend) is taken as fields that vary slowly over the paper, of which some are drawn: sums of waves
whose lengths give a correlation of exp(-d^2 / 2 l^2) (A. Rahimi and B. Recht, "Random features for
large-scale kernel machines", NIPS 2007).

Between two places where it was told, a radius is taken straight on from one to the other. What is
known there is that it changes by so much on the way, and hardly where: half way it is likeliest to
be half way, and none that is not between the two (a triangle, of a sixth of half the change's
square; JCGM 100:2008, Guide to the expression of uncertainty in measurement, 4.3.9). So it strays
from the straight as a bridge of Brownian motion does, of variance x (1 - x) / 6 of the change's
square at a share x of the way; beyond the last place it strays on as fast, untied. The courses are
K. Karhunen and M. Loeve's: sin(k pi x), of sigma sqrt(2) / (k pi) for a variance of x (1 - x);
untied with k - 1/2 for k.
"""

import itertools
import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import LinearNDInterpolator
from shapely import contains_xy

from digitize.form.bending import hinged
from digitize.form.known import OPEN_PER_MM, RADIUS_SHARE, STRAIN, Known
from digitize.form.mesh import Mesh
from digitize.form.metric import TakenUp, form_along, of_vectors
from digitize.form.solve import Problem
from digitize.form.strips import Placed, Strip, beside
from digitize.plane import running_length
from digitize.record import Pattern, RadiusAt

Floats = NDArray[np.float64]
Kind = Literal["radius", "between", "width", "no-radius", "lap", "scale", "field"]
COURSES_SHARE = 0.99  # of a lap's variance that is carried on
KNOT_MM = 60.0  # along a bend: a pencil line's error, or an untold radius, is another so far on
BRIDGES = 3  # courses of a radius between two told: nine tenths of its variance
FIELDS, WAVES = 60, 24
FIELD_MM = 40.0  # half way from tuck to tuck
FORETOLD_SHARE, PLAIN_SHARE = 0.06, 0.12  # of the shrink, that it is off by between tucks
FLAT_PER_MM = 2e-5  # a plain part may be 50 m round, unseen
ALONG_SHARE = 0.2  # of how open curvature along a bend is, that it is off by
NORMAL_95 = 1.96


@dataclass(frozen=True)
class Cause:
    """One thing that may be off, by one sigma.

    Attributes
    ----------
    of : the id of its band, tuck or nothing.
    at : how far along a band's radius start, mm.
    strains : (E,) by how much the net's edges would be longer, over their lengths.
    turns : (H,) by how much the turns at its hinges would be larger, radians.
    """

    kind: Kind
    of: str
    at: float
    strains: Floats
    turns: Floats


def causes_of(pattern: Pattern, known: Known, problem: Problem) -> tuple[Cause, ...]:
    """All that a record's form may be off by."""
    mesh, over = problem.mesh, hinged(problem.mesh)

    def turns(bend: Floats) -> Floats:
        return np.asarray((problem.parts * (over.mean @ bend)).sum(axis=1))

    found: list[Cause] = []
    lying = _Lying.of(known.strips, over.places) if known.strips else None
    if lying:
        for number, strip in enumerate(known.strips):
            found += _of_band(pattern, strip, lying, number, turns, len(mesh.edges))
    fans = [zone.tucks for zone in pattern.zones]
    for tucks, part in zip(fans, known.metal, strict=True):
        found += _of_laps(tucks, part, known, mesh)
    if pattern.scale is not None:
        found.append(_of_scale(pattern, mesh))
    return (*found, *_fields(known, problem))


@dataclass(frozen=True)
class _Lying:
    """Places beside strips: whether on a bend's side, and (N,) the strip that each belongs to."""

    at: Placed
    of_a_bend: NDArray[np.bool_]
    own: NDArray[np.int64]

    @classmethod
    def of(cls, strips: Sequence[Strip], places: Floats) -> "_Lying":
        return cls(*beside(strips, places))


def _of_band(
    pattern: Pattern,
    strip: Strip,
    lying: _Lying,
    number: int,
    turns: Callable[[Floats], Floats],
    edges: int,
) -> Iterator[Cause]:
    at, here, none = lying.at, lying.of_a_bend & (lying.own == number), np.zeros(edges)
    band = next(each for each in pattern.bands if each.id == strip.band)
    start = pattern.line(band.start)
    knots = _knots(strip)
    if not np.isfinite(strip.radius).all():
        untold = here & (at.depth < at.width) & ~np.isfinite(at.radius)
        for knot, share in _hats(knots, at.along):
            bend = form_along(at.out, np.where(untold, OPEN_PER_MM * share, 0.0))
            yield Cause("no-radius", strip.band, knot, none, turns(bend))
    if not np.isfinite(strip.radius).any():
        return
    told = sorted(each.along for each in start.radii) or [float(strip.reached[-1]) / 2]
    for knot, share in _hats(np.array(told), at.along):
        bend = _rounder(at, here, RADIUS_SHARE * share)
        yield Cause("radius", strip.band, knot, none, turns(bend))
    for middle, change in _strays(start.radii, at, float(strip.reached[-1])):
        yield Cause("between", strip.band, middle, none, turns(_rounder(at, here, change)))
    off = np.hypot(start.sigma, max(pattern.line(end).sigma for end in band.ends))
    for knot, share in _hats(knots, at.along):
        bend = _rounder(at, here, -off * share / np.maximum(at.width, 1.0))
        yield Cause("width", strip.band, knot, none, turns(bend))


def _strays(told: Sequence[RadiusAt], at: Placed, length: float) -> Iterator[tuple[float, Floats]]:
    """Where between two told radii, or beyond the outermost, and (N,) the share by which radii may
    be larger there.
    """
    told = sorted(told, key=lambda each: each.along)
    changes = []
    for one, two in itertools.pairwise(told):
        # Two gauges that miss the same radius seem to have it change.
        missed = RADIUS_SHARE * math.hypot(one.radius, two.radius)
        change = math.sqrt(max((two.radius - one.radius) ** 2 - missed**2, 0.0))
        changes.append((change / math.sqrt(6.0), max(two.along - one.along, 1.0)))
        yield from _courses(at, one.along, two.along, changes[-1][0], tied=True)
    for end, beyond, near in ((told[:1], 0.0, changes[:1]), (told[-1:], length, changes[-1:])):
        for last, (size, way) in zip(end, near, strict=False):
            grown = size * math.sqrt(abs(beyond - last.along) / way)
            yield from _courses(at, last.along, beyond, grown, tied=False)


def _courses(
    at: Placed, start: float, end: float, size: float, tied: bool
) -> Iterator[tuple[float, Floats]]:
    if size == 0.0 or start == end:
        return
    way = np.clip((at.along - start) / (end - start), 0.0, 1.0)
    for number in range(1, BRIDGES + 1):
        waves = math.pi * (number if tied else number - 0.5)
        yield (start + end) / 2, size * math.sqrt(2.0) / waves * np.sin(waves * way) / at.radius


def _knots(strip: Strip) -> Floats:
    length = float(strip.reached[-1])
    return np.linspace(0.0, length, max(round(length / KNOT_MM), 1) + 1)


def _hats(knots: Floats, along: Floats) -> Iterator[tuple[float, Floats]]:
    """Each knot, and (N,) its share of what is straight between knots, and level beyond them."""
    for number, knot in enumerate(knots):
        yield float(knot), np.interp(along, knots, np.eye(len(knots))[number])


def _rounder(at: Placed, here: NDArray[np.bool_], share: Floats) -> Floats:
    """(N, 3) how the second form changes where a bend's radius is larger by a share of itself."""
    told = here & np.isfinite(at.radius)
    radius = np.where(told, at.radius, 1.0)
    turned = np.where(told, np.clip(at.depth, 0.0, at.width) / radius, 0.0)
    across = np.where(told & (at.depth < at.width), -share / radius, 0.0)
    flat = np.maximum(1 + at.curving * at.depth, 0.1)
    along = np.where(told, -at.curving * np.cos(turned) * turned * share / flat, 0.0)
    sideways = np.column_stack([-at.out[:, 1], at.out[:, 0]])
    return np.asarray(form_along(at.out, across) + form_along(sideways, along))


def _of_laps(tucks: Sequence[str], part: TakenUp, known: Known, mesh: Mesh) -> list[Cause]:
    """For each tuck the courses that its lap may be off by."""
    laps = part.fan.take_up(part.depths)
    shrinks = part.shrinks(laps)
    names, changes = [], []
    for number, name in enumerate(tucks):
        depths = np.maximum(part.depths[:, number] - part.fan.tips[number], 0.0)
        sizes, courses = np.linalg.eigh(part.fan.laps[number].covariance_at(depths))
        sizes = np.maximum(sizes[::-1], 0.0)
        kept = int(np.searchsorted(np.cumsum(sizes), COURSES_SHARE * sizes.sum())) + 1
        for size, course in zip(sizes[:kept], courses.T[::-1], strict=False):
            off = np.zeros_like(laps)
            off[:, number] = np.sqrt(size) * course
            names.append(name)
            changes.append(part.shrinks(laps + off) - shrinks)
    strains = _strains(part, shrinks, changes, known, mesh)
    none = np.zeros(len(mesh.hinges))
    return [
        Cause("lap", name, 0.0, strain, none) for name, strain in zip(names, strains, strict=True)
    ]


def _strains(
    part: TakenUp, shrinks: Floats, changes: Sequence[Floats], known: Known, mesh: Mesh
) -> Floats:
    """(K, E) by how much edges are longer, for changes (R, M) of the shrink."""
    less = part.less(shrinks)
    stacked = [(part.less(shrinks + change) - less).reshape(-1, 3) for change in changes]
    middles = mesh.paper[mesh.edges].mean(axis=1)
    values = np.concatenate(stacked, axis=1)
    at_edges = LinearNDInterpolator(part.rows.reshape(-1, 2), values, fill_value=0.0)(middles)
    run = np.diff(mesh.paper[mesh.edges], axis=1)[:, 0]
    squared = of_vectors(known.shape.metric(middles), run, run)
    longer = of_vectors(at_edges.reshape(len(run), -1, 3), run[:, None], run[:, None])
    return np.asarray((longer / (2 * squared[:, None])).T)


def _of_scale(pattern: Pattern, mesh: Mesh) -> Cause:
    """The paper as a whole larger, so that its edge is off by what the record states."""
    assert pattern.scale is not None
    reach = np.linalg.norm(mesh.paper - mesh.paper.mean(axis=0), axis=1).max()
    share = pattern.scale.accuracy_mm / NORMAL_95 / reach
    larger = np.full(len(mesh.edges), share)
    return Cause("scale", "", 0.0, larger, np.zeros(len(mesh.hinges)))


def _fields(known: Known, problem: Problem) -> list[Cause]:
    """Fields drawn of all that is known of no place by itself."""
    mesh, rng = problem.mesh, np.random.default_rng(25)
    edge_middles, middles = mesh.paper[mesh.edges].mean(axis=1), mesh.middles()
    strains = STRAIN * np.array([_field(edge_middles, rng) for _ in range(FIELDS)])
    for part in known.metal:
        shrinks = part.shrinks(part.fan.take_up(part.depths))
        strains += _strains(part, shrinks, _between(part, shrinks, rng), known, mesh)
    lying = _Lying.of(known.strips, middles) if known.strips else None
    size = _bend_sizes(known, middles, lying)
    out = lying.at.out if lying else np.tile([1.0, 0.0], (len(middles), 1))
    sideways = np.column_stack([-out[:, 1], out[:, 0]])
    x, y = out.T
    twisted = np.column_stack([-2 * x * y, x * x - y * y, 2 * x * y])
    areas = mesh.areas()[mesh.pairs]
    shares = areas / areas.sum(axis=1, keepdims=True)
    found = []
    for strain in strains / np.sqrt(FIELDS):
        across, twist, along = size.T * [_field(middles, rng) for _ in range(3)] / np.sqrt(FIELDS)
        bend = form_along(out, across) + form_along(sideways, along) + twist[:, None] * twisted
        at_hinges = (shares[:, :, None] * bend[mesh.pairs]).sum(axis=1)
        turns = (problem.parts * at_hinges).sum(axis=1)
        found.append(Cause("field", "", 0.0, strain, turns))
    return found


def _field(places: Floats, rng: np.random.Generator) -> Floats:
    """(N,) a field drawn, of size 1."""
    waves = rng.normal(0, 1 / FIELD_MM, (2, WAVES))
    phase = rng.uniform(0, 2 * np.pi, WAVES)
    return np.asarray(np.sqrt(2 / WAVES) * np.cos(places @ waves + phase).sum(axis=1))


def _between(part: TakenUp, shrinks: Floats, rng: np.random.Generator) -> list[Floats]:
    """(R, M) each: what the shrink may be off by between tucks, while it gives back every lap."""
    size = (FORETOLD_SHARE if part.foretold.any() else PLAIN_SHARE) * np.abs(shrinks)
    steps = np.diff(running_length(part.rows), axis=1)
    weights = np.pad(steps, ((0, 0), (0, 1))) + np.pad(steps, ((0, 0), (1, 0)))
    found = []
    for _ in range(FIELDS):
        off = size * _field(part.rows.reshape(-1, 2), rng).reshape(size.shape)
        for first, last in itertools.pairwise(part.fan.edges):
            share = slice(first, last + 1)
            lap = (weights * off)[:, share].sum(axis=1, keepdims=True)
            whole = (weights * size)[:, share].sum(axis=1, keepdims=True)
            off[:, share] -= size[:, share] * lap / np.maximum(whole, 1e-12)
        found.append(off)
    return found


def _bend_sizes(known: Known, places: Floats, lying: "_Lying | None") -> Floats:
    """(N, 3) what curvature across, twist and curvature along are off by, of what is not told."""
    found = np.full((len(places), 3), FLAT_PER_MM)
    free = np.ones(len(places), dtype=bool)
    if lying:
        at, free = lying.at, ~lying.of_a_bend
        found[lying.of_a_bend & (at.depth < at.width), 0] = 0.0  # each radius is a cause
        found[lying.of_a_bend, 1:] += ALONG_SHARE * at.curved[lying.of_a_bend, None]
    for dome in known.domes:
        here = free & contains_xy(dome.inside, places[:, 0], places[:, 1])
        found[here] = np.maximum(found[here], dome.off_by)
    return found
