"""From what the ridge filter saw to the strokes a hand drew, step by step."""

from digitize.pencil.dash_rows import join_rows_of_dashes
from digitize.pencil.faint_ticks import faint_ticks
from digitize.pencil.gaps import join_dashes, split_at_laps
from digitize.pencil.repair import (
    bridge_skips,
    extend_strokes,
    without_doubles,
    without_edges,
    without_specks,
)
from digitize.pencil.ridges import RidgeMap, find_crests
from digitize.pencil.trace import Stroke, believed, join_faint, trace_strokes


def find_strokes(ridges: RidgeMap) -> tuple[Stroke, ...]:
    """The strokes on the paper: whole, each once, and none that is only grain."""
    marks = without_specks(trace_strokes(find_crests(ridges)), ridges)
    traced = join_faint(join_rows_of_dashes(marks, ridges))
    plain = believed(traced)
    known = {id(stroke) for stroke in plain}
    faint = [stroke for stroke in traced if id(stroke) not in known]
    strokes = without_edges((*plain, *faint_ticks(faint, plain, ridges.paper_mm2)), ridges)
    strokes = without_doubles(extend_strokes(strokes, ridges))
    strokes = join_dashes(bridge_skips(strokes, ridges), ridges)
    return split_at_laps(strokes, ridges)
