"""Laps along a tuck's depth, from its lap line or creases and from the lines that break at it."""

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from shapely import LineString, distance, line_interpolate_point, line_locate_point
from shapely import points as points_of

from digitize.floor import NORMAL_95
from digitize.pencil import Curve, DarknessAt
from digitize.record import Evidence, Station
from digitize.tucks.breaks import LineBreak, matched
from digitize.tucks.ends import LineEnd, gap_at, line_ends
from digitize.tucks.gape import Gape, gape_of
from digitize.tucks.onsets import where_begun
from digitize.tucks.pivots import pivot_sigma, turned_back
from digitize.tucks.slits import UNWORKABLE, TuckMarks
from digitize.tucks.thresholds import (
    AT_CUT_MM,
    AT_LAP_LINE_SIGMA_MM,
    BACK_MM,
    BEYOND_EDGE,
    BEYOND_EDGE_SIGMA,
    CLOSE_MM,
    CLOSE_SIGMA_MM,
    CREASE_SIGMA_MM,
    DEEP_SHARE,
    FEWEST_STEADY,
    FEWEST_TO_MEET,
    HAND_SIGMA_MM,
    LAPS_ASIDE_MM,
    LAPS_LEAST_GROWN,
    LAPS_LEAST_LAP_MM,
    LEAST_BREAK_MM,
    LINE_SIGMA_MM,
    LONE_SIGMA_MM,
    MOST_GROWN,
    MOST_LOST_MM,
    MOST_POWER,
    SAME_LAP_MM,
    STATION_STEP_MM,
    STEEPEST_LAP,
    UNBORNE_SIGMA_MM,
    UNSEEN_MM,
    UNSEEN_SIGMA_MM,
)

Floats = NDArray[np.float64]
Booleans = NDArray[np.bool_]


@dataclass(frozen=True)
class LapReading:
    """What a tuck's marks say of its lap: stations by depth, and the breaks among them.

    ``gape_mm`` is how wide a slit lies open at the paper's edge.
    """

    stations: tuple[Station, ...]
    breaks: tuple[LineBreak, ...]
    gape_mm: float


def measure_laps(
    marks: TuckMarks, pivot_mm: float, lines: Sequence[Curve], darkness_at: DarknessAt
) -> LapReading:
    """Measure a tuck's lap from its own marks and from the lines that break at it.

    Where that cannot be worked out there are no stations, which a remark says of the tuck.

    Parameters
    ----------
    pivot_mm : how far its pivot lies behind its tip.
    darkness_at : darkness of the paper at points (..., 2), mm.
    """
    try:
        return _measured(marks, pivot_mm, lines, darkness_at)
    except UNWORKABLE:
        return LapReading((), (), 0.0)


def is_borne_out(marks: TuckMarks, found: LapReading) -> bool:
    """Whether what was measured says that marks are a tuck: some lap; of a fold, more than that.

    A shade along the paper, or a fold that means nothing, may run where one line has a gap. Where
    no second crease measures a fold, two breaks must be such as grow from one another, and one of
    them plainly more than nothing. Two creases meet at the tip, or not much before it.
    """
    creases = [each for each in found.stations if each.evidence == "crease"]
    if marks.kind == "slit" or creases:
        return bool(found.stations) and _left_at_tip_mm(creases) == 0.0
    pairs = itertools.combinations(found.breaks, 2)
    agree = any(_out_of_growth(one, other) == 0.0 for one, other in pairs)
    return agree and any(each.lap > NORMAL_95 * each.sigma for each in found.breaks)


def _left_at_tip_mm(stations: Sequence[Station]) -> float:
    """The lap that is left at the tip by the straight line through a fold's stations, mm.

    0 where it comes to nothing there, or no further before it than a crease's tip may be lost.
    """
    if len(stations) < FEWEST_TO_MEET:
        return 0.0
    depths, laps = zip(*((each.depth, each.lap) for each in stations), strict=True)
    slope, at_tip = np.polyfit(depths, laps, 1)
    return float(at_tip) if at_tip > MOST_LOST_MM * slope else 0.0


def _measured(
    marks: TuckMarks, pivot_mm: float, lines: Sequence[Curve], darkness_at: DarknessAt
) -> LapReading:
    """What the marks say, if it can be worked out."""
    ends = line_ends(marks.main, lines)
    gape: Gape = np.zeros_like
    if marks.kind == "fold":
        breaks, stations = _read_fold(marks, ends, pivot_mm, lines, darkness_at)
    else:
        gape = gape_of(marks.main, marks.second, darkness_at)
        breaks, stations = _read_slit(marks, ends, pivot_mm, gape, lines, darkness_at)
        doubt = _either_way_mm(marks, gape, darkness_at)
        stations = [_in_doubt(station, doubt) for station in stations]
        breaks = [_with_sigma(found, float(doubt(np.array(found.depth)))) for found in breaks]
    agreeing = [found for found in breaks if _at_lap_line(found, stations)]
    if marks.kind == "fold" and len(agreeing) < len(breaks) / 2:
        stations = []  # a pencil line's end is seen more surely than a crease
    else:
        breaks = agreeing
    if marks.kind == "fold" and not breaks:
        alone = 2.0 * UNBORNE_SIGMA_MM
        stations = [
            s.model_copy(update={"sigma": round(math.hypot(s.sigma, alone), 3)}) for s in stations
        ]
    # Where a line may go on further than it seems to, it does not say that there is no lap.
    through = [
        found for found in breaks if found.lap < LEAST_BREAK_MM and found.sigma < UNSEEN_SIGMA_MM
    ]
    breaks = [found for found in breaks if found.lap >= LEAST_BREAK_MM]
    if not stations:  # nothing beside the breaks says what the lap is
        breaks = [found for found in breaks if found.lap < STEEPEST_LAP * found.depth]
        breaks = [_with_sigma(found, _unborne_mm(found, breaks)) for found in breaks]
    stations += [
        Station(
            depth=round(found.depth, 3),
            lap=round(found.lap, 3),
            sigma=round(found.sigma, 3),
            evidence="line-break",
            common=_common_mm(marks),
        )
        for found in breaks
    ]
    deepest = max((found.depth for found in through), default=0.0)
    if not stations and deepest > DEEP_SHARE * marks.main.length:
        # Too small a lap to be seen even where it is large.
        stations = [
            Station(
                depth=round(deepest, 3),
                lap=UNSEEN_MM,
                sigma=UNSEEN_SIGMA_MM,
                evidence="line-break",
            )
        ]
    at_edge = float(gape(np.array(marks.main.length)))
    return LapReading(tuple(sorted(stations, key=lambda s: s.depth)), tuple(breaks), at_edge)


def _read_fold(
    marks: TuckMarks,
    ends: Sequence[LineEnd],
    pivot_mm: float,
    lines: Sequence[Curve],
    darkness_at: DarknessAt,
) -> tuple[list[LineBreak], list[Station]]:
    """Lines go on as far from the crease in sight on one side as they end on the other."""
    # Of two creases, one lies where the paper is bare.
    begun = where_begun(ends, marks.main, lines, darkness_at, pale=marks.second is None)
    breaks = matched(begun, begun, lines, marks, pivot_mm, np.zeros_like)
    stations = _along_mark(marks, pivot_mm, 2.0, CREASE_SIGMA_MM, np.zeros_like, "crease")
    off = _left_at_tip_mm(stations)
    return breaks, [
        _in_doubt(station, lambda depth: np.full_like(depth, off)) for station in stations
    ]


def _read_slit(
    marks: TuckMarks,
    ends: Sequence[LineEnd],
    pivot_mm: float,
    gape: Gape,
    lines: Sequence[Curve],
    darkness_at: DarknessAt,
) -> tuple[list[LineBreak], list[Station]]:
    """Lines stop at the cut on one side, and go on where the lap was drawn over on the other."""
    sigma_mm, further = LINE_SIGMA_MM, gape
    if marks.second is None:
        begun = where_begun(ends, marks.main, lines, darkness_at)
    else:
        width = marks.second.width
        sigma_mm = math.hypot(sigma_mm, HAND_SIGMA_MM, _common_mm(marks))
        end_sigma = math.hypot(AT_LAP_LINE_SIGMA_MM, sigma_mm)
        begun = tuple(replace(end, sigma=end_sigma) for end in ends)
        further = _wider(gape, 2 * BEYOND_EDGE * width)
    side = _covered_side(marks, begun)
    stops = [end for end in ends if end.side != side and abs(end.across) < AT_CUT_MM]
    goes_on = [end for end in begun if end.side == side]
    breaks = matched(stops, goes_on, lines, marks, pivot_mm, further)
    return breaks, _along_mark(marks, pivot_mm, 1.0, sigma_mm, further, "lap-line")


def _either_way_mm(marks: TuckMarks, gape: Gape, darkness_at: DarknessAt) -> Gape:
    """Sigma of laps, mm, for what they would be if cut and lap line were the other way about.

    What lies between the two is the same; how far the lap line stands off its edge is not, nor how
    far the cut gapes. Of two values with odds, the scatter is the root of both shares' product.
    """
    if marks.second is None:
        return np.zeros_like
    other = gape_of(marks.second, marks.main, darkness_at)
    further = 2 * BEYOND_EDGE * (marks.main.width - marks.second.width)
    share = math.sqrt(marks.sure * (1 - marks.sure)) / 2
    return lambda depths: np.asarray(share * np.abs(other(depths) - gape(depths) + further))


def _with_sigma(found: LineBreak, sigma_mm: float) -> LineBreak:
    return replace(found, sigma=math.hypot(found.sigma, sigma_mm))


def _in_doubt(station: Station, doubt: Gape) -> Station:
    sigma = math.hypot(station.sigma, float(doubt(np.array(station.depth))))
    return station.model_copy(update={"sigma": round(sigma, 3)})


def _common_mm(marks: TuckMarks) -> float:
    """Sigma of what all that a slit's lap line tells is off by together, mm."""
    if marks.kind == "fold" or marks.second is None:
        return 0.0
    return round(BEYOND_EDGE_SIGMA * marks.second.width, 4)


def _wider(gape: Gape, by_mm: float) -> Gape:
    """A slit's gape and so much more, half of which lies on either side of its middle."""
    return lambda depths: np.asarray(gape(depths) + by_mm)


def _along_mark(
    marks: TuckMarks,
    pivot_mm: float,
    share: float,
    sigma_mm: float,
    gape: Gape,
    evidence: Evidence,
) -> list[Station]:
    """Stations where a lap line, or a second crease, stands clear of the main mark; none without.

    ``share`` is how often the angle between the two marks goes into that of the lap.
    """
    main, second = marks.main, marks.second
    if second is None:
        return []
    path = LineString(main.points)
    at = points_of(second.points)
    depths = np.asarray(line_locate_point(path, at))
    feet = line_interpolate_point(path, depths)
    across = np.asarray(distance(at, feet)) - gape(depths) / 2
    inside = (depths > 1.0) & (depths < path.length - 1.0) & ~_drawn_aside(depths, across)
    if inside.sum() < 2:
        return []
    beside = depths[inside], share * across[inside]
    reached, laps = turned_back(*beside, pivot_mm)
    turning = pivot_sigma(*beside, pivot_mm)
    order = np.argsort(reached)
    reached, laps, turning = reached[order], laps[order], turning[order]
    first = STATION_STEP_MM * math.ceil(float(reached[0]) / STATION_STEP_MM)
    wanted = np.arange(first, float(reached[-1]), STATION_STEP_MM)
    after = np.clip(np.searchsorted(reached, wanted), 1, len(reached) - 1)
    wanted = wanted[reached[after] - reached[after - 1] < STATION_STEP_MM]  # seen on both sides
    sigma = share * math.hypot(main.sigma, second.sigma, sigma_mm, _unsteadiness(reached, laps))
    return [
        Station(
            depth=round(float(depth), 3),
            lap=round(float(lap), 3),
            sigma=round(math.hypot(sigma, CLOSE_SIGMA_MM if lap < CLOSE_MM else 0.0, turn), 3),
            evidence=evidence,
            common=_common_mm(marks),
        )
        for depth, lap, turn in zip(
            wanted,
            np.interp(wanted, reached, laps),
            np.interp(wanted, reached, turning),
            strict=True,
        )
        if lap > share * LAPS_LEAST_LAP_MM
    ]


def _unsteadiness(depths: Floats, laps: Floats) -> float:
    """Sigma of laps about the fair course that they have along a mark, beyond the usual, mm."""
    if len(depths) < FEWEST_STEADY:
        return 0.0
    off = laps - np.polyval(np.polyfit(depths, laps, 3), depths)
    return math.sqrt(max(float(np.mean(off**2)) - HAND_SIGMA_MM**2, 0.0))


def _drawn_aside(depths: Floats, across: Floats) -> Booleans:
    """(N,) where a mark was drawn towards the other and back, as laps only grow with the depth."""
    order = np.argsort(depths)
    depth, lap = depths[order], across[order]
    highest = np.maximum.accumulate(lap)
    aside = np.zeros(len(depths), np.bool_)
    for low in np.flatnonzero(lap < highest - BACK_MM):
        left, regained = np.argmax(lap[:low]), np.flatnonzero(lap[low:] > highest[low])
        if len(regained):
            span = depth[left] - LAPS_ASIDE_MM, depth[low + regained[0]] + LAPS_ASIDE_MM
            aside[order[(depth > span[0]) & (depth < span[1])]] = True
    return aside


def _unborne_mm(found: LineBreak, breaks: Sequence[LineBreak]) -> float:
    """Sigma of a break for what no other bears out, mm: it may be of some other line, or paler.

    A lap grows with the depth at least in proportion, as on a cone. Where others say something
    else, it is not known which are right: it is as far in doubt as it is from the nearest.
    """
    off = [_out_of_growth(found, other) for other in breaks if other is not found]
    if off and min(off) == 0.0:
        return 0.0
    return math.hypot(LONE_SIGMA_MM, min(off, default=0.0))


def _out_of_growth(found: LineBreak, other: LineBreak | Station) -> float:
    """How far a break's lap is from all that may grow from another's, or to it, mm."""
    shares = found.depth / max(other.depth, 1e-9) * np.array([LAPS_LEAST_GROWN, MOST_GROWN])
    if found.depth < other.depth:
        shares = found.depth / other.depth / np.array([MOST_GROWN, LAPS_LEAST_GROWN])
    low, high = other.lap * shares
    return float(max(low - found.lap, found.lap - high, 0.0))


def _at_lap_line(found: LineBreak, stations: Sequence[Station]) -> bool:
    """Whether the line goes on where the lap line or creases say, as one drawn over a lap does.

    From the tip, where the lap is nothing, to the last of their stations; and beyond that as laps
    may grow from it: close by, by no more than a power of the depth.
    """
    if not stations:
        return True
    last = stations[-1]
    if found.depth > last.depth:
        most = last.lap * (found.depth / last.depth) ** MOST_POWER
        return bool(max(_out_of_growth(found, last), found.lap - most) < SAME_LAP_MM)
    depths, laps = [0.0, *(s.depth for s in stations)], [0.0, *(s.lap for s in stations)]
    expected = np.interp(found.depth, depths, laps)
    return abs(found.lap - float(expected)) < SAME_LAP_MM


def _covered_side(marks: TuckMarks, ends: Sequence[LineEnd]) -> float:
    """+1 if the lower flap lies to the left of the tuck (seen from its tip), else -1."""
    if marks.second is not None:
        middle = marks.main.length * 0.8
        gap = gap_at(marks.main, marks.second, middle)
        if gap is not None:
            return 1.0 if gap > 0 else -1.0
    left, right = (
        [end.across for end in ends if end.side == side] or [0.0] for side in (1.0, -1.0)
    )
    # Where most lines go on at the cut, the others settle it.
    further = float(np.median(left) - np.median(right))
    if abs(further) < LEAST_BREAK_MM:
        further = float(np.mean(left) - np.mean(right))
    return 1.0 if further > 0 else -1.0
