"""Where on the paper pencil could not be seen, and why: light, blur or grain.

What the ridge filter would say of a usual line is worked out for each cell of the paper and held
against what tracing needs there. A line of width w that is darker than the paper by D (the log of
the ratio of their brightness), blurred to a Gaussian edge of s in all, gives the filter of sigma f

    f^2 * D * w / s^3 * phi(w / 2s),    phi the normal density,

which is the second derivative across a blurred bar, at its middle. D is that of the strokes that
were found; where hardly any was, there may be lines fainter than all that show, and D is a faint
one's. Pencil takes the same share of the light in sun and in shade, so D is even over the paper,
but for what the picture cannot hold: where a colour is burnt out there is no telling it, and in the
dark the levels run out. The noise is the picture's own, there.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Literal

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import binary_opening
from scipy.spatial import cKDTree
from shapely import Polygon, box, union_all

from digitize.floor import DARKEST, GAMMA, Grid, Raster
from digitize.pencil.curves import Curve
from digitize.pencil.ridges import RidgeMap, paper_mask
from digitize.pencil.thresholds import (
    BLUR_SIGMA_PX,
    BURNT_LEVEL,
    BURNT_SHARE,
    DARK,
    EDGE_MARGIN_MM,
    EDGE_REACH_MM,
    EDGE_ROWS,
    EDGE_STEP_MM,
    FAINT_DARKNESS,
    FAINT_LENGTH_MM,
    FEWEST_MM,
    FOLLOW_NOISE,
    LEAST_BLUR_MM,
    LEAST_PAPER,
    MOSTLY_FAINT,
    MUCH,
    NARROW_SIGMA_MM,
    NEAR_MM,
    NEARLY_UNSEEN,
    PLATEAU_MM,
    QUIET,
    SAME_BURNT,
    SEEN_ACROSS_MM,
    SEEN_ALONG_MM,
    SEEN_BEST,
    SEEN_CELL_MM,
    SEEN_LEAST_MM,
    SEEN_LEAST_STEP,
    SEEN_LINE_MM,
    SEEN_NEIGHBOURS,
    SHADED,
    SLOPE_MM,
    SURELY_NEAR_MM,
    UNFOLLOWED_RIM_MM,
    UNSURE_MM,
    WEAK_PERCENT,
)
from digitize.pencil.unfollowed import unfollowed_places
from digitize.plane import evenly, length_of, places_beside

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]
Reason = Literal["bright", "dark", "blurred", "faint"]
REASONS: tuple[Reason, ...] = ("bright", "dark", "blurred", "faint")
BRIGHT, DIM, BLURRED, FAINT = range(4)
# So much over what is followed, of a noise of 1, five places of six along a line are followed.
NEEDED_NOISE = FOLLOW_NOISE + 1.0
GREY = np.array([0.299, 0.587, 0.114])  # of red, green and blue (ITU-R BT.601)


@dataclass(frozen=True)
class UnseenArea:
    """An area where a usual pencil line would not be found, and what hides it.

    Attributes
    ----------
    boundary : (N, 2) mm, counter-clockwise.
    reason : ``bright`` where the picture is burnt out, ``dark`` where it holds too little light,
        ``blurred`` where it is out of focus, ``faint`` where pencil drowns in the paper's grain.
    """

    boundary: Floats
    reason: Reason


@dataclass(frozen=True)
class _Cells:
    """What the picture shows of the paper, cell by cell; all (R, C).

    Attributes
    ----------
    grid : where the cells lie; their middles are its pixels'.
    paper : which are paper, or enough of it to tell.
    background, scatter : the strength of what is no stroke, and its deviation as a share of
        the usual cell's.
    colour : (R, C, 3) mean levels; ``burnt``, (R, C, 3), the share of pixels without a level left.
    """

    grid: Grid
    paper: Flags
    background: Floats
    scatter: Floats
    colour: Floats
    burnt: Floats

    def at(self, points: Floats) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
        """Rows and columns of the cells that points (N, 2) lie in."""
        place = np.round(self.grid.to_px(points)).astype(np.int64)
        rows, columns = self.paper.shape
        return np.clip(place[:, 1], 0, rows - 1), np.clip(place[:, 0], 0, columns - 1)


def bar_response(width_mm: float, edge_mm: Floats | float, sigma_mm: float) -> Floats:
    """What the ridge filter gives at the middle of a blurred bar, over the bar's darkness.

    Parameters
    ----------
    edge_mm : deviation of the Gaussian that the bar is blurred by, the filter's own included.
    sigma_mm : the filter's own.
    """
    edge = np.asarray(edge_mm, np.float64)
    density = np.exp(-0.5 * (width_mm / (2 * edge)) ** 2) / np.sqrt(2 * np.pi)
    return np.asarray(sigma_mm**2 * width_mm / edge**3 * density)


def shown_darkness(colour: Floats, burnt: Floats, darkness: float) -> Floats:
    """(...) how dark a line of a true darkness looks on paper of mean levels ``colour`` (..., 3).

    A colour's ``burnt`` share (..., 3) of pixels tells nothing of the line.
    """
    left = burnt + (1 - burnt) * np.exp(-darkness / GAMMA)
    paper, line = (_light(levels @ GREY) + DARKEST for levels in (colour, colour * left))
    return np.asarray(np.log(paper / line))


def true_darkness(level: Floats, shown: Floats) -> Floats:
    """(...) the darkness of lines that look ``shown`` on paper of so much level, nothing burnt."""
    light = _light(level)
    line = (light + DARKEST) * np.exp(-shown) - DARKEST
    return np.asarray(np.log(light / np.clip(line, 1e-3 * light, None)))


def _light(level: Floats) -> Floats:
    """Linear light, white as 1, of levels to 255: sRGB's mean gamma."""
    return np.asarray((level / 255) ** GAMMA)


def unseen_areas(
    raster: Raster,
    outline: Floats,
    ridges: RidgeMap,
    curves: Sequence[Curve],
    covers: Sequence[Floats] = (),
    unsure: Sequence[Floats] = (),
    followed: Sequence[Floats] = (),
) -> tuple[UnseenArea, ...]:
    """Where a usual line would not be found on the paper inside the outline (N, 2), mm.

    Parameters
    ----------
    curves : the strokes that were found.
    covers : (M, 2) rings round what lies on the paper: nothing is said of that.
    unsure : (M, 2) stretches of the outline that are not borne out: their blur tells nothing.
    followed : (M, 2) what else was followed, and was found to be no stroke.
    """
    cells = _cells_of(raster, outline, ridges, covers)
    if not cells.paper.any():
        return ()
    edge = np.hypot(NARROW_SIGMA_MM, BLUR_SIGMA_PX * raster.mm_per_px)
    edge = np.hypot(edge, ridges.grid.mm_per_px / np.sqrt(12))
    sharp = float(bar_response(SEEN_LINE_MM, edge, NARROW_SIGMA_MM))
    points = _together([curve.points for curve in curves])
    found = ridges.strength_at(points)
    # What is shorter may be a speck, and a few of these are darker than any pencil.
    whole = [curve for curve in curves if length_of(curve.points) >= FAINT_LENGTH_MM]
    long = _together([curve.points for curve in whole])[~_burnt_along(raster, whole)]
    shown_by_it = (ridges.strength_at(long) * ridges.noise + ridges.blank) / sharp
    usual, weak = _usual_darkness(cells, long, shown_by_it)

    def strength(shown: Floats, response: Floats | float) -> Floats:
        return np.asarray((shown * response - ridges.blank) / ridges.noise)

    unburnt = shown_darkness(cells.colour, np.zeros_like(cells.burnt), usual)
    shown = shown_darkness(cells.colour, cells.burnt, usual)
    well = found > strength(shown, sharp)[cells.at(points)] / 2
    more = _more_blur(cells, raster, outline, unsure, points[well], edge)
    response = bar_response(SEEN_LINE_MM, np.hypot(edge, more), NARROW_SIGMA_MM)
    needed = np.maximum(NEEDED_NOISE, cells.background + NEEDED_NOISE * cells.scatter)
    hidden = strength(shown, response) < needed
    shown_weakly = shown_darkness(cells.colour, cells.burnt, weak)
    spare = strength(shown_weakly, response) / needed
    # What a weak place of a line gives has the noise in it. But if such places are lost where the
    # paper is seen best too, those found are the better ones, and there is nothing to take off.
    few_lost = np.quantile(spare[cells.paper], SEEN_BEST) > 1.0
    hidden |= strength(shown_weakly, response) < needed - cells.scatter * few_lost
    # How far over white burnt paper is the picture cannot say; strokes found on it can.
    by_light = hidden & (strength(unburnt, response) >= needed)
    burnt = _burnt_along(raster, curves)
    strong = points[(found >= needed[cells.at(points)]) & ~burnt]
    hidden &= ~(by_light & _vouched_for(cells, strong))
    reason = _reasons(cells, unburnt / np.maximum(shown, 1e-6), sharp / response)
    at_border = cells.at(points[burnt])
    hidden[at_border], reason[at_border] = True, BRIGHT
    if np.median(spare[cells.paper]) < NEARLY_UNSEEN:
        known = [*followed, *(curve.points for curve in curves)]
        hidden |= _round_unfollowed(cells, outline, ridges, known)
    return _areas(cells, hidden, reason, Polygon(outline).buffer(0))


def mostly_faint(areas: Sequence[UnseenArea], outline: Floats) -> bool:
    """Whether pencil drowns in the grain on more than half of the paper inside the outline."""
    faint = [Polygon(area.boundary).buffer(0).area for area in areas if area.reason == "faint"]
    return bool(sum(faint) > MOSTLY_FAINT * Polygon(outline).buffer(0).area)


def _together(paths: Sequence[Floats]) -> Floats:
    """(N, 2) the points of all paths."""
    return np.concatenate([np.zeros((0, 2)), *paths])


def _burnt_along(raster: Raster, curves: Sequence[Curve]) -> Flags:
    """(N,) which of all curves' points are burnt out themselves, as pencil never is.

    The border of what is burnt out looks like a line, and pencil beside it is not told from it.
    """
    long_enough = np.ones(round(SEEN_ALONG_MM))
    burnt = [(raster.colours_at(curve.points) >= BURNT_LEVEL).all(axis=1) for curve in curves]
    opened = [binary_opening(each, long_enough) for each in burnt]
    return np.concatenate([np.zeros(0, bool), *opened])


def _vouched_for(cells: _Cells, strong: Floats) -> Flags:
    """(R, C) the cells next to a stroke that is seen at points (N, 2), burnt no more than there."""
    around = np.ones((3, 3), np.uint8)
    # Not of a stroke's own cell, which it darkens, but of the paper round about.
    burnt = cv2.dilate((cells.burnt @ GREY).astype(np.float32), around)
    seen = np.full(burnt.shape, -1.0, np.float32)
    seen[cells.at(strong)] = burnt[cells.at(strong)]
    return np.asarray(burnt <= cv2.dilate(seen, around) + SAME_BURNT)


def _round_unfollowed(
    cells: _Cells, outline: Floats, ridges: RidgeMap, followed: Sequence[Floats]
) -> Flags:
    """(R, C) the cells round lines that are there but too faint to be followed."""
    inner = Polygon(outline).buffer(0).buffer(-UNFOLLOWED_RIM_MM)
    rim = [np.array(part.exterior.coords) for part in getattr(inner, "geoms", [inner])]
    places = unfollowed_places(ridges, rim, followed)
    there = np.zeros(cells.paper.shape, np.uint8)
    there[cells.at(places)] = 1
    return np.asarray(cv2.dilate(there, np.ones((3, 3), np.uint8)) > 0)


def _reasons(cells: _Cells, burnt_away: Floats, blurred_away: Floats) -> NDArray[np.int64]:
    """(R, C) which of REASONS hides a line most, by how many times less of it each leaves."""
    light = _light(cells.colour @ GREY)
    dark = (light < DARK) | (light < SHADED * np.median(light[cells.paper]))
    most = np.where(burnt_away >= blurred_away, BRIGHT, BLURRED)
    little = np.maximum(burnt_away, blurred_away) < MUCH
    return np.where(little, np.where(dark, DIM, FAINT), most)


def _cells_of(
    raster: Raster, outline: Floats, ridges: RidgeMap, covers: Sequence[Floats]
) -> _Cells:
    grid = ridges.grid
    step = max(round(SEEN_CELL_MM / grid.mm_per_px), 1)
    size = ridges.strength.shape[1::-1]
    rows, columns = (length // step for length in ridges.strength.shape)
    mask = paper_mask(raster, outline, EDGE_MARGIN_MM).astype(np.uint8)
    on_paper = np.asarray(cv2.resize(mask, size, interpolation=cv2.INTER_NEAREST))
    for ring in covers:
        cv2.fillPoly(on_paper, [np.round(grid.to_px(ring)).astype(np.int32)], 0)

    def blocks(picture: NDArray[Any]) -> NDArray[Any]:
        """Every second pixel of each cell, as next pixels tell the same: (R, C, ...)."""
        kept = picture[: rows * step, : columns * step]
        parts = kept.reshape(rows, step, columns, step, *picture.shape[2:]).swapaxes(1, 2)
        return parts[:, :, ::2, ::2].reshape(rows, columns, -1, *picture.shape[2:])

    inside = blocks(on_paper) > 0
    count = inside.sum(axis=2)
    paper = count > LEAST_PAPER * inside.shape[2]
    colours = blocks(cv2.resize(raster.pixels, size, interpolation=cv2.INTER_NEAREST))
    weight = inside / np.maximum(count, 1)[..., None]

    def mean(values: NDArray[Any]) -> Floats:
        # Row by row: of all in floating point there would be eight times as much.
        rows = zip(weight, values, strict=True)
        return np.stack([np.matmul(own[:, None], each)[:, 0] for own, each in rows])

    burnt = mean(colours >= BURNT_LEVEL)
    ordered = np.sort(np.where(inside, blocks(ridges.strength), np.inf), axis=2)

    def quantile(share: float) -> Floats:
        at = (count * share).astype(int).clip(0, inside.shape[2] - 1)
        value = np.take_along_axis(ordered, at[..., None], axis=2)[..., 0]
        return np.where(paper, value, np.inf).astype(np.float64)

    # Strokes are the upper part of a cell's strengths, and noise is what lies below the middle.
    middle, low = quantile(0.5), quantile(0.16)
    scatter = np.where(paper, middle - np.where(paper, low, 0.0), np.inf)
    lit = paper & ((burnt @ GREY) < BURNT_SHARE)
    usual = float(np.median(scatter[lit])) if lit.any() else 1.0
    left, top = grid.to_mm(np.array([[(step - 1) / 2, (step - 1) / 2]]))[0].tolist()
    return _Cells(
        grid=Grid(left, top, step * grid.mm_per_px),
        paper=paper,
        background=_around(middle),
        scatter=_around(scatter / max(usual, 1e-6)) if lit.any() else np.ones(scatter.shape),
        colour=mean(colours),
        burnt=burnt,
    )


def _around(values: Floats) -> Floats:
    """(R, C) the third lowest of each cell and its neighbours: writing in one makes no noise."""
    rows, columns = values.shape
    wide = np.pad(values, 1, constant_values=np.inf)
    near = [wide[i : i + rows, j : j + columns] for i in range(3) for j in range(3)]
    third = np.sort(np.stack(near), axis=0)[2]
    return np.where(np.isfinite(third), third, np.where(np.isfinite(values), values, 0.0))


def _usual_darkness(cells: _Cells, points: Floats, shown: Floats) -> tuple[float, float]:
    """The darkness of a usual stroke, and at its weak places, as SEEN_LINE_MM lines would need it.

    Every pattern has lines: where hardly any is found, they may all be faint. Those found on paper
    that is burnt out in part are at least as dark as they look there.
    """
    at = cells.at(points)
    kept = cells.paper[at] & (shown > 0)
    unburnt = kept & (cells.burnt[at] @ GREY < BURNT_SHARE)
    if unburnt.sum() >= FEWEST_MM:  # a curve's points are a mm apart
        kept = unburnt
    elif kept.sum() < FEWEST_MM:
        return FAINT_DARKNESS, FAINT_DARKNESS
    level = cells.colour[at][kept] @ GREY
    middle, weak = np.percentile(true_darkness(level, shown[kept]), (50, WEAK_PERCENT))
    if kept is unburnt:
        return float(middle), float(weak)
    return max(float(middle), FAINT_DARKNESS), max(float(weak), FAINT_DARKNESS)


def _more_blur(
    cells: _Cells,
    raster: Raster,
    outline: Floats,
    unsure: Sequence[Floats],
    sharp: Floats,
    edge_mm: float,
) -> Floats:
    """(R, C) by how much more each cell is blurred than the paper's usual, mm.

    The paper's edge is a step wherever it is seen, so its slope tells; where strokes stand as
    they should, at the points ``sharp``, nothing is blurred; and grain that is quieter than the
    light makes it is smoothed by at least so much. Paper without grain tells nothing.

    Parameters
    ----------
    edge_mm : deviation of the Gaussian that a sharp line is blurred by, the filter's included.
    """
    rows, columns = cells.paper.shape
    places, blur = edge_blur(raster, outline)
    if unsure and len(places):
        borne = cKDTree(np.concatenate(unsure)).query(places)[0] > UNSURE_MM
        places, blur = places[borne], blur[borne]
    more = np.sqrt(np.maximum(blur**2 - np.median(blur) ** 2, 0.0)) if len(blur) else blur
    sharp = sharp[:: round(EDGE_STEP_MM)]  # a curve's points are a mm apart
    known = np.concatenate([places, sharp])
    if len(known) < SEEN_NEIGHBOURS:
        return _blur_by_grain(cells, edge_mm)
    values = np.concatenate([more, np.zeros(len(sharp))])
    column, row = np.meshgrid(np.arange(columns), np.arange(rows))
    middles = cells.grid.to_mm(np.stack([column.ravel(), row.ravel()], axis=1))
    distance, nearest = cKDTree(known).query(middles, SEEN_NEIGHBOURS)
    # What else lies along an edge, a shadow or a fold, softens it here and there: the sharper half.
    typical = np.percentile(values[nearest], 25, axis=1).reshape(rows, columns)
    middle = np.median(distance, axis=1).reshape(rows, columns)
    typical[middle > NEAR_MM] = 0.0
    told = middle < SURELY_NEAR_MM
    grain = np.maximum(typical, _blur_by_grain(cells, edge_mm))
    return np.asarray(np.where(told, typical, grain))


def _blur_by_grain(cells: _Cells, edge_mm: float) -> Floats:
    """(R, C) by how much more the paper's grain is blurred than its usual, mm, at least.

    Of white grain the filter's response falls with the 5/2th power of the edge that blurs it; what
    the sensor adds after the lens does not fall, so it is that at least. Noise falls with the root
    of the light, and burnt paper has none.
    """
    light = _light(cells.colour @ GREY)
    usual = float(np.median(light[cells.paper]))
    quiet = cells.scatter * np.sqrt(np.maximum(light / usual, 1.0))
    tells = (quiet < QUIET) & (cells.burnt @ GREY < BURNT_SHARE / 5)
    edge = edge_mm * np.maximum(quiet, 0.1) ** (-1 / 2.5)
    return np.where(tells, np.sqrt(np.maximum(edge**2 - edge_mm**2, 0.0)), 0.0)


def edge_blur(raster: Raster, outline: Floats) -> tuple[Floats, Floats]:
    """(N, 2) places along the paper's edge, and (N,) deviation of the blur there, mm.

    A step of height h blurred by a Gaussian of sigma has its steepest slope h / (sqrt(2 pi) sigma)
    at its middle. Only where paper and floor differ enough.
    """
    points = evenly(outline, EDGE_STEP_MM, closed=True)[:-1]
    ahead = np.roll(points, -1, axis=0) - np.roll(points, 1, axis=0)
    ahead /= np.linalg.norm(ahead, axis=1, keepdims=True) + 1e-12
    normals = np.stack([-ahead[:, 1], ahead[:, 0]], axis=1)
    offsets = np.arange(-EDGE_REACH_MM, EDGE_REACH_MM + SEEN_ACROSS_MM / 2, SEEN_ACROSS_MM)
    colours = raster.colours_at(places_beside(points, normals, offsets))
    # Along what paper and floor differ in: they may be as light as each other. A grey step counts
    # what it has in each colour.
    step = np.subtract(*(np.median(colours[:, s * offsets > PLATEAU_MM], axis=1) for s in (1, -1)))
    step /= np.linalg.norm(step, axis=1, keepdims=True) + 1e-12
    level = np.einsum("nmc,nc->nm", colours, step / np.sqrt(3))
    apart = round(SLOPE_MM / SEEN_ACROSS_MM)
    middle = (len(offsets) - apart) // 2
    # Neighbours are averaged edge on edge, as a torn one wanders.
    shift = np.abs(_slopes(level, apart)).argmax(axis=1) - middle
    column = np.clip(np.arange(len(offsets)) + shift[:, None], 0, len(offsets) - 1)
    level = np.take_along_axis(level, column, axis=1)
    near = range(-(EDGE_ROWS // 2), EDGE_ROWS // 2 + 1)
    level = np.mean([np.roll(level, step, axis=0) for step in near], axis=0)
    inner, outer = (np.median(level[:, side * offsets > PLATEAU_MM], axis=1) for side in (1, -1))
    height = np.abs(inner - outer)
    some = height > SEEN_LEAST_STEP
    slope = np.abs(_slopes(level[some], apart)).max(axis=1) / SLOPE_MM
    sigma = height[some] / (np.sqrt(2 * np.pi) * slope)
    # The slope over a length is that of a step blurred by as much as a box so long.
    return points[some], np.sqrt(np.maximum(sigma**2 - SLOPE_MM**2 / 12, 0.0))


def _slopes(level: Floats, apart: int) -> Floats:
    """(N, M - apart) differences of values so many columns apart."""
    return np.asarray(level[:, apart:] - level[:, :-apart])


def _areas(
    cells: _Cells, hidden: Flags, reason: NDArray[np.int64], paper: Polygon
) -> tuple[UnseenArea, ...]:
    """What is hidden, put together to areas large enough to matter, each for its main reason."""
    kernel = np.ones((3, 3), np.uint8)
    whole = cv2.morphologyEx((hidden & cells.paper).astype(np.uint8), cv2.MORPH_CLOSE, kernel)
    whole = np.asarray(whole, np.uint8) & cells.paper.astype(np.uint8)
    count, label = cv2.connectedComponents(whole, connectivity=4)
    half = cells.grid.mm_per_px / 2
    areas = []
    for index in range(1, count):
        rows, columns = np.nonzero(label == index)
        middles = cells.grid.to_mm(np.stack([columns, rows], axis=1))
        squares = [box(x - half, y - half, x + half, y + half) for x, y in middles.tolist()]
        area = union_all(squares).simplify(0.7 * SEEN_CELL_MM).intersection(paper)
        main = REASONS[np.bincount(reason[rows, columns]).argmax()]
        least = LEAST_BLUR_MM if main == "blurred" else SEEN_LEAST_MM
        if area.area >= least**2:
            areas += [UnseenArea(_ring_of(part), main) for part in _without_holes(area)]
    return tuple(areas)


def _ring_of(area: Polygon) -> Floats:
    ring = np.array(area.exterior.coords)[:-1]
    return ring if area.exterior.is_ccw else ring[::-1]


def _without_holes(area: object) -> list[Polygon]:
    """The polygons of an area, cut through their holes: a ring alone says where each is."""
    whole: list[Polygon] = []
    parts = [part for part in getattr(area, "geoms", [area]) if isinstance(part, Polygon)]
    while parts:
        part = parts.pop()
        if part.is_empty:
            continue
        if not part.interiors:
            whole.append(part)
            continue
        at = Polygon(part.interiors[0]).centroid.x
        low_x, low_y, high_x, high_y = part.bounds
        for side in (box(low_x, low_y, at, high_y), box(at, low_y, high_x, high_y)):
            cut = part.intersection(side)
            parts += [each for each in getattr(cut, "geoms", [cut]) if isinstance(each, Polygon)]
    return whole
