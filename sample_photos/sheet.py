"""The demo paper as a picture: colour and opacity, from a Marking."""

import cv2
import numpy as np
from corner import Floats
from drawn import Marking
from scipy.ndimage import gaussian_filter
from scipy.spatial import cKDTree
from strokes import GRAPHITE, Ink, Stroke

PIXELS_PER_MM = 6.0
Reflectance = tuple[float, float, float]
# Linear reflectance.
BROWN = (0.50, 0.335, 0.19)
WHITE = (0.72, 0.71, 0.67)


def paint(
    marking: Marking,
    border: float,
    seed: int,
    pixels_per_mm: float = PIXELS_PER_MM,
    paper: Reflectance = BROWN,
) -> tuple[Floats, Floats]:
    """Colour (H, W, 3, linear reflectance) and opacity (H, W) of the sheet.

    Row 0 is at y = height + border, column 0 at x = -border, in mm of the pattern frame.
    """
    rng = np.random.default_rng(seed)
    outline = np.array(marking.pattern.outline)
    size = np.ceil((outline.max(axis=0) + 2 * border) * pixels_per_mm).astype(int)
    top = size[1] / pixels_per_mm - border

    def to_pixels(points: Floats) -> Floats:
        return (np.asarray(points) * [1, -1] + [border, top]) * pixels_per_mm - 0.5

    opacity = _filled([to_pixels(outline)], size) * (
        1 - _filled([to_pixels(slit) for slit in marking.slits], size)
    )
    shape = (size[1], size[0])
    tooth = gaussian_filter(rng.standard_normal(shape), 0.7)
    tooth = (tooth / tooth.std()).astype(np.float32)
    cloud = gaussian_filter(rng.standard_normal((size[1] // 16, size[0] // 16)), 3)
    cloud = cv2.resize(cloud / cloud.std(), size.tolist())
    fibres = gaussian_filter(rng.standard_normal(shape), (0.8, 9))
    grain = 1 + 0.022 * tooth + 0.018 * cloud + 0.02 * fibres / fibres.std()
    colour = (np.array(paper) * grain[..., None]).astype(np.float32)

    deposits: dict[Ink, Floats] = {GRAPHITE: np.zeros(shape, np.float32)}
    for stroke in marking.strokes:
        deposit = deposits.setdefault(stroke.ink, np.zeros(shape, np.float32))
        _lay(deposit, stroke, to_pixels(stroke.points), tooth, rng, pixels_per_mm)
    deposit = deposits[GRAPHITE]
    for erased in marking.traces.erased:
        _erase(deposit, colour, erased, to_pixels(erased), tooth, rng, pixels_per_mm)
    for text, place in marking.notes:
        _write(deposit, text, to_pixels(np.array([place]))[0], tooth, rng, pixels_per_mm)
    for ink, deposit in deposits.items():
        colour *= 1 - deposit[..., None] * (1 - np.array(ink.colour, np.float32))
    for crease in marking.creases:
        fold = np.zeros(shape, np.float32)
        _lay(fold, Stroke(crease, 0.45, 0.9), to_pixels(crease), tooth * 0.3, rng, pixels_per_mm)
        colour *= (1 - 0.3 * fold)[..., None]
    for wrinkle in marking.traces.wrinkles:
        _wrinkle(colour, to_pixels(wrinkle), pixels_per_mm)
    for smudge in marking.traces.smudges:
        _smudge(colour, to_pixels(np.array([smudge]))[0], pixels_per_mm)
    for x, y, turn in marking.traces.tapes:
        _tape(colour, to_pixels(np.array([[x, y]]))[0], turn, pixels_per_mm)
    return np.clip(colour, 0.01, 0.95), opacity


def _filled(shapes: list[Floats], size: Floats) -> Floats:
    picture = np.zeros((size[1], size[0]), np.uint8)
    for shape in shapes:
        cv2.fillPoly(picture, [np.round(shape * 256).astype(np.int32)], 255, cv2.LINE_AA, 8)
    return picture.astype(np.float32) / 255


def _lay(
    deposit: Floats,
    stroke: Stroke,
    points: Floats,
    tooth: Floats,
    rng: np.random.Generator,
    pixels_per_mm: float,
) -> None:
    """Add graphite along a stroke: more where pressed, and on the paper's high spots first."""
    reach = int(np.ceil((stroke.width + 0.5) * pixels_per_mm))
    band = np.zeros(deposit.shape, np.uint8)
    cv2.polylines(band, [np.round(points).astype(np.int32)], False, 1, 2 * reach)
    rows, columns = np.nonzero(band)
    tree = cKDTree(points)
    distance, nearest = tree.query(np.stack([columns, rows], axis=1))
    tangent = np.gradient(points, axis=0)
    tangent /= np.linalg.norm(tangent, axis=1, keepdims=True) + 1e-9
    offset = np.stack([columns, rows], axis=1) - points[nearest]
    along = (tangent[nearest] * offset).sum(axis=1)
    before, after = (nearest == 0) & (along < 0), (nearest == len(points) - 1) & (along > 0)
    inside = ~(before | after)
    signed = tangent[nearest, 0] * offset[:, 1] - tangent[nearest, 1] * offset[:, 0]
    distance = np.where(inside, np.abs(signed), distance) / pixels_per_mm
    along = np.arange(len(points)) * 0.25
    varying = np.ones(len(points))
    for wavelength in rng.uniform(15, 150, 4):
        varying += 0.11 * np.sin(2 * np.pi * (along / wavelength + rng.random()))
    ends = np.ones(len(points))
    for fades, from_end in zip(stroke.fades, (along, along[-1] - along), strict=True):
        if fades:
            ends *= np.clip(from_end / 3.0, 0, 1) * 0.5 + 0.5
    pressure = (stroke.pressure * varying * ends)[nearest]
    if stroke.broad:
        across = -signed / pixels_per_mm
        cover = np.clip((across + 0.15) / 0.3, 0, 1) * np.clip(1 - across / stroke.width, 0, 1)
        cover *= 0.8 * inside
    else:
        # A line that runs over a flap's edge is cut off square there; other ends are round.
        square = (before & (not stroke.fades[0])) | (after & (not stroke.fades[1]))
        distance = np.where(square, np.inf, distance)
        half = stroke.width / 2 * np.sqrt(varying[nearest])
        cover = np.clip((half - distance) / 0.2 + 0.5, 0, 1)
    grip = np.clip(0.62 + 0.3 * tooth[rows, columns], 0.1, 1.1)
    grip = 1 + stroke.ink.grip * (grip - 1)
    laid = np.clip(cover * pressure * grip, 0, 0.92)
    deposit[rows, columns] = 1 - (1 - deposit[rows, columns]) * (1 - laid)


def _erase(
    deposit: Floats,
    colour: Floats,
    line: Floats,
    points: Floats,
    tooth: Floats,
    rng: np.random.Generator,
    pixels_per_mm: float,
) -> None:
    """A line drawn by mistake and rubbed out: a ghost of it, in a slightly polished patch."""
    ghost = np.zeros_like(deposit)
    _lay(ghost, Stroke(line, 0.8, 0.8), points, tooth, rng, pixels_per_mm)
    deposit += 0.07 * gaussian_filter(ghost, 2)
    rubbed = gaussian_filter((ghost > 0).astype(np.float32), 25)
    colour *= (1 + 0.05 * rubbed / (rubbed.max() + 1e-9))[..., None]


def _write(
    deposit: Floats,
    text: str,
    at: Floats,
    tooth: Floats,
    rng: np.random.Generator,
    pixels_per_mm: float,
) -> None:
    mask = np.zeros(deposit.shape, np.uint8)
    x = int(at[0])
    for letter in text:
        y = int(at[1] + rng.normal(0, 4))
        scale = (2.2 + rng.normal(0, 0.12)) * pixels_per_mm / PIXELS_PER_MM
        cv2.putText(mask, letter, (x, y), cv2.FONT_HERSHEY_SIMPLEX, scale, 255, 4, cv2.LINE_AA)
        x += int(9.0 * pixels_per_mm * 0.95)
    laid = gaussian_filter(mask.astype(np.float32) / 255, 0.8) * np.clip(0.5 + 0.25 * tooth, 0, 1)
    np.maximum(deposit, laid * 0.8, out=deposit)


def _wrinkle(colour: Floats, points: Floats, pixels_per_mm: float) -> None:
    """A crease that was pressed flat: one side a little lighter, the other a little darker."""
    ridge = np.zeros(colour.shape[:2], np.uint8)
    cv2.polylines(ridge, [np.round(points * 16).astype(np.int32)], False, 255, 2, cv2.LINE_AA, 4)
    height = gaussian_filter(ridge.astype(np.float32), 0.5 * pixels_per_mm)
    slope = np.gradient(height, axis=0) + 0.6 * np.gradient(height, axis=1)
    colour *= (1 + 0.12 * slope / (np.abs(slope).max() + 1e-9))[..., None]


def _smudge(colour: Floats, at: Floats, pixels_per_mm: float) -> None:
    y, x = np.mgrid[0 : colour.shape[0], 0 : colour.shape[1]].astype(np.float32) / pixels_per_mm
    x0, y0 = at / pixels_per_mm
    blot = np.exp(-(((x - x0) / 28.3) ** 2) - ((y - y0) / 15.0) ** 2)
    colour *= (1 - 0.13 * blot)[..., None]


def _tape(colour: Floats, at: Floats, turn: float, pixels_per_mm: float) -> None:
    half = np.array([38.0, 12.0]) / 2 * pixels_per_mm
    corners = cv2.boxPoints((at.tolist(), (2 * half).tolist(), turn))
    mask = _filled([corners], np.array([colour.shape[1], colour.shape[0]]))[..., None]
    tape = 0.55 * np.array([0.66, 0.58, 0.42]) + 0.45 * colour
    colour[:] = colour * (1 - mask) + tape * mask
