"""Light without a path tracer: flat paper and cards, sampled ray by ray."""

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache

import cv2
import numpy as np
import pypdfium2
from corner import Floats
from phone import HEIGHT, WIDTH

from digitize.card.layout import SHEETS_MM
from digitize.card.sheet import card_pdf

CARD_HEIGHT_MM, MARGIN = 0.1, 1.10
CARD_PIXELS_PER_MM = 6.0
Cards = tuple[tuple[int, float, float, float], ...]  # number, x, y, turn in degrees


@dataclass(frozen=True)
class Sheet:
    """Paper on the floor: its colour and opacity as painted, how fine, and how high it lies (mm).

    Its middle is at the origin, turned by ``turn`` radians.
    """

    colour: Floats
    opacity: Floats
    pixels_per_mm: float
    height: float
    turn: float = 0.0


def light(
    floor: Floats,
    cards: Cards,
    paper: Sheet | None,
    eye: Floats,
    aim: Floats,
    roll: float,
    focal: float,
    shade: Callable[[Floats], Floats],
) -> Floats:
    """(H, W, 3) the light that reaches a pinhole at ``eye``, a little more than the phone takes.

    Parameters
    ----------
    floor : (512, 512) or (512, 512, 3) reflectance of a tile 256 mm wide.
    focal : px.
    shade : what light falls on places (..., 2) of the floor, mm.
    """
    ahead = (aim - eye) / np.linalg.norm(aim - eye)
    right = np.cross(ahead, [np.sin(roll), np.cos(roll), 0.0])
    right /= np.linalg.norm(right)
    rotation = np.stack([right, np.cross(ahead, right), ahead])
    wide, high = int(WIDTH * MARGIN), int(HEIGHT * MARGIN)
    u, v = np.meshgrid(np.arange(wide) + 0.5 - wide / 2, np.arange(high) + 0.5 - high / 2)
    rays = np.dstack([u / focal, v / focal, np.ones_like(u)]) @ rotation
    slope = rays[..., :2] / rays[..., 2:]

    def at(level: float) -> Floats:
        return (eye[:2] + slope * (level - eye[2])).astype(np.float32)

    ground = at(0.0) * 2.0 % 512
    seen = cv2.remap(
        floor, ground[..., 0], ground[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_WRAP
    )
    if seen.ndim == 2:
        seen = np.repeat(seen[..., None], 3, axis=2)
    for number, x, y, turn in cards:
        local = _unturned(at(CARD_HEIGHT_MM), x, y, turn)
        sheet = np.array(SHEETS_MM["a4"])
        picture = _card(number)
        # A page is drawn on whole pixels, so that a mm may be a little more than it should.
        px = (local * [1, -1] + sheet / 2) * np.array(picture.shape[1::-1]) / sheet - 0.5
        _lay(seen, picture, px.astype(np.float32), None)
    if paper is not None:
        size = np.array(paper.colour.shape[1::-1]) / paper.pixels_per_mm
        local = _unturned(at(paper.height), 0.0, 0.0, np.degrees(paper.turn))
        px = (local * [1, -1] + size / 2) * paper.pixels_per_mm - 0.5
        _lay(seen, paper.colour, px.astype(np.float32), paper.opacity)
    return np.asarray(seen * shade(at(0.0))[..., None].astype(np.float32))


@cache
def _card(number: int) -> Floats:
    page = pypdfium2.PdfDocument(card_pdf([number], "a4"))[0]
    picture = page.render(scale=CARD_PIXELS_PER_MM * 25.4 / 72).to_numpy()[..., :1] / 255.0
    picture = (0.04 + 0.74 * picture**2.2 * np.ones(3)).astype(np.float32)
    return np.asarray(cv2.GaussianBlur(picture, (0, 0), 0.8))


def _unturned(points: Floats, x: float, y: float, turn: float) -> Floats:
    c, s = np.cos(np.radians(turn)), np.sin(np.radians(turn))
    return np.asarray((points - [x, y]) @ np.array([[c, -s], [s, c]]))


def _lay(light: Floats, picture: Floats, at: Floats, opacity: Floats | None) -> None:
    """Cover the light where a picture's pixels are met."""
    rows, columns = picture.shape[:2]
    inside = (at[..., 0] > 0) & (at[..., 0] < columns - 1) & (at[..., 1] > 0)
    inside &= at[..., 1] < rows - 1
    if not inside.any():
        return
    down, across = np.flatnonzero(inside.any(axis=1)), np.flatnonzero(inside.any(axis=0))
    part = np.s_[down[0] : down[-1] + 1, across[0] : across[-1] + 1]
    seen = cv2.remap(picture, at[part][..., 0], at[part][..., 1], cv2.INTER_LINEAR)
    share = inside[part].astype(np.float32)
    if opacity is not None:
        share *= cv2.remap(opacity, at[part][..., 0], at[part][..., 1], cv2.INTER_LINEAR)
    light[part] = light[part] * (1 - share[..., None]) + seen * share[..., None]
