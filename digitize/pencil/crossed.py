"""Lines that were struck out, by short strokes across them close together or by a zigzag.

Strokes that strike a line out run well past it on both sides, stand about as far apart as they are
long, and lie alike; those of a zigzag do so by turns. Ticks stand square to their line and farther
apart, hatching lies closer, and of the strokes of letters few lie alike.
"""

import itertools
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from shapely import LineString, Point, STRtree
from shapely.ops import substring

from digitize.pencil.curves import Curve
from digitize.pencil.thresholds import (
    APART,
    ASLANT,
    HEADING_MM,
    JOINED_MM,
    LEAST_LEGS,
    LEAST_LINE,
    LEG_MM,
    OVER,
    STRUCK_ACROSS,
    STRUCK_ALIKE,
    STRUCK_ALIKE_TURN,
    STRUCK_FEWEST,
    STRUCK_MOST,
    STRUCK_TOUCH_MM,
)
from digitize.plane import places_along, signed_angle

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class _Leg:
    """Where a mark crosses a line: how far along it, at what turn from it (0 to pi), how long, and
    the places (2, 2) between which it does.
    """

    mark: int
    along: float
    turn: float
    length: float
    ends: Floats


def set_struck_aside(curves: Sequence[Curve]) -> tuple[tuple[Curve, ...], tuple[Curve, ...]]:
    """The marks that stand, and the lines that were struck out.

    What strikes them out is neither.
    """
    if not curves:
        return (), ()
    paths = [LineString(curve.points) for curve in curves]
    tree = STRtree(paths)
    struck: list[int] = []
    by: set[int] = set()
    for line, crossing in _crossings(curves, paths, tree).items():
        legs, zigzag = _alike(sorted(crossing, key=lambda leg: leg.along))
        if not legs:
            continue
        parts = _in_part(line, legs, curves, paths, tree)
        marks = {leg.mark for leg in legs}
        if not _are_most(line, legs, {*marks, *parts}, curves, paths, tree):
            continue
        places = {leg.along for leg in legs} | {at for k, at in parts.items() if k not in marks}
        length = float(np.median([leg.length for leg in legs]))
        step = float(np.median(np.diff(sorted(places)))) / length
        close = step < APART[1] and (zigzag or step > APART[0])
        if close and curves[line].length > LEAST_LINE * length:
            struck.append(line)
            by |= {*marks, *parts}
    rest = [curve for k, curve in enumerate(curves) if k not in {*struck, *by}]
    return tuple(rest), tuple(curves[k] for k in struck if k not in by)


def _crossings(
    curves: Sequence[Curve], paths: Sequence[LineString], tree: STRtree
) -> dict[int, list[_Leg]]:
    """By line, where marks run across it that run across no other."""
    one, two = tree.query(paths, predicate="intersects")
    found: dict[int, list[_Leg]] = {}
    for mark in np.unique(one).tolist():
        legs = {
            line: _legs(mark, paths[mark], paths[line])
            for line in two[one == mark].tolist()
            if line != mark and curves[line].length > LEG_MM[0]
        }
        across = {line: own for line, own in legs.items() if own}
        # What crosses several lines strikes out none, as the strokes that hatch an area both ways.
        longer = [line for line in across if curves[line].length > curves[mark].length]
        if len(across) > 1:
            across = {line: across[line] for line in longer}
        if len(across) == 1 and not curves[mark].closed:
            for line, own in across.items():
                found.setdefault(line, []).extend(own)
    return found


def _legs(mark: int, path: LineString, line: LineString) -> list[_Leg]:
    """Where a mark runs across a line and well past it to both sides."""
    crossing = path.intersection(line)
    places = [part for part in getattr(crossing, "geoms", [crossing]) if isinstance(part, Point)]
    at = sorted(path.project(place) for place in places)
    bounds = [0.0, *((a + b) / 2 for a, b in itertools.pairwise(at)), path.length]
    found = []
    for index, along in enumerate(at):
        start, stop = bounds[index], bounds[index + 1]
        length = stop - start
        if not LEG_MM[0] <= length <= LEG_MM[1]:
            continue
        if min(along - start, stop - along) < OVER * length:
            continue
        own = line.project(path.interpolate(along))
        turn = signed_angle(_way(line, own), _way(path, along)) % np.pi
        if STRUCK_ACROSS < turn < np.pi - STRUCK_ACROSS:
            ends = places_along(np.asarray(path.coords), np.array([start, stop]))
            found.append(_Leg(mark, own, turn, length, ends))
    return found


def _way(path: LineString, along: float) -> Floats:
    """(2,) which way a path runs there."""
    reach = np.array([along - HEADING_MM, along + HEADING_MM]).clip(0, path.length)
    before, after = places_along(np.asarray(path.coords), reach)
    return np.asarray(after - before)


def _alike(legs: Sequence[_Leg]) -> tuple[list[_Leg], bool]:
    """Those of a line's crossings, in order along it, that lie alike, if they may strike it out.

    And whether they are a zigzag's.
    """
    turn = np.array([leg.turn for leg in legs])
    length = np.array([leg.length for leg in legs])
    if len(legs) < STRUCK_FEWEST:
        return [], False
    by_turns = np.arange(len(legs)) % 2
    middling = [float(np.median(turn[by_turns == side])) for side in (0, 1)]
    zigzag = abs(middling[0] - middling[1]) > ASLANT
    usual = np.array(middling)[by_turns] if zigzag else np.full(len(legs), np.median(turn))
    if not zigzag and abs(float(usual[0]) - np.pi / 2) < ASLANT:
        return [], False
    alike = (np.abs(turn - usual) < STRUCK_ALIKE_TURN) & (length > STRUCK_ALIKE * np.median(length))
    alike &= length < np.median(length) / STRUCK_ALIKE
    some = [leg for leg, yes in zip(legs, alike, strict=True) if yes]
    fewest = max(LEAST_LEGS if zigzag else STRUCK_FEWEST, STRUCK_MOST * len(legs))
    if len(some) < fewest or (zigzag and not _joined(some)):
        return [], False
    return some, zigzag


def _joined(legs: Sequence[_Leg]) -> bool:
    """Whether legs follow one another end to end."""
    gaps = [
        min(float(np.linalg.norm(a - b)) for a in one.ends for b in two.ends)
        for one, two in itertools.pairwise(legs)
    ]
    return float(np.mean(np.array(gaps) < JOINED_MM)) >= STRUCK_MOST


def _are_most(
    line: int,
    legs: Sequence[_Leg],
    marks: set[int],
    curves: Sequence[Curve],
    paths: Sequence[LineString],
    tree: STRtree,
) -> bool:
    """Whether what strikes a line out is most of what stands there: of a word on it little is."""
    longest = max(leg.length for leg in legs)
    struck = substring(paths[line], legs[0].along - longest, legs[-1].along + longest)
    near = tree.query(struck, predicate="dwithin", distance=longest / 2).tolist()
    others = [k for k in near if k != line and k not in marks]
    # Lines that go by stand there for another reason.
    beside = sum(curves[k].length for k in others if curves[k].length < curves[line].length / 2)
    return bool(beside < (1 / STRUCK_MOST - 1) * sum(curves[k].length for k in marks))


def _in_part(
    line: int,
    struck: Sequence[_Leg],
    curves: Sequence[Curve],
    paths: Sequence[LineString],
    tree: STRtree,
) -> dict[int, float]:
    """Further strokes among those across a line, of which a part was read: how far along it."""
    longest = max(leg.length for leg in struck)
    reach = APART[1] * longest
    first, last = struck[0].along - reach, struck[-1].along + reach
    turns = np.array([leg.turn for leg in struck])
    found = {}
    for mark in tree.query(paths[line], predicate="dwithin", distance=STRUCK_TOUCH_MM).tolist():
        if mark == line or curves[mark].length > longest:
            continue
        along = float(paths[line].project(paths[mark].interpolate(0.5, normalized=True)))
        way = np.asarray(curves[mark].points[-1] - curves[mark].points[0])
        turn = signed_angle(_way(paths[line], along), way) % np.pi
        if first <= along <= last and np.abs(turns - turn).min() < STRUCK_ALIKE_TURN:
            found[mark] = along
    return found
