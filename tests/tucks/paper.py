"""Paper that shows pencil lines, and whatever else is laid on it."""

import numpy as np
from shapely import LineString, STRtree
from shapely import points as points_of


def drawn(lines, laid=None, noise=0.02, half_mm=0.3):
    """Darkness of noisy paper with lines of pencil; ``laid`` gives what lies on it at (x, y)."""
    paths = [LineString(line.points) for line in lines]
    tree = STRtree(paths)

    def darkness_at(points):
        flat = np.reshape(points, (-1, 2))
        at = points_of(flat)
        nearest, away = tree.query_nearest(
            at, max_distance=half_mm + 0.1, return_distance=True, all_matches=False
        )
        dark = np.zeros(len(flat))
        dark[nearest[0]] = 0.6 * np.clip((half_mm + 0.1 - away) / 0.2, 0.0, 1.0)
        # The paper's own noise, the same whenever it is looked at.
        cell = np.floor(flat / 0.2).astype(np.int64)
        mixed = (cell[:, 0] * 73856093) ^ (cell[:, 1] * 19349663)
        dark += noise * np.sqrt(12) * ((mixed * 2654435761 % 2**32) / 2**32 - 0.5)
        if laid is not None:
            dark += laid(flat[:, 0], flat[:, 1])
        return dark.reshape(points.shape[:-1])

    return darkness_at
