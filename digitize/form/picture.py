"""The form as it looks: shaded, with the lines that a row of lamps would make on it.

The eye finds a flat or a kink by how straight lamps lie in polished metal. A place shows the lamp
at which its reflected line of sight ends; lamps stand in a row far off, so which one it is follows
from that direction alone. Where the lines break, the metal has a kink; where they bend sharply, its
curvature jumps.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from digitize.form.lying import normals_of
from digitize.plane import cross

Floats = NDArray[np.float64]
LAMPS, LAMP_SHARE = 14.0, 0.32  # over half a turn; of the way from one to the next that shines
DARKEST, PALER = 0.35, 0.35
LEAST_PX2 = 1e-6
BACKGROUND, LAMP, METAL, PALE, LINE = (
    np.array(each, dtype=float)
    for each in ((255, 255, 255), (255, 255, 255), (120, 132, 146), (236, 219, 184), (40, 40, 40))
)


@dataclass(frozen=True)
class View:
    """Where one looks from: unit directions (3,) to the right, up, and towards the eye."""

    right: Floats
    up: Floats
    to_eye: Floats

    def flat(self, places: Floats) -> Floats:
        """(..., 2) places as they are seen, mm."""
        return np.stack([places @ self.right, places @ self.up], axis=-1)


def view_from(to_eye: tuple[float, float, float]) -> View:
    """The view with the eye in a direction, z upright."""
    eye = np.array(to_eye) / np.linalg.norm(to_eye)
    right = np.cross([0.0, 0.0, 1.0], eye)
    right /= np.linalg.norm(right)
    return View(right, np.cross(eye, right), eye)


TOP = View(np.array([1.0, 0, 0]), np.array([0, 1.0, 0]), np.array([0, 0, 1.0]))
FRONT = View(np.array([1.0, 0, 0]), np.array([0, 0, 1.0]), np.array([0, -1.0, 0]))
RIGHT = View(np.array([0, 1.0, 0]), np.array([0, 0, 1.0]), np.array([1.0, 0, 0]))


def shaded(
    places: Floats,
    triangles: NDArray[np.int64],
    pale: NDArray[np.bool_],
    view: View,
    per_mm: float,
) -> NDArray[np.uint8]:
    """(H, W, 3) a picture of a form, the row of lamps in it.

    Parameters
    ----------
    places, triangles : z up; pale : (V,) corners that are not determined.
    per_mm : pixels.
    """
    seen = view.flat(places) * per_mm
    low = seen.min(axis=0) - 2
    wide, high = np.ceil(seen.max(axis=0) - low + 2).astype(int)
    at = np.column_stack([seen[:, 0] - low[0], high - (seen[:, 1] - low[1])])
    depth = places @ view.to_eye
    triangle, shares, pixel = _covered(at[triangles], (wide, high))
    corners = triangles[triangle]
    nearer = np.argsort((shares * depth[corners]).sum(axis=1), kind="stable")
    last = np.full(wide * high, -1)
    last[pixel[nearer]] = nearer  # of those at a pixel the last one stays, which is the nearest
    shown = np.flatnonzero(last >= 0)
    corners, shares = corners[last[shown]], shares[last[shown]]
    normals = np.einsum("nk,nkx->nx", shares, _smooth(places, triangles)[corners])
    normals /= np.linalg.norm(normals, axis=1, keepdims=True)
    undetermined = (shares * pale[corners]).sum(axis=1) > 0.5
    picture = np.tile(BACKGROUND, (wide * high, 1))
    picture[shown] = colours(normals, undetermined, view)
    return np.asarray(np.clip(picture, 0, 255), dtype=np.uint8).reshape(high, wide, 3)


def _covered(
    corners: Floats, size: tuple[int, int]
) -> tuple[NDArray[np.int64], Floats, NDArray[np.int64]]:
    """For each pixel that a triangle covers: the triangle, (N, 3) the shares of its corners there,
    and the pixel's number in a picture of that width and height.

    Parameters
    ----------
    corners : (F, 3, 2) pixels.
    """
    low = np.maximum(np.floor(corners.min(axis=1)), 0).astype(int)
    high = np.minimum(np.ceil(corners.max(axis=1)).astype(int) + 1, size)
    wide, tall = np.maximum(high - low, 0).T
    count = wide * tall
    triangle = np.repeat(np.arange(len(corners)), count)
    number = np.arange(count.sum()) - np.repeat(np.cumsum(count) - count, count)
    x = low[triangle, 0] + number % wide[triangle]
    y = low[triangle, 1] + number // wide[triangle]
    a, b, c = (corners[triangle, k] for k in range(3))
    at = np.column_stack([x, y]) - a
    whole = cross(b - a, c - a)
    some = np.abs(whole) > LEAST_PX2  # not seen from the edge
    by_b = cross(at, c - a)[some] / whole[some]
    by_c = cross(b - a, at)[some] / whole[some]
    shares = np.stack([1 - by_b - by_c, by_b, by_c], axis=-1)
    inside = shares.min(axis=1) > -1e-6
    pixel = (y * size[0] + x)[some]
    return triangle[some][inside], shares[inside], pixel[inside]


def _smooth(places: Floats, triangles: NDArray[np.int64]) -> Floats:
    normals, areas = normals_of(places, triangles)
    found = np.zeros_like(places)
    for corner in range(3):
        np.add.at(found, triangles[:, corner], areas[:, None] * normals)
    return np.asarray(found / np.linalg.norm(found, axis=1, keepdims=True))


def colours(normals: Floats, pale: NDArray[np.bool_], view: View) -> Floats:
    """(N, 3) colours of places with these normals, seen in a view."""
    facing = normals @ view.to_eye
    turned = np.where(facing[:, None] < 0, -normals, normals)
    facing = np.abs(facing)
    bounced = 2 * facing[:, None] * turned - view.to_eye
    # Lamps in a row to the right, seen from below: which one is the angle about their common axis.
    angle = np.arctan2(bounced @ view.up, bounced @ view.right)
    lamp = (angle / np.pi * LAMPS) % 1.0 < LAMP_SHARE
    light = DARKEST + (1 - DARKEST) * facing
    base = np.where(pale[:, None], PALE, METAL) * light[:, None]
    return np.asarray(np.where(lamp[:, None], base + PALER * (LAMP - base) + 45, base))
