"""The true-size raster: the photo as seen from straight above, in mm."""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from digitize.floor.solve import Camera

Floats = NDArray[np.float64]
FURTHEST_VIEW = 2.5  # of the camera's height: further off the floor is seen too obliquely
STRIP_ROWS = 256


@dataclass(frozen=True)
class Frame:
    """A frame on the floor: its origin in the floor frame (mm) and its turn (radians)."""

    x: float
    y: float
    turn: float

    def to_floor(self, points: Floats) -> Floats:
        """(N, 2) floor points of points in this frame."""
        cos, sin = np.cos(self.turn), np.sin(self.turn)
        return np.asarray(points @ np.array([[cos, sin], [-sin, cos]]) + [self.x, self.y])

    def from_floor(self, points: Floats) -> Floats:
        """(N, 2) points in this frame of floor points."""
        cos, sin = np.cos(self.turn), np.sin(self.turn)
        return np.asarray(
            (np.asarray(points) - [self.x, self.y]) @ np.array([[cos, -sin], [sin, cos]])
        )

    def shifted(self, origin: Floats) -> "Frame":
        """The frame with its origin at a point (2,) of its own."""
        x, y = self.to_floor(np.asarray(origin)[None])[0]
        return Frame(float(x), float(y), self.turn)


def upright_frame(camera: Camera) -> Frame:
    """The frame whose x runs the way the photo's rows do at its middle."""
    width, height = camera.size_px
    ends = camera.to_floor(np.array([[0.4 * width, height / 2], [0.6 * width, height / 2]]))
    run = ends[1] - ends[0]
    return Frame(0.0, 0.0, float(np.arctan2(run[1], run[0])))


@dataclass(frozen=True)
class Raster:
    """A picture of the floor.

    Attributes
    ----------
    pixels : (H, W, 3) sRGB; row 0 is the highest y.
    left, top : mm at the centre of the first pixel, in the frame it was made in.
    mm_per_px : side of a pixel.
    """

    pixels: NDArray[np.uint8]
    left: float
    top: float
    mm_per_px: float

    def to_px(self, points: Floats) -> Floats:
        """(N, 2) column, row of points (N, 2)."""
        return (np.asarray(points, float) - [self.left, self.top]) / [
            self.mm_per_px,
            -self.mm_per_px,
        ]

    def to_mm(self, pixels: Floats) -> Floats:
        """(N, 2) points at column, row (N, 2)."""
        return np.asarray(pixels, float) * [self.mm_per_px, -self.mm_per_px] + [self.left, self.top]


def view_bounds(camera: Camera, frame: Frame) -> tuple[float, float, float, float]:
    """The part of the floor in the photo, near enough to be of use.

    x min, y min, x max, y max, in the frame.
    """
    width, height = camera.size_px
    x, y = np.meshgrid(np.linspace(0, width - 1, 60), np.linspace(0, height - 1, 45))
    pixels = np.stack([x.ravel(), y.ravel()], axis=1)
    floor = camera.to_floor(pixels)
    foot = camera.foot()
    # A ray above the horizon meets the plane behind the camera; it does not project back.
    seen = np.linalg.norm(camera.to_pixels(floor) - pixels, axis=1) < 2
    seen &= np.linalg.norm(floor - foot[:2], axis=1) < FURTHEST_VIEW * abs(foot[2])
    kept = frame.from_floor(floor[seen])
    low, high = kept.min(axis=0), kept.max(axis=0)
    return float(low[0]), float(low[1]), float(high[0]), float(high[1])


def pixel_size_mm(camera: Camera, frame: Frame, bounds: tuple[float, float, float, float]) -> float:
    """How much floor one photo pixel covers in the middle of the bounds, mm."""
    middle = np.array([(bounds[0] + bounds[2]) / 2, (bounds[1] + bounds[3]) / 2])
    middle = frame.to_floor(middle[None])[0]
    steps = camera.to_pixels(middle + np.array([[0.0, 0.0], [10.0, 0.0], [0.0, 10.0]]))
    along = np.linalg.norm(steps[1:] - steps[0], axis=1)
    return float(10.0 / along.max())


def rectify(
    pixels: NDArray[np.uint8],
    camera: Camera,
    frame: Frame,
    bounds: tuple[float, float, float, float],
    mm_per_px: float,
) -> Raster:
    """The floor within the frame's bounds (mm), resampled from the photo (H, W, 3).

    Where a raster pixel covers several photo pixels, they are averaged. Outside the photo the
    raster is black.
    """
    shrink = max(int(mm_per_px / pixel_size_mm(camera, frame, bounds)), 1)
    if shrink > 1:
        height, width = pixels.shape[:2]
        pixels = np.asarray(
            cv2.resize(pixels, (width // shrink, height // shrink), interpolation=cv2.INTER_AREA),
            np.uint8,
        )
    left, bottom, right, top = bounds
    columns = int(np.ceil((right - left) / mm_per_px)) + 1
    rows = int(np.ceil((top - bottom) / mm_per_px)) + 1
    result = np.zeros((rows, columns, 3), np.uint8)
    x = left + np.arange(columns) * mm_per_px
    for first in range(0, rows, STRIP_ROWS):
        y = top - np.arange(first, min(first + STRIP_ROWS, rows)) * mm_per_px
        grid = np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2)
        at = (camera.to_pixels(frame.to_floor(grid)) + 0.5) / shrink - 0.5
        at = at.reshape(len(y), columns, 2).astype(np.float32)
        result[first : first + len(y)] = cv2.remap(
            pixels, at[..., 0], at[..., 1], cv2.INTER_CUBIC if shrink == 1 else cv2.INTER_LINEAR
        )
    return Raster(result, left, top, mm_per_px)
