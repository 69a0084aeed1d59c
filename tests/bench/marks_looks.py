"""How marks on paper look in a photo: graphite's grain, ink, cuts, creases, tape."""

from collections.abc import Sequence
from dataclasses import replace
from functools import cache

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import map_coordinates

from tests.bench.marks_paper import Ink, Paper, Stroke, Wash, beside
from tests.bench.workshop_photos import DrawOn, PaperSeen, Scene

Floats = NDArray[np.float64]
Layer = NDArray[np.uint8]
Colours = NDArray[np.float32]
# Reflectance in linear light, how much of the paper full pressure covers, and whether it has grain.
LOOKS: dict[Ink, tuple[tuple[float, float, float], float, bool]] = {
    "graphite": ((0.11, 0.11, 0.12), 0.85, True),
    "hard pencil": ((0.2, 0.2, 0.21), 0.6, True),
    "felt": ((0.025, 0.025, 0.03), 0.96, False),
    "ballpoint": ((0.03, 0.05, 0.28), 0.9, False),
    "red": ((0.5, 0.05, 0.05), 0.85, True),
    "blue": ((0.06, 0.12, 0.42), 0.85, True),
    "green": ((0.06, 0.28, 0.1), 0.85, True),
    "white": ((0.8, 0.8, 0.78), 0.85, True),
    "silver": ((0.5, 0.5, 0.52), 0.95, False),
}
FINER = 1.6  # the drawing's pixels to the photo's
SOFT_FINER = 1.0
PIXEL_SIGMA = 0.29  # a square's standard deviation, in sides: 1 / sqrt(12)
FLOW = 1.6  # ink covers all from 1 / 1.6 of full pressure on
OVER_AGAIN = 0.65  # of what a first stroke laid down, what a second adds no more
HALF_LIT_MM = 0.6  # of the floor's light, a cut open by so much leaves a half
GRAIN_PX = 1024
MARGIN_MM = 6.0
CHUNK = 90


def drawn_on(paper: Paper) -> DrawOn:
    """What draws a paper's marks on it in a photo."""

    def draw(scene: Scene, seen: PaperSeen, rng: np.random.Generator) -> PaperSeen:
        sheet = _Sheet(paper, seen)
        tint, alpha = seen.tint, seen.alpha
        tint = tint * (1 + sheet.softs(paper))[..., None]
        printed = [wash for wash in paper.washes if not wash.over]
        for wash in printed:
            sheet.wash(tint, wash)
        for ink in {stroke.ink: None for stroke in paper.strokes}:
            strokes = [stroke for stroke in paper.strokes if stroke.ink == ink]
            colour, strength, grained = LOOKS[ink]
            laid = sheet.laid(strokes)
            if grained:
                laid = _grained(laid, sheet.finer, rng)
            else:
                laid = np.asarray(cv2.convertScaleAbs(laid, alpha=FLOW))
            cover = strength * sheet.seen(laid)
            tint = tint + cover[..., None] * (np.array(colour, np.float32) - tint)
        opened, lit = (sheet.seen(layer) for layer in sheet.openings(paper))
        tint = tint * ((1 - opened) / np.maximum(1 - lit, np.float32(1e-6)))[..., None]
        alpha = alpha * (1 - lit)
        for wash in paper.washes:
            if wash.over:
                sheet.wash(tint, wash)
        return replace(seen, tint=tint, alpha=alpha)

    return draw


class _Sheet:
    """Where a paper's mm are in its drawing's pixels, and in the photo's."""

    def __init__(self, paper: Paper, seen: PaperSeen) -> None:
        self.low = np.array(paper.outline.bounds[:2]) - MARGIN_MM
        self.high = np.array(paper.outline.bounds[2:]) + MARGIN_MM
        self.finer = seen.pixels_per_mm * FINER
        self._photo = seen

    def blank(self, finer: float) -> tuple[int, int]:
        columns, rows = np.ceil((self.high - self.low) * finer).astype(int)
        return int(rows), int(columns)

    def seen(self, layer: Colours | Layer, finer: float | None = None) -> Colours:
        """(H, W) a drawing's layer as the photo's pixels see it; bytes as shares."""
        finer = finer or self.finer
        layer = self._as_a_pixel_sees(layer, finer)
        across = (self._photo.x - np.float32(self.low[0])) * np.float32(finer) - np.float32(0.5)
        down = (self._photo.y - np.float32(self.low[1])) * np.float32(finer) - np.float32(0.5)
        shown = cv2.remap(layer, across, down, cv2.INTER_LINEAR)
        if layer.dtype == np.uint8:
            return np.asarray(shown, np.float32) / np.float32(255)
        return np.asarray(shown, np.float32)

    def _as_a_pixel_sees(self, layer: Colours | Layer, finer: float) -> Colours | Layer:
        """A photo's pixel gathers light from all of its square, not from a point."""
        sigma = PIXEL_SIGMA * finer / self._photo.pixels_per_mm
        return cv2.GaussianBlur(layer, (0, 0), sigma)  # type: ignore[return-value]

    def laid(self, strokes: Sequence[Stroke]) -> Layer:
        """(H, W) how much of an ink lies where, of 255."""
        layer = np.zeros(self.blank(self.finer), np.uint8)
        for stroke in strokes:
            for start in range(0, max(len(stroke.points) - 1, 1), CHUNK):
                part = slice(start, start + CHUNK + 1)
                widths = stroke.width_mm * (0.75 + 0.35 * stroke.pressure[part])
                self._strip(layer, stroke.points[part], widths, stroke.pressure[part])
        return layer

    def openings(self, paper: Paper) -> tuple[Layer, Layer]:
        """(H, W) where cuts lie open, and how much of the floor's light is seen there, of 255."""
        opened, lit = (np.zeros(self.blank(self.finer), np.uint8) for _ in range(2))
        for opening in paper.openings:
            shares = opening.open_mm / (opening.open_mm + HALF_LIT_MM)
            for start in range(0, len(opening.points) - 1, CHUNK):
                part = slice(start, start + CHUNK + 1)
                points, widths = opening.points[part], opening.open_mm[part]
                self._strip(opened, points, widths, np.ones(len(points)))
                self._strip(lit, points, widths, shares[part])
        return opened, lit

    def _strip(self, layer: Layer, points: Floats, widths: Floats, values: Floats) -> None:
        """Lay a strip of varying width and value on a layer, upon what is there."""
        if len(points) < 2:
            return
        # A strip narrower than a pixel is drawn a pixel wide and so much lighter.
        narrowest = 1.0 / self.finer
        values = values * np.minimum(widths / narrowest, 1.0)
        widths = np.maximum(widths, narrowest)
        left, right = beside(points, widths / 2), beside(points, -widths / 2)
        margin = float(widths.max()) + 2 / self.finer
        low = np.floor((points.min(axis=0) - margin - self.low) * self.finer).astype(int)
        high = np.ceil((points.max(axis=0) + margin - self.low) * self.finer).astype(int)
        low = np.maximum(low, 0)
        high = np.minimum(high, [layer.shape[1], layer.shape[0]])
        if (high <= low).any():
            return
        window = np.zeros((high[1] - low[1], high[0] - low[0]), np.uint8)
        a, b = ((each - self.low) * self.finer - low for each in (left, right))
        quads = np.stack([a[:-1], a[1:], b[1:], b[:-1]], axis=1)
        tones = np.clip((values[:-1] + values[1:]) / 2 * 255, 0, 255)
        for quad, tone in zip(np.round((quads - 0.5) * 16).astype(np.int32), tones, strict=True):
            cv2.fillConvexPoly(window, quad, float(tone), cv2.LINE_AA, 4)
        part = layer[low[1] : high[1], low[0] : high[0]]
        before = part.astype(np.float32)
        after = before + window * (1 - np.float32(OVER_AGAIN / 255) * before)
        part[:] = np.clip(after, 0, 255).astype(np.uint8)

    def softs(self, paper: Paper) -> Colours:
        """(H, W) by what share creases and raised flaps are lighter, as the photo sees them."""
        finer = self._photo.pixels_per_mm * SOFT_FINER
        layer = np.zeros(self.blank(finer), np.float32)
        for soft in paper.softs:
            margin = soft.width_mm + 3 * soft.blur_mm + 1
            low = np.floor((soft.points.min(axis=0) - margin - self.low) * finer).astype(int)
            high = np.ceil((soft.points.max(axis=0) + margin - self.low) * finer).astype(int)
            low = np.maximum(low, 0)
            high = np.minimum(high, [layer.shape[1], layer.shape[0]])
            if (high <= low).any():
                continue
            window = np.zeros((high[1] - low[1], high[0] - low[0]), np.uint8)
            sides = [beside(soft.points, sign * soft.width_mm / 2) for sign in (1, -1)]
            ring = (np.concatenate([sides[0], sides[1][::-1]]) - self.low) * finer - low - 0.5
            cv2.fillPoly(window, [np.round(ring * 16).astype(np.int32)], 255, cv2.LINE_AA, 4)
            blurred = cv2.GaussianBlur(
                window.astype(np.float32) / 255, (0, 0), max(soft.blur_mm * finer, 0.3)
            )
            layer[low[1] : high[1], low[0] : high[0]] += np.float32(soft.share) * blurred
        return self.seen(layer, finer)

    def wash(self, tint: Colours, wash: Wash) -> None:
        """Lay a thin colour over the photo's tint, within its area."""
        margin = 3 * wash.blur_mm + 1
        box = np.reshape(wash.area.bounds, (2, 2)) + np.array([[-margin], [margin]])
        low = np.maximum(np.floor((box[0] - self.low) * self.finer).astype(int), 0)
        high = np.ceil((box[1] - self.low) * self.finer).astype(int)
        window = np.zeros((high[1] - low[1], high[0] - low[0]), np.uint8)
        for piece in getattr(wash.area, "geoms", [wash.area]):
            if piece.geom_type != "Polygon":
                continue
            for ring, value in [(piece.exterior, 255), *((hole, 0) for hole in piece.interiors)]:
                at = (np.array(ring.coords) - self.low) * self.finer - low - 0.5
                cv2.fillPoly(window, [np.round(at * 16).astype(np.int32)], value, cv2.LINE_AA, 4)
        if wash.blur_mm:
            window = cv2.GaussianBlur(window, (0, 0), wash.blur_mm * self.finer)
        window = self._as_a_pixel_sees(window, self.finer)
        x, y = self._photo.x, self._photo.y
        rows, columns = np.nonzero(
            (x > box[0, 0]) & (x < box[1, 0]) & (y > box[0, 1]) & (y < box[1, 1])
        )
        if not len(rows):
            return
        part = np.s_[rows.min() : rows.max() + 1, columns.min() : columns.max() + 1]
        across = (x[part] - np.float32(self.low[0])) * np.float32(self.finer) - low[0] - 0.5
        down = (y[part] - np.float32(self.low[1])) * np.float32(self.finer) - low[1] - 0.5
        shown = cv2.remap(
            window, across.astype(np.float32), down.astype(np.float32), cv2.INTER_LINEAR
        )
        cover = (shown.astype(np.float32) / 255 * np.float32(wash.cover))[..., None]
        tint[part] += cover * (np.array(wash.colour, np.float32) - tint[part])


def _grained(laid: Layer, finer: float, rng: np.random.Generator) -> Layer:
    """Lead on paper's tooth: light strokes leave its valleys bare."""
    tile = _tooth()
    rows, columns = np.nonzero(laid)
    # The tile's pixels are a fifteenth of a mm, whatever the drawing's.
    start = rng.uniform(0, GRAIN_PX, 2)
    at = np.stack([rows, columns]) * (15.0 / finer) + start[:, None]
    high = map_coordinates(tile, at, order=1, mode="grid-wrap")
    pressed = laid[rows, columns].astype(np.float32) / 255
    cover = np.clip((1.25 * pressed - high) / 0.45 + 0.5, 0, 1) * (0.35 + 0.65 * pressed)
    grained = laid.copy()
    grained[rows, columns] = np.clip(cover * 255, 0, 255)
    return grained


@cache
def _tooth() -> Colours:
    """(GRAIN_PX, GRAIN_PX) height of paper's tooth, mean a half; 1 pixel is 1/15 mm."""
    rng = np.random.default_rng(33)
    fine, coarse = (
        cv2.GaussianBlur(
            rng.standard_normal((GRAIN_PX, GRAIN_PX)).astype(np.float32),
            (0, 0),
            sigma,
            borderType=cv2.BORDER_REFLECT,
        )
        for sigma in (1.8, 5.0)
    )
    mixed = fine / fine.std() + 0.6 * coarse / coarse.std()
    return np.asarray(0.45 + 0.16 * mixed, np.float32)
