"""Rendered photos without a path tracer: flat paper and cards, sampled ray by ray.

For sets too large to keep as sample photos. Light falls evenly but for a slow gradient; what the
phone does to it is as in the others.

    python sample_photos/quick.py FOLDER

writes long-1.jpg to long-6.jpg with long.truth.json: a panel 2.3 m long, in six photos; and
cards-1.jpg to cards-4.jpg: tilted shots of cards alone, by the same phone, to solve its lens from.
"""

import json
import sys
from functools import cache
from pathlib import Path

import cv2
import numpy as np
import pypdfium2
import skimage.data
from corner import Floats, develop
from marking import enlarged, mark
from phone import HEIGHT, WIDTH, save, take
from sheet import paint

from digitize.card.layout import SHEETS_MM
from digitize.card.sheet import card_pdf
from digitize.pattern import to_json

SEED, TIMES, BORDER, PAPER_PIXELS_PER_MM = 31, 2.6, 12.0, 4.0
PAPER_HEIGHT_MM, CARD_HEIGHT_MM = 0.5, 0.1
EQUIVALENT_MM, MARGIN = 26, 1.10
CARD_PIXELS_PER_MM = 6.0
CAMERA = {
    "focal_px": EQUIVALENT_MM / 43.2666 * np.hypot(WIDTH, HEIGHT),
    "principal_px": [WIDTH / 2 + 9.0, HEIGHT / 2 - 6.0],
    "radial": [0.035, -0.028],
}
Cards = tuple[tuple[int, float, float, float], ...]  # number, x, y, turn in degrees
ROUND_THE_PANEL: Cards = (
    (1, -1330, 40, 3),
    (2, 1330, -60, 184),
    (3, -450, 990, 92),
    (4, 470, 985, 87),
    (5, -440, -985, 91),
    (6, 460, -990, 268),
    (7, -1330, 700, 8),
    (8, 1320, -720, 175),
)
OVER_THE_PANEL = ((-800, 480), (0, 500), (800, 470), (-790, -480), (10, -490), (810, -480))
CARDS_ALONE: Cards = (
    (11, -420, 250, 5),
    (12, 0, 270, 92),
    (13, 430, 240, 178),
    (14, -430, -240, 184),
    (15, 10, -260, 88),
    (16, 420, -250, 2),
)
TILTED = ((0, -720, 1020), (-760, 30, 980), (740, 60, 1000), (60, 640, 1080))


def render(folder: Path) -> None:
    """Write both sets, and the long panel's truth."""
    floor = skimage.data.gravel().astype(np.float32) / 255
    floor = floor**2.2 * 0.5
    for index, eye in enumerate(TILTED):
        rng = np.random.default_rng([SEED, 100 + index])
        light = _light(floor, CARDS_ALONE, None, np.array(eye, float), np.zeros(3), 0.05 * index)
        _save(light, rng, folder / f"cards-{index + 1}.jpg")
    marking = enlarged(mark(develop(), SEED, "left"), TIMES)
    colour, opacity = paint(marking, BORDER, SEED, PAPER_PIXELS_PER_MM)
    paper = cv2.GaussianBlur(colour, (0, 0), 0.6), opacity
    for index, (x, y) in enumerate(OVER_THE_PANEL):
        rng = np.random.default_rng([SEED, index])
        eye = np.array([x, y, 1230.0 + rng.uniform(-30, 30)])
        aim = np.array([x * 0.93, y * 0.9, 0.0])
        light = _light(floor, ROUND_THE_PANEL, paper, eye, aim, 0.02 * index)
        _save(light, rng, folder / f"long-{index + 1}.jpg")
    truth = json.loads(to_json(marking.pattern))
    truth["camera"] = CAMERA
    (folder / "long.truth.json").write_text(json.dumps(truth, indent=1) + "\n")


def _save(light: Floats, rng: np.random.Generator, path: Path) -> None:
    save(path, take(light * 0.5, CAMERA, rng), 1, EQUIVALENT_MM)


def _light(
    floor: Floats,
    cards: Cards,
    paper: tuple[Floats, Floats] | None,
    eye: Floats,
    aim: Floats,
    roll: float,
) -> Floats:
    """(H, W, 3) the light that reaches a pinhole at ``eye``, a little more than the phone takes."""
    focal = CAMERA["focal_px"]
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
    light = cv2.remap(
        floor, ground[..., 0], ground[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_WRAP
    )
    light = np.repeat(light[..., None], 3, axis=2)
    for number, x, y, turn in cards:
        local = _unturned(at(CARD_HEIGHT_MM), x, y, turn)
        sheet = np.array(SHEETS_MM["a4"])
        picture = _card(number)
        # A page is drawn on whole pixels, so that a mm may be a little more than it should.
        px = (local * [1, -1] + sheet / 2) * np.array(picture.shape[1::-1]) / sheet - 0.5
        _lay(light, picture, px.astype(np.float32), None)
    if paper is not None:
        colour, opacity = paper
        size = np.array(colour.shape[1::-1]) / PAPER_PIXELS_PER_MM
        px = (at(PAPER_HEIGHT_MM) * [1, -1] + size / 2) * PAPER_PIXELS_PER_MM - 0.5
        _lay(light, colour, px.astype(np.float32), opacity)
    place = at(0.0)
    shade = 1.1 + place[..., :1] / 6000 + place[..., 1:] / 9000
    return np.asarray(light * shade.astype(np.float32))


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


if __name__ == "__main__":
    target = Path(sys.argv[1])
    target.mkdir(parents=True, exist_ok=True)
    render(target)
