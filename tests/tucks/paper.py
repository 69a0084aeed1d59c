"""Paper that shows pencil lines, and whatever else is laid on it."""

import cv2
import numpy as np
from shapely import LineString, STRtree, segmentize
from shapely import points as points_of


def drawn(lines, laid=None, noise=0.02, half_mm=0.3):
    """Darkness of noisy paper with lines of pencil; ``laid`` gives what lies on it at (x, y)."""
    paths = [LineString(line.points) for line in lines]
    tree, may_be_near = STRtree(paths), _near(paths, half_mm + 0.1)

    def darkness_at(points):
        flat = np.reshape(points, (-1, 2))
        some = np.flatnonzero(may_be_near(flat))
        nearest, away = tree.query_nearest(
            points_of(flat[some]),
            max_distance=half_mm + 0.1,
            return_distance=True,
            all_matches=False,
        )
        dark = np.zeros(len(flat))
        dark[some[nearest[0]]] = 0.6 * np.clip((half_mm + 0.1 - away) / 0.2, 0.0, 1.0)
        # The paper's own noise, the same whenever it is looked at.
        cell = np.floor(flat / 0.2).astype(np.int64)
        mixed = (cell[:, 0] * 73856093) ^ (cell[:, 1] * 19349663)
        dark += noise * np.sqrt(12) * ((mixed * 2654435761 % 2**32) / 2**32 - 0.5)
        if laid is not None:
            dark += laid(flat[:, 0], flat[:, 1])
        return dark.reshape(points.shape[:-1])

    return darkness_at


def _near(paths, mm):
    """Tells points (N, 2) that no path comes within so many mm of from others, by cells so wide."""
    along = np.concatenate([segmentize(path, mm).coords for path in paths])
    first = np.floor(along.min(axis=0) / mm).astype(int) - 2
    cells = np.floor(along / mm).astype(int) - first
    near = np.zeros(cells.max(axis=0) + 3, np.uint8)
    near[tuple(cells.T)] = 1
    near = cv2.dilate(near, np.ones((5, 5), np.uint8)) > 0

    def may_be_near(points):
        cells = np.floor(points / mm).astype(int) - first
        return near[tuple(np.clip(cells, 0, np.array(near.shape) - 1).T)]

    return may_be_near
