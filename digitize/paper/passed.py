"""Lines that go on past the paper's edge: where one does, the edge was read too far in.

Nothing is drawn on a floor. Where a line ends at the edge, the picture is asked whether beyond it
the line goes on, on ground that looks like the paper. Drawn across a notch it does so on the paper.
Where several go on, as dark for the light there, on ground of the same hue that is only lighter or
darker, the edge is that of the light: a patch of sun on a paper that looks like the floor.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import cv2
import numpy as np
from numpy.typing import NDArray
from shapely import LineString, Point, Polygon

from digitize.floor import Raster
from digitize.paper.thresholds import (
    ALL_ALONG,
    AS_DARK,
    AS_OFTEN,
    AT_EDGE_MM,
    FEWEST_LIT,
    FLANK_MM,
    HALF_LINE_MM,
    NAMED_MM,
    PASSED_LED_MM,
    PASSED_STEP_MM,
    PAST_MM,
    PLAINLY_DARK,
    SAME_GROUND,
    SAME_HUE,
)
from digitize.plane import places_along

Floats = NDArray[np.float64]
EDGE_OF_LIGHT = (
    "what stands out from the floor is no paper but a patch of light or shadow: lines go on "
    "past its border; even out the light, lay the paper on a floor of another colour, or say where "
    "its corners are with --paper"
)


@dataclass(frozen=True)
class Passed:
    """Stretches (N, 2) of an edge, mm, that lines go on past, and how many do in other light."""

    stretches: tuple[Floats, ...]
    lit: int

    @property
    def of_light(self) -> bool:
        """Whether the edge is that of the light, and no paper's."""
        return self.lit >= FEWEST_LIT


def stretches_passed(raster: Raster, outline: Floats, lines: Sequence[Floats]) -> Passed:
    """Stretches of an outline (N, 2), mm, that some of the lines (M, 2) go on past."""
    paper = Polygon(outline)
    ring = paper.exterior
    found, lit = [], 0
    for line in lines:
        for points in (line, line[::-1]):
            end = LineString(points).interpolate(0)
            if ring.distance(end) > AT_EDGE_MM or len(points) < PASSED_LED_MM:
                continue
            beyond = _beyond(raster, paper, points)
            if beyond == "lit":
                lit += 1
            elif beyond == "alike":
                found.append(_beside(outline, ring.project(end)))
    return Passed(tuple(found), lit)


def _beyond(raster: Raster, paper: Polygon, points: Floats) -> Literal["alike", "lit"] | None:
    """On what ground a line goes on past its first point as it was before: alike, or but for light.

    None if it does not go on there.
    """
    led = points[: int(PASSED_LED_MM)]
    way = led[0] - led[-1]
    way = way / np.hypot(*way)
    ahead = way * np.arange(*PAST_MM, PASSED_STEP_MM)[:, None]
    if paper.distance(Point(led[0] + ahead[-1])) < FLANK_MM[1]:
        return None  # it is on the paper still, or again, or runs along its edge
    on_paper, beyond = (_profile(raster, led[0] + sign * ahead, way) for sign in (-1, 1))
    usual = float(np.median(on_paper[1]))
    if usual <= 0:
        return None
    ground, there = (np.median(each[0], axis=0) for each in (on_paper, beyond))
    scatter = float(np.median(np.abs(on_paper[0] - ground)))
    if np.linalg.norm(there - ground) <= SAME_GROUND + 3 * scatter:
        return "alike" if (beyond[1] > AS_DARK * usual).mean() >= AS_OFTEN else None
    light = there[0] / max(ground[0], 1.0)
    as_dark = (beyond[1] > AS_DARK * usual * light).mean() >= ALL_ALONG
    of_one_hue = np.linalg.norm((there - ground)[1:]) <= SAME_HUE
    return "lit" if as_dark and of_one_hue and usual > PLAINLY_DARK else None


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
