"""A pattern's lines as marks to be laid on another's."""

from collections.abc import Sequence

import numpy as np

from digitize.plane import STEP_MM, Marks, evenly, laid_on, nearest_in
from digitize.record import Line, Pattern

LEAST_SIGMA_MM = 0.02  # no mark can be read more surely
EDGE_SIGMA_MM = 0.3  # a paper's cut edge frays and curls
# All of the edge and 81 % or more of the marks of 40 papers, read from two places each, lie so near
# again; of 60 pairs of two papers, 45 % of either or less.
AGAIN_MM, AGAIN_SHARE = 4.0, 0.6


def marks_of(lines: Sequence[Line], kinds: Sequence[int]) -> Marks:
    """Points along lines, each line of a kind."""
    parts = [evenly(np.array(line.points), STEP_MM, line.closed) for line in lines]
    tangents = [np.gradient(part, axis=0) for part in parts]
    normals = np.concatenate([np.column_stack([-t[:, 1], t[:, 0]]) for t in tangents])
    counts = [len(part) for part in parts]
    return Marks(
        np.concatenate(parts),
        normals / (np.linalg.norm(normals, axis=1, keepdims=True) + 1e-12),
        np.repeat([max(line.sigma, LEAST_SIGMA_MM) for line in lines], counts),
        np.repeat(np.array(kinds, np.int64), counts),
        np.repeat(np.arange(len(lines)), counts),
    )


def same_paper(pattern: Pattern) -> Marks:
    """All marks on the paper and its edge, to lay two readings of the same paper on each other."""
    edge = Line(
        id="outline",
        role="unknown",
        role_confidence=1.0,
        points=pattern.outline,
        closed=True,
        width=0.0,
        sigma=EDGE_SIGMA_MM,
    )
    lines = [line for line in pattern.lines if line.length > STEP_MM]
    return marks_of([edge, *lines], [0, *[1] * len(lines)])


def is_same_paper(one: Pattern, other: Pattern) -> bool:
    """Whether two readings can be of one paper: most of its edge, or of its marks, lies again."""
    marks, others = same_paper(one), same_paper(other)
    off, _ = nearest_in(others)(laid_on(marks, others)(marks.points), marks.kinds)
    again = [float((off[marks.kinds == kind] < AGAIN_MM).mean()) for kind in np.unique(marks.kinds)]
    return max(again) >= AGAIN_SHARE
