"""Frames on the floor, and on paper that stands off it."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import map_coordinates

from digitize.plane import rotation

Floats = NDArray[np.float64]
Bounds = tuple[float, float, float, float]  # x min, y min, x max, y max


@dataclass(frozen=True)
class Frame:
    """A frame on the floor: its origin in the floor frame (mm) and its turn (radians)."""

    x: float
    y: float
    turn: float

    def to_floor(self, points: Floats) -> Floats:
        """(N, 2) floor points of points in this frame."""
        return np.asarray(points @ rotation(-self.turn) + [self.x, self.y])

    def from_floor(self, points: Floats) -> Floats:
        """(N, 2) points in this frame of floor points."""
        return np.asarray((np.asarray(points) - [self.x, self.y]) @ rotation(self.turn))

    def shifted(self, origin: Floats) -> "Frame":
        """The frame with its origin at a point (2,) of its own."""
        x, y = self.to_floor(np.asarray(origin)[None])[0]
        return Frame(float(x), float(y), self.turn)


@dataclass(frozen=True)
class Grid:
    """Where a picture of the floor lies.

    Attributes
    ----------
    left, top : mm at the centre of its first pixel; row 0 is the highest y.
    mm_per_px : side of a pixel.
    """

    left: float
    top: float
    mm_per_px: float

    def to_px(self, points: Floats) -> Floats:
        """(..., 2) column, row of points (..., 2)."""
        # All columns, then all rows: as rows of two numpy takes thrice as long.
        at = np.empty((2, *np.shape(points)[:-1]))
        np.subtract(points[..., 0], self.left, out=at[0])
        np.subtract(self.top, points[..., 1], out=at[1])
        at /= self.mm_per_px
        return np.moveaxis(at, 0, -1)

    def to_mm(self, pixels: Floats) -> Floats:
        """(N, 2) points at column, row (N, 2)."""
        return np.asarray(pixels, float) * [self.mm_per_px, -self.mm_per_px] + [self.left, self.top]


@dataclass(frozen=True)
class Surface:
    """Paper that stands off the floor, by its places when laid flat.

    Attributes
    ----------
    height : (R, C) mm over the floor, at nodes; row 0 is the highest y.
    shift : (R, C, 2) from a place on the flat paper to the floor below it, mm.
    sigma : (R, C) of the height, mm.
    left, top : mm at the first node, in the frame it was made in.
    mm_per_node : from node to node.
    """

    height: Floats
    shift: Floats
    sigma: Floats
    left: float
    top: float
    mm_per_node: float

    def to_solid(self, points: Floats) -> tuple[Floats, Floats]:
        """(N, 2) what lies below points (N, 2) of the flat paper, and (N,) how high they stand."""
        shift = np.stack([self._at(points, self.shift[..., axis]) for axis in (0, 1)], axis=1)
        return points + shift, self._at(points, self.height)

    def sigma_at(self, points: Floats) -> Floats:
        """(N,) sigma of the height, mm, at points (N, 2)."""
        return self._at(points, self.sigma, order=1)

    def lifted(self, height: float) -> "Surface":
        """The surface so many mm higher."""
        return replace(self, height=self.height + height)

    def shifted(self, origin: Floats) -> "Surface":
        """The surface in the frame with its origin at a point (2,) of this one."""
        return replace(self, left=self.left - float(origin[0]), top=self.top - float(origin[1]))

    def _at(self, points: Floats, values: Floats, order: int = 3) -> Floats:
        rows = (self.top - points[:, 1]) / self.mm_per_node
        columns = (points[:, 0] - self.left) / self.mm_per_node
        return np.asarray(map_coordinates(values, [rows, columns], order=order, mode="nearest"))
