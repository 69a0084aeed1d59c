"""What each line is for, proposed from where it lies, with how sure that is.

The trim edge is what one meets first coming in from the paper's edge. Inside it, lines that run
beside it are the bend's: those that tucks break are where a radius ends, the line that runs along
the tucks' tips (or, without tucks, the inner one of a pair) is where it starts. Whatever else
there is shapes the panel: a form line. The user has the last word.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray
from shapely import (
    LineString,
    Point,
    Polygon,
    STRtree,
    distance,
    get_coordinates,
    line_interpolate_point,
    line_locate_point,
    linestrings,
    prepare,
    shortest_line,
)
from shapely import points as points_of

from digitize.pencil import Curve
from digitize.plane import cross
from digitize.record import By, Role

Floats = NDArray[np.float64]
SAMPLES = 25
OUTERMOST_SHARE = 0.7
TOUCH_MM = 4.0
BESIDE_TURN = np.radians(20.0)
# Shares of the side of a square as large as the paper.
WIDEST_BAND_SHARE, NEAR_TIP_SHARE = 0.4, 0.065
# How often a proposal is right: at no evidence and at full evidence, as rendered papers have it
# (python -m tests.bench pencil prints what was stated and what was right).
TRIM_SURE, BEND_SURE, FORM_SURE = (0.6, 0.98), (0.8, 0.98), 0.93
TOLD_CONFIDENCE = 0.98  # an ink may be mistaken
NOTHING_TOLD: Mapping[str, Role] = MappingProxyType({})
CARRY_MM, CARRY_TURN = 25.0, np.radians(15.0)


@dataclass(frozen=True)
class RoleProposal:
    """A role, how sure it is, 0 to 1, and whether the user has told it (by an ink's meaning)."""

    role: Role
    confidence: float
    by: By = "proposed"


def propose_roles(
    lines: Sequence[Curve],
    outline: Floats,
    tucks: Sequence[Floats],
    ink_roles: Mapping[str, Role] = NOTHING_TOLD,
) -> tuple[RoleProposal, ...]:
    """A role for each line.

    Parameters
    ----------
    outline : (N, 2) the paper's edge.
    tucks : (M, 2) each tuck's cut or crease, from its tip to the paper's edge.
    ink_roles : what the user says that lines of an ink are.
    """
    proposals = _from_places(lines, outline, tucks)
    return tuple(
        RoleProposal(ink_roles[line.ink], TOLD_CONFIDENCE, "told")
        if line.ink in ink_roles
        else proposal
        for line, proposal in zip(lines, proposals, strict=True)
    )


def _from_places(
    lines: Sequence[Curve], outline: Floats, tucks: Sequence[Floats]
) -> list[RoleProposal]:
    ring = LineString([*outline, outline[0]])
    side = float(np.sqrt(Polygon(outline).area))
    shares = _outermost_shares(lines, ring)
    trim = [share >= OUTERMOST_SHARE for share in shares]
    cuts = [LineString(tuck) for tuck in tucks]
    tips = [Point(*tuck[0]) for tuck in tucks]
    trim_lines = [LineString(lines[k].points) for k, is_trim in enumerate(trim) if is_trim]
    proposals: list[RoleProposal] = []
    for line, share, is_trim in zip(lines, shares, trim, strict=True):
        if is_trim:
            proposals.append(RoleProposal("trim-edge", _sure(*TRIM_SURE, share)))
            continue
        beside = _share_beside(line, trim_lines, WIDEST_BAND_SHARE * side)
        broken = any(_ends_at(line, cut) for cut in cuts)
        along_tips = _passes_tips(line, tips, NEAR_TIP_SHARE * side)
        if broken and beside > 0.4:
            proposals.append(RoleProposal("radius-end", _sure(*BEND_SURE, beside)))
        elif along_tips and beside > 0.3:
            proposals.append(RoleProposal("radius-start", _sure(*BEND_SURE, beside)))
        else:
            proposals.append(RoleProposal("form", FORM_SURE))
    if not tucks:
        return _paired(lines, proposals, WIDEST_BAND_SHARE * side)
    return _carried_on(lines, proposals)


def _carried_on(lines: Sequence[Curve], proposals: list[RoleProposal]) -> list[RoleProposal]:
    """A line of no known role that goes on straight from one of a bend's lines has its role."""
    result = list(proposals)
    for _ in lines:
        found = next(
            (
                (i, j)
                for i, own in enumerate(result)
                for j, other in enumerate(result)
                if own.role == "form"
                and other.role in ("radius-start", "radius-end")
                and _goes_on(lines[i], lines[j])
            ),
            None,
        )
        if found is None:
            break
        i, j = found
        result[i] = RoleProposal(result[j].role, round(0.95 * result[j].confidence, 2))
    return result


def _goes_on(line: Curve, other: Curve) -> bool:
    """Whether an end of the line lies just ahead of an end of the other, and heads away from it."""
    if line.closed or other.closed:
        return False
    for own in (line.points, line.points[::-1]):
        for ahead in (other.points, other.points[::-1]):
            step = own[0] - ahead[-1]
            out = ahead[-1] - ahead[-1 - min(12, len(ahead) - 1)]
            away = own[min(12, len(own) - 1)] - own[0]
            out, away = out / np.linalg.norm(out), away / np.linalg.norm(away)
            gap = float(np.linalg.norm(step))
            aside = abs(float(cross(out, step)))
            if gap < CARRY_MM and aside < 1.0 + 0.2 * gap and out @ away > np.cos(CARRY_TURN):
                return True
    return False


def _sure(least: float, most: float, evidence: float) -> float:
    return round(least + (most - least) * evidence, 2)


def _outermost_shares(lines: Sequence[Curve], ring: LineString) -> list[float]:
    """Share of each line from which the way to the nearest paper edge meets no other line."""
    if not lines:
        return []
    picked = [
        np.linspace(2, len(line.points) - 3, SAMPLES).astype(int).clip(0, len(line.points) - 1)
        for line in lines
    ]
    places = np.concatenate([line.points[some] for line, some in zip(lines, picked, strict=True)])
    prepare(ring)
    feet = get_coordinates(shortest_line(ring, points_of(places)))[::2]
    away = feet - places
    starts = places + away / (np.linalg.norm(away, axis=1, keepdims=True) + 1e-9)
    ways = linestrings(np.stack([starts, feet], axis=1))
    tree = STRtree([LineString(line.points) for line in lines])
    way, hit = tree.query(ways, predicate="intersects")
    free = np.ones(len(ways), bool)
    free[way[hit != way // SAMPLES]] = False
    return [float(share) for share in free.reshape(-1, SAMPLES).mean(axis=1)]


def _share_beside(line: Curve, others: Sequence[LineString], widest_mm: float) -> float:
    """Share of the line that runs beside one of the others: near enough, and the same way."""
    if not others:
        return 0.0
    paths = np.array(others)
    picked = np.linspace(1, len(line.points) - 2, SAMPLES).astype(int)
    places = points_of(line.points[picked])
    nearest = paths[STRtree(paths).nearest(places)]
    at = line_locate_point(nearest, places)
    before, after = (
        get_coordinates(line_interpolate_point(nearest, to))
        for to in (np.maximum(at - 2.0, 0.0), at + 2.0)
    )
    own, other = line.points[picked + 1] - line.points[picked - 1], after - before
    turn = np.abs(np.arctan2(cross(own, other), (own * other).sum(axis=1)))
    near = distance(nearest, places) <= widest_mm
    return float((near & (np.minimum(turn, np.pi - turn) < BESIDE_TURN)).mean())


def _ends_at(line: Curve, cut: LineString) -> bool:
    """Whether the line breaks at the tuck: an end lies at it, or within a lap's reach of it."""
    for tip in line.points[[0, -1]]:
        depth = cut.project(Point(*tip))
        if 3 < depth < cut.length and cut.distance(Point(*tip)) < TOUCH_MM + 0.12 * depth:
            return True
    return False


def _passes_tips(line: Curve, tips: Sequence[Point], near_mm: float) -> bool:
    path = LineString(line.points)
    near = sum(path.distance(tip) < near_mm for tip in tips)
    return bool(near >= max(1, (len(tips) + 1) // 2))


def _paired(
    lines: Sequence[Curve], proposals: list[RoleProposal], widest_mm: float
) -> list[RoleProposal]:
    """Without tucks: of two lines side by side, the outer is where the radius ends."""
    inner = [i for i, proposal in enumerate(proposals) if proposal.role == "form"]
    trim = [LineString(lines[i].points) for i, p in enumerate(proposals) if p.role == "trim-edge"]
    result = list(proposals)
    for position, i in enumerate(inner):
        for j in inner[position + 1 :]:
            one, two = (LineString(lines[k].points) for k in (i, j))
            share = min(
                _share_beside(lines[i], [two], widest_mm),
                _share_beside(lines[j], [one], widest_mm),
            )
            gap = one.distance(two)
            if share < 0.7 or gap < 5 or not trim:
                continue
            distances = [_middling_distance(lines[k], trim) for k in (i, j)]
            outer, start = (i, j) if distances[0] < distances[1] else (j, i)
            result[outer] = RoleProposal("radius-end", 0.6)
            result[start] = RoleProposal("radius-start", 0.6)
    return result


def _middling_distance(line: Curve, edges: Sequence[LineString]) -> float:
    return float(np.median([min(e.distance(Point(*p)) for e in edges) for p in line.points[::5]]))
