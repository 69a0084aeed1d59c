"""Photos of invented scenes on real floors: for each pixel, what of the floor plane it shows.

A second way of making photos, apart from ``sample_photos``: nothing of that renderer is used, the
lens is OpenCV's, floors and papers are real photographs (``../shared/photographs``), and cards are
the printed PDF itself. What a photo shows is drawn by seed: sun with hard borders, flash, clutter,
cards near, under and on the paper's edge, bent or printed at another size, bad exposures, and
pictures from a messenger's copy to 48 megapixels.
"""

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from functools import cache
from io import BytesIO
from pathlib import Path

import cv2
import numpy as np
import pypdfium2
from numpy.typing import NDArray
from PIL import Image
from scipy.interpolate import CubicSpline
from shapely import LineString, Point, Polygon
from shapely.affinity import rotate, translate
from shapely.geometry.base import BaseGeometry

from digitize.card import SHEETS_MM, card_pdf

Floats = NDArray[np.float64]
Colours = NDArray[np.float32]
PHOTOGRAPHS = Path(__file__).parents[3] / "shared" / "photographs"
KINDS = (
    "plain",
    "sun",
    "card near",
    "flash",
    "plain",
    "clutter",
    "card under",
    "touched",
    "exposure",
    "torn",
    "small",
    "bent cards",
    "print",
    "card on edge",
    "one card",
    "shade",
    "large",
    "curl",
)
# Of photos in which pencil is hard to see, beside the others: seeds from POOR on.
POOR, POOR_KINDS = 300, ("blown", "dim", "faint", "soft corner")
# Width of a picture laid on the floor, mm, as list.csv gives it.
FLOORS = {
    "concrete_1.png": 900,
    "asphalt_1.png": 500,
    "gray-felt.png": 500,
    "WoodFloor051_1K-JPG_Color.jpg": 1000,
    "light-wood.png": 900,
    "gray_ceramic_tile.png": 1000,
    "white_marble_floor.png": 1000,
    "dark-wood.png": 750,
}
# A paper's picture, the part of it that is bare (shares), its width laid out (mm), and a dye.
Look = tuple[str, tuple[float, float, float, float], float, tuple[float, float, float]]
PAPERS: tuple[Look, ...] = (
    ("Paper001_1K-JPG_Color.jpg", (0.0, 0.0, 1.0, 1.0), 400, (1.0, 1.0, 1.0)),
    ("ex07_writer0083.jpg", (0.18, 0.66, 0.82, 0.9), 200, (1.05, 1.05, 1.05)),
    ("cardboard_3.png", (0.0, 0.0, 1.0, 1.0), 400, (1.0, 1.0, 1.0)),
    ("cardboard_3.png", (0.0, 0.0, 1.0, 1.0), 300, (1.0, 0.72, 0.42)),
    ("cardboard_3.png", (0.0, 0.0, 1.0, 1.0), 350, (1.35, 1.1, 0.8)),
    ("Paper001_1K-JPG_Color.jpg", (0.0, 0.0, 1.0, 1.0), 300, (0.62, 0.8, 0.6)),
)
SIZES = {"small": (1632, 1224), "large": (8000, 6000)}
USUAL_SIZES = (3264, 2448), (4032, 3024), (3264, 2448)
FOCAL_SHARE = 0.72  # focal length of the picture's width: about 26 mm equivalent
LATTICE_PX = 16
MARGIN = 0.03  # of the picture, round all that must be in it
# How far OpenCV's smooth filling reaches over a shape's edge: a square of 20 pixels is 21.4 wide.
FILLED_OVER_PX = 0.7
VISIBLE = 3.0  # difference in Lab that a person sees along an edge; common practice, no source


@dataclass(frozen=True)
class Card:
    """A card on the floor: number, middle (mm), turn (radians), print scale, height of its bend."""

    number: int
    x: float
    y: float
    turn: float
    scale: float = 1.0
    bend_mm: float = 0.0
    bend_turn: float = 0.0

    def sheet(self) -> Polygon:
        """The sheet's edge on the floor."""
        width, height = SHEETS_MM["a4"]
        flat = Polygon([(-width, -height), (width, -height), (width, height), (-width, height)])
        half = Polygon(np.array(flat.exterior.coords) / 2)
        return translate(rotate(half, np.degrees(self.turn), origin=(0, 0)), self.x, self.y)


@dataclass(frozen=True)
class Scene:
    """What lies on the floor, how it is lit, and how it is photographed; mm and radians.

    Attributes
    ----------
    outline : the paper's edge. lines : pencil lines, the first the trim edge.
    under, over : cards by whether the paper lies on them or they on it.
    clutter : shapes with their colour, over all.
    dark : the pencil's, as a share of the light.
    soft_mm : how far a corner of the paper is out of focus.
    """

    seed: int
    kind: str
    floor: str
    paper: Look
    outline: Polygon
    lines: tuple[Floats, ...]
    under: tuple[Card, ...]
    over: tuple[Card, ...]
    clutter: tuple[tuple[Polygon, tuple[float, float, float]], ...]
    size_px: tuple[int, int]
    exposure: float
    floor_turn: float
    curl_mm: float = 0.0
    dark: float = 0.5
    soft_mm: float = 0.0
    camera: dict[str, Floats] = field(default_factory=dict)

    @property
    def cards(self) -> tuple[Card, ...]:
        """All of them."""
        return self.under + self.over


def draw_scene(seed: int) -> Scene:
    """The scene of a seed."""
    rng = np.random.default_rng([21, seed])
    kind = KINDS[seed % len(KINDS)] if seed < POOR else POOR_KINDS[seed % len(POOR_KINDS)]
    floors = list(FLOORS)
    floor = floors[int(rng.integers(len(floors)))]
    paper = PAPERS[int(rng.integers(len(PAPERS)))]
    outline = _paper(rng, torn=kind == "torn" or rng.random() < 0.25)
    lines = _lines(rng, outline)
    scale = float(rng.choice([0.95, 0.97, 0.98, 1.02, 1.04])) if kind == "print" else 1.0
    count = 1 if kind == "one card" else int(rng.integers(2, 5))
    under, over = lay_cards(rng, outline, count, kind, scale)
    clutter = _clutter(rng, outline, [card.sheet() for card in under + over], kind)
    exposure = float(rng.uniform(-0.4, 0.4))
    if kind == "exposure":
        exposure = float(rng.choice([rng.uniform(-3, -1.5), rng.uniform(1.0, 2.5)]))
    size = SIZES.get(kind, USUAL_SIZES[int(rng.integers(3))])
    everything = np.concatenate(
        [np.array(outline.exterior.coords)]
        + [np.array(card.sheet().exterior.coords) for card in under + over]
    )
    if kind in ("blown", "dim"):
        exposure = float(rng.uniform(0.8, 1.8) if kind == "blown" else rng.uniform(-5.5, -3))
    return Scene(
        seed=seed,
        kind=kind,
        floor=floor,
        paper=paper,
        outline=outline,
        lines=lines,
        under=under,
        over=over,
        clutter=clutter,
        size_px=size,
        exposure=exposure,
        floor_turn=float(rng.normal(0, 3) + rng.choice([0.0, 90.0])),
        curl_mm=float(rng.uniform(4, 12)) if kind == "curl" else float(rng.uniform(0, 1.0)),
        dark=float(rng.uniform(0.1, 0.25) if kind == "faint" else rng.uniform(0.35, 0.65)),
        soft_mm=float(rng.uniform(1.0, 2.5)) if kind == "soft corner" else 0.0,
        camera=camera_over(rng, everything, size),
    )


def _paper(rng: np.random.Generator, torn: bool) -> Polygon:
    """Paper off a roll: two straight machine edges; its ends are cut, or torn."""
    long, wide = rng.uniform(480, 880), rng.choice([380.0, 450.0, 600.0]) + rng.uniform(-4, 4)
    corners = np.array([[-long, -wide], [long, -wide], [long, wide], [-long, wide]]) / 2
    corners[:, 0] += rng.normal(0, 8, 4)
    sides = []
    for side in range(4):
        a, b = corners[side], corners[(side + 1) % 4]
        count = int(np.linalg.norm(b - a) / 3)
        t = np.linspace(0, 1, count, endpoint=False)[:, None]
        points = a + (b - a) * t
        if torn and side % 2:
            steps = rng.normal(0, 1, count).cumsum()
            steps -= np.linspace(steps[0], steps[-1], count)
            points[:, 0] += np.clip(steps * rng.uniform(0.3, 1.0), -18, 18)
        sides.append(points)
    shape = Polygon(np.concatenate(sides)).buffer(0)
    if rng.random() < 0.4:  # a corner cut off
        corner = corners[int(rng.integers(4))] * 0.98
        cut = rotate(Point(corner).buffer(rng.uniform(40, 110), quad_segs=1), rng.uniform(0, 90))
        shape = shape.difference(cut)
    shape = max(getattr(shape, "geoms", [shape]), key=lambda part: part.area)
    return rotate(shape, float(rng.normal(0, 6)), origin=(0, 0))


def _lines(rng: np.random.Generator, outline: Polygon) -> tuple[Floats, ...]:
    """A closed trim edge, two lines of a bend inside it, and a few short ones."""
    inner = np.array(outline.buffer(-30).buffer(-70).buffer(70).exterior.coords)[:-1]
    ring = LineString(inner)
    knots = np.array(
        [ring.interpolate(t, normalized=True).coords[0] for t in np.linspace(0, 1, 13)[:-1]]
    )
    knots += rng.normal(0, 4, knots.shape)
    closed = np.concatenate([knots, knots[:1]])
    trim = CubicSpline(np.arange(13), closed, bc_type="periodic")(np.linspace(0, 12, 600))
    low, high = trim.min(axis=0), trim.max(axis=0)
    lines = [trim]
    for share in (0.35, 0.55):
        x = np.linspace(low[0] + 50, high[0] - 50, 5)
        y = low[1] + (high[1] - low[1]) * (share + rng.normal(0, 0.03, 5))
        at = np.linspace(0, 4, 300)
        lines.append(np.stack([CubicSpline(range(5), x)(at), CubicSpline(range(5), y)(at)], axis=1))
    return tuple(lines)


def lay_cards(
    rng: np.random.Generator, outline: Polygon, count: int, kind: str, scale: float
) -> tuple[tuple[Card, ...], tuple[Card, ...]]:
    """Cards beside the paper; one of them may lie partly under it, or over its edge."""
    under, over, taken = [], [], [outline]
    sides = list(rng.permutation(4))
    for index in range(count):
        angle = sides[index] * 90 + rng.normal(0, 12)
        turn = np.radians(rng.choice([0.0, 90.0, 180.0, 270.0]) + rng.normal(0, 8))
        gap = rng.uniform(8, 14) if kind == "card near" else rng.uniform(15, 70)
        bend = float(rng.uniform(0.8, 3.0)) if kind == "bent cards" else float(rng.uniform(0, 0.4))
        ahead = np.array([np.cos(np.radians(angle)), np.sin(np.radians(angle))])
        overlapping = index == 0 and kind in ("card under", "card on edge")
        reach = 100.0
        while True:
            card = Card(
                int(index + 1 + 7 * (kind == "print")),
                *(ahead * reach),
                float(turn),
                scale,
                bend,
                float(rng.uniform(0, np.pi)),
            )
            sheet = card.sheet()
            if overlapping:
                share = sheet.intersection(outline).area / sheet.area
                done = share < (0.3 if kind == "card under" else 0.22)
            else:
                done = min(sheet.distance(each) for each in taken) > gap
            if done:
                break
            reach += 2
        taken.append(sheet)
        (under if kind == "card under" and index == 0 else over).append(card)
    return tuple(under), tuple(over)


def _clutter(
    rng: np.random.Generator, outline: Polygon, sheets: list[Polygon], kind: str
) -> tuple[tuple[Polygon, tuple[float, float, float]], ...]:
    """A tape roll, shears, a cable, a scrap of the same paper: beside the paper, or touching it."""
    if kind not in ("clutter", "touched"):
        return ()
    shapes: list[tuple[Polygon, tuple[float, float, float]]] = []
    for _ in range(int(rng.integers(1, 4))):
        what = rng.choice(["roll", "shears", "cable", "cloth"])
        if what == "roll":
            ring = Point(0, 0).buffer(rng.uniform(45, 60))
            tape = (rng.uniform(0.5, 0.75), rng.uniform(0.4, 0.6), rng.uniform(0.15, 0.4))
            parts = [(ring.difference(Point(0, 0).buffer(38)), tape)]
            parts.append(
                (Point(0, 0).buffer(38).difference(Point(0, 0).buffer(33)), (0.3, 0.2, 0.1))
            )
        elif what == "shears":
            blade = Polygon([(0, -9), (130, -2), (134, 2), (0, 12)])
            handle = LineString([(0, 0), (-60, 30), (-110, 25), (-60, -6), (0, 0)]).buffer(7)
            parts = [(blade, (0.35, 0.36, 0.38)), (handle, (0.35, 0.03, 0.02))]
        elif what == "cable":
            knots = np.column_stack([np.linspace(-160, 160, 6), rng.normal(0, 22, 6)])
            at = np.linspace(0, 5, 80)
            run = CubicSpline(range(6), knots)(at)
            parts = [(LineString(run).buffer(4), (0.02, 0.02, 0.025))]
        else:
            cloth = Polygon(rng.normal(0, 45, (9, 2))).convex_hull
            parts = [(cloth, tuple(rng.uniform(0.05, 0.6, 3)))]
        turn, angle = rng.uniform(0, 360), rng.uniform(0, 2 * np.pi)
        whole = Polygon()
        for shape, _ in parts:
            whole = whole.union(rotate(shape, turn, origin=(0, 0)))
        for reach in np.arange(100.0, 900.0, 4.0):
            shift = reach * np.array([np.cos(angle), np.sin(angle)])
            laid = translate(whole, *shift)
            if any(laid.intersects(sheet.buffer(4)) for sheet in sheets):
                continue
            lap = laid.intersection(outline).area / laid.area
            beside = laid.distance(outline) > 12 if kind == "clutter" else lap < 0.12
            if beside:
                shapes += [
                    (translate(rotate(shape, turn, origin=(0, 0)), *shift), colour)
                    for shape, colour in parts
                ]
                break
    return tuple(shapes)


def camera_over(
    rng: np.random.Generator, everything: Floats, size: tuple[int, int]
) -> dict[str, Floats]:
    """A camera held over the scene so that all of it is in the picture."""
    width, height = size
    focal = FOCAL_SHARE * width * (1 + rng.normal(0, 0.03))
    matrix = np.array(
        [
            [focal, 0, width / 2 + rng.normal(0, 0.003 * width)],
            [0, focal, height / 2 + rng.normal(0, 0.003 * width)],
            [0, 0, 1.0],
        ]
    )
    lens = np.array([rng.normal(0, 0.03), rng.normal(0, 0.02), 0, 0, 0.0])
    tilt, side = np.radians(rng.uniform(2, 24)), rng.uniform(0, 2 * np.pi)
    middle = (everything.min(axis=0) + everything.max(axis=0)) / 2
    aim = np.append(middle, 0.0)
    away = np.array([np.sin(tilt) * np.cos(side), np.sin(tilt) * np.sin(side), np.cos(tilt)])
    roll = rng.normal(0, np.radians(4))
    ahead = -away
    right = np.cross(ahead, [np.sin(roll), np.cos(roll), 0.0])
    right /= np.linalg.norm(right)
    rotation = np.stack([right, np.cross(ahead, right), ahead])
    solid = np.column_stack([everything, np.zeros(len(everything))])
    for distance in np.arange(500.0, 4000.0, 15.0):
        shift = -rotation @ (aim + away * distance)
        turned = cv2.Rodrigues(rotation)[0].ravel()
        seen = cv2.projectPoints(solid, turned, shift, matrix, lens)[0][:, 0]
        inside = (seen > MARGIN * width) & (seen < np.array(size) - MARGIN * width)
        if inside.all():
            break
    return {"matrix": matrix, "lens": lens, "rotation": rotation, "shift": shift}


def project(scene: Scene, floor: Floats) -> Floats:
    """(N, 2) pixels of floor points (N, 2)."""
    camera = scene.camera
    solid = np.column_stack([floor, np.zeros(len(floor))])
    turned = cv2.Rodrigues(camera["rotation"])[0].ravel()
    seen = cv2.projectPoints(solid, turned, camera["shift"], camera["matrix"], camera["lens"])
    return np.asarray(seen[0][:, 0])


def pixels_per_mm(scene: Scene) -> float:
    """With how many pixels the paper is seen, as the root of its area's."""
    seen = Polygon(project(scene, np.array(scene.outline.exterior.coords)))
    return float(np.sqrt(seen.area / scene.outline.area))


def _floor_of_pixels(scene: Scene) -> tuple[Colours, Colours]:
    """(H, W) x and y of the floor, mm, that each pixel shows."""
    width, height = scene.size_px
    camera = scene.camera
    across = np.arange(-1, -(-width // LATTICE_PX) + 1) * LATTICE_PX + (LATTICE_PX - 1) / 2
    down = np.arange(-1, -(-height // LATTICE_PX) + 1) * LATTICE_PX + (LATTICE_PX - 1) / 2
    nodes = np.stack(np.meshgrid(across, down), axis=-1).reshape(-1, 2)
    bent = (nodes - camera["matrix"][:2, 2]) / np.diag(camera["matrix"])[:2]
    straight = bent.copy()
    for _ in range(30):  # what OpenCV's lens bends to where the pixel is
        ahead = np.column_stack([straight, np.ones(len(straight))])
        seen = cv2.projectPoints(ahead, np.zeros(3), np.zeros(3), np.eye(3), camera["lens"])[0]
        straight += bent - seen[:, 0]
    rays = np.column_stack([straight, np.ones(len(straight))]) @ camera["rotation"]
    eye = -camera["rotation"].T @ camera["shift"]
    floor = eye[:2] - rays[:, :2] * (eye[2] / rays[:, 2:])
    maps = []
    for axis in range(2):
        lattice = floor[:, axis].reshape(len(down), len(across)).astype(np.float32)
        size = LATTICE_PX * len(across), LATTICE_PX * len(down)
        whole = cv2.resize(lattice, size, interpolation=cv2.INTER_LINEAR)
        maps.append(whole[LATTICE_PX : LATTICE_PX + height, LATTICE_PX : LATTICE_PX + width])
    return maps[0], maps[1]


@cache
def laid_picture(path: str, part: tuple[float, float, float, float]) -> Colours:
    """A photograph in linear light, or a part of it."""
    picture = Image.open(PHOTOGRAPHS / path).convert("RGB")
    if max(picture.size) > 2000:
        picture.thumbnail((2000, 2000))
    width, height = picture.size
    left, top, right, bottom = part
    box = int(left * width), int(top * height), int(right * width), int(bottom * height)
    return (np.asarray(picture.crop(box), np.float32) / 255) ** np.float32(2.2)


def _laid(
    picture: Colours, width_mm: float, x: Colours, y: Colours, turn: float, start: Floats
) -> Colours:
    """(H, W, 3) a picture laid over the plane, mirrored from tile to tile."""
    cos, sin = np.float32(np.cos(turn)), np.float32(np.sin(turn))
    scale = np.float32(picture.shape[1] / width_mm)
    across = (x * cos + y * sin) * scale + np.float32(start[0])
    down = (-x * sin + y * cos) * scale + np.float32(start[1])
    rows, columns = picture.shape[:2]

    def folded(values: Colours, count: int) -> Colours:
        values = np.mod(values, np.float32(2 * count - 2))
        return np.minimum(values, np.float32(2 * count - 2) - values)

    return cv2.remap(picture, folded(across, columns), folded(down, rows), cv2.INTER_CUBIC)


@cache
def _card_print(number: int, pixels_per_mm: float) -> Colours:
    """(H, W) reflectance of a card's print."""
    document = pypdfium2.PdfDocument(BytesIO(card_pdf([number], "a4")).read())
    page = document[0].render(scale=pixels_per_mm * 25.4 / 72, grayscale=True).to_numpy()
    grey = page.reshape(page.shape[:2]).astype(np.float32) / 255
    return np.asarray(0.04 + 0.82 * grey, np.float32)


def print_pixels(print_: Colours, u: Colours, v: Colours) -> tuple[Colours, Colours]:
    """Where places on an A4 card (mm from its middle, v up) are in its print: columns and rows.

    The page fills its picture, whose sides are whole numbers of pixels: up to one more than the
    page has, which would make a card a thousandth too long if it were left out.
    """
    (rows, columns), (width, height) = print_.shape, SHEETS_MM["a4"]
    return (
        (u / np.float32(width) + np.float32(0.5)) * np.float32(columns) - np.float32(0.5),
        (np.float32(0.5) - v / np.float32(height)) * np.float32(rows) - np.float32(0.5),
    )


def _covering(
    shape: Polygon, x: Colours, y: Colours, soft_mm: float, to_pixels: "Mapping"
) -> tuple[tuple[slice, slice], Colours]:
    """Which pixels a shape covers: where, and how much of each (0 to 1)."""
    margin = shape.buffer(3 * soft_mm + 4)
    corners = to_pixels.pixels(np.array(margin.exterior.coords))
    rows, columns = x.shape
    low = np.maximum(np.floor(corners.min(axis=0)).astype(int), 0)
    high = np.minimum(np.ceil(corners.max(axis=0)).astype(int) + 1, [columns, rows])
    part = np.s_[low[1] : max(high[1], low[1]), low[0] : max(high[0], low[0])]
    mask = np.zeros((max(high[1] - low[1], 0), max(high[0] - low[0], 0)), np.uint8)
    if mask.size:
        for piece in getattr(shape, "geoms", [shape]):
            outer, *holes = (
                Polygon(to_pixels.pixels(np.array(ring.coords)) - low)
                for ring in (piece.exterior, *piece.interiors)
            )
            _fill(mask, outer.buffer(-FILLED_OVER_PX, join_style="mitre"), 255)
            for hole in holes:
                _fill(mask, hole.buffer(-FILLED_OVER_PX, join_style="mitre"), 0)
    alpha = mask.astype(np.float32) / 255
    if soft_mm > 0 and mask.size:
        alpha = cv2.GaussianBlur(alpha, (0, 0), max(soft_mm * to_pixels.pixels_per_mm, 0.3))
    return part, alpha


def _fill(mask: NDArray[np.uint8], shape: BaseGeometry, value: int) -> None:
    """Fill a shape, in pixels, with a value; pixels that it covers in part by their share."""
    for part in getattr(shape, "geoms", [shape]):
        ring = np.round(np.array(part.exterior.coords).reshape(-1, 2) * 16).astype(np.int32)
        cv2.fillPoly(mask, [ring], value, cv2.LINE_AA, 4)


@dataclass(frozen=True)
class Mapping:
    """From the floor to a scene's pixels."""

    scene: Scene
    pixels_per_mm: float

    def pixels(self, floor: Floats) -> Floats:
        """(N, 2) pixels of floor points (N, 2), mm."""
        return project(self.scene, floor)


@dataclass(frozen=True)
class PaperSeen:
    """Paper in a picture: what is drawn on it changes ``tint``, what is cut out ``alpha``.

    Attributes
    ----------
    x, y : (H, W) the paper's place on the floor, mm, that each pixel shows.
    tint : (H, W, 3) reflectance. alpha : (H, W) how much of a pixel is paper.
    """

    x: Colours
    y: Colours
    tint: Colours
    alpha: Colours
    pixels_per_mm: float


DrawOn = Callable[[Scene, PaperSeen, np.random.Generator], PaperSeen]


def draw_lines(scene: Scene, paper: PaperSeen, rng: np.random.Generator) -> PaperSeen:
    """The scene's pencil lines on its paper."""
    low = np.array(scene.outline.exterior.coords)
    finer = min(max(paper.pixels_per_mm * 1.4, 2.0), 9.0)
    origin = low.min(axis=0) - 5
    size = np.ceil((low.max(axis=0) + 5 - origin) * finer).astype(int)
    pencil = np.zeros((size[1], size[0]), np.uint8)
    for index, line in enumerate(scene.lines):
        thick = max(round(finer * (0.6 if index else 0.7)), 1)
        at = np.round((line - origin) * finer * 16).astype(np.int32)
        cv2.polylines(pencil, [at], False, 255, thick, cv2.LINE_AA, 4)
    tooth = cv2.GaussianBlur(rng.random(pencil.shape, np.float32), (0, 0), 0.12 * finer)
    tooth = np.clip(0.75 + 0.9 * (tooth - tooth.mean()) / max(float(tooth.std()), 1e-6) * 0.3, 0, 1)
    darkness = pencil.astype(np.float32) / 255 * tooth * np.float32(scene.dark)
    across = (paper.x - np.float32(origin[0])) * np.float32(finer)
    down = (paper.y - np.float32(origin[1])) * np.float32(finer)
    drawn = cv2.remap(darkness, across, down, cv2.INTER_LINEAR)
    return replace(paper, tint=paper.tint * (1 - drawn)[..., None])


def take(scene: Scene, draw_on: DrawOn = draw_lines) -> tuple[bytes, Floats, NDArray[np.bool_]]:
    """The photo of a scene; ``draw_on`` draws what stands on its paper.

    Returns
    -------
    jpeg : the file's bytes.
    edge : (N, 2) points along the paper's true edge, mm, every 4 mm.
    visible : (N,) where a person sees the edge there: nothing covers it, and it stands out.
    """
    rng = np.random.default_rng([22, scene.seed])
    x, y = _floor_of_pixels(scene)
    middle = project(scene, np.array([[0.0, 0.0], [10.0, 0.0]]))
    mapping = Mapping(scene, float(np.linalg.norm(middle[1] - middle[0]) / 10))
    floor = laid_picture(f"floors/{scene.floor}", (0.0, 0.0, 1.0, 1.0))
    start = rng.uniform(0, 1000, 2)
    picture = _laid(floor, FLOORS[scene.floor], x, y, np.radians(scene.floor_turn), start)
    eye = -scene.camera["rotation"].T @ scene.camera["shift"]
    for card in scene.under:
        _lay_card(picture, card, x, y, eye, mapping)
    _lay_paper(picture, scene, x, y, eye, mapping, rng, draw_on)
    for card in scene.over:
        _lay_card(picture, card, x, y, eye, mapping)
    for shape, colour in scene.clutter:
        _shade(picture, translate(shape, 2.5, -3.0), x, y, mapping, 3.0, 0.6)
        part, alpha = _covering(shape, x, y, 0.0, mapping)
        grain = 1 + 0.06 * rng.standard_normal(alpha.shape).astype(np.float32)
        tint = np.asarray(colour, np.float32) * grain[..., None]
        picture[part] += alpha[..., None] * (tint - picture[part])
    _light(picture, scene, x, y, mapping, rng, eye)
    if scene.soft_mm:
        _soften(picture, scene, x, y, mapping)
    ideal, shown = _developed(picture, scene, rng)
    edge = edge_points(scene.outline)
    visible = _seen_edge(ideal, scene, edge)
    jpeg = BytesIO()
    image = Image.fromarray(shown)
    image.save(jpeg, "JPEG", quality=int(rng.integers(78, 96)))
    return jpeg.getvalue(), edge, visible


def _lay_card(
    picture: Colours, card: Card, x: Colours, y: Colours, eye: Floats, mapping: Mapping
) -> None:
    """A card on what is there: bent about a line, so that it is seen a little off its place."""
    height = SHEETS_MM["a4"][1]
    finer = max(round(mapping.pixels_per_mm * 1.6, 1), 2.0)
    print_ = _card_print(card.number, finer)
    sheet = card.sheet()
    _shade(picture, translate(sheet, 0.4, -0.6), x, y, mapping, 0.8, 0.8)
    part, alpha = _covering(sheet, x, y, 0.0, mapping)
    px, py = x[part], y[part]
    cos, sin = np.float32(np.cos(card.turn)), np.float32(np.sin(card.turn))

    def own(ax: Colours, ay: Colours) -> tuple[Colours, Colours]:
        dx, dy = ax - np.float32(card.x), ay - np.float32(card.y)
        return dx * cos + dy * sin, -dx * sin + dy * cos

    u, v = own(px, py)
    along = u * np.float32(np.cos(card.bend_turn)) + v * np.float32(np.sin(card.bend_turn))
    up = np.float32(card.bend_mm) * (along / np.float32(height / 2)) ** 2
    seen = up / np.float32(eye[2])
    u, v = own(px - (px - np.float32(eye[0])) * seen, py - (py - np.float32(eye[1])) * seen)
    across, down = print_pixels(print_, u / np.float32(card.scale), v / np.float32(card.scale))
    grey = cv2.remap(print_, across, down, cv2.INTER_LINEAR, None, cv2.BORDER_CONSTANT, 0.86)
    tint = grey[..., None] * np.array([1.0, 1.0, 0.99], np.float32)
    picture[part] += alpha[..., None] * (tint - picture[part])


def _lay_paper(
    picture: Colours,
    scene: Scene,
    x: Colours,
    y: Colours,
    eye: Floats,
    mapping: Mapping,
    rng: np.random.Generator,
    draw_on: DrawOn,
) -> None:
    """The paper with what is drawn on it; where it curls it is seen a little off its place."""
    name, box, width_mm, dye = scene.paper
    _shade(picture, translate(scene.outline, 0.3, -0.5), x, y, mapping, 0.7, 0.82)
    # Where the edge stands up it is also seen further out; the sheet is cut as it is seen.
    low = np.array(scene.outline.exterior.coords)
    raised = _curl(scene, low[:, 0], low[:, 1]) / eye[2]
    seen_at = low + (low - eye[:2]) * (raised / (1 - raised))[:, None]
    part, alpha = _covering(Polygon(seen_at).buffer(0), x, y, 0.0, mapping)
    px, py = x[part], y[part]
    up = (_curl(scene, px, py) / eye[2]).astype(np.float32)
    px, py = px - (px - np.float32(eye[0])) * up, py - (py - np.float32(eye[1])) * up
    bare = laid_picture(f"papers/{name}", box)
    start = rng.uniform(0, 400, 2)
    tint = _laid(bare, width_mm, px, py, float(rng.uniform(0, 6.28)), start)
    tint = np.clip(tint * np.asarray(dye, np.float32), 0, 0.95)
    seen = draw_on(scene, PaperSeen(px, py, tint, alpha, mapping.pixels_per_mm), rng)
    picture[part] += seen.alpha[..., None] * (seen.tint - picture[part])


def _curl(scene: Scene, x: Floats | Colours, y: Floats | Colours) -> Floats:
    """How high the paper stands, mm: a corner and an edge lift."""
    low, high = np.array(scene.outline.bounds[:2]), np.array(scene.outline.bounds[2:])
    across, up = (x - low[0]) / (high[0] - low[0]), (y - low[1]) / (high[1] - low[1])
    edge = np.clip(np.abs(across - 0.5) * 2 - 0.6, 0, None) ** 2 / 0.16
    wave = 0.5 + 0.5 * np.cos(3.0 * up + scene.seed)
    return np.asarray(scene.curl_mm * edge * wave)


def _shade(
    picture: Colours,
    shape: Polygon,
    x: Colours,
    y: Colours,
    mapping: Mapping,
    soft_mm: float,
    share: float,
) -> None:
    """What a thing keeps from the light round it."""
    part, alpha = _covering(shape, x, y, soft_mm, mapping)
    picture[part] *= (1 - (1 - share) * alpha)[..., None]


def _light(
    picture: Colours,
    scene: Scene,
    x: Colours,
    y: Colours,
    mapping: Mapping,
    rng: np.random.Generator,
    eye: Floats,
) -> None:
    """A slow gradient for all; sun through a window, a person's shadow, or a flash for some."""
    slope = rng.normal(0, 0.00025, 2).astype(np.float32)
    picture *= np.clip(1 + x * slope[0] + y * slope[1], 0.3, 2)[..., None]
    if scene.kind == "sun":
        for _ in range(int(rng.integers(1, 3))):
            wide, high = rng.uniform(150, 420), rng.uniform(250, 700)
            lean = rng.uniform(-120, 120)
            pane = Polygon([(0, 0), (wide, 0), (wide + lean, high), (lean, high)])
            place = rng.uniform(-350, 250, 2) - [wide / 2, high / 2]
            pane = rotate(translate(pane, *place), rng.uniform(0, 360))
            part, alpha = _covering(pane, x, y, float(rng.uniform(0.6, 4.0)), mapping)
            more = np.float32(rng.uniform(1.2, 2.6)) * np.array([1.05, 1.0, 0.88], np.float32)
            picture[part] *= 1 + alpha[..., None] * more
    if scene.kind == "shade":
        body = Point(0, 0).buffer(rng.uniform(140, 300))
        place = rng.uniform(200, 420) * np.array([np.cos(a := rng.uniform(0, 6.28)), np.sin(a)])
        body = translate(body, *place).union(
            LineString([place, place * 2.6]).buffer(rng.uniform(90, 160))
        )
        _shade(
            picture, body, x, y, mapping, float(rng.uniform(8, 60)), float(rng.uniform(0.3, 0.6))
        )
    if scene.kind == "flash":
        spot = eye[:2] + rng.normal(0, 120, 2)
        square = (x - np.float32(spot[0])) ** 2 + (y - np.float32(spot[1])) ** 2
        reach = np.float32(rng.uniform(350, 800))
        picture *= (0.12 + 1.0 / (1 + square / reach**2) ** 1.5)[..., None]


def _soften(picture: Colours, scene: Scene, x: Colours, y: Colours, mapping: Mapping) -> None:
    """One corner of the paper out of focus, more and more towards it."""
    low, high = np.array(scene.outline.bounds[:2]), np.array(scene.outline.bounds[2:])
    towards = ((x - low[0]) / (high[0] - low[0]) + (y - low[1]) / (high[1] - low[1])) / 2
    far = np.clip((towards - 0.55) / 0.4, 0, 1).astype(np.float32)
    sharp = picture.copy()
    steps = 4
    picture *= np.clip(1 - far * steps, 0, 1)[..., None]
    for step in range(1, steps + 1):
        sigma = scene.soft_mm * step / steps * mapping.pixels_per_mm
        share = np.clip(1 - np.abs(far * steps - step), 0, 1)
        picture += share[..., None] * cv2.GaussianBlur(sharp, (0, 0), sigma)


def _developed(
    picture: Colours, scene: Scene, rng: np.random.Generator
) -> tuple[NDArray[np.uint8], NDArray[np.uint8]]:
    """What a phone makes of it: without its noise, and with it."""
    picture *= (1 + 0.04 * rng.standard_normal(3)).astype(np.float32)
    bright = float(np.percentile(picture[::16, ::16].mean(axis=2), 97))
    picture *= np.float32(0.62 / bright * 2.0**scene.exposure)
    scale = scene.size_px[0] / 4032
    picture = cv2.GaussianBlur(picture, (0, 0), max(float(rng.uniform(0.5, 1.0)) * scale**0.5, 0.4))
    ideal = _encoded(picture)
    # Shot noise grows with gain; a short exposure is gained up no further here, only darker.
    photons = 2500.0 / (2.0 ** rng.uniform(0, 2.5)) / max(scale, 0.6) ** 2
    sigma = np.sqrt(np.clip(picture, 0, 2) / photons + 1e-6)
    picture = picture + sigma * rng.standard_normal(picture.shape, np.float32)
    shown = _encoded(cv2.GaussianBlur(picture, (0, 0), 0.5))
    soft = cv2.GaussianBlur(shown, (0, 0), 1.6)
    return ideal, cv2.addWeighted(shown, 1.4, soft, -0.4, 0)


def _encoded(linear: Colours) -> NDArray[np.uint8]:
    return np.asarray(np.clip(linear, 0, 1) ** np.float32(1 / 2.2) * 255 + 0.5, np.uint8)


def edge_points(outline: Polygon) -> Floats:
    """(N, 2) about every 4 mm along an outline."""
    ring = outline.exterior
    count = int(ring.length / 4)
    return np.array([ring.interpolate(i / count, normalized=True).coords[0] for i in range(count)])


def _seen_edge(ideal: NDArray[np.uint8], scene: Scene, edge: Floats) -> NDArray[np.bool_]:
    """Where nothing covers the edge and both sides of it differ to the eye, averaged along it."""
    tangent = np.roll(edge, -2, 0) - np.roll(edge, 2, 0)
    tangent /= np.linalg.norm(tangent, axis=1, keepdims=True)
    normal = np.stack([tangent[:, 1], -tangent[:, 0]], axis=1)
    lab = cv2.cvtColor(ideal.astype(np.float32) / 255, cv2.COLOR_RGB2LAB)
    sides = []
    for sign in (1, -1):
        tones = []
        for step in (2.0, 3.5, 5.0):
            at = project(scene, edge + sign * step * normal).astype(np.float32)
            tones.append(cv2.remap(lab, at[:, :1], at[:, 1:], cv2.INTER_LINEAR)[:, 0])
        mean = np.mean(tones, axis=0)
        kernel = np.ones(9) / 9
        wrapped = np.concatenate([mean[-4:], mean, mean[:4]])
        sides.append(
            np.stack([np.convolve(wrapped[:, c], kernel, "valid") for c in range(3)], axis=1)
        )
    apart = np.linalg.norm(sides[0] - sides[1], axis=1)
    covers = [card.sheet() for card in scene.over] + [shape for shape, _ in scene.clutter]
    free = np.array([all(c.distance(Point(p)) > 6 for c in covers) for p in edge])
    return np.asarray(free & (apart > VISIBLE))
