"""Lines that go on past the paper's edge: where one does, the edge was read too far in.

Nothing is drawn on a floor. Where a line ends at the edge, the picture is asked whether beyond it
the line goes on, on ground that looks like the paper. Drawn across a notch it does so on the paper.
"""

from collections.abc import Sequence

import cv2
import numpy as np
from numpy.typing import NDArray
from shapely import LineString, Point, Polygon

from digitize.floor import Raster
from digitize.paper.thresholds import (
    AS_DARK,
    AS_OFTEN,
    AT_EDGE_MM,
    FLANK_MM,
    HALF_LINE_MM,
    NAMED_MM,
    PASSED_LED_MM,
    PASSED_STEP_MM,
    PAST_MM,
    SAME_GROUND,
)
from digitize.plane import places_along

Floats = NDArray[np.float64]


def stretches_passed(
    raster: Raster, outline: Floats, lines: Sequence[Floats]
) -> tuple[Floats, ...]:
    """Stretches (N, 2) of an outline, mm, that some of the lines (M, 2) go on past."""
    paper = Polygon(outline)
    ring, found = paper.exterior, []
    for line in lines:
        for points in (line, line[::-1]):
            end = LineString(points).interpolate(0)
            if ring.distance(end) > AT_EDGE_MM or len(points) < PASSED_LED_MM:
                continue
            if _goes_on(raster, paper, points):
                found.append(_beside(outline, ring.project(end)))
    return tuple(found)


def _goes_on(raster: Raster, paper: Polygon, points: Floats) -> bool:
    """Whether a line goes on past its first point as it was before, on ground that is alike."""
    led = points[: int(PASSED_LED_MM)]
    way = led[0] - led[-1]
    way = way / np.hypot(*way)
    ahead = way * np.arange(*PAST_MM, PASSED_STEP_MM)[:, None]
    if paper.distance(Point(led[0] + ahead[-1])) < FLANK_MM[1]:
        return False  # it is on the paper still, or again, or runs along its edge
    on_paper, beyond = (_profile(raster, led[0] + sign * ahead, way) for sign in (-1, 1))
    usual = float(np.median(on_paper[1]))
    scatter = float(np.median(np.abs(on_paper[0] - np.median(on_paper[0], axis=0))))
    apart = np.linalg.norm(np.median(beyond[0], axis=0) - np.median(on_paper[0], axis=0))
    if usual <= 0 or apart > SAME_GROUND + 3 * scatter:
        return False
    return bool((beyond[1] > AS_DARK * usual).mean() >= AS_OFTEN)


def _profile(raster: Raster, places: Floats, way: Floats) -> tuple[Floats, Floats]:
    """(N, 3) the ground's L, a, b beside places (N, 2), and (N,) how much darker these are."""
    across = np.arange(-FLANK_MM[1], FLANK_MM[1] + 0.1, 0.2)
    at = places[:, None] + np.array([-way[1], way[0]]) * across[None, :, None]
    column, row = np.moveaxis(raster.to_px(at).astype(np.float32), -1, 0)
    seen = cv2.remap(raster.pixels, column, row, cv2.INTER_LINEAR, None, cv2.BORDER_REPLICATE)
    lab = np.asarray(cv2.cvtColor(np.asarray(seen, np.uint8), cv2.COLOR_RGB2LAB), np.float64)
    ground = np.median(lab[:, np.abs(across) >= FLANK_MM[0]], axis=1)
    darkest = lab[:, np.abs(across) <= HALF_LINE_MM, 0].min(axis=1)
    return ground, ground[:, 0] - darkest


def _beside(outline: Floats, at: float) -> Floats:
    """(N, 2) an outline's stretch about a length along it, mm."""
    ring = np.concatenate([outline, outline[:1]])
    length = Polygon(outline).exterior.length
    return places_along(ring, (at + np.arange(-NAMED_MM, NAMED_MM + 1, 2.0)) % length)
