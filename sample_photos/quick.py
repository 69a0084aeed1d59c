"""Rendered photos without a path tracer: flat paper and cards, sampled ray by ray.

For sets too large to keep as sample photos. Light falls evenly but for a slow gradient; what the
phone does to it is as in the others.

    python sample_photos/quick.py FOLDER

writes long-1.jpg to long-6.jpg with long.truth.json: a panel 2.3 m long, in six photos; and
cards-1.jpg to cards-4.jpg: tilted shots of cards alone, by the same phone, to solve its lens from.
"""

import json
import sys
from pathlib import Path

import cv2
import numpy as np
import skimage.data
from corner import Floats, develop
from drawn import enlarged, truth_of
from marking import mark
from phone import HEIGHT, WIDTH, save, take
from rays import Cards, Sheet, light
from sheet import paint

SEED, TIMES, BORDER, PAPER_PIXELS_PER_MM = 31, 2.6, 12.0, 4.0
PAPER_HEIGHT_MM = 0.5
EQUIVALENT_MM = 26
FOCAL = EQUIVALENT_MM / 43.2666 * np.hypot(WIDTH, HEIGHT)
CAMERA = {
    "focal_px": FOCAL,
    "principal_px": [WIDTH / 2 + 9.0, HEIGHT / 2 - 6.0],
    "radial": [0.035, -0.028],
}
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
        seen = light(
            floor, CARDS_ALONE, None, np.array(eye, float), np.zeros(3), 0.05 * index, FOCAL, _shade
        )
        _save(seen, rng, folder / f"cards-{index + 1}.jpg")
    marking = enlarged(mark(develop(), SEED, "left"), TIMES)
    colour, opacity = paint(marking, BORDER, SEED, PAPER_PIXELS_PER_MM)
    colour = cv2.GaussianBlur(colour, (0, 0), 0.6)
    paper = Sheet(colour, opacity, PAPER_PIXELS_PER_MM, PAPER_HEIGHT_MM)
    for index, (x, y) in enumerate(OVER_THE_PANEL):
        rng = np.random.default_rng([SEED, index])
        eye = np.array([x, y, 1230.0 + rng.uniform(-30, 30)])
        aim = np.array([x * 0.93, y * 0.9, 0.0])
        seen = light(floor, ROUND_THE_PANEL, paper, eye, aim, 0.02 * index, FOCAL, _shade)
        _save(seen, rng, folder / f"long-{index + 1}.jpg")
    truth = truth_of(marking)
    truth["camera"] = CAMERA
    (folder / "long.truth.json").write_text(json.dumps(truth) + "\n")


def _shade(place: Floats) -> Floats:
    return np.asarray(1.1 + place[..., 0] / 6000 + place[..., 1] / 9000)


def _save(seen: Floats, rng: np.random.Generator, path: Path) -> None:
    save(path, take(seen * 0.5, CAMERA, rng), 1, EQUIVALENT_MM)


if __name__ == "__main__":
    target = Path(sys.argv[1])
    target.mkdir(parents=True, exist_ok=True)
    render(target)
