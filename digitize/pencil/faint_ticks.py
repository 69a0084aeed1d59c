"""Ticks too faint to be believed alone, told by the even row that they stand in."""

from collections.abc import Sequence

import numpy as np

from digitize.pencil.even_rows import even_rows, free_of, may_be_tick
from digitize.pencil.thresholds import FAINT_TICK_SHORTEST_MM, FAINTEST_NOISE
from digitize.pencil.trace import Stroke


def faint_ticks(
    faint: Sequence[Stroke], plain: Sequence[Stroke], area_mm2: float
) -> tuple[Stroke, ...]:
    """Those strokes, too faint to be believed alone, that stand in a row no chance would make.

    Parameters
    ----------
    plain : strokes that are believed; ticks of a row may be among them.
    area_mm2 : of the paper.
    """
    some = [
        stroke
        for stroke in faint
        if stroke.length >= FAINT_TICK_SHORTEST_MM
        and stroke.strength.mean() >= FAINTEST_NOISE
        and may_be_tick(stroke.points)
    ]
    marks = [*some, *(s for s in plain if may_be_tick(s.points))]
    free = free_of([mark.points for mark in marks], [stroke.points for stroke in plain])
    marks = [mark for mark, yes in zip(marks, free, strict=True) if yes]
    known = {id(stroke) for stroke in some}
    plainness = np.array([mark.strength.mean() for mark in marks])
    rows = even_rows([mark.points for mark in marks], plainness, area_mm2)
    return tuple(marks[k] for row in rows for k in row.tolist() if id(marks[k]) in known)
