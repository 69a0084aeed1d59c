"""Lines that break at a tuck: which two ends are one line, and how far it jumps there."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from digitize.pencil import Curve
from digitize.tucks.ends import LineEnd
from digitize.tucks.gape import Gape
from digitize.tucks.pivots import pivot_sigma, turned_back
from digitize.tucks.slits import TuckMarks
from digitize.tucks.thresholds import (
    ALIKE,
    DEPTH_SIGMA_MM,
    EDGE_SIGMA_MM,
    LINE_SIGMA_MM,
    MOST_TURN,
    NEARER,
    SAME_LINE_MM,
)


@dataclass(frozen=True)
class LineBreak:
    """A line that stops at a tuck and goes on a lap's width further.

    Attributes
    ----------
    lines : index of the line that stops at the edge that lay above, and of the one that goes on.
    depth : of where it goes on, turned back about the tip, mm.
    lap, sigma : how far it jumps, mm.
    along : how much deeper it goes on than it stopped, mm.
    """

    lines: tuple[int, int]
    depth: float
    lap: float
    sigma: float
    along: float


def matched(
    stops: Sequence[LineEnd],
    goes_on: Sequence[LineEnd],
    lines: Sequence[Curve],
    marks: TuckMarks,
    pivot_mm: float,
    gape: Gape,
) -> list[LineBreak]:
    """Pairs of ends that are one line once the tuck is closed, the likeliest first taken."""
    pairs: list[tuple[float, LineBreak, LineEnd, LineEnd]] = []
    for one in stops:
        for two in goes_on:
            if one.side == two.side or (marks.kind == "fold" and one.side < 0):
                continue
            joined = _joined(one, two, lines, marks, pivot_mm, gape)
            if joined is not None:
                pairs.append((*joined, one, two))
    taken: set[tuple[float, float]] = set()
    breaks = []
    for _, found, one, two in sorted(pairs, key=lambda pair: pair[0]):
        if one.point not in taken and two.point not in taken:
            taken |= {one.point, two.point}
            breaks.append(found)
    return sorted(breaks, key=lambda found: found.depth)


def _joined(
    one: LineEnd,
    two: LineEnd,
    lines: Sequence[Curve],
    marks: TuckMarks,
    pivot_mm: float,
    gape: Gape,
) -> tuple[float, LineBreak] | None:
    """How unlike two ends are (in mm), and the break they make; None if they are not one line.

    Where the line runs aslant, its end may be slid along it until both parts agree in depth.
    """
    turned = sum(math.atan2(end.across, end.depth) for end in (one, two))
    unlike = abs(one.heading + two.heading - turned - math.pi)
    depths, aside = np.array([one.depth, two.depth]), np.array([one.across, two.across])
    stop, depth = (float(value) for value in turned_back(depths, aside, pivot_mm)[0])
    if abs(depth - stop) > SAME_LINE_MM or unlike > MOST_TURN:
        return None
    aslant, square = math.cos(two.heading), math.sin(two.heading)
    weight, end_weight = (aslant / DEPTH_SIGMA_MM) ** 2, two.sigma**-2
    slide = (stop - depth) * aslant / DEPTH_SIGMA_MM**2 / (weight + end_weight)
    across = two.across + slide * square - float(gape(np.array(two.depth))) / 2
    if marks.kind == "fold":
        across += one.across
    place, lap = (
        float(value[0])
        for value in turned_back(
            np.array([two.depth + slide * aslant]), np.array([across]), pivot_mm
        )
    )
    end = square * math.hypot(1 / math.sqrt(weight + end_weight), two.doubt)
    if marks.kind == "fold":
        off: tuple[float, ...] = (one.sigma, one.doubt, EDGE_SIGMA_MM, EDGE_SIGMA_MM)
    else:  # its edge is seen; so is a lap line, which hides where lines begin at it
        off = (EDGE_SIGMA_MM,) if marks.second is None else ()
    turning = float(pivot_sigma(np.array([two.depth]), np.array([across]), pivot_mm)[0])
    sigma = math.hypot(end, *off, turning, marks.main.sigma, lines[two.line].sigma, LINE_SIGMA_MM)
    found = LineBreak((one.line, two.line), place, lap, sigma, depth - stop)
    # Of two ends as deep, the nearer is where the line goes on; the other is a gap further along.
    return abs(depth - stop) + unlike / ALIKE + NEARER * two.across, found
