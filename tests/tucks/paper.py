"""Paper that shows pencil lines, and whatever else is laid on it."""

from itertools import pairwise

import numpy as np
from shapely import LineString, get_coordinates


def drawn(lines, laid=None, noise=0.02, half_mm=0.3):
    """Darkness of noisy paper with lines of pencil; ``laid`` gives what lies on it at (x, y)."""
    paths = [get_coordinates(LineString(line.points).simplify(1e-9)) for line in lines]
    strokes = [stroke for path in paths for stroke in pairwise(path)]
    reach = half_mm + 0.1

    def darkness_at(points):
        flat = np.reshape(points, (-1, 2))
        away = np.full(len(flat), reach)
        for start, end in strokes:
            low, high = np.minimum(start, end) - reach, np.maximum(start, end) + reach
            (near,) = np.nonzero(
                (flat[:, 0] > low[0])
                & (flat[:, 0] < high[0])
                & (flat[:, 1] > low[1])
                & (flat[:, 1] < high[1])
            )
            away[near] = np.minimum(away[near], _distances(flat[near], start, end))
        dark = 0.6 * np.clip((reach - away) / 0.2, 0.0, 1.0)
        # The paper's own noise, the same whenever it is looked at.
        cell = np.floor(flat / 0.2).astype(np.int64)
        mixed = (cell[:, 0] * 73856093) ^ (cell[:, 1] * 19349663)
        dark += noise * np.sqrt(12) * ((mixed * 2654435761 % 2**32) / 2**32 - 0.5)
        if laid is not None:
            dark += laid(flat[:, 0], flat[:, 1])
        return dark.reshape(points.shape[:-1])

    return darkness_at


def _distances(points, start, end):
    """(N,) of points from a straight stroke, mm."""
    way = end - start
    share = np.clip((points - start) @ way / (way @ way), 0.0, 1.0)
    return np.linalg.norm(points - start - share[:, None] * way, axis=1)
