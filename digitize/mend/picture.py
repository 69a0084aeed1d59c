"""The paper's picture from straight above, looked at again around what is told."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from digitize.errors import ToldError
from digitize.floor import Raster
from digitize.pencil import RidgeMap, find_ridges
from digitize.record import Pattern, Point, Rectified

Floats = NDArray[np.float64]
Box = tuple[float, float, float, float]
AROUND_MM = 20.0  # of paper round what is looked at, to know its ground and grain by
WITHIN_MM = 4.0  # by which a box may grow, so that neighbouring questions share an answer
MOST_SEEN = 8  # boxes whose ridges are kept: the whole paper's, and those of tucks


@dataclass(frozen=True, eq=False)
class Picture:
    """The picture of the paper at true size, and the paper's edge (N, 2), mm.

    ``seen`` keeps the ridges last found in it, as neighbouring questions are for the same box.
    """

    raster: Raster
    outline: Floats
    seen: dict[Box, RidgeMap] = field(default_factory=dict, repr=False)

    def ridges_in(self, around: Box) -> RidgeMap:
        """The ridges in a box (x min, y min, x max, y max, mm) and a little round it.

        Raises ToldError if the picture does not show it.
        """
        if around not in self.seen:
            found = find_ridges(self.part(around), self.outline)
            while len(self.seen) >= MOST_SEEN:
                self.seen.pop(next(iter(self.seen)), None)
            self.seen[around] = found
        return self.seen[around]

    def part(self, around: Box) -> Raster:
        """The picture in a box, and a little round it."""
        raster = self.raster
        rows, columns = raster.pixels.shape[:2]
        corners = np.array(
            [
                [around[0] - AROUND_MM, around[3] + AROUND_MM],
                [around[2] + AROUND_MM, around[1] - AROUND_MM],
            ]
        )
        (left, top), (right, low) = np.round(raster.to_px(corners)).astype(int)
        left, right = (int(np.clip(each, 0, columns)) for each in (left, right))
        top, low = (int(np.clip(each, 0, rows)) for each in (top, low))
        if min(right - left, low - top) < 2:
            raise ToldError(
                f"{around[0]:.0f}, {around[1]:.0f} mm: lies off the picture of the paper"
            )
        x, y = raster.to_mm(np.array([[left, top]], float))[0]
        return replace(
            raster, left=float(x), top=float(y), pixels=raster.pixels[top:low, left:right]
        )


PictureFor = Callable[[], Picture | None]


def no_picture() -> None:
    """The picture of a paper whose picture is not kept."""
    return None


def picture_of(pattern: Pattern, pixels: NDArray[np.uint8]) -> Picture | None:
    """The picture that a record says its pixels (H, W, 3) are; None if it has none."""
    if pattern.rectified is None:
        return None
    return picture_at(pattern.rectified, pattern.outline, pixels)


def picture_at(place: Rectified, outline: Sequence[Point], pixels: NDArray[np.uint8]) -> Picture:
    """The picture whose pixels (H, W, 3) have that place on a paper with that edge, mm."""
    raster = Raster(place.left, place.top, place.mm_per_px, pixels)
    return Picture(raster, np.array(outline, float))


def box_round(points: Floats) -> Box:
    """A box round points (N, 2), to whole steps."""
    low = np.floor(points.min(axis=0) / WITHIN_MM) * WITHIN_MM
    high = np.ceil(points.max(axis=0) / WITHIN_MM) * WITHIN_MM
    return float(low[0]), float(low[1]), float(high[0]), float(high[1])
