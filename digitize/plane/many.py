"""Many lines at once: line by line their handling would take most of a drawing's time."""

from collections.abc import Sequence
from itertools import accumulate, chain

import numpy as np
import shapely
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Shapes = NDArray[np.object_]


def arrays_of(paths: Sequence[Sequence[tuple[float, float]]]) -> list[Floats]:
    """Each path's points (N, 2)."""
    if not paths:
        return []
    numbers = chain.from_iterable(chain.from_iterable(paths))
    counts = [len(path) for path in paths]
    points = np.fromiter(numbers, np.float64, 2 * sum(counts)).reshape(-1, 2)
    ends = accumulate(counts)
    return [points[end - count : end] for count, end in zip(counts, ends, strict=True)]


def lines_through(paths: Sequence[Floats]) -> Shapes:
    """(K,) a line through each path's points (N, 2)."""
    if not paths:
        return np.empty(0, np.object_)
    counts = [len(path) for path in paths]
    which = np.repeat(np.arange(len(paths)), counts)
    return np.asarray(shapely.linestrings(np.concatenate(paths), indices=which))
