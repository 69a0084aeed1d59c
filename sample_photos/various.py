"""Rendered photos of panels and pieces of paper, no two alike: everything is drawn by seed.

For the benchmark of reading; too many to keep. Paper, pencil, light and floor differ from seed to
seed. The pieces have no floor and no cards: they are rendered, seen by the phone, and laid out at
true size.

    python sample_photos/various.py FOLDER [--panels N ...] [--tucked N ...] [--pieces N ...]

writes panel-N.jpg, tucked-N.jpg and piece-N.png, each with its truth: all, or just those of the
seeds given.
"""

import argparse
import io
import json
from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np
import skimage.data
from corner import Floats, develop
from drawn import Marking, truth_of
from marking import mark
from phone import HEIGHT, WIDTH, expose, save, take
from pieces import HIGH, WIDE, draw_piece
from PIL import Image
from rays import Sheet, light
from scipy.ndimage import gaussian_filter
from sheet import BROWN, WHITE, Reflectance, paint
from strokes import BLUE_FELT, BLUE_PENCIL, FELT, GRAPHITE, HARD, RED_PENCIL
from surfaces import PLAIN, any_corner, draw_tucked
from tucked import Habits

SEEDS = {"panel": 77, "tucked": 79, "piece": 78}
PANELS, TUCKED, PIECES = range(1, 9), range(1, 17), range(1, 65)
BORDER, PAPER_PIXELS_PER_MM = 12.0, 5.0
EQUIVALENT_MM = 26
PIECE_PIXELS_PER_MM = 8.0
# Paper, ink, lap lines' ink, factors on width and pressure.
MEDIA = (
    (BROWN, GRAPHITE, GRAPHITE, 1.0, 1.0),
    (BROWN, HARD, HARD, 0.75, 0.75),
    (WHITE, GRAPHITE, RED_PENCIL, 1.0, 0.8),
    (BROWN, FELT, FELT, 1.7, 1.0),
    (WHITE, BLUE_PENCIL, RED_PENCIL, 1.1, 0.9),
    (BROWN, GRAPHITE, BLUE_PENCIL, 1.2, 0.9),
    (WHITE, HARD, HARD, 0.85, 0.9),
    (WHITE, BLUE_FELT, RED_PENCIL, 1.4, 1.0),
)


def panel(kind: str, seed: int, folder: Path, marks_only: bool) -> None:
    """Write one panel's truth and, unless its marks are all that is wanted, its photo."""
    rng = np.random.default_rng([SEEDS[kind], seed])
    marking, paper, size = (draw_panel if kind == "panel" else draw_tucked_panel)(seed, rng)
    path = folder / f"{kind}-{seed}.jpg"
    if not marks_only:
        photograph(marking, paper, size, seed, rng, path)
    _write_truth(path, marking)


def draw_tucked_panel(
    seed: int, rng: np.random.Generator
) -> tuple[Marking, Reflectance, tuple[float, float]]:
    """The marked paper of a surface that is known exactly, what it is made of, and its size."""
    paper, ink, lap_ink, width, pressure = MEDIA[(3 * seed) % len(MEDIA)]
    media = replace(PLAIN, ink=ink, lap_ink=lap_ink, width=width, pressure=pressure)
    marking = draw_tucked(seed, rng, media)
    wide, high = np.array(marking.pattern.outline).max(axis=0)
    return marking, paper, (float(wide), float(high))


def draw_panel(
    seed: int, rng: np.random.Generator
) -> tuple[Marking, Reflectance, tuple[float, float]]:
    """One panel's marked paper, what it is made of, and its size."""
    paper, ink, lap_ink, width, pressure = MEDIA[(3 * seed) % len(MEDIA)]
    panel = any_corner(rng)
    development = develop(panel)
    begin, end = development.zone
    count = int(np.clip((end - begin) / rng.uniform(42, 70), 3, 9))
    habits = Habits(
        tip_depths=tuple(rng.uniform(6, 16, count)),
        upper_is_next=tuple(bool(up) for up in rng.random(count) < 0.6),
        fold=int(rng.integers(count)) if rng.random() < 0.5 else None,
        without_lap_line=int(rng.integers(count)) if rng.random() < 0.6 else None,
        broad_stretch=(0.45, 0.65) if rng.random() < 0.4 and ink in (GRAPHITE, HARD) else None,
        width=width,
        pressure=pressure,
        ink=ink,
        lap_ink=lap_ink,
        dashes=(12.0, 3.0) if rng.random() < 0.5 else None,
        doubled=bool(rng.random() < 0.4),
        skips=2.0 if rng.random() < 0.5 else 0.0,
    )
    marking = mark(development, seed, "left" if rng.random() < 0.5 else "right", habits)
    return marking, paper, (panel.width, panel.height)


def photograph(
    marking: Marking,
    paper: Reflectance,
    size: tuple[float, float],
    seed: int,
    rng: np.random.Generator,
    path: Path,
) -> None:
    """Write a marked paper's photo beside four cards."""
    colour, opacity = paint(marking, BORDER, seed, PAPER_PIXELS_PER_MM, paper)
    # A slit's edges shade what lies under it.
    cut = (opacity < 0.99) & (cv2.morphologyEx(opacity, cv2.MORPH_CLOSE, np.ones((9, 9))) > 0.99)
    colour = np.where(
        cut[..., None], (1 - opacity[..., None]) * 0.04 + opacity[..., None] * colour, colour
    )
    opacity = np.where(cut, 1.0, opacity).astype(np.float32)
    colour = cv2.GaussianBlur(colour.astype(np.float32), (0, 0), 0.6)
    sheet = Sheet(
        colour, opacity, PAPER_PIXELS_PER_MM, rng.uniform(0.1, 0.4), float(rng.uniform(-0.2, 0.2))
    )
    focal = EQUIVALENT_MM / 43.2666 * np.hypot(WIDTH, HEIGHT)
    camera = {
        "focal_px": focal,
        "principal_px": [WIDTH / 2 + rng.normal(0, 8), HEIGHT / 2 + rng.normal(0, 8)],
        "radial": [rng.uniform(-0.03, 0.05), rng.uniform(-0.03, 0.02)],
    }
    half_wide, half_high = size[0] / 2 + 40, size[1] / 2 + 60
    cards = (
        (1, -half_wide - 140, rng.uniform(-80, 80), rng.uniform(-8, 8)),
        (2, half_wide + 140, rng.uniform(-80, 80), 180 + rng.uniform(-8, 8)),
        (3, rng.uniform(-150, 150), half_high + 130, 90 + rng.uniform(-8, 8)),
        (4, rng.uniform(-150, 150), -half_high - 130, 270 + rng.uniform(-8, 8)),
    )
    reach = max(2 * half_wide + 560, (2 * half_high + 500) * WIDTH / HEIGHT)
    eye = np.array([rng.normal(0, 90), rng.normal(0, 90), reach * focal / WIDTH])
    aim = np.array([rng.normal(0, 15), rng.normal(0, 15), 0.0])
    shade = _shade(rng, 500.0)
    seen = light(_floor(rng), cards, sheet, eye, aim, rng.normal(0, 0.05), focal, shade)
    save(path, take(seen * 0.5, camera, rng), 1, EQUIVALENT_MM)


def _floor(rng: np.random.Generator) -> Floats:
    """A tile of some floor: gravel, brick, concrete or boards."""
    kind = int(rng.integers(4))
    if kind < 2:
        photo = (skimage.data.gravel, skimage.data.brick)[kind]()
        return np.asarray((photo.astype(np.float32) / 255) ** 2.2 * 0.5)
    if kind == 2:
        cloud = gaussian_filter(rng.standard_normal((512, 512)), 20, mode="wrap")
        grit = gaussian_filter(rng.standard_normal((512, 512)), 0.8, mode="wrap")
        return (0.28 + 0.02 * cloud / cloud.std() + 0.03 * grit / grit.std()).astype(np.float32)
    grain = gaussian_filter(rng.standard_normal((512, 512)), (40, 1.2), mode="wrap")
    boards = 1 + 0.1 * rng.standard_normal(4).repeat(128)[None]
    boards[:, ::128] *= 0.4
    tone = (0.17 + 0.03 * grain / grain.std()) * boards
    return (tone[..., None] * np.array([1.25, 0.95, 0.7])).astype(np.float32)


def _shade(rng: np.random.Generator, reach: float) -> Callable[[Floats], Floats]:
    """Light over some mm: a slow gradient, the swell of curled paper, sometimes a shadow's edge."""
    slope = rng.normal(0, 0.12, 2) / reach
    swell, phase = rng.uniform(0.0, 0.05), rng.uniform(0, 6)
    turn, wave = rng.uniform(0, np.pi), rng.uniform(0.4, 1.2) * reach
    shadow = rng.random() < 0.5
    offset, side = rng.normal(0, 0.3) * reach, rng.uniform(0, 2 * np.pi)
    depth, soft = rng.uniform(0.35, 0.65), rng.uniform(2.0, 25.0)

    def shade(place: Floats) -> Floats:
        x, y = place[..., 0], place[..., 1]
        amount = 1.1 + slope[0] * x + slope[1] * y
        amount = amount + swell * np.sin(2 * np.pi * (x * np.cos(turn) + y * np.sin(turn)) / wave)
        if shadow:
            past = (x * np.cos(side) + y * np.sin(side) - offset) / soft + np.sin(y / 70 + phase)
            amount = amount * (1 - depth / (1 + np.exp(-np.clip(past, -30, 30))))
        return np.asarray(amount)

    return shade


def piece(seed: int, folder: Path) -> None:
    """Write one piece of paper at true size, and its truth."""
    rng = np.random.default_rng([SEEDS["piece"], seed])
    paper, ink, _, width, pressure = MEDIA[(3 * seed) % len(MEDIA)]
    marking = draw_piece(seed, ink, width, pressure, rng)
    colour, _ = paint(marking, BORDER, seed, PIECE_PIXELS_PER_MM, paper)
    scale, turn = rng.uniform(2.9, 3.7), rng.uniform(-0.4, 0.4)  # the photo's px to a mm
    rows, columns = colour.shape[:2]
    shade = _shade(rng, 70.0)
    y, x = np.mgrid[0:rows, 0:columns] / PIECE_PIXELS_PER_MM
    lit = colour * shade(np.dstack([x - 70, y - 50]))[..., None].astype(np.float32)
    # Paper pixels to photo pixels, turned about the middle.
    ratio = scale / PIECE_PIXELS_PER_MM
    size = int(np.hypot(rows, columns) * ratio)
    matrix = cv2.getRotationMatrix2D((columns / 2, rows / 2), np.degrees(turn), ratio)
    matrix[:, 2] += size / 2 - np.array([columns / 2, rows / 2])
    soft = cv2.GaussianBlur(lit, (0, 0), 0.4 / ratio)
    photo = expose(cv2.warpAffine(soft, matrix, (size, size), borderMode=cv2.BORDER_REFLECT), rng)
    buffer = io.BytesIO()
    Image.fromarray(photo).save(buffer, "JPEG", quality=88)
    photo = np.array(Image.open(buffer))
    mm_per_px = 0.8 / scale
    to_paper = np.diag([PIECE_PIXELS_PER_MM * mm_per_px] * 2)
    shift = (BORDER + mm_per_px / 2) * PIECE_PIXELS_PER_MM - 0.5
    back = matrix[:, :2] @ to_paper, matrix @ np.array([shift, shift, 1.0])
    laid = cv2.warpAffine(
        photo,
        np.column_stack(back),
        (int(WIDE / mm_per_px), int(HIGH / mm_per_px)),
        flags=cv2.INTER_CUBIC | cv2.WARP_INVERSE_MAP,
    )
    path = folder / f"piece-{seed}.png"
    Image.fromarray(laid).save(path)
    _write_truth(path, marking, mm_per_px=mm_per_px)


def _write_truth(path: Path, marking: Marking, **more: float) -> None:
    truth = {**truth_of(marking), **more}
    path.with_suffix(".truth.json").write_text(json.dumps(truth) + "\n")


def _render(job: tuple[str, int, Path, bool]) -> None:
    kind, seed, folder, marks_only = job
    if kind == "piece":
        piece(seed, folder)
    else:
        panel(kind, seed, folder, marks_only)


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("folder", type=Path)
    parser.add_argument("--panels", type=int, nargs="+", metavar="N", default=[])
    parser.add_argument("--tucked", type=int, nargs="+", metavar="N", default=[])
    parser.add_argument("--pieces", type=int, nargs="+", metavar="N", default=[])
    parser.add_argument("--marks-only", action="store_true", help="write truths, render nothing")
    given = parser.parse_args()
    given.folder.mkdir(parents=True, exist_ok=True)
    asked = {"panel": given.panels, "tucked": given.tucked, "piece": given.pieces}
    if not any(asked.values()):
        asked = {"panel": PANELS, "tucked": TUCKED, "piece": PIECES}
    jobs = [
        (kind, seed, given.folder, given.marks_only)
        for kind, seeds in asked.items()
        for seed in seeds
    ]
    with ProcessPoolExecutor(2) as pool:
        list(pool.map(_render, jobs))
