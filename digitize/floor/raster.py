"""The true-size raster: photos as seen from straight above, in mm.

Where several photos show a place, the one that sees it best is taken: most pixels to a mm in the
direction in which it has fewest. Between photos the seams run where nothing is drawn, and the
photos' brightness is matched where they overlap.
"""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from functools import partial
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray
from skimage.segmentation import watershed

from digitize.floor.camera import Camera, project_with_slopes
from digitize.floor.frame import Bounds, Frame, Grid, Surface
from digitize.workers import side_by_side

Floats = NDArray[np.float64]
Whole = NDArray[np.int64]
Picture = NDArray[np.uint8]
FURTHEST_VIEW = 2.5  # of the camera's height: further off the floor is seen too obliquely
STRIP_ROWS = 512
BAND_NODES = 8  # of a strip, whose pixels' places are had at once
PLACES_IN_ROW = 512
ALL = slice(None)
LATTICE_PX = 8  # projecting so many raster pixels apart and filling in is exact to 0.01 px
COARSE_MM = 2.0
CLEARLY_BETTER = 1.15  # a photo with so much more resolution is taken without a look at seams
GAIN_POINTS = 4000
GAMMA, DARKEST = 2.2, 0.004  # sRGB's mean gamma, and a floor against noise in the dark
# (256,) log of the light that an sRGB level stands for.
LOG_LIGHT = np.log((np.arange(256) / 255) ** GAMMA + DARKEST).astype(np.float32)


def upright_frame(camera: Camera) -> Frame:
    """The frame whose x runs the way the photo's rows do at its middle."""
    width, height = camera.size_px
    ends = camera.to_floor(np.array([[0.4 * width, height / 2], [0.6 * width, height / 2]]))
    run = ends[1] - ends[0]
    return Frame(0.0, 0.0, float(np.arctan2(run[1], run[0])))


@dataclass(frozen=True)
class Raster(Grid):
    """A picture of the floor, (H, W, 3) sRGB, in the frame it was made in."""

    pixels: NDArray[np.uint8]

    def colours_at(self, points: Floats) -> NDArray[np.uint8]:
        """(..., 3) the nearest pixels to points (..., 2)."""
        at = np.round(self.to_px(points)).astype(int)
        rows, columns = self.pixels.shape[:2]
        at = np.clip(at, 0, [columns - 1, rows - 1])
        return np.asarray(self.pixels[at[..., 1], at[..., 0]], np.uint8)


@dataclass(frozen=True)
class Choice:
    """Which photo each place is taken from, and how its brightness is matched.

    Attributes
    ----------
    seen_by : (H, W) photo, on a coarse raster; -1 where none shows the floor.
    gains : (V, 6, 3) each photo's log gain by colour: terms of a quadratic in x and y (m).
    left, top, mm_per_px : the coarse raster's place, as in Raster.
    """

    seen_by: Whole
    gains: Floats
    left: float
    top: float
    mm_per_px: float

    def at(self, points: Floats) -> Whole:
        """(N,) the photo that each point (N, 2) in the frame is taken from."""
        column, row = self.cells(*np.asarray(points).T)
        return np.asarray(np.maximum(self.seen_by[row, column], 0))

    def cells(self, x: Floats, y: Floats) -> tuple[Whole, Whole]:
        """Columns nearest to x and rows nearest to y, mm; places outside take the nearest edge."""
        rows, columns = self.seen_by.shape
        column = np.round((x - self.left) / self.mm_per_px).astype(np.int64)
        row = np.round((self.top - y) / self.mm_per_px).astype(np.int64)
        return np.clip(column, 0, columns - 1), np.clip(row, 0, rows - 1)

    def shifted(self, origin: Floats) -> "Choice":
        """The choice with the frame's origin at a point (2,) of the frame's own."""
        left, top = self.left - float(origin[0]), self.top - float(origin[1])
        return Choice(self.seen_by, _moved_gains(self.gains, origin), left, top, self.mm_per_px)


def view_bounds(cameras: Sequence[Camera], frame: Frame) -> Bounds:
    """The part of the floor in the photos, near enough to be of use.

    x min, y min, x max, y max, in the frame.
    """
    kept = np.concatenate([frame.from_floor(_seen_floor(camera)) for camera in cameras])
    low, high = kept.min(axis=0), kept.max(axis=0)
    return float(low[0]), float(low[1]), float(high[0]), float(high[1])


def _seen_floor(camera: Camera) -> Floats:
    width, height = camera.size_px
    x, y = np.meshgrid(np.linspace(0, width - 1, 60), np.linspace(0, height - 1, 45))
    pixels = np.stack([x.ravel(), y.ravel()], axis=1)
    floor = camera.to_floor(pixels)
    foot = camera.foot()
    # A ray above the horizon meets the plane behind the camera; it does not project back.
    seen = np.linalg.norm(camera.to_pixels(floor) - pixels, axis=1) < 2
    seen &= np.linalg.norm(floor - foot[:2], axis=1) < FURTHEST_VIEW * abs(foot[2])
    return np.asarray(floor[seen])


def resolution(camera: Camera, floor: Floats) -> Floats:
    """(N,) pixels per mm of floor in the direction with fewest, at floor points (N, 2).

    The smaller singular value of a matrix of two rows has a closed form (J. Blinn, "Consider the
    lowly 2 x 2 matrix", IEEE Computer Graphics and Applications 16, 1996).
    """
    (a, b), (c, d) = _slopes(camera, floor)
    return np.asarray(np.abs(np.hypot(a + d, b - c) - np.hypot(a - d, b + c)) / 2)


def _slopes(camera: Camera, floor: Floats) -> Floats:
    """(2, 2, N) by how many pixels x and y move for a mm along each of the floor's axes."""
    solid = np.column_stack([floor, np.zeros(len(floor))])
    return project_with_slopes(camera, solid)[3][:, :, :2].transpose(1, 2, 0)


def pixel_size_mm(cameras: Sequence[Camera], frame: Frame, bounds: Bounds) -> float:
    """How much floor one pixel covers where the bounds are seen best, mm."""
    floor = _all_over(frame, bounds)
    return float(1 / np.median(np.max([resolution(c, floor) for c in cameras], axis=0)))


def pixels_per_mm(cameras: Sequence[Camera], frame: Frame, bounds: Bounds) -> float:
    """With how many pixels a mm of floor is seen: the root of those of a mm squared.

    Lines run in all directions: on a floor seen aslant, what some of them lose others gain.
    """
    floor = _all_over(frame, bounds)
    slopes = [_slopes(camera, floor) for camera in cameras]
    areas = [np.abs(a * d - b * c) for (a, b), (c, d) in slopes]
    return float(np.sqrt(np.median(np.max(areas, axis=0))))


def _all_over(frame: Frame, bounds: Bounds) -> Floats:
    """(N, 2) places of the floor all over the bounds."""
    x, y = np.meshgrid(np.linspace(bounds[0], bounds[2], 9), np.linspace(bounds[1], bounds[3], 7))
    return frame.to_floor(np.stack([x.ravel(), y.ravel()], axis=1))


def rectify(
    pixels: Picture,
    camera: Camera,
    frame: Frame,
    bounds: Bounds,
    mm_per_px: float,
    surface: Surface | None = None,
) -> Raster:
    """The floor, or the surface over it, within the frame's bounds (mm), from one photo (H, W, 3).

    Where a raster pixel covers several photo pixels, they are averaged. Outside the photo the
    raster is black.
    """
    lattice = lattice_of(frame, bounds, mm_per_px, surface)
    return lattice.raster_of(shrunk(pixels, camera, frame, bounds, mm_per_px))


@dataclass(frozen=True)
class Shrunk:
    """A photo, its pixels averaged by so many as a raster's cover, and its camera.

    Attributes
    ----------
    share : (2,) of the photo's own width and height, those of ``pixels``.
    """

    pixels: Picture
    camera: Camera
    share: Floats

    @property
    def averaged(self) -> bool:
        """Whether there are fewer pixels than the photo has."""
        return bool((self.share < 1).any())


def shrunk(
    pixels: Picture, camera: Camera, frame: Frame, bounds: Bounds, mm_per_px: float
) -> Shrunk:
    """A photo (H, W, ...) as a raster within bounds, of so many mm to a pixel, is taken from it."""
    shrink = max(int(mm_per_px / pixel_size_mm([camera], frame, bounds)), 1)
    if shrink == 1:
        return Shrunk(pixels, camera, np.ones(2))
    height, width = pixels.shape[:2]
    size = width // shrink, height // shrink
    small = np.asarray(cv2.resize(pixels, size, interpolation=cv2.INTER_AREA), np.uint8)
    # Not one to ``shrink``, where a side is no multiple of it.
    return Shrunk(small, camera, np.array(size) / [width, height])


@dataclass(frozen=True)
class Strip:
    """Some rows of a raster, and where nodes among them lie.

    Attributes
    ----------
    rows : of the raster.
    below, height : (N, 2) the floor under nodes, and (N,) or one for all how high these stand, mm.
    """

    rows: slice
    below: Floats
    height: Floats | float


@dataclass(frozen=True)
class Lattice(Grid):
    """Where a raster's pixels lie: at nodes LATTICE_PX apart, strip by strip."""

    columns: int
    strips: tuple[Strip, ...]

    @property
    def shape(self) -> tuple[int, int]:
        """Rows and columns of the raster."""
        return self.strips[-1].rows.stop, self.columns

    def seen(self, strip: Strip, photo: Shrunk, some: slice = ALL, lift: float = 0.0) -> Picture:
        """(r, c, ...) some columns of a strip as a photo has them; black only outside it.

        With ``lift``, as it would have them if all stood so many mm higher.
        """
        count = strip.rows.stop - strip.rows.start
        nodes = _lattice(0, count).size, _lattice(0, self.columns).size
        at = (photo.camera.to_pixels(strip.below, strip.height + lift) + 0.5) * photo.share - 0.5
        across, down = at.T.reshape(2, *nodes)
        method = cv2.INTER_LINEAR if photo.averaged else cv2.INTER_CUBIC
        across, down = at.T.reshape(2, *nodes)
        method = cv2.INTER_LINEAR if photo.averaged else cv2.INTER_CUBIC
        height, width = photo.pixels.shape[:2]
        wide = len(range(*some.indices(self.columns)))
        seen = np.empty((count, wide, *photo.pixels.shape[2:]), np.uint8)
        for first in range(0, count, BAND_NODES * LATTICE_PX):
            # A node more on either side.
            held = slice(first // LATTICE_PX, first // LATTICE_PX + BAND_NODES + 2)
            own = seen[first : first + BAND_NODES * LATTICE_PX]
            x, y = (
                _filled_in(each[held], len(own), self.columns)[:, some] for each in (across, down)
            )
            cv2.remap(photo.pixels, x, y, method, dst=own)
            # A floor may be black, next to white paper all the more: it is in the picture still.
            if _well_within(across[held], width) and _well_within(down[held], height):
                np.maximum(own, 1, out=own)
                continue
            shown = (x >= 0) & (x <= width - 1) & (y >= 0) & (y <= height - 1)
            np.maximum(own, shown.reshape(shown.shape + (1,) * (own.ndim - 2)), out=own)
        return seen

    def raster_of(self, photo: Shrunk, lift: float = 0.0) -> Raster:
        """The whole raster as a photo has it."""
        result = np.zeros((*self.shape, *photo.pixels.shape[2:]), np.uint8)

        def put(strip: Strip) -> None:
            result[strip.rows] = self.seen(strip, photo, lift=lift)

        side_by_side(put, self.strips)
        return Raster(self.left, self.top, self.mm_per_px, result)


def lattice_of(
    frame: Frame, bounds: Bounds, mm_per_px: float, surface: Surface | None = None
) -> Lattice:
    """Where pixels of so many mm within a frame's bounds (mm) lie on the floor, or over it."""
    left, bottom, right, top = bounds
    columns = int(np.ceil((right - left) / mm_per_px)) + 1
    rows = int(np.ceil((top - bottom) / mm_per_px)) + 1
    across = left + _lattice(0, columns) * mm_per_px

    def strip_from(first: int) -> Strip:
        count = min(STRIP_ROWS, rows - first)
        down = top - _lattice(first, count) * mm_per_px
        grid = np.stack(np.meshgrid(across, down), axis=-1)
        below, height = _to_solid(frame, surface, grid.reshape(-1, 2))
        return Strip(slice(first, first + count), below, height)

    strips = tuple(strip_from(first) for first in range(0, rows, STRIP_ROWS))
    return Lattice(left, top, mm_per_px, columns, strips)


def _to_solid(
    frame: Frame, surface: Surface | None, points: Floats
) -> tuple[Floats, Floats | float]:
    """Floor points (N, 2) under points (N, 2) of the frame, and how high the paper is there."""
    if surface is None:
        return frame.to_floor(points), 0.0
    below, height = surface.to_solid(points)
    return frame.to_floor(below), height


def _lattice(first: int, count: int) -> Floats:
    """Nodes LATTICE_PX apart, in pixels, from one before the first pixel to one past the last.

    Each in the middle of so many pixels, where resizing takes it to be.
    """
    nodes = np.arange(-1, -(-count // LATTICE_PX) + 1)
    return np.asarray(first + LATTICE_PX * nodes + (LATTICE_PX - 1) / 2)


def _filled_in(lattice: Floats, rows: int, columns: int) -> NDArray[np.float32]:
    """(rows, columns) bilinear between a lattice's nodes."""
    size = LATTICE_PX * lattice.shape[1], LATTICE_PX * lattice.shape[0]
    filled = cv2.resize(lattice.astype(np.float32), size, interpolation=cv2.INTER_LINEAR)
    own = slice(LATTICE_PX, LATTICE_PX + rows), slice(LATTICE_PX, LATTICE_PX + columns)
    return np.asarray(filled[own], np.float32)


def _well_within(nodes: Floats, length: int) -> bool:
    """Whether nodes, and so all between them, lie within so many pixels, but for their rounding."""
    return bool(nodes.min() >= 1 and nodes.max() <= length - 2)


def choose_photos(
    photos: Iterable[Picture], cameras: Sequence[Camera], frame: Frame, bounds: Bounds
) -> tuple[Choice, Raster]:
    """Which photo shows each place best, and the coarse raster put together that way.

    Photos are taken one after the other, so that not all need be in memory.
    """
    coarse = [
        rectify(pixels, camera, frame, bounds, COARSE_MM)
        for pixels, camera in zip(photos, cameras, strict=True)
    ]
    rows, columns = coarse[0].pixels.shape[:2]
    x = np.asarray(coarse[0].left + np.arange(columns) * COARSE_MM, np.float64)
    y = np.asarray(coarse[0].top - np.arange(rows) * COARSE_MM, np.float64)
    nodes = np.stack(np.meshgrid(x[::LATTICE_PX], y[::LATTICE_PX]), axis=-1)
    floor = frame.to_floor(nodes.reshape(-1, 2))
    quality = np.zeros((len(cameras), rows, columns), np.float32)

    def look(photo: int) -> None:
        seen = cv2.cvtColor(coarse[photo].pixels, cv2.COLOR_RGB2GRAY) > 0
        shown = cv2.erode(seen.astype(np.uint8), np.ones((5, 5)))
        lattice = resolution(cameras[photo], floor).reshape(nodes.shape[:2])
        quality[photo] = cv2.resize(lattice, (columns, rows)) * shown

    side_by_side(look, range(len(cameras)))
    seen_by, most = np.full((rows, columns), -1), np.zeros((rows, columns), np.float32)
    for photo, each in enumerate(quality):
        seen_by[each > most] = photo
        np.maximum(most, each, out=most)
    gains = np.zeros((len(cameras), 6, 3))
    if len(cameras) > 1:
        both: tuple[Callable[[], NDArray[Any]], ...] = (
            partial(_matched, coarse, quality > 0, x, y),
            partial(_seams, coarse, quality, seen_by),
        )
        gains, seen_by = side_by_side(lambda work: work(), both)
    choice = Choice(
        seen_by.astype(np.int64), gains, coarse[0].left, coarse[0].top, coarse[0].mm_per_px
    )
    return choice, put_together(coarse, choice)


def rectify_chosen(
    photos: Iterable[Picture],
    cameras: Sequence[Camera],
    frame: Frame,
    bounds: Bounds,
    mm_per_px: float,
    choice: Choice,
    surface: Surface | None = None,
) -> Raster:
    """As ``rectify``, from several photos, each place from the one chosen for it.

    Photos are taken one after the other, so that not all need be in memory.
    """
    lattice = lattice_of(frame, bounds, mm_per_px, surface)
    views = (
        shrunk(pixels, camera, frame, bounds, mm_per_px)
        for pixels, camera in zip(photos, cameras, strict=True)
    )
    if len(choice.gains) == 1:
        return lattice.raster_of(next(views))
    result = np.zeros((*lattice.shape, 3), np.uint8)
    for photo, view in enumerate(views):

        def put(strip: Strip, photo: int = photo, view: Shrunk = view) -> None:
            def seen(some: slice) -> Picture:
                return lattice.seen(strip, view, some)

            _put_chosen(result[strip.rows], lattice, strip.rows.start, choice, photo, seen)

        side_by_side(put, lattice.strips)
    return Raster(lattice.left, lattice.top, mm_per_px, result)


def put_together(rasters: Sequence[Raster], choice: Choice) -> Raster:
    """One raster from rasters of the same place and size, one a photo."""
    first = rasters[0]
    if len(choice.gains) == 1:
        return first
    result = np.zeros_like(first.pixels)
    for photo, raster in enumerate(rasters):
        for begin in range(0, len(result), STRIP_ROWS):
            strip = slice(begin, begin + STRIP_ROWS)

            def seen(some: slice, raster: Raster = raster, strip: slice = strip) -> Picture:
                return raster.pixels[strip, some]

            _put_chosen(result[strip], first, begin, choice, photo, seen)
    return Raster(first.left, first.top, first.mm_per_px, result)


def _put_chosen(
    into: Picture,
    grid: Grid,
    first_row: int,
    choice: Choice,
    photo: int,
    seen: Callable[[slice], Picture],
) -> None:
    """Put what a photo shows into rows (r, C, 3) of a raster, where the choice is that photo.

    Parameters
    ----------
    grid, first_row : where the rows lie.
    seen : some columns of these rows as the photo has them.
    """
    rows, columns = into.shape[:2]
    x = np.asarray(grid.left + np.arange(columns) * grid.mm_per_px, np.float64)
    y = np.asarray(grid.top - (first_row + np.arange(rows)) * grid.mm_per_px, np.float64)
    column, row = choice.cells(x, y)
    mine = choice.seen_by == photo
    own = np.flatnonzero(mine[row].any(axis=0)[column])
    if not len(own):
        return
    some = slice(int(own[0]), int(own[-1]) + 1)
    there = mine[row][:, column[some]]
    gain = _gain(choice.gains[photo], grid, first_row, into.shape)[:, some]
    colours = seen(some)
    bright = np.clip(colours * gain, colours > 0, 255).astype(np.uint8)
    np.copyto(into[:, some], bright, where=there[..., None])


def _quadratic(x: Floats, y: Floats) -> Floats:
    x, y = x / 1000, y / 1000
    return np.stack([np.ones_like(x), x, y, x * x, x * y, y * y], axis=-1)


def _gain(terms: Floats, grid: Grid, first_row: int, shape: tuple[int, ...]) -> NDArray[np.float32]:
    """(rows, columns, 3) by what to multiply some rows of a raster; exact at a lattice's nodes."""
    rows, columns = shape[:2]
    across = grid.left + _lattice(0, columns) * grid.mm_per_px
    down = grid.top - _lattice(first_row, rows) * grid.mm_per_px
    gains = np.exp(_quadratic(*np.meshgrid(across, down)) @ terms)
    return np.dstack([_filled_in(gain, rows, columns) for gain in np.moveaxis(gains, -1, 0)])


def _moved_gains(gains: Floats, origin: Floats) -> Floats:
    """The same gains, for coordinates counted from a point."""
    places = np.random.default_rng(0).uniform(-1000, 1000, (60, 2))
    values = _quadratic(*(places + origin).T) @ gains
    return np.stack([np.linalg.lstsq(_quadratic(*places.T), v, rcond=None)[0] for v in values])


def _matched(coarse: Sequence[Raster], shown: NDArray[np.bool_], x: Floats, y: Floats) -> Floats:
    """(V, 6, 3) log gains that make the photos agree where they overlap.

    Parameters
    ----------
    shown : (V, R, C) where each photo shows the floor.
    x, y : (C,), (R,) of the rasters' columns and rows.
    """
    rng = np.random.default_rng(0)
    smooth = side_by_side(
        lambda raster: cv2.GaussianBlur(raster.pixels, (0, 0), 4).reshape(-1, 3), coarse
    )
    count, flat = len(coarse), shown.reshape(len(coarse), -1)
    # The normal equations, as all rows of sixty photos would be more than memory holds; weakly
    # towards no change, so that a photo that overlaps no other stays as it is.
    square, right = 0.3**2 * np.eye(6 * count), np.zeros((6 * count, 3))
    for a in range(count):
        for b in range(a + 1, count):
            both = np.flatnonzero(flat[a] & flat[b])
            if not len(both):
                continue
            some = rng.choice(both, min(GAIN_POINTS, len(both)), replace=False)
            terms = _quadratic(x[some % len(x)], y[some // len(x)])
            matrix = np.hstack([terms, -terms])
            ratio = np.log((smooth[b][some] + 4.0) / (smooth[a][some] + 4.0))
            near = (np.abs(ratio - np.median(ratio, axis=0)) < 0.3).all(axis=1)
            at = np.r_[6 * a : 6 * a + 6, 6 * b : 6 * b + 6]
            square[np.ix_(at, at)] += matrix[near].T @ matrix[near]
            right[at] += matrix[near].T @ ratio[near]
    return np.asarray(np.linalg.solve(square, right).reshape(count, 6, 3))


def _seams(coarse: Sequence[Raster], quality: NDArray[np.float32], best: Whole) -> Whole:
    """Photos by place, the borders between them where nothing is drawn.

    Each photo grows from where it is clearly best, over what is drawn first and over blank paper
    last; so the borders meet on blank paper (watershed: F. Meyer, "Topographic distance and
    watershed lines", 1994).
    """
    first, second = np.zeros(best.shape, np.float32), np.zeros(best.shape, np.float32)
    for each in quality:
        second = np.maximum(second, np.minimum(first, each))
        first = np.maximum(first, each)
    clear = (first > CLEARLY_BETTER * second) & (best >= 0)
    grey = np.zeros(best.shape, np.uint8)
    for photo, raster in enumerate(coarse):
        np.copyto(grey, cv2.cvtColor(raster.pixels, cv2.COLOR_RGB2GRAY), where=best == photo)
    ink = cv2.morphologyEx(grey, cv2.MORPH_BLACKHAT, np.ones((7, 7), np.uint8))
    # What is clear grows no further but from beside what is not.
    open_ones = ((best >= 0) & ~clear).astype(np.uint8)
    beside = (cv2.dilate(open_ones, np.ones((3, 3), np.uint8)) > 0) & (best >= 0)
    markers = np.where(clear, best + 1, 0).astype(np.int32)
    grown = watershed(-ink.astype(np.int16), markers, mask=beside) - 1
    result = best.copy()
    for photo, each in enumerate(quality):
        result[(grown == photo) & (each > 0)] = photo
    return result


def values_at(
    picture: NDArray[np.float32], columns: NDArray[np.float32], rows: NDArray[np.float32]
) -> Floats:
    """(...) values of a picture (H, W) at columns and rows (...), each from the four pixels around
    it; beyond the picture, those of its edge.
    """
    if not columns.size:
        return np.zeros(columns.shape)
    # OpenCV's places are good to 1/32 pixel and cost a tenth of any exact way's. It takes a table
    # of them, of no more rows or columns than 16 bits count.
    places = np.zeros((2, -(-columns.size // PLACES_IN_ROW), PLACES_IN_ROW), np.float32)
    for axis, values in enumerate((columns, rows)):
        places[axis].reshape(-1)[: columns.size] = values.reshape(-1)
    x, y = places
    found = cv2.remap(picture, x, y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    return np.asarray(found.reshape(-1)[: columns.size].reshape(columns.shape), np.float64)
