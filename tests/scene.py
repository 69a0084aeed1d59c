"""Photos of a drawn floor, made with OpenCV's own camera model and none of the product's."""

from dataclasses import dataclass, field
from functools import lru_cache

import cv2
import numpy as np
import pypdfium2
from numpy.typing import NDArray

from digitize.card.layout import SHEETS_MM
from digitize.card.sheet import card_pdf

Floats = NDArray[np.float64]
FLOOR_MM_PER_PX = 0.25
BLUR_REACH_PX = 8


@dataclass(frozen=True)
class Shot:
    """Where a camera stands: eye and aim in floor mm; and its lens.

    ``offset`` is the principal point's from the picture's middle; ``askew`` its tangential terms.
    """

    eye: tuple[float, float, float]
    aim: tuple[float, float] = (0.0, 0.0)
    focal_px: float = 1500.0
    size: tuple[int, int] = (2016, 1512)
    radial: tuple[float, float] = (0.03, -0.02)
    offset: tuple[float, float] = (0.5, 0.5)
    askew: tuple[float, float] = (0.0, 0.0)

    @property
    def matrix(self) -> Floats:
        width, height = self.size
        x, y = (width - 1) / 2 + self.offset[0], (height - 1) / 2 + self.offset[1]
        return np.array([[self.focal_px, 0, x], [0, self.focal_px, y], [0, 0, 1.0]])

    @property
    def rotation(self) -> Floats:
        ahead = np.array([*self.aim, 0.0]) - np.array(self.eye)
        ahead /= np.linalg.norm(ahead)
        right = np.cross(ahead, [0.0, 1.0, 0.0])
        right /= np.linalg.norm(right)
        return np.stack([right, np.cross(ahead, right), ahead])

    @property
    def lens(self) -> Floats:
        return np.array([*self.radial, *self.askew, 0.0])

    def project(self, floor: Floats) -> Floats:
        """(N, 2) pixels of floor points (N, 2)."""
        return self.project_solid(np.column_stack([floor, np.zeros(len(floor))]))

    def project_solid(self, solid: Floats) -> Floats:
        """(N, 2) pixels of points (N, 3) over the floor."""
        turn, _ = cv2.Rodrigues(self.rotation)
        shift = -self.rotation @ np.array(self.eye)
        return cv2.projectPoints(solid, turn, shift, self.matrix, self.lens)[0][:, 0]


@dataclass
class Floor:
    """A picture of the floor, x and y from -half to +half mm, drawn on with true sizes."""

    half: float = 700.0
    picture: NDArray[np.uint8] = field(init=False)

    def __post_init__(self) -> None:
        side = int(2 * self.half / FLOOR_MM_PER_PX)
        rng = np.random.default_rng(3)
        rough = rng.integers(40, 150, (side // 12, side // 12, 1)).astype(np.uint8)
        self.picture = cv2.resize(np.repeat(rough, 3, axis=2), (side, side))

    def to_px(self, points: Floats) -> Floats:
        return (np.asarray(points) * [1, -1] + self.half) / FLOOR_MM_PER_PX - 0.5

    def lay_card(
        self,
        number: int,
        x: float,
        y: float,
        turn_deg: float,
        paper: str = "a4",
        stretch: tuple[float, float] = (1.0, 1.0),
    ) -> None:
        """A sheet of its true size; its print is ``stretch`` times as large across and along."""
        width, height = SHEETS_MM[paper]
        page = pypdfium2.PdfDocument(card_pdf([number], paper, *stretch))[0]
        card = page.render(scale=25.4 / 72 / FLOOR_MM_PER_PX).to_numpy()[..., :3]
        turn = np.radians(turn_deg)
        rotation = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
        corners = np.array([[-1, 1], [1, 1], [-1, -1]]) / 2 * [width, height] @ rotation.T + [x, y]
        rows, columns = card.shape[:2]
        source = np.array([[0, 0], [columns, 0], [0, rows]], np.float32) - 0.5
        matrix = cv2.getAffineTransform(source, self.to_px(corners).astype(np.float32))
        size = self.picture.shape[1], self.picture.shape[0]
        laid = cv2.warpAffine(card, matrix, size, flags=cv2.INTER_AREA)
        mask = cv2.warpAffine(np.full((rows, columns), 255, np.uint8), matrix, size)
        reach = np.hypot(width, height) / 2 + 2 * FLOOR_MM_PER_PX
        low, high = (self.to_px(np.add([x, y], [-way, way])) for way in (reach, -reach))
        (left, top), (right, foot) = (np.maximum(each, 0).astype(int) for each in (low, high))
        own = slice(top, foot + 1), slice(left, right + 1)
        shown = mask[own] > 127
        self.picture[own][shown] = laid[own][shown]

    def lay_sheet(self, outline: Floats, colour: tuple[int, int, int]) -> None:
        shape = np.round(self.to_px(outline) * 256).astype(np.int32)
        cv2.fillPoly(self.picture, [shape], colour, cv2.LINE_AA, 8)

    def draw(self, points: Floats, width: float, colour: tuple[int, int, int]) -> None:
        """A line ``width`` mm wide, with soft ends."""
        shape = np.round(self.to_px(points) * 256).astype(np.int32)
        thick = max(round(width / FLOOR_MM_PER_PX), 1)
        cv2.polylines(self.picture, [shape], False, colour, thick, cv2.LINE_AA, 8)

    def photograph(self, shot: Shot, noise: float = 2.0) -> NDArray[np.uint8]:
        width, height = shot.size
        rays = _rays(shot.size, shot.focal_px, shot.radial, shot.offset, shot.askew)
        solid = np.column_stack([rays, np.ones(len(rays))]) @ shot.rotation
        floor = np.array(shot.eye)[:2] - solid[:, :2] / solid[:, 2:] * shot.eye[2]
        at = self.to_px(floor).reshape(height, width, 2).astype(np.float32)
        photo = cv2.remap(self._softly(at), at[..., 0], at[..., 1], cv2.INTER_LINEAR)
        return np.asarray(cv2.add(photo, _noise(photo.shape, noise), dtype=cv2.CV_8U), np.uint8)

    def _softly(self, at: NDArray[np.float32]) -> NDArray[np.uint8]:
        """The picture, as soft as a lens makes it where it is looked at."""
        own = tuple(
            slice(max(int(axis.min()) - BLUR_REACH_PX, 0), max(int(axis.max()) + BLUR_REACH_PX, 0))
            for axis in (at[..., 1], at[..., 0])
        )
        soft = np.zeros_like(self.picture)
        if soft[own].size:
            soft[own] = cv2.GaussianBlur(self.picture[own], (0, 0), 0.8)
        return soft


@lru_cache(2)
def _noise(shape: tuple[int, ...], noise: float) -> NDArray[np.int16]:
    """A picture's noise in whole greys: those below, as pixels are counted."""
    return np.floor(np.random.default_rng(7).normal(0, noise, shape)).astype(np.int16)


@lru_cache(1)
def _rays(
    size: tuple[int, int],
    focal_px: float,
    radial: tuple[float, float],
    offset: tuple[float, float],
    askew: tuple[float, float],
) -> Floats:
    """(H * W, 2) where each pixel of a lens looks, as x / z and y / z.

    OpenCV's lens is inverted on a lattice, between which it is straight to a 1000th of a pixel.
    """
    shot = Shot((0.0, 0.0, 1.0), (0.0, 1.0), focal_px, size, radial, offset, askew)
    width, height = size
    u, v = np.meshgrid(np.arange(0, width + 4, 4.0), np.arange(0, height + 4, 4.0))
    pixels = np.stack([u.ravel(), v.ravel()], axis=1)[:, None]
    rays = cv2.undistortPoints(pixels, shot.matrix, shot.lens)[:, 0]
    for _ in range(3):  # to convergence: OpenCV stops after a few rounds
        solid = np.column_stack([rays, np.ones(len(rays))])
        bent = cv2.projectPoints(solid, np.zeros(3), np.zeros(3), shot.matrix, shot.lens)[0]
        rays = rays + (pixels - bent)[:, 0] / shot.focal_px
    lattice = rays.reshape(*u.shape, 2)
    at = np.meshgrid(np.arange(width) / 4, np.arange(height) / 4)
    x, y = (each.astype(np.float32) for each in at)
    dense = [cv2.remap(lattice[..., axis], x, y, cv2.INTER_LINEAR) for axis in (0, 1)]
    return np.stack([each.ravel() for each in dense], axis=1)
