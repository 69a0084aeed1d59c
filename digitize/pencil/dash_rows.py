"""Dashes told by the even row that they lie in, be they ever so short and faint."""

import itertools
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray
from shapely import LineString, STRtree

from digitize.pencil.even_rows import DASHES, even_rows, may_be_tick
from digitize.pencil.repair import tones_across
from digitize.pencil.ridges import RidgeMap
from digitize.pencil.thresholds import (
    DASH_ROW_ACROSS_MM,
    DASH_ROW_CROSSING_MM,
    FAINT_NOISE,
    GAP_POINTS,
    TRACE_OF_PENCIL,
)
from digitize.pencil.trace import Stroke, put_together

Floats = NDArray[np.float64]


def join_rows_of_dashes(strokes: Sequence[Stroke], ridges: RidgeMap) -> tuple[Stroke, ...]:
    """The strokes, with each even row of short ones, one after another, as one dashed line.

    A line that was traced in pieces is no row of dashes: between them it shows. Where a long mark
    runs through between two dashes the line breaks, as at a tuck.
    """
    some = [s for s in strokes if s.strength.mean() >= FAINT_NOISE and may_be_tick(s.points)]
    plainness = np.array([stroke.strength.mean() for stroke in some])
    rows = even_rows([stroke.points for stroke in some], plainness, ridges.paper_mm2, DASHES)
    long = STRtree([LineString(s.points) for s in strokes if s.length >= DASH_ROW_CROSSING_MM])
    joined: list[Stroke] = []
    used: set[int] = set()
    for row in rows:
        members = _in_order([some[k] for k in row.tolist()])
        gaps = [
            np.linspace(one.points[-1], two.points[0], GAP_POINTS)
            for one, two in itertools.pairwise(members)
        ]
        on_them = _contrast([stroke.points for stroke in members], ridges)
        if _contrast(gaps, ridges) >= TRACE_OF_PENCIL * on_them:
            continue
        used.update(id(some[k]) for k in row.tolist())
        crossed = set(long.query([LineString(g) for g in gaps], predicate="intersects")[0].tolist())
        for a, b in itertools.pairwise([0, *(k + 1 for k in sorted(crossed)), len(members)]):
            part = put_together(members[a:b], [(k, False) for k in range(b - a)])
            joined.append(replace(part, dashed=True))
    return (*(stroke for stroke in strokes if id(stroke) not in used), *joined)


def _in_order(row: Sequence[Stroke]) -> list[Stroke]:
    """The strokes of a row, each run the way that the row goes."""
    ahead = row[-1].points.mean(axis=0) - row[0].points.mean(axis=0)
    return [
        stroke
        if (stroke.points[-1] - stroke.points[0]) @ ahead > 0
        else Stroke(stroke.points[::-1], stroke.strength[::-1])
        for stroke in row
    ]


def _contrast(ways: Sequence[Floats], ridges: RidgeMap) -> float:
    """How much darker it is along some ways than beside them."""
    tone = tones_across(ways, DASH_ROW_ACROSS_MM, ridges)
    return float(np.median(tone[:, 1:4].mean(axis=1) - (tone[:, 0] + tone[:, 4]) / 2))
