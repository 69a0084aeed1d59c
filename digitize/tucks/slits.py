"""Which marks are tucks: cuts and creases that run in from the paper's edge, and their lap lines.

A slit reaches the paper's edge, and so does the lap line drawn along the flap that lay over it;
both start at the slit's tip. The cut is the darker of the two. A fold shows two creases from one
tip. What tells a lap line from a second crease is where the crossing lines go on: at the lap line
itself, or, past the second crease, as far again (a fold takes up paper twice: under and back).
A fold whose creases were not traced is told by the lines that it parts (``wedges.py``).
A forked slit is a tuck for each branch.
"""

import itertools
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import partial
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray
from shapely import LineString, Point, Polygon, STRtree
from shapely.errors import GEOSException

from digitize.pencil import Curve, DarknessAt
from digitize.plane import evenly, headings_along, places_beside, running_length, signed_angle
from digitize.record import TuckKind
from digitize.tucks.crease_ends import carried_to_edge, carried_to_tip
from digitize.tucks.creases import (
    Faint,
    chained_creases,
    direction,
    fades_to_edge,
    faint_among,
    from_common_tip,
    is_dark,
    is_shade,
    is_straight,
    turned_like,
    with_trunks,
    without_jogs,
)
from digitize.tucks.ends import LineEnd, gap_at, line_ends
from digitize.tucks.lap_lines import borne_out, lies_along, sought_lap_line
from digitize.tucks.lone_breaks import lone_folds
from digitize.tucks.look import darker_than_lines, lap_line_of
from digitize.tucks.onsets import is_open_at
from digitize.tucks.parting import parted
from digitize.tucks.partner import begun_fold, both_creases, partner_of
from digitize.tucks.pieces import piece_beside, pieced
from digitize.tucks.pressed import crease_through, fold_in, is_creased
from digitize.tucks.thresholds import (
    BETWEEN_SHARE,
    BRANCH_WEIGHT,
    CONTRAST_STEP_MM,
    CONVERGING_TURN,
    CREASES_APART,
    CUT_MIN_PIECE_MM,
    DRAWN_SHARE,
    EDGE_MM,
    FOLD_AGREES_MM,
    LEAST_BETWEEN_MM,
    LEAST_LAP_LINE,
    LEAST_SEEN,
    LEAST_TURN,
    LIKE_EITHER,
    LONE_BREAKS_BESIDE_MM,
    LONGEST_SHARE,
    MOST_LATE_MM,
    PENCIL_MM,
    SAME_BREAK_MM,
    SLITS_SHORTEST_MM,
    STEEPEST_LAP,
    TOUCH_MM,
    UNSEEN_JUMP_MM,
)
from digitize.tucks.wedges import gaps_of, parted_by, untold, wedges_of
from digitize.tucks.which import cut_odds, surely_cut

Floats = NDArray[np.float64]
Found = TypeVar("Found")
# What geometry raises where marks lie as nobody thought of: that costs one tuck, not the reading.
UNWORKABLE = (GEOSException, ArithmeticError, LookupError, ValueError)


@dataclass(frozen=True)
class TuckMarks:
    """A tuck as it shows on the paper.

    Attributes
    ----------
    main : the cut, or the crease that stays in sight, from tip to edge.
    second : its lap line, or the hidden crease; None if there is none.
    sure : from 0.5 to 1, how likely it is that the marks are these and not the other way about.
    """

    kind: TuckKind
    main: Curve
    second: Curve | None
    sure: float = 1.0

    def unsure(self) -> "TuckMarks":
        """The same, no surer than either way about."""
        return replace(self, sure=min(self.sure, LIKE_EITHER))


def find_tucks(
    curves: Sequence[Curve], outline: Floats, darkness_at: DarknessAt
) -> tuple[tuple[TuckMarks, ...], tuple[Curve, ...]]:
    """The tucks, and all curves that are no part of one (cut where they ran across a tuck).

    A tuck whose marks cannot be worked out is a slit along the darkest of them, and unsure.

    Parameters
    ----------
    outline : (N, 2) the paper's edge.
    darkness_at : darkness of the paper at points (..., 2), mm.
    """
    ring = LineString([*outline, outline[0]])
    is_faint = faint_among(curves)
    chained = chained_creases(curves, is_faint)
    curves = [curve for curve, _ in chained]
    paths = [LineString(curve.points) for curve in curves]
    tree = STRtree(paths)

    longest = LONGEST_SHARE * float(np.sqrt(Polygon(outline).area))

    def faded(curve: Curve, points: Floats) -> bool:
        crease = is_faint(curve) and is_straight(curve) and curve.length < longest
        return crease and fades_to_edge(points, ring, tree, paths, is_open)

    def is_open(index: int, place: Point) -> bool:
        return is_open_at(curves[index], place, darkness_at)

    reaching = [_from_tip(curve, ring, partial(faded, curve)) for curve in curves]
    candidates = [curve for curve in reaching if curve is not None]
    rest = [curve for curve, found in zip(curves, reaching, strict=True) if found is None]
    candidates, rest = with_trunks(candidates, rest)
    stands_out = darker_than_lines(rest)
    tucks: list[TuckMarks] = []
    for group, branch in _forks_parted(
        _converging(candidates, is_faint), rest, is_faint, darkness_at
    ):
        heaviest = max(group, key=lambda curve: curve.weight)
        others = [curve for curve in group if curve is not heaviest]
        lost: TuckMarks | None = TuckMarks("slit", heaviest, None, LIKE_EITHER)
        work = partial(_tuck_of, group, branch, rest, is_faint, stands_out, ring, darkness_at)
        marks, rest = worked_out(work, (lost, [*rest, *others]))
        tucks += [marks] if marks is not None else []
    tucks, rest = _with_faint_lap_lines(tucks, rest, darkness_at)
    for trunk in [curve for curve in rest if SLITS_SHORTEST_MM < curve.length < longest]:
        cuts = [marks.main for marks in tucks]
        begun = partial(begun_fold, trunk, cuts, ring, is_faint, darkness_at)
        creases = worked_out(begun, None)
        if creases is not None:
            rest = [curve for curve in rest if curve is not trunk]
            fold = _judged(creases, cut_at(rest, creases), True, False, darkness_at)
            tucks += [fold] if fold is not None else []
    whole = {id(crease): curve for crease, curve in chained}
    rest = [whole.get(id(curve), curve) for curve in rest]
    rest = cut_at(rest, _marks_of(tucks))
    gaps, lines = gaps_of(rest, darkness_at), len(rest)
    found = wedges_of(rest, gaps, outline, darkness_at, _marks_of(tucks), longest)
    chancy = sum(wedge.by_chance for wedge in found)
    wedges = [w for w in found if not w.by_chance or is_creased(w, chancy, darkness_at)]
    folds = []
    for wedge in wedges:
        crease = crease_through(wedge.tip, wedge.edges[0])
        either: tuple[Curve, Curve | None, float] = crease, None, LIKE_EITHER
        fold = TuckMarks("fold", *worked_out(partial(fold_in, wedge, darkness_at), either))
        drawn = next((line for line in rest if _is_mark_of(line, fold)), None)
        if drawn is not None:
            # A mark that stops short of the paper's edge: its tip is its own.
            rest = [line for line in rest if line is not drawn]
            kind: TuckKind = "fold" if is_faint(drawn) else "slit"
            fold = TuckMarks(kind, turned_like(drawn, fold.main), None, LIKE_EITHER)
        elif any(_shows_beside(line, fold.main) for line in rest if not is_faint(line)):
            fold = replace(fold, sure=LIKE_EITHER)
        folds.append(fold)
    told = {gap for wedge in wedges for gap in wedge.gaps}
    taken = _marks_of([*tucks, *folds])
    if len(rest) < lines:
        gaps = gaps_of(rest, darkness_at)
    breaks = untold(gaps, taken)
    lone = lone_folds(breaks, rest, taken, Polygon(outline), darkness_at, longest)
    folds += [TuckMarks("fold", fold.crease, None, fold.sure) for fold in lone]
    told |= {fold.gap for fold in lone}
    rest = [part for curve in rest for part in parted_by(list(told), curve)]
    return _round_the_edge([*tucks, *folds], ring), tuple(cut_at(rest, _marks_of(folds)))


def _is_mark_of(line: Curve, fold: TuckMarks) -> bool:
    """Whether a line that was traced is what a fold told by breaks alone was taken to show."""
    long = not line.closed and line.length > SLITS_SHORTEST_MM
    return long and lies_along(line, fold.main)


def _shows_beside(line: Curve, crease: Curve) -> bool:
    """Whether so much of a line lies along a crease that it may be what shows there."""
    about = LineString(crease.points).buffer(LONE_BREAKS_BESIDE_MM)
    return bool(LineString(line.points).intersection(about).length > PENCIL_MM)


def worked_out(work: Callable[[], Found], otherwise: Found) -> Found:
    """What work gives, or what stands for it where it cannot be done."""
    try:
        return work()
    except UNWORKABLE:
        return otherwise


def _tuck_of(
    group: Sequence[Curve],
    branch: bool,
    lines: Sequence[Curve],
    is_faint: Faint,
    stands_out: Callable[[Curve], bool],
    ring: LineString,
    darkness_at: DarknessAt,
) -> tuple[TuckMarks | None, list[Curve]]:
    """The tuck that marks from one tip are, or None; and the lines, with those that are no part."""
    rest = list(lines)
    members = sorted(group, key=lambda curve: -curve.weight)
    faint = is_faint(members[0]) or is_shade(members[0])
    if not faint:
        least = LEAST_LAP_LINE * max(curve.length for curve in members)
        rest += [curve for curve in members if curve.length < least]
        members = [curve for curve in members if curve.length >= least]
    partner = partner_of(members[0], rest, is_faint) if faint else None
    if len(members) == 1 and partner is not None:
        rest = [curve for curve in rest if curve is not partner]
        members.append(turned_like(partner, members[0]))
    if len(members) == 1 and not faint:
        lap_line = lap_line_of(members[0], rest)
        if lap_line is not None:
            rest = [curve for curve in rest if curve is not lap_line[0]]
            members.append(lap_line[1])
    if not faint and not branch and len(members) <= 2:
        whole = pieced(members[0], rest, *members[1:])
        if whole is not None:
            rest = [curve for curve in rest if all(curve is not piece for piece in whole[1])]
            members = [members[0], whole[0]]
    uncarried = members
    if faint:
        members = [carried_to_edge(curve, ring, darkness_at) for curve in members]
    marks = None
    alone = len(members) == 1
    is_tuck = not alone or stands_out(members[0])
    if not is_tuck:
        broken, through = _broken_by(members[0], rest, darkness_at)
        if faint and broken == through > 0:
            # Two creases from one tip are a fold's, even if a line seems to run on through.
            members = list(both_creases(members, darkness_at))
        is_tuck = broken > through or len(members) == 2
    if alone and stands_out(members[0]) and is_straight(members[0]):
        # A cut, whether or not any line crosses it; a torn edge is not straight.
        marks = TuckMarks("slit", without_jogs(members[0]), None)
    elif is_tuck:
        marks = _judged(members[:2], cut_at(rest, members[:2]), faint, branch, darkness_at)
    rest += uncarried if marks is None else uncarried[2:]
    lone = marks is not None and marks.kind == "slit" and marks.second is None
    if marks is not None and lone and any(_may_be_lap_line_of(line, marks.main) for line in rest):
        marks = marks.unsure()
    return marks, rest


def _may_be_lap_line_of(line: Curve, mark: Curve) -> bool:
    """Whether a mark taken for a cut runs beside another line as that one's lap line would.

    A cut may be lost before the paper's edge, as under tape, while its lap line goes on to it.
    """
    cut = turned_like(line, mark)
    if np.linalg.norm(cut.points[0] - mark.points[0]) > MOST_LATE_MM:
        return False
    beside = piece_beside(cut, mark)
    return beside is not None and beside.seen_mm > LEAST_SEEN * mark.length


def _with_faint_lap_lines(
    tucks: Sequence[TuckMarks], lines: Sequence[Curve], darkness_at: DarknessAt
) -> tuple[list[TuckMarks], list[Curve]]:
    """The tucks, slits with the lap line that shows beside them untraced; and the other lines.

    It is none unless lines that cross the slit bear it out; where none tells, the slit is unsure.
    """
    whole, rest = [], list(lines)
    taken: list[TuckMarks] = []
    for marks in tucks:
        if any(marks is other for other in taken):
            continue
        found = None
        if marks.kind == "slit" and marks.second is None:
            work = partial(sought_lap_line, marks.main, rest, darkness_at)
            found = worked_out(work, None)
        if found is None:
            whole.append(marks)
            continue
        others = [line for line in rest if not lies_along(line, found)]
        votes = borne_out(marks.main, found, cut_at(others, [marks.main]), darkness_at)
        if votes <= 0:
            sure = marks.sure if votes else min(marks.sure, LIKE_EITHER)
            whole.append(replace(marks, sure=sure))
            continue
        rest = others
        odds = cut_odds(marks.main, found, rest, darkness_at)
        # What was traced of it and runs to the edge by itself is no cut of its own.
        traced = [
            other
            for other in tucks
            if other is not marks
            and other.second is None
            and (lies_along(other.main, found) or lies_along(found, other.main))
        ]
        second = traced[0].main if traced else found
        taken += traced
        sure = surely_cut(max(odds, 0.0), marks.main, second, rest, darkness_at)
        whole.append(replace(marks, second=second, sure=sure))
    return [marks for marks in whole if all(marks is not other for other in taken)], rest


def _marks_of(tucks: Sequence[TuckMarks]) -> list[Curve]:
    return [mark for tuck in tucks for mark in (tuck.main, tuck.second) if mark is not None]


def _round_the_edge(tucks: Sequence[TuckMarks], ring: LineString) -> tuple[TuckMarks, ...]:
    """The tucks in order along the outline, beginning after the longest stretch without one."""
    if len(tucks) < 2:
        return tuple(tucks)
    at = np.array([ring.project(Point(*marks.main.points[-1])) for marks in tucks])
    order = np.argsort(at)
    gaps = np.diff(at[order], prepend=at[order[-1]] - ring.length)
    return tuple(tucks[i] for i in np.roll(order, -int(np.argmax(gaps))))


def _from_tip(curve: Curve, ring: LineString, faded: Callable[[Floats], bool]) -> Curve | None:
    """The curve turned to run from its tip to the paper's edge, or None if it does not.

    ``faded`` says whether a mark that ends short of the edge would go on to it unseen.
    """
    if curve.closed or curve.length < SLITS_SHORTEST_MM:
        return None
    to_edge = [
        ring.distance(Point(*points[-1])) < EDGE_MM or faded(points)
        for points in (curve.points[::-1], curve.points)
    ]
    if to_edge[0] == to_edge[1]:
        return None
    if to_edge[1]:
        return curve
    return curve.reversed()


def _converging(curves: Sequence[Curve], is_faint: Faint) -> list[list[Curve]]:
    """Groups of curves from one tip; either of two may start a little way along the other.

    Of two creases the second may be seen only where it stands well off the first, and so may a lap
    line.
    """
    groups: list[list[Curve]] = []
    for curve in sorted(curves, key=lambda curve: -curve.length):
        for group in groups:
            turn = abs(signed_angle(direction(curve), direction(group[0])))
            gap, depth = min(_start_gap(curve, group[0]), _start_gap(group[0], curve))
            apart = TOUCH_MM
            faint = is_faint(curve) and is_faint(group[0])
            if faint:
                apart += CREASES_APART * depth
            outer = not faint and (
                piece_beside(group[0], curve) is not None or _meet(group[0], curve)
            )
            if turn < CONVERGING_TURN and (gap < apart or outer):
                group.append(curve)
                break
        else:
            groups.append([curve])
    return groups


def _meet(one: Curve, two: Curve) -> bool:
    """Whether two ways to the paper's edge come from one tip, of which one may show late.

    How far they stand apart falls inwards, to nothing where the longer of them begins or near it.
    """
    path = LineString(one.points)
    inner, outer = (Point(*two.points[end]) for end in (0, -1))
    depths, apart = ([of(each) for each in (inner, outer)] for of in (path.project, path.distance))
    closer = apart[1] - apart[0]
    if closer <= 0 or depths[1] <= depths[0]:
        return False
    tip = depths[0] - apart[0] * (depths[1] - depths[0]) / closer
    return bool(abs(tip) < MOST_LATE_MM and apart[1] < STEEPEST_LAP * depths[1])


def _forks_parted(
    groups: Sequence[list[Curve]],
    lines: Sequence[Curve],
    is_faint: Faint,
    darkness_at: DarknessAt,
) -> list[tuple[list[Curve], bool]]:
    """The groups, that of a forked slit as one for each branch; and whether they are branches.

    Between a cut and its lap line there is bare paper; between two branches lines run on.
    """
    parted: list[tuple[list[Curve], bool]] = []
    for group in groups:
        heavy = BRANCH_WEIGHT * max(curve.weight for curve in group)
        cuts = [curve for curve in group if curve.weight > heavy and not is_faint(curve)]
        if len(cuts) != 2 or not _runs_between(cuts[0], cuts[1], lines, darkness_at):
            parted.append((group, False))
            continue
        branches = [[cut] for cut in cuts]
        for curve in group:
            if all(curve is not cut for cut in cuts):
                gaps = [_start_gap(curve, cut)[0] for cut in cuts]
                branches[int(np.argmin(gaps))].append(curve)
        parted += [(branch, True) for branch in branches]
    return parted


def _runs_between(one: Curve, two: Curve, lines: Sequence[Curve], darkness_at: DarknessAt) -> bool:
    """Whether a line fills most of the way between two marks, some way off their tips."""
    field = Polygon([*one.points, *two.points[::-1]]).buffer(0)
    path, other = LineString(one.points), LineString(two.points)
    for line in lines:
        inside = LineString(line.points).intersection(field)
        wide = path.distance(inside.centroid) + other.distance(inside.centroid)
        if inside.length > max(BETWEEN_SHARE * wide, LEAST_BETWEEN_MM):
            parts = [np.array(part.coords) for part in getattr(inside, "geoms", [inside])]
            drawn = _contrast(parts, darkness_at) >= DRAWN_SHARE * _contrast(
                [line.points], darkness_at
            )
            if drawn and not is_open_at(line, inside.centroid, darkness_at):
                return True
    return False


def _contrast(lines: Sequence[Floats], darkness_at: DarknessAt) -> float:
    """How much darker it is along most of some lines (N, 2), mm, than beside them."""
    lines = [evenly(line, CONTRAST_STEP_MM) for line in lines if len(line) > 1]
    heading = np.concatenate([headings_along(line) for line in lines])
    across = np.stack([-np.sin(heading), np.cos(heading)], axis=1)
    offsets = np.array([-1.5, -0.2, 0.0, 0.2, 1.5])
    tone = darkness_at(places_beside(np.concatenate(lines), across, offsets))
    return float(np.median(tone[:, 1:4].mean(axis=1) - (tone[:, 0] + tone[:, 4]) / 2))


def _start_gap(curve: Curve, other: Curve) -> tuple[float, float]:
    """How far a curve's tip is from the other curve, and how far along that, mm."""
    path, tip = LineString(other.points), Point(*curve.points[0])
    return float(path.distance(tip)), float(path.project(tip))


def cut_at(curves: Sequence[Curve], barriers: Sequence[Curve]) -> list[Curve]:
    """The curves cut wherever they run across a barrier; short scraps between are dropped."""
    lines = [LineString(barrier.points) for barrier in barriers]
    pieces: list[Curve] = []
    for whole in curves:
        curve = whole
        if whole.closed:
            curve = replace(whole, points=np.concatenate([whole.points, whole.points[:1]]))
        path = LineString(curve.points)
        cuts = set()
        for line in lines:
            crossing = path.intersection(line)
            for point in getattr(crossing, "geoms", [crossing]):
                if point.geom_type == "Point" and not point.is_empty:
                    distance = path.project(point)
                    if _turn_between(path, line, distance, point) > LEAST_TURN:
                        cuts.add(float(distance))
        stops = sorted(cuts)
        if not stops:
            pieces.append(whole)
            continue
        bounds = stops if whole.closed else [0.0, *stops, path.length]
        parts = [_part(curve, path, a, b) for a, b in itertools.pairwise(bounds)]
        if whole.closed:
            last, first = (
                _part(curve, path, stops[-1], path.length),
                _part(curve, path, 0, stops[0]),
            )
            joined = np.concatenate([last.points, first.points[1:]])
            parts.append(replace(last, points=joined))
        pieces += [part for part in parts if part.length >= CUT_MIN_PIECE_MM]
    return pieces


def _turn_between(path: LineString, line: LineString, distance: float, point: Point) -> float:
    at = line.project(point)

    def heading(of: LineString, where: float) -> Floats:
        ends = of.interpolate(max(where - 2, 0)), of.interpolate(where + 2)
        return np.asarray(np.subtract(ends[1].coords[0], ends[0].coords[0]))

    turn = abs(signed_angle(heading(path, distance), heading(line, at)))
    return min(turn, np.pi - turn)


def _part(curve: Curve, path: LineString, start: float, stop: float) -> Curve:
    along = running_length(curve.points)
    inside = (along > start + 0.2) & (along < stop - 0.2)
    first, last = path.interpolate(start).coords[0], path.interpolate(stop).coords[0]
    points = np.concatenate([[first], curve.points[inside], [last]])
    return replace(curve, points=points, closed=False)


def _judged(
    members: Sequence[Curve],
    lines: Sequence[Curve],
    faint: bool,
    branch: bool,
    darkness_at: DarknessAt,
) -> TuckMarks | None:
    """A slit, a fold, or None where the marks are no tuck. A cut is never faint; creases are.

    ``members`` are one or two marks from one tip, the heavier first; of a ``branch``, the cut.
    """
    sure = 1.0
    if len(members) == 2 and not faint and not branch:
        odds = cut_odds(members[0], members[1], lines, darkness_at)
        members = members if odds > 0 else members[::-1]
        sure = surely_cut(abs(odds), members[0], members[1], lines, darkness_at)
    main = members[0]
    if len(members) == 1:
        sides = {end.side for end in line_ends(main, lines)}
        if len(sides) < 2:
            return None
    traced = members
    if faint:
        members = both_creases(traced, darkness_at)
    if len(members) == 1:
        if not faint:
            return TuckMarks("slit", without_jogs(main), None)
        return TuckMarks("fold", carried_to_tip(without_jogs(main), darkness_at), None)
    main, second = members
    beyond = [
        _beyond_second(a, b, line_ends(a, lines)) for a, b in ((main, second), (second, main))
    ]
    if is_dark(main) or (not faint and beyond[0] <= 0 and beyond[1] <= 0):
        whole = without_jogs(from_common_tip(main, second))
        return TuckMarks("slit", whole, parted(whole, second, darkness_at), sure)
    if max(beyond) < 0:  # more lines go on at the other mark, as at a lap line
        sure = min(sure, LIKE_EITHER)
    # The crease in sight is the one that lines run up to on its open side.
    main, second = (main, second) if beyond[0] >= beyond[1] else (second, main)
    if members is not traced:  # those that were sought begin at their tip and run fairly
        return TuckMarks("fold", main, second, sure)
    whole = carried_to_tip(without_jogs(from_common_tip(main, second)), darkness_at)
    return TuckMarks("fold", whole, without_jogs(second), sure)


def _broken_by(crease: Curve, curves: Sequence[Curve], darkness_at: DarknessAt) -> tuple[int, int]:
    """How many lines break at a lone crease, as where a fold has moved them; and run on through."""
    path = LineString(crease.points)
    breaks = line_ends(crease, curves)
    jumps = []
    for end in breaks:
        over = [
            end.across + other.across
            for other in breaks
            if end.side > 0 > other.side and abs(other.depth - end.depth) < SAME_BREAK_MM
        ]
        jumps += [(end.depth, min(over))] if over else []
    broken, through = len(jumps), 0
    for curve in curves:
        crossing = LineString(curve.points).intersection(path)
        for point in getattr(crossing, "geoms", [crossing]):
            if point.geom_type == "Point" and not point.is_empty:
                ends = np.linalg.norm(curve.points[[0, -1]] - np.array(point.coords[0]), axis=1)
                opens = is_open_at(curve, point, darkness_at)
                depth = path.project(point)
                # A lap grows with the depth: near the tip it may be less than shows.
                unseen = any(
                    depth < deeper and jump * depth / deeper < UNSEEN_JUMP_MM
                    for deeper, jump in jumps
                )
                broken += opens
                through += bool(ends.min() > SAME_BREAK_MM) and not opens and not unseen
    return broken, through


def _beyond_second(main: Curve, second: Curve, ends: Sequence[LineEnd]) -> int:
    """Votes for a fold, less votes for a slit.

    Each line on the second mark's side votes: a fold where it goes on as far beyond that mark as
    the mark stands off the main one, a slit where it goes on at the mark itself.
    """
    votes = 0
    for end in ends:
        gap = gap_at(main, second, end.depth)
        if gap is None or gap * end.side <= 0 or abs(gap) < FOLD_AGREES_MM:
            continue
        at_second = abs(end.across - abs(gap))
        at_twice = abs(end.across - 2 * abs(gap))
        votes += 1 if at_twice < at_second else -1
    return votes
