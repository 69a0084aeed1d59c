"""A tuck's smooth lap, from nothing at its tip, through what was measured along it.

How fast a lap's slope changes with depth, w'', is what the metal's curvature both ways makes it. It
is taken for an even course with slow fluctuations, of a size that the stations settle by maximum
likelihood; the lap is that, summed up twice from the tip, and its standard deviations come with it
(Gaussian process regression: C. Rasmussen and C. Williams, Gaussian Processes for Machine
Learning, 2006, sections 2.2 and 5.4). A cone's lap is straight, from a sharp tip; a bend's grows
softly, with up to the third power of the depth. Where the radius lines say how far a bend goes, the
slope may change there and hardly before and beyond it. Which of these it is, is settled by what
fits all of a pattern's tucks best.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from shapely import LineString, Point

from digitize.record import LapAt, LapShape, Line, Pattern, Role, Station, Tuck

Floats = NDArray[np.float64]
PROFILE_STEP_MM = 5.0
# Sigma of the slope at the tip, radians, before anything is measured.
TIPS: dict[Literal["sharp", "soft"], float] = {"soft": 0.01, "sharp": 0.5}
NODES = 40
BENDS = np.geomspace(1e-5, 0.03, 19)  # sigma of the change of slope, 1/mm
USUAL_BEND, BEND_SPREAD = 0.003, 1.5  # and its spread, as a natural logarithm
FLUCTUATION = 0.4  # length of the fluctuations, over the tuck's
STRAIGHT_SHARE = 0.1  # of the change of slope, where the metal is not bent
FAVOUR_BEND = 3.0  # that radius lines mean what they say, before any lap: as a logarithm
DRIFT_MM = 20.0  # along a mark, over which what it is off by stays much the same
LEAST_SIGMA_MM = 0.01  # a lap told as exact is not
SAME_DEPTH_MM = 0.1  # two stations of one mark so near say the same
OUTLIER = 2.5  # sigmas beyond which a station counts for less
ROUNDS = 4
SURE_ALONE = 0.02  # a tuck whose turn is known to so much of it is not likened to others
COURSE_NODES = 20
COURSE_FACTOR = 3.0  # sigma of the factor by which its course is like theirs
COURSE_STRAYS = 0.3  # by which share of that it usually strays
AT_CUT_MM = 1.6
SHORTEST_TRIM_MM = 15.0
NEAR_TUCK_MM = 45.0


@dataclass(frozen=True)
class LapCurve:
    """A smooth lap: its slope at the tip and how that changes at nodes.

    Attributes
    ----------
    nodes, step : depths (N,) and how far they are apart, mm.
    mean, covariance : of the slope at the tip (radians) and the changes (1/mm): (1 + N,).
    sign : +1 where paper lapped, -1 where it opened; it does not do both along one tuck.
    likelihood : logarithm of how likely the stations are, but for a constant.
    """

    nodes: Floats
    step: float
    mean: Floats
    covariance: Floats
    sign: float
    likelihood: float

    def at(self, depths: Floats) -> tuple[Floats, Floats]:
        """Lap and its sigma (mm) at depths (N,) from the tip."""
        laps, sigmas = self._told(_summed(depths, self.nodes, self.step))
        return self.sign * np.maximum(self.sign * laps, 0.0), sigmas

    def slope_at(self, depths: Floats) -> tuple[Floats, Floats]:
        """The lap's slope and its sigma, radians, at depths (N,)."""
        passed = np.clip((depths[:, None] - self.nodes) / self.step + 0.5, 0.0, 1.0) * self.step
        return self._told(np.column_stack([np.ones(len(depths)), passed]))

    def covariance_at(self, depths: Floats) -> Floats:
        """(N, N) how the laps at depths (N,) may be off together, mm2."""
        design = _summed(depths, self.nodes, self.step)
        return np.asarray(design @ self.covariance @ design.T)

    def _told(self, design: Floats) -> tuple[Floats, Floats]:
        variance = np.einsum("ij,jk,ik->i", design, self.covariance, design)
        return design @ self.mean, np.sqrt(np.maximum(variance, 0.0))


def _summed(depths: Floats, nodes: Floats, step: float) -> Floats:
    """(N, 1 + M) what the slope at the tip and the changes at nodes add to the lap at depths."""
    over = np.clip(depths[:, None] - nodes + step / 2, 0.0, step)
    beyond = np.maximum(depths[:, None] - nodes - step / 2, 0.0)
    return np.column_stack([depths, over**2 / 2 + beyond * step])


def lap_of(tuck: Tuck) -> LapCurve:
    """A tuck's smooth lap: of a spread, through what was told of it, else through what was read."""
    return lap_curve(_of_use(tuck), tuck.shape)


def _of_use(tuck: Tuck) -> list[Station]:
    told = tuck.kind == "spread"
    return [s for s in tuck.stations if (s.evidence == "entered") == told]


def likeliest_shapes(pattern: Pattern, tucks: Sequence[Tuck]) -> dict[str, LapShape]:
    """Each tuck's shape by its id: of one kind for all of a pattern, that which fits them best."""
    tucks = [tuck for tuck in tucks if _of_use(tuck)]
    bends = _bends(pattern, tucks)
    best, shapes = -math.inf, {tuck.id: LapShape() for tuck in tucks}
    for bent in (True, False) if bends else (False,):
        for tip in TIPS:
            tried = {
                tuck.id: LapShape(bend=bends[tuck.id] if bent else (0.0, None), tip=tip)
                for tuck in tucks
            }
            likelihood = sum(lap_curve(_of_use(t), tried[t.id]).likelihood for t in tucks)
            likelihood += FAVOUR_BEND if bent else 0.0
            if likelihood > best:
                best, shapes = likelihood, tried
    return shapes


def _bends(pattern: Pattern, tucks: Sequence[Tuck]) -> dict[str, tuple[float, float]]:
    """Depths between which the metal is bent, as the radius lines that break at the tucks say.

    Where none breaks, the bend ends as far short of the trim edge as at the other tucks.
    """

    def met(tuck: Tuck, role: Role) -> list[float]:
        return [b.depth for b in tuck.breaks if role in (pattern.line(n).role for n in b.lines)]

    ends = {tuck.id: max(met(tuck, "radius-end"), default=None) for tuck in tucks}
    flats = [tuck.depth_at_trim - end for tuck in tucks if (end := ends[tuck.id]) is not None]
    if not flats:
        return {}
    found = {}
    for tuck in tucks:
        end = ends[tuck.id]
        if end is None:
            end = max(tuck.depth_at_trim - float(np.median(flats)), 0.0)
        starts = [depth for depth in met(tuck, "radius-start") if depth < end]
        found[tuck.id] = (min(starts, default=0.0), end)
    return found


def lap_curve(stations: Sequence[Station], shape: LapShape) -> LapCurve:
    """The smooth lap through stations; one that disagrees with the others counts for less."""
    stations = _each_once(stations)
    depths = np.array([s.depth for s in stations])
    laps = np.array([s.lap for s in stations])
    sigmas = np.array([max(s.sigma, LEAST_SIGMA_MM) for s in stations])
    common = np.minimum([s.common for s in stations], sigmas)
    own = np.sqrt(np.maximum(sigmas**2 - common**2, LEAST_SIGMA_MM**2))
    shared = np.outer(common, common)
    # Along one mark the hand drifts, and so does what the reading is off by.
    kinds = np.array([s.evidence for s in stations])
    one_mark = (kinds[:, None] == kinds) & np.isin(kinds, ("lap-line", "crease"))[:, None]
    alike = np.where(one_mark, np.exp(-np.abs(depths[:, None] - depths) / DRIFT_MM), 0.0)
    np.fill_diagonal(alike, 1.0)
    loose = np.ones(len(stations))
    curve = _fitted(depths, laps, alike * np.outer(own, own) + shared, shape)
    for _ in range(ROUNDS):
        off = np.abs(laps - curve.at(depths)[0]) / sigmas
        if not len(off) or off.max() < OUTLIER:
            break
        loose = np.maximum(off / OUTLIER, 1.0)
        curve = _fitted(depths, laps, alike * np.outer(own * loose, own * loose) + shared, shape)
    return curve


def _each_once(stations: Sequence[Station]) -> list[Station]:
    """The stations, of one mark's at one depth the first."""
    kept: list[Station] = []
    for station in stations:
        same = (s for s in kept if s.evidence == station.evidence)
        drawn = station.evidence in ("lap-line", "crease")
        if not (drawn and any(abs(s.depth - station.depth) < SAME_DEPTH_MM for s in same)):
            kept.append(station)
    return kept


def _fitted(depths: Floats, laps: Floats, noise: Floats, shape: LapShape) -> LapCurve:
    reach = max([*depths.tolist(), *(depth for depth, _ in shape.course)], default=1.0)
    step = reach / NODES
    nodes = np.asarray((np.arange(NODES) + 0.5) * step, float)
    design = _summed(depths, nodes, step)
    start, end = shape.bend[0], reach if shape.bend[1] is None else shape.bend[1]
    overlap = np.minimum(nodes + step / 2, end) - np.maximum(nodes - step / 2, start)
    bent = np.clip(overlap / step, STRAIGHT_SHARE, 1.0)
    apart = np.abs(nodes[:, None] - nodes) / (FLUCTUATION * reach)
    course = np.outer(bent, bent) * (
        0.3 + 3 * np.outer(nodes, nodes) / reach**2 + 0.5 * np.exp(-apart)
    )
    alike, usual = np.zeros(NODES), USUAL_BEND
    if shape.course:
        alike = np.interp(nodes, *np.array(shape.course).T)
        usual = COURSE_STRAYS * float(np.sqrt(np.mean(alike**2) / np.mean(np.diag(course)))) + 1e-9
    bending, rest = np.zeros((2, NODES + 1, NODES + 1))
    bending[1:, 1:], rest[1:, 1:] = course, COURSE_FACTOR**2 * np.outer(alike, alike)
    rest[0, 0] = TIPS[shape.tip] ** 2
    # Of how much metal bends the likeliest: all are tried at once.
    squares = BENDS[:, None, None] ** 2
    inverses = np.linalg.inv(
        squares * (design @ bending @ design.T) + design @ rest @ design.T + noise
    )
    misfit = np.einsum("i,kij,j->k", laps, inverses, laps)
    likelihoods = (np.linalg.slogdet(inverses)[1] - misfit) / 2
    likelihoods -= 0.5 * (np.log(BENDS / usual) / BEND_SPREAD) ** 2
    best = int(np.argmax(likelihoods))
    prior = BENDS[best] ** 2 * bending + rest
    gain = prior @ design.T @ inverses[best]
    covariance = prior - gain @ design @ prior
    sign = -1.0 if laps.sum() < 0 else 1.0
    return LapCurve(nodes, step, gain @ laps, covariance, sign, float(likelihoods[best]))


def with_laps(pattern: Pattern) -> Pattern:
    """The pattern with each tuck's smooth lap and its closure errors, as its stations have it."""
    edges = [line for line in pattern.lines if line.role == "trim-edge"]
    trim = [line for line in edges if line.length > SHORTEST_TRIM_MM]
    reached = [
        tuck.model_copy(update={"depth_at_trim": _depth(pattern, tuck, trim)})
        for tuck in pattern.tucks
    ]
    shapes = _likened(reached, likeliest_shapes(pattern, reached))
    tucks = tuple(_worked_out(tuck, shapes.get(tuck.id, LapShape())) for tuck in reached)
    closed = [tuck for tuck in tucks if tuck.kind != "spread"]
    errors = [math.hypot(b.across, b.along) for tuck in closed for b in tuck.breaks]
    rms = round(math.sqrt(sum(e * e for e in errors) / len(errors)), 3) if errors else None
    return pattern.model_copy(update={"tucks": tucks, "closure_rms": rms})


def _likened(tucks: Sequence[Tuck], shapes: dict[str, LapShape]) -> dict[str, LapShape]:
    """The shapes, of tucks that are not sure by themselves with the course that the others have.

    How the metal curves along a tuck, but for how much, changes slowly from one tuck to the next.
    The surer another tuck is of its own turn, the more it counts.
    """
    share = (np.arange(COURSE_NODES) + 0.5) / COURSE_NODES
    read = [tuck for tuck in tucks if _of_use(tuck) and tuck.depth_at_trim > 0]
    if len(read) < 2:
        return shapes
    depths = np.array([tuck.depth_at_trim for tuck in read])
    curves = [lap_curve(_of_use(tuck), shapes[tuck.id]) for tuck in read]
    told = [curve.slope_at(np.array([d])) for curve, d in zip(curves, depths, strict=True)]
    turns, sigmas = (np.array([float(each[i][0]) for each in told]) for i in (0, 1))
    courses = np.array(
        [
            np.interp(share * depth, curve.nodes, curve.mean[1:]) * depth
            for curve, depth in zip(curves, depths, strict=True)
        ]
    )
    likened = dict(shapes)
    for index, tuck in enumerate(read):
        others = (np.arange(len(read)) != index) & (turns * turns[index] > 0)
        if sigmas[index] < SURE_ALONE * abs(turns[index]) or not others.any():
            continue
        # The mean of each course over its turn, with weights of its turn over its sigma, squared.
        weights = turns[others] / sigmas[others] ** 2
        mean = weights @ courses[others] / (weights @ turns[others]) * turns[index] / depths[index]
        course = zip((share * depths[index]).tolist(), mean.tolist(), strict=True)
        rounded = tuple((round(d, 2), round(change, 7)) for d, change in course)
        likened[tuck.id] = shapes[tuck.id].model_copy(update={"course": rounded})
    return likened


def _depth(pattern: Pattern, tuck: Tuck, trim: Sequence[Line]) -> float:
    """How deep a tuck is at the trim edge, mm; where none crosses it, at its last station."""
    slit = pattern.line(tuck.slit)
    depth = depth_at_trim(slit, trim)
    if depth is None:
        depth = max((station.depth for station in tuck.stations), default=slit.length)
    return round(depth, 3)


def _worked_out(tuck: Tuck, shape: LapShape) -> Tuck:
    tuck = tuck.model_copy(update={"shape": shape})
    curve, depth = lap_of(tuck), tuck.depth_at_trim
    depths = np.append(np.arange(PROFILE_STEP_MM, depth - 1.0, PROFILE_STEP_MM), depth)
    laps, sigmas = curve.at(depths)
    slope, slope_sigma = (float(value[0]) for value in curve.slope_at(depths[-1:]))
    share = min(max(float(laps[-1]) / (2 * depth), -1.0), 1.0) if depth > 0 else 0.0
    met = curve.at(np.array([found.depth for found in tuck.breaks]))[0]
    return tuck.model_copy(
        update={
            "profile": tuple(
                LapAt(depth=round(float(d), 3), lap=round(float(w), 3), sigma=round(float(s), 3))
                for d, w, s in zip(depths, laps, sigmas, strict=True)
            ),
            "breaks": tuple(
                found.model_copy(update={"across": round(found.lap - float(lap), 3)})
                for found, lap in zip(tuck.breaks, met, strict=True)
            ),
            "lap_at_trim": round(float(laps[-1]), 3),
            "deficit_deg": round(math.degrees(2 * math.asin(share)), 3),
            "turn_deg": round(math.degrees(slope), 3),
            "turn_sigma_deg": round(math.degrees(slope_sigma), 3),
        }
    )


def depth_at_trim(slit: Line, trim: Sequence[Line]) -> float | None:
    """How far from its tip a tuck meets the trim edge, mm: where the edge stops at it, or nearly.

    None if no trim edge comes near.
    """
    path = LineString(slit.points)
    touching: list[tuple[float, float]] = []
    near: list[tuple[float, float]] = []
    for line in trim:
        for end in (line.points[0], line.points[-1]) if not line.closed else ():
            away, depth = path.distance(Point(*end)), float(path.project(Point(*end)))
            if 0 < depth < path.length - 0.5 and away < NEAR_TUCK_MM:
                (touching if away < AT_CUT_MM else near).append((away, depth))
    if touching:  # the trim edge is the outermost line
        return max(depth for _, depth in touching)
    return sorted(near)[len(near) // 2][1] if near else None
