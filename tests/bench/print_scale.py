"""How often a print that is 1 % off is noticed by its sheets' edges, and a sound one suspected.

Cards are laid on photographed floors by a lens and pose of OpenCV's, in linear light: sheets cut a
little off their size, prints shifted and askew on them, a shadow across, blur, noise, exposure,
now and then the paper over a card's side. Nothing of the program's camera or floor makes them.
"""

import os
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from functools import cache
from multiprocessing import get_context
from pathlib import Path

import cv2
import numpy as np
import pypdfium2
from numpy.typing import NDArray
from rich.console import Console
from rich.progress import track
from rich.table import Table

from digitize.card import FoundCard, card_pdf, find_cards
from digitize.floor import PrintScale, print_of, see_sheet, solve_sound_floor
from digitize.floor.print_size import DOUBTFUL
from digitize.floor.start import View

Floats = NDArray[np.float64]
FLOORS = Path(__file__).parents[3] / "shared" / "photographs" / "floors"
WIDE_MM = {  # as the photographs' list has it
    "WoodFloor051_1K-JPG_Color.jpg": 1000.0,
    "asphalt_1.png": 500.0,
    "concrete_1.png": 900.0,
    "dark-wood.png": 750.0,
    "gray-felt.png": 500.0,
    "gray_ceramic_tile.png": 1000.0,
    "light-wood.png": 900.0,
    "white_marble_floor.png": 1000.0,
}
MARBLE = "white_marble_floor.png"
SEEDS, SHORT_SEEDS = 150, 8
LEAST_NOTICED, MOST_FALSE = 0.95, 0
SIZE = 4032, 3024
SHEET = 210.0, 297.0  # ISO 216:2007, A4
PAGE_PX_PER_MM = 5.0
PLACES = (-560.0, -190.0), (540.0, 150.0), (-20.0, 450.0), (80.0, -460.0)
PRINTS = ("sound", "1 % off", "2 to 6 % off")


@dataclass(frozen=True)
class Shown:
    """A simulated photo's floor and print, and what was made of it.

    ``off``: by how much the scale told across and along is wrong, beside the sheets' own cut; nan
    where nothing was told.
    """

    floor: str
    print_kind: str
    true: float
    off: tuple[float, float]
    noticed: bool
    cards: int


@cache
def _page(number: int) -> Floats:
    """A card's page, light reflected (H, W)."""
    page = pypdfium2.PdfDocument(card_pdf([number], "a4"))[0]
    grey = page.render(scale=PAGE_PX_PER_MM * 25.4 / 72, grayscale=True).to_numpy()
    return np.asarray((grey.reshape(grey.shape[:2]) / 255.0).astype(np.float32))


@cache
def _floor(name: str) -> Floats:
    return np.asarray(cv2.imread(str(FLOORS / name))[..., ::-1].astype(np.float32) / 255) ** 2.2


@dataclass(frozen=True)
class Scene:
    """What one photo's floor, light and lens are like, drawn by seed; lengths in mm."""

    focal_px: float
    eye: Floats
    pose: Floats
    bend: Floats
    cards: tuple[tuple[int, float, float, float], ...]  # number, x, y, turn in radians
    cut: Floats
    white: Floats
    shift: Floats
    askew: float
    corner: Floats  # of the floor's picture
    paper: tuple[Floats, float, Floats] | None  # middle, turn, half its size
    slope: Floats  # of the light
    shadow: tuple[float, float, float, float] | None  # direction, place, softness, depth
    blur_px: float
    gain: float
    sharpened: bool

    @property
    def matrix(self) -> Floats:
        width, height = SIZE
        return np.array(
            [[self.focal_px, 0, (width - 1) / 2], [0, self.focal_px, (height - 1) / 2], [0, 0, 1]]
        )


def _scene(rng: np.random.Generator) -> Scene:
    tilt, side = np.radians(rng.uniform(0, 32)), rng.uniform(0, 2 * np.pi)
    away = rng.uniform(1250, 1550)
    sideways = np.array([np.cos(side), np.sin(side), 0.0])
    eye = away * (np.sin(tilt) * sideways + np.cos(tilt) * np.array([0, 0, 1.0]))
    ahead = -eye / away
    right = np.cross(ahead, [rng.normal(0, 0.07), 1.0, 0.0])
    right /= np.linalg.norm(right)
    places = rng.permutation(len(PLACES))[: rng.integers(1, len(PLACES) + 1)]
    return Scene(
        focal_px=SIZE[0] * float(rng.uniform(0.68, 0.78)),
        eye=eye,
        pose=np.stack([right, np.cross(ahead, right), ahead]),
        bend=np.array([rng.uniform(-0.03, 0.03), rng.uniform(-0.02, 0.02), 0, 0, 0]),
        cards=tuple(
            (int(index) + 1, *(PLACES[index] + rng.uniform(-30, 30, 2)), rng.uniform(0, 2 * np.pi))
            for index in places
        ),
        cut=np.array(SHEET) + rng.uniform(-1, 1, 2),
        white=np.array([0.84, 0.85, 0.86]) * rng.uniform(0.93, 1.0),
        shift=rng.uniform(-1.5, 1.5, 2),
        askew=float(np.radians(rng.uniform(-0.25, 0.25))),
        corner=rng.uniform(0, 500, 2),
        paper=(rng.uniform(-90, 90, 2), rng.uniform(0, 2 * np.pi), rng.uniform(180, 420, 2))
        if rng.random() < 0.3
        else None,
        slope=rng.uniform(-2e-4, 2e-4, 2),
        shadow=(
            rng.uniform(0, 2 * np.pi),
            rng.uniform(-500, 500),
            rng.uniform(4, 40),
            rng.uniform(0.3, 0.6),
        )
        if rng.random() < 0.6
        else None,
        blur_px=float(rng.uniform(0.6, 1.6)),
        gain=float(rng.uniform(0.6, 1.05)),
        sharpened=bool(rng.random() < 0.5),
    )


def photo_of(
    name: str, scale: float, scene: Scene, rng: np.random.Generator
) -> tuple[NDArray[np.uint8], list[tuple[slice, slice]]]:
    """A photo (H, W, 3) and the parts of it that were made, one round each card in sight.

    What lies further off is left black: it would only take time.
    """
    picture = np.zeros((SIZE[1], SIZE[0], 3), np.uint8)
    parts = []
    for _, x, y, turn in scene.cards:
        corners = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) / 2 * SHEET
        corners = _turned(corners * 1.25, -turn) + np.array([x, y])
        solid = np.column_stack([corners, np.zeros(4)])
        turned = cv2.Rodrigues(scene.pose)[0]
        pixels = cv2.projectPoints(
            solid, turned, -scene.pose @ scene.eye, scene.matrix, scene.bend
        )[0][:, 0]
        low = np.clip(np.floor(pixels.min(axis=0)), 0, SIZE).astype(int)
        high = np.clip(np.ceil(pixels.max(axis=0)), 0, SIZE).astype(int)
        if (high - low).min() > 200:
            part = np.s_[low[1] : high[1], low[0] : high[0]]
            picture[part] = _part_of(name, scale, scene, part, rng)
            parts.append(part)
    return picture, parts


def _part_of(
    name: str, scale: float, scene: Scene, part: tuple[slice, slice], rng: np.random.Generator
) -> NDArray[np.uint8]:
    at = _floor_at(scene, part)
    tile = _floor(name)
    px = at * (tile.shape[1] / WIDE_MM[name]) + scene.corner
    ground = (px % [tile.shape[1], tile.shape[0]]).astype(np.float32)
    seen = cv2.remap(
        tile, ground[..., 0], ground[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_WRAP
    )
    for number, x, y, turn in scene.cards:
        _lay_card(seen, number, _turned(at - [x, y], turn), scene, scale)
    if scene.paper:
        middle, turn, half = scene.paper
        local = np.abs(_turned(at - middle, turn))
        covered = (local[..., 0] < half[0]) & (local[..., 1] < half[1])
        seen[covered] = np.array([0.55, 0.42, 0.26], np.float32)
    shade = 1 + at @ scene.slope
    if scene.shadow:
        turn, place, soft, depth = scene.shadow
        border = _turned(at, turn)[..., 0] - place
        shade = shade * (1 - depth / (1 + np.exp(-np.clip(border / soft, -30, 30))))
    seen = seen * shade[..., None].astype(np.float32)
    seen = cv2.GaussianBlur(seen, (0, 0), scene.blur_px) * scene.gain
    noise = rng.standard_normal(seen.shape, np.float32)
    seen += noise * np.sqrt(2e-5 + 2e-4 * seen.clip(0))
    tone = 1.055 * np.clip(seen, 0.0031308, 1) ** (1 / 2.4) - 0.055  # IEC 61966-2-1
    if scene.sharpened:  # as phones do
        tone = tone + 0.35 * (tone - cv2.GaussianBlur(tone, (0, 0), 1.2))
    picture = np.clip(tone * 255 + 0.5, 0, 255).astype(np.uint8)
    _, packed = cv2.imencode(".jpg", picture[..., ::-1], [cv2.IMWRITE_JPEG_QUALITY, 90])
    return np.asarray(cv2.imdecode(packed, cv2.IMREAD_COLOR)[..., ::-1], np.uint8)


def _floor_at(scene: Scene, part: tuple[slice, slice]) -> Floats:
    """(H, W, 2) where on the floor the pixels of a part look; OpenCV's lens undone on a lattice."""
    rows, columns = part
    high, wide = rows.stop - rows.start, columns.stop - columns.start
    u, v = np.meshgrid(np.arange(0, wide + 8, 8.0), np.arange(0, high + 8, 8.0))
    pixels = np.stack([u.ravel() + columns.start, v.ravel() + rows.start], axis=1)[:, None]
    criteria = (cv2.TERM_CRITERIA_COUNT + cv2.TERM_CRITERIA_EPS, 30, 1e-12)
    rays = cv2.undistortPoints(pixels, scene.matrix, scene.bend, None, None, None, criteria)
    solid = np.column_stack([rays[:, 0], np.ones(len(rays))]) @ scene.pose
    floor = scene.eye[:2] - solid[:, :2] / solid[:, 2:] * scene.eye[2]
    lattice = floor.reshape(*u.shape, 2)
    x, y = (
        each.astype(np.float32) for each in np.meshgrid(np.arange(wide) / 8, np.arange(high) / 8)
    )
    return np.stack(
        [cv2.remap(lattice[..., axis], x, y, cv2.INTER_LINEAR) for axis in (0, 1)], axis=-1
    )


def _turned(points: Floats, turn: float) -> Floats:
    c, s = np.cos(turn), np.sin(turn)
    x, y = points[..., 0], points[..., 1]
    return np.stack([c * x + s * y, c * y - s * x], axis=-1)


def _lay_card(seen: Floats, number: int, local: Floats, scene: Scene, scale: float) -> None:
    """A sheet, its print ``scale`` times its nominal size, where places (H, W, 2) on it show."""
    outside = np.maximum(*(np.abs(local[..., axis]) - scene.cut[axis] / 2 for axis in (0, 1)))
    if outside.min() > 5:
        return
    # The floor along the sheet is a little darker: its edge stands off by a hair.
    near = 0.15 * np.exp(-np.clip(outside, 0, 30) / 0.6)
    seen *= np.where(outside > 0, 1 - near, 1)[..., None].astype(np.float32)
    printed = _turned(local - scene.shift, scene.askew) / scale
    page = _page(number)
    size = np.array(page.shape[::-1])
    px = ((printed * [1, -1] + np.array(SHEET) / 2) * size / SHEET - 0.5).astype(np.float32)
    ink = cv2.remap(
        page,
        px[..., 0],
        px[..., 1],
        cv2.INTER_LINEAR,
        borderMode=cv2.BORDER_CONSTANT,
        borderValue=1.0,
    )
    light = (0.04 + (scene.white - 0.04) * ink[..., None]).astype(np.float32)
    seen[outside < 0] = light[outside < 0]


def _look(job: tuple[str, str, int]) -> Shown | None:
    """What the program makes of one photo; None if it finds no card in it."""
    name, kind, seed = job
    rng = np.random.default_rng([11, seed])
    larger = rng.random() < 0.5
    away = {"sound": 0.0, "1 % off": 0.01, "2 to 6 % off": float(rng.uniform(0.02, 0.06))}[kind]
    true = 1 + away if larger else 1 - away
    scene = _scene(rng)
    picture, parts = photo_of(name, true, scene, rng)
    found = _cards_in(picture, parts)
    if not found:
        return None
    floor, _ = solve_sound_floor([View(found, SIZE, scene.focal_px)], PrintScale())
    seen = print_of([see_sheet(picture, floor.cameras[0], card) for card in found])
    told = [side.scale if side else np.nan for side in (seen.across, seen.along)]
    edges = np.array(told) * scene.cut / SHEET - true  # what sheets cut to their size would tell
    noticed = seen.contradiction(PrintScale(), DOUBTFUL) > 0
    return Shown(name, kind, true, (float(edges[0]), float(edges[1])), noticed, len(found))


def _cards_in(
    picture: NDArray[np.uint8], parts: Sequence[tuple[slice, slice]]
) -> tuple[FoundCard, ...]:
    """The cards, each once, looked for part by part."""
    found: dict[int, FoundCard] = {}
    for rows, columns in parts:
        grey = cv2.cvtColor(picture[rows, columns], cv2.COLOR_RGB2GRAY)
        for card in find_cards(np.asarray(grey, np.uint8)):
            there = replace(card, pixels=card.pixels + np.array([columns.start, rows.start]))
            best = found.get(card.number)
            if best is None or len(there.pixels) > len(best.pixels):
                found[card.number] = there
    return tuple(found[number] for number in sorted(found))


def run(console: Console, short: bool) -> tuple[dict[str, object], list[str]]:
    """Prints on all floors, and how many were noticed; skipped without the photographs."""
    if not FLOORS.is_dir():
        console.print("print: skipped, the floors' photographs are not here")
        return {}, []
    seeds = SHORT_SEEDS if short else SEEDS
    names = list(WIDE_MM)
    jobs = [(names[seed % len(names)], kind, seed) for seed in range(seeds) for kind in PRINTS]
    os.environ["OPENBLAS_NUM_THREADS"] = "1"
    with ProcessPoolExecutor(2, mp_context=get_context("spawn")) as pool:
        looked = list(
            track(
                pool.map(_look, jobs, chunksize=4),
                "prints",
                total=len(jobs),
                console=console,
                transient=True,
                disable=not console.is_terminal,
            )
        )
    del os.environ["OPENBLAS_NUM_THREADS"]
    shown = [each for each in looked if each is not None]
    return _reported(console, shown, len(jobs) - len(shown), short)


def _reported(
    console: Console, shown: Sequence[Shown], without_card: int, short: bool
) -> tuple[dict[str, object], list[str]]:
    table = Table(
        "floor",
        "photos",
        "silent",
        *(f"noticed, {kind}" for kind in PRINTS),
        "error 95 %",
        title="Prints by their sheets' edges",
    )
    figures: dict[str, object] = {}
    for name in [*WIDE_MM, "all"]:
        some = [each for each in shown if name in ("all", each.floor)]
        if not some:
            continue
        silent = sum(bool(np.isnan(each.off).all()) for each in some)
        shares = [_share(some, kind) for kind in PRINTS]
        errors = np.array([each.off for each in some]).ravel()
        errors = np.abs(errors[np.isfinite(errors)])
        error = float(np.percentile(errors, 95)) if len(errors) else None
        table.add_row(
            name,
            str(len(some)),
            str(silent),
            *(f"{a} of {b}" for a, b in shares),
            "" if error is None else f"{error:.2%}",
        )
        figures[name] = {"silent": silent, **dict(zip(PRINTS, shares, strict=True)), "error": error}
    console.print(table)
    console.print(f"photos in which no card was found: {without_card}")
    missed = []
    false = sum(each.noticed for each in shown if each.print_kind == "sound")
    if false > MOST_FALSE:
        missed.append(f"print: {false} sound prints suspected")
    for kind in PRINTS[1:]:
        elsewhere = [each for each in shown if each.floor != MARBLE]
        noticed, of = _share(elsewhere, kind)
        # Of a few photos, one in which no sheet shows whole is too many.
        if noticed < LEAST_NOTICED * of and not short:
            missed.append(f"print: {kind}: {noticed} of {of} noticed, not {LEAST_NOTICED:.0%}")
    return figures, missed


def _share(shown: Sequence[Shown], kind: str) -> tuple[int, int]:
    some = [each for each in shown if each.print_kind == kind]
    return sum(each.noticed for each in some), len(some)
