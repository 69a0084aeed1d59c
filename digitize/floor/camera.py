"""A photo's pose and lens: from the floor to pixels, back, and the derivatives of it.

The lens is Brown's model (D. C. Brown, "Close-range camera calibration", Photogrammetric
Engineering 37, 1971) in OpenCV's order of terms: three radial ones and two for a lens that sits
askew. Its terms belong to the sensor; a photo that was turned upright is turned back for them.
"""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
LENS_TERMS = 8  # focal length, centre's offset x and y, k1, k2, k3, p1, p2
POSE_TERMS = 6
QUARTER_TURN = np.array([[0.0, -1.0], [1.0, 0.0]])  # clockwise, with y down
FURTHEST_RAY = 10.0  # of its depth, aside: 84 degrees, further than any phone looks


def turned_size(size_px: tuple[int, int], quarter_turns: int) -> tuple[int, int]:
    """Width and height of a picture after so many quarter turns, either way."""
    width, height = size_px
    return (height, width) if quarter_turns % 2 else (width, height)


@dataclass(frozen=True)
class Camera:
    """One photo's pose and lens.

    Attributes
    ----------
    lens : (8,) focal length (px); how far the principal point lies from the picture's middle
        (px, along the sensor's rows and columns); k1, k2, k3, p1, p2.
    pose : (6,) rotation vector and translation (mm), floor to camera.
    size_px : the upright photo's width and height.
    quarter_turns : clockwise turns that brought the sensor's picture upright.
    """

    lens: Floats
    pose: Floats
    size_px: tuple[int, int]
    quarter_turns: int = 0

    def to_pixels(self, floor: Floats, height: Floats | float = 0.0) -> Floats:
        """(N, 2) pixels of floor points (N, 2) in mm, ``height`` mm (N,) above the floor."""
        rotation = cv2.Rodrigues(self.pose[:3])[0]
        seen = np.asarray(floor, float) @ rotation[:, :2].T + self.pose[3:]
        if np.any(height):
            seen += np.asarray(height, float).reshape(-1, 1) * rotation[:, 2]
        turn = np.linalg.matrix_power(QUARTER_TURN, self.quarter_turns)
        straight = seen[:, :2] / seen[:, 2:] @ turn
        bent = _bend(self.lens, straight) * self.lens[0] + self.lens[1:3]
        return np.asarray(bent @ turn.T + (np.array(self.size_px) - 1) / 2)

    def to_floor(self, pixels: Floats) -> Floats:
        """(N, 2) floor points in mm seen at pixels (N, 2).

        Not a number for what lies well beyond all that the lens shows (``sees_px``).
        """
        turn = np.linalg.matrix_power(QUARTER_TURN, self.quarter_turns)
        middle = (np.array(self.size_px) - 1) / 2
        bent = ((np.asarray(pixels, float) - middle) @ turn - self.lens[1:3]) / self.lens[0]
        straight = bent.copy()
        # Fixed-point inversion; phones' residual distortion is a few percent.
        for _ in range(20 if self.lens[3:].any() else 0):
            straight += bent - _bend(self.lens, straight)
            # Past where the lens turns back there is no such ray, and the steps only grow.
            straight[np.abs(straight).max(axis=1) > FURTHEST_RAY] = np.nan
        rotation = cv2.Rodrigues(self.pose[:3])[0]
        plane = np.column_stack([rotation[:, :2], self.pose[3:]])
        rays = np.column_stack([straight @ turn.T, np.ones(len(straight))])
        rays = rays @ np.linalg.inv(plane).T
        return np.asarray(rays[:, :2] / rays[:, 2:])

    def sees_px(self) -> float:
        """How far from the principal point the lens shows anything, px; what is further out in a
        picture has no place in the world by this lens.

        Its radial curve r (1 + k1 r^2 + k2 r^4 + k3 r^6) turns back where its slope is none.
        """
        k1, k2, k3 = self.lens[3:6]
        squares = np.roots([7 * k3, 5 * k2, 3 * k1, 1.0])
        turns = squares.real[(np.abs(squares.imag) < 1e-9) & (squares.real > 0)]
        if not turns.size:
            return float("inf")
        square = float(turns.min())
        return float(self.lens[0] * square**0.5 * (1 + square * (k1 + square * (k2 + square * k3))))

    def foot(self) -> Floats:
        """(3,) the camera's place in the floor frame, mm; the third is its height."""
        rotation = cv2.Rodrigues(self.pose[:3])[0]
        return np.asarray(-rotation.T @ self.pose[3:])


def _bend(lens: Floats, straight: Floats) -> Floats:
    """(N, 2) where the lens puts rays (N, 2) given as x / z, y / z."""
    k1, k2, k3, p1, p2 = lens[3:]
    x, y = straight.T
    square = x * x + y * y
    radial = 1 + square * (k1 + square * (k2 + square * k3))
    return np.stack(
        [
            x * radial + 2 * p1 * x * y + p2 * (square + 2 * x * x),
            y * radial + p1 * (square + 2 * y * y) + 2 * p2 * x * y,
        ],
        axis=1,
    )


def project_with_slopes(camera: Camera, solid: Floats) -> tuple[Floats, Floats, Floats, Floats]:
    """Pixels of points (N, 3) and their derivatives.

    Returns
    -------
    pixels : (N, 2).
    by_lens : (N, 2, 8).
    by_pose : (N, 2, 6).
    by_point : (N, 2, 3), in px per mm.
    """
    rotation, by_turning = cv2.Rodrigues(camera.pose[:3])
    turn = np.linalg.matrix_power(QUARTER_TURN, camera.quarter_turns)
    seen = solid @ rotation.T + camera.pose[3:]
    depth = seen[:, 2]
    straight = seen[:, :2] / depth[:, None] @ turn
    focal, (k1, k2, k3, p1, p2) = camera.lens[0], camera.lens[3:]
    x, y = straight.T
    square = x * x + y * y
    radial = 1 + square * (k1 + square * (k2 + square * k3))
    bent = _bend(camera.lens, straight)
    middle = (np.array(camera.size_px) - 1) / 2
    pixels = (bent * focal + camera.lens[1:3]) @ turn.T + middle

    count = len(solid)
    by_lens = np.zeros((count, 2, LENS_TERMS))
    by_lens[:, :, 0] = bent
    by_lens[:, 0, 1] = by_lens[:, 1, 2] = 1
    for term in range(3):
        by_lens[:, :, 3 + term] = focal * straight * (square ** (term + 1))[:, None]
    by_lens[:, 0, 6], by_lens[:, 1, 6] = focal * 2 * x * y, focal * (square + 2 * y * y)
    by_lens[:, 0, 7], by_lens[:, 1, 7] = focal * (square + 2 * x * x), focal * 2 * x * y

    steeper = 2 * (k1 + square * (2 * k2 + 3 * k3 * square))
    cross = x * y * steeper + 2 * p1 * x + 2 * p2 * y
    by_straight = np.empty((count, 2, 2))
    by_straight[:, 0, 0] = radial + x * x * steeper + 2 * p1 * y + 6 * p2 * x
    by_straight[:, 1, 1] = radial + y * y * steeper + 6 * p1 * y + 2 * p2 * x
    by_straight[:, 0, 1] = by_straight[:, 1, 0] = cross
    by_seen = np.zeros((count, 2, 3))
    by_seen[:, 0, 0] = by_seen[:, 1, 1] = 1 / depth
    by_seen[:, :, 2] = -seen[:, :2] / depth[:, None] ** 2
    by_seen = focal * (turn @ by_straight @ turn.T) @ by_seen
    by_point = by_seen @ rotation
    by_pose = np.empty((count, 2, POSE_TERMS))
    for axis in range(3):
        turned = solid @ by_turning[axis].reshape(3, 3).T
        by_pose[:, :, axis] = (by_seen @ turned[:, :, None])[:, :, 0]
    by_pose[:, :, 3:] = by_seen
    by_lens = turn @ by_lens
    return pixels, by_lens, by_pose, by_point
