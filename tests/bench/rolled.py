"""Paper that rolls up at one edge, seen by three photos: how far places are off, and as stated."""

import sys
from dataclasses import asdict, dataclass
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray
from rich.console import Console
from rich.table import Table

from digitize.errors import DigitizeError
from digitize.floor import Photo
from digitize.plane import rigid_fit, rotation
from digitize.reading.pipeline import said_of_photos
from digitize.reading.scene import Asked, Scene, see_scene
from tests.scene import Floor, Shot

sys.path.append(str(Path(__file__).parents[2] / "sample_photos"))

Floats = NDArray[np.float64]
SEEDS = range(1, 7)
BORDER, PIXELS_PER_MM = 12.0, 4.0
CARDS = ((1, -590, 60, 4), (2, 585, -120, 186), (3, -90, 450, 92), (4, 120, -455, 88))
EYES = ((50, -60, 1210), (-560, -300, 1200), (590, 280, 1190))
LENS = {"focal_px": 2000.0, "size": (2688, 2016), "radial": (0.03, -0.02)}
GRID_MM = 20.0


@dataclass(frozen=True)
class Roll:
    """A strip along one edge that rises as z = high t², t from 0 to 1 over its width on the floor.

    ``to_edge`` (2,) points at the edge, ``begins`` is how far that way the strip begins; all mm.
    """

    high: float
    width: float
    to_edge: Floats
    begins: float

    def height(self, floor: Floats) -> Floats:
        """(N,) how high the paper stands over floor points (N, 2)."""
        along = np.clip((floor @ self.to_edge - self.begins) / self.width, 0, 1.2)
        return np.asarray(self.high * along**2)

    def flat(self, floor: Floats) -> Floats:
        """(N, 2) where on the flat paper the points over floor points (N, 2) are: at their arc."""
        run = np.clip(floor @ self.to_edge - self.begins, 0, None)
        slope = 2 * self.high / self.width**2 * run
        # The arc of a parabola, less what lies below it.
        arc = (slope * np.hypot(1, slope) + np.arcsinh(slope)) * self.width**2 / (4 * self.high)
        return np.asarray(floor + (arc - run)[:, None] * self.to_edge)


@dataclass(frozen=True)
class Case:
    """One paper's roll, and how its photos were read."""

    high_mm: float
    width_mm: float
    off_rms_mm: float
    off_95_mm: float
    off_worst_mm: float
    stated_mm: float
    within_stated: float
    said: str


def paper_picture(seed: int) -> tuple[NDArray[np.uint8], NDArray[np.uint8]]:
    """The demo paper's colour (H, W, 3), sRGB, and opacity (H, W), its middle at the origin."""
    from corner import develop
    from marking import mark
    from sheet import WHITE, paint

    colour, opacity = paint(mark(develop(), seed, "left"), BORDER, seed, PIXELS_PER_MM, WHITE)
    tone = 1.055 * np.clip(colour, 1e-4, None) ** (1 / 2.4) - 0.055
    return np.clip(tone * 255, 0, 255).astype(np.uint8), (opacity * 255).astype(np.uint8)


def roll_of(seed: int, half: Floats) -> Roll:
    """A roll drawn by seed, along one of the paper's edges; ``half`` (2,) its size by two."""
    rng = np.random.default_rng([97, seed])
    edge = np.array([[-1.0, 0], [1, 0], [0, 1], [0, -1]])[seed % 4]
    high, width = rng.uniform(6, 26), rng.uniform(90, 200)
    turn = rotation(float(np.radians(rng.uniform(-12, 12))))
    return Roll(float(high), float(width), turn @ edge, float(np.abs(edge) @ half - width))


def met(shot: Shot, pixels: Floats, roll: Roll) -> Floats:
    """(N, 2) what of the floor lies below the paper that pixels (N, 2) see."""
    straight = cv2.undistortPoints(pixels[:, None], shot.matrix, shot.lens)[:, 0]
    for _ in range(3):  # to convergence: OpenCV stops after a few rounds
        rays = np.column_stack([straight, np.ones(len(straight))])
        bent = cv2.projectPoints(rays, np.zeros(3), np.zeros(3), shot.matrix, shot.lens)[0][:, 0]
        straight = straight + (pixels - bent) / shot.focal_px
    ahead = np.column_stack([straight, np.ones(len(straight))]) @ shot.rotation
    slope, eye = ahead[:, :2] / ahead[:, 2:], np.array(shot.eye, float)
    height = np.zeros(len(slope))
    for _ in range(30):
        floor = eye[:2] + slope * (height - eye[2])[:, None]
        height = roll.height(floor)
    return np.asarray(floor)


def photograph(
    shot: Shot, ground: Floor, sheet: tuple[NDArray[np.uint8], NDArray[np.uint8]], roll: Roll
) -> NDArray[np.uint8]:
    """The floor with the sheet on it, by rays on a lattice of every fourth pixel."""
    picture = ground.photograph(shot, noise=0.0).astype(np.float32)
    width, height = shot.size
    u, v = np.meshgrid(np.arange(0, width + 4, 4.0), np.arange(0, height + 4, 4.0))
    flat = roll.flat(met(shot, np.stack([u.ravel(), v.ravel()], axis=1), roll))
    colour, opacity = sheet
    at = (flat * [1, -1] * PIXELS_PER_MM + np.array(colour.shape[1::-1]) / 2 - 0.5).astype("f4")
    lattice = at.reshape(*u.shape, 2)
    x, y = np.meshgrid(np.arange(width, dtype="f4") / 4, np.arange(height, dtype="f4") / 4)
    where = cv2.remap(lattice, x, y, cv2.INTER_LINEAR)
    seen = cv2.remap(colour, where[..., 0], where[..., 1], cv2.INTER_LINEAR).astype(np.float32)
    share = cv2.remap(opacity, where[..., 0], where[..., 1], cv2.INTER_LINEAR) / 255.0
    picture += (seen - picture) * share[..., None].astype(np.float32)
    picture = cv2.GaussianBlur(picture, (0, 0), 0.6)
    picture += np.random.default_rng(7).normal(0, 2.5, picture.shape)
    return np.clip(picture, 1, 255).astype(np.uint8)


def case_of(seed: int) -> tuple[Case, Scene]:
    """Photograph a rolled paper, read its scene, and see how far places on it are off."""
    sheet = paper_picture(seed)
    half = np.array(sheet[0].shape[1::-1]) / PIXELS_PER_MM / 2 - BORDER
    roll = roll_of(seed, half)
    ground = Floor(800)
    for number, x, y, turn in CARDS:
        ground.lay_card(number, x, y, turn)
    shots = [Shot(eye=eye, **LENS) for eye in EYES]
    photos = [
        Photo(f"{n}", photograph(shot, ground, sheet, roll), f"{n}", None, "bench", None)
        for n, shot in enumerate(shots, start=1)
    ]
    scene = see_scene(photos, Asked(), lambda stage: None)
    return measured(scene, shots, roll), scene


def measured(scene: Scene, shots: list[Shot], roll: Roll) -> Case:
    """How far what the scene takes for places on the flat paper is off the paper's own."""
    low, high = scene.outline.min(axis=0), scene.outline.max(axis=0)
    x, y = np.meshgrid(*(np.arange(a, b, GRID_MM) for a, b in zip(low, high, strict=True)))
    points = np.concatenate([np.stack([x.ravel(), y.ravel()], axis=1), scene.outline])
    inside = [
        cv2.pointPolygonTest(scene.outline.astype(np.float32), (float(a), float(b)), False) >= 0
        for a, b in points
    ]
    points = points[inside]
    below, height = scene.surface.to_solid(points)
    floor, seen_by = scene.frame.to_floor(below), scene.choice.at(points)
    true = np.empty_like(points)
    for photo, shot in enumerate(shots):
        some = seen_by == photo
        if some.any():
            pixels = scene.floor.cameras[photo].to_pixels(floor[some], height[some])
            true[some] = roll.flat(met(shot, pixels, roll))
    off = np.zeros(len(points))
    for _ in range(6):  # laid on the true paper by what agrees, as two patterns are
        kept = off <= max(3 * float(np.median(off)), 0.1)
        turn, shift = rigid_fit(points[kept], true[kept])
        off = np.linalg.norm(points @ rotation(turn).T + shift - true, axis=1)
    stated = scene.accuracy(points).total_mm
    remarks = [remark.words for remark in said_of_photos(scene, scene.accuracy(scene.outline))]
    return Case(
        round(roll.high, 1),
        round(roll.width, 1),
        float(np.sqrt((off**2).mean())),
        float(np.quantile(off, 0.95)),
        float(off.max()),
        float(scene.accuracy(scene.outline).total_mm.max()),
        float((off < stated).mean()),
        "; ".join(words for words in remarks if "stands" in words),
    )


def run(console: Console, short: bool) -> tuple[dict[str, object], list[str]]:
    """Read rolled papers and print how far they are off; places must be within what is stated."""
    figures, missed = {}, []
    table = Table("seed", *Case.__dataclass_fields__, title="Paper rolled up at one edge, 3 photos")
    for seed in list(SEEDS)[: 1 if short else None]:
        try:
            case, _ = case_of(seed)
        except DigitizeError as error:
            missed.append(f"rolled {seed}: not read: {error}")
            continue
        figures[str(seed)] = asdict(case)
        values = asdict(case).values()
        table.add_row(str(seed), *(f"{v:.2f}" if isinstance(v, float) else str(v) for v in values))
        if case.within_stated < 0.95:
            missed.append(f"rolled {seed}: {case.within_stated:.1%} of places are within stated")
    console.print(table)
    return figures, missed
