"""The paper's corners, cut and torn: looked at pixel by pixel.

A path that leaps as little as it can rounds a corner off, and a narrow point is lost. Round each
turn of the edge the fine picture is divided by the colours on either side close by, and the edge
goes as that division does. Where the colours of single places do not tell, straight sides meet in a
corner, if what that adds looks like paper by how the border was settled, or by its colours as a
whole: grey paper is even, and a grey floor seldom is.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray
from shapely import LinearRing, MultiPolygon, Point, Polygon, contains_xy
from shapely.geometry.base import BaseGeometry
from shapely.ops import unary_union
from skimage.measure import find_contours

from digitize.floor import Grid, Raster
from digitize.paper.cut import Field, LaidCard, disc, filled
from digitize.paper.steps import step_shares
from digitize.paper.straight import meeting
from digitize.paper.thresholds import (
    BESIDE_LINE_MM,
    CARD_EDGE_MM,
    CORNERS_GAP_MM,
    CORNERS_LEARNED_MM,
    CORNERS_LEAST_SPREAD,
    CORNERS_MOST_LIKELY,
    CORNERS_STRAY_LOG,
    FEWEST_ALONG,
    FEWEST_PIXELS,
    FLECK_MM,
    GOES_ON,
    LEAST_APART_LOG,
    LEAST_TURN_DEG,
    LED_MM,
    MITRE,
    POINT_MM,
    ROUND_MM,
    SLIVER_MM,
    SMOOTH_MM,
    SPIKE_MM,
    STEP_EVERY_MM,
    STRAIGHT_STEP_MM,
    TOLD_SHARE,
    TURN_OVER_MM,
)
from digitize.plane import cross, sharp_turns

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]


def with_corners(
    fine: Raster, points: Floats, cards: tuple[LaidCard, ...], floor_like: Field
) -> Floats:
    """(N, 2) an edge's ring with its corners as the fine raster shows them, mm.

    ``floor_like`` is log of how much likelier floor than paper each place beside the edge is.
    """
    paper = Polygon(points).buffer(0)
    apart = unary_union([Polygon(card.sheet).buffer(CARD_EDGE_MM) for card in cards])
    for index in sharp_turns(points, TURN_OVER_MM, LEAST_TURN_DEG, 2):
        corner = points[index]
        disc_there = Point(corner).buffer(ROUND_MM)
        if disc_there.intersects(apart):
            continue
        colours = _colours_round(fine, paper, corner, [card.sheet for card in cards])
        if colours is None or not colours.tell:
            parts = paper.union(_sharpened(points, index, floor_like, colours))
        else:
            seen = _seen_paper(colours.floor_like)
            # Mixed pixels lean to one side: less than a sliver is known better as it is.
            gained = _without_slivers(seen.intersection(disc_there).difference(paper))
            lost = _without_slivers(paper.intersection(disc_there).difference(seen))
            parts = paper.difference(lost)
            parts = parts.union(gained.intersection(without_spikes(parts.union(gained), SPIKE_MM)))
        parts = parts.union(_tip_seen(fine, points, index))
        # A fleck, or a slit, that reaches the edge is no bay of it.
        parts = parts.buffer(FLECK_MM / 2).buffer(-FLECK_MM / 2)
        paper = max(getattr(parts, "geoms", [parts]), key=lambda part: part.area)
    return np.array(paper.exterior.coords)[:-1]


def _without_slivers(shape: BaseGeometry) -> BaseGeometry:
    """What of a shape is wider than a sliver, with the points that it runs out into."""
    return shape.intersection(shape.buffer(-SLIVER_MM / 2).buffer(SLIVER_MM / 2 + POINT_MM))


def without_spikes(shape: BaseGeometry, width_mm: float) -> BaseGeometry:
    """A shape without what stands out of it and is no wider; its corners stay."""
    return shape.buffer(-width_mm / 2).buffer(width_mm / 2, join_style="mitre", mitre_limit=MITRE)


@dataclass(frozen=True)
class _Colours:
    """What colours close by say of a corner.

    Attributes
    ----------
    floor_like : log of how much likelier floor than paper each pixel is, by its colour.
    tell : whether, with those round about, they tell nearly all the places right that they were
        learned from.
    between : half way from the mean of what is paper to that of what is floor; None where these
        are too near to each other to tell even many places together.
    """

    floor_like: Field
    tell: bool
    between: float | None


def _sharpened(
    points: Floats, index: int, floor_like: Field, colours: _Colours | None = None
) -> Polygon:
    """What an outward corner gains where its straight sides are drawn on till they meet."""
    drawn_on = _drawn_on(points, index)
    if drawn_on is None:
        return Polygon()
    rounded, _, gained = drawn_on
    low, high = rounded.min(axis=0) - ROUND_MM, rounded.max(axis=0) + ROUND_MM
    grid = Grid(float(low[0]), float(high[1]), SMOOTH_MM)
    columns, rows = np.ceil((high - low) / SMOOTH_MM).astype(int) + 1
    across, down = np.meshgrid(np.arange(columns), np.arange(rows))
    places = grid.to_mm(np.stack([across, down], axis=-1).reshape(-1, 2).astype(float))
    there = contains_xy(gained, *places.T)
    if not there.any():
        return Polygon()
    as_settled = floor_like.at(places[there]).mean() <= 0
    if colours is None or colours.between is None:
        return gained if as_settled else Polygon()
    as_a_whole = colours.floor_like.at(places[there]).mean() < colours.between
    return gained if as_settled or as_a_whole else Polygon()


def _drawn_on(points: Floats, index: int) -> tuple[Floats, Floats, Polygon] | None:
    """A ring (N, 2) about a place, the tip (2,) in which its sides meet near, and what is between.

    None where they do not meet.
    """
    reach = round(TURN_OVER_MM / STRAIGHT_STEP_MM)
    tip = meeting(points, index - reach, index + reach)
    if tip is None or np.hypot(*(tip - points[index])) > ROUND_MM:
        return None
    rounded = points[np.arange(index - reach, index + reach + 1) % len(points)]
    return rounded, tip, Polygon(np.concatenate([rounded, tip[None]])).buffer(0)


def _tip_seen(fine: Raster, points: Floats, index: int) -> Polygon:
    """What an outward corner gains where its straight sides are seen to go on till they meet.

    A shaded corner's colour may be the floor's, and one out of focus has some of both; but where
    its sides are drawn on, floor that went round it would show no step.
    """
    drawn_on = _drawn_on(points, index)
    if drawn_on is None:
        return Polygon()
    _, tip, gained = drawn_on
    reach = round((TURN_OVER_MM + LED_MM) / STRAIGHT_STEP_MM)
    led = points[np.arange(index - reach, index + reach + 1) % len(points)]
    if (cross(tip - led[0], led[-1] - tip) > 0) != LinearRing(points).is_ccw:
        return Polygon()  # a bay's
    seen = [_steps_on(fine, side, tip) for side in (led, led[::-1])]
    if True not in seen or False in seen:
        return Polygon()
    return gained.difference(Polygon(points).buffer(0))


def _steps_on(fine: Raster, side: Floats, tip: Floats) -> bool | None:
    """Whether a side's step in colour goes on, from where the ring leaves its line, to a tip.

    None where it leaves it so near the tip that nothing can be said.
    """
    start = side[: round(LED_MM / STRAIGHT_STEP_MM)].mean(axis=0)
    length = float(np.hypot(*(tip - start)))
    way = (tip - start) / length
    off = side - start
    left = (np.abs(cross(way, off)) > SLIVER_MM) & (off @ way > 0)
    first = float(off[np.argmax(left)] @ way)
    if not 0 < first < length:
        return False
    ahead = np.arange(first, length - BESIDE_LINE_MM[0], STEP_EVERY_MM)
    if len(ahead) < FEWEST_ALONG:
        return None
    (share,) = step_shares(fine, start, way, first, [ahead])
    return share is not None and GOES_ON[0] < share < GOES_ON[1]


def _colours_round(
    fine: Raster, paper: Polygon, corner: Floats, sheets: Sequence[Floats]
) -> _Colours | None:
    """What colours round a corner say; None where too little of either side is seen.

    Of cards' sheets (N, 2), mm, that lie near nothing is learned.
    """
    at, reach = fine.to_px(corner[None])[0], CORNERS_LEARNED_MM / fine.mm_per_px
    left, top = np.maximum(np.floor(at - reach).astype(int), 0)
    right, low = np.ceil(at + reach).astype(int) + 1
    part = fine.pixels[top:low, left:right]
    x, y = fine.to_mm(np.array([[left, top]], float))[0]
    grid = Grid(float(x), float(y), fine.mm_per_px)
    within = filled([np.array(paper.exterior.coords)], grid, part.shape[:2])
    gap, shown = disc(CORNERS_GAP_MM / fine.mm_per_px), part.max(axis=2) > 0
    on_cards = cv2.dilate(filled(sheets, grid, part.shape[:2]), disc(CARD_EDGE_MM / fine.mm_per_px))
    shown &= on_cards == 0
    inside = (cv2.erode(within, gap) > 0) & shown
    outside = (cv2.dilate(within, gap) == 0) & shown
    if min(inside.sum(), outside.sum()) < FEWEST_PIXELS:
        return None
    colours = np.asarray(cv2.medianBlur(cv2.cvtColor(part, cv2.COLOR_RGB2LAB), 3), np.uint8)
    as_floor, as_paper = _log_density(colours, outside), _log_density(colours, inside)
    floor_like = np.subtract(as_floor, as_paper)
    # A fleck that looks like neither is what it lies on.
    neither = np.maximum(as_floor, as_paper) < CORNERS_STRAY_LOG
    floor_like[neither] = np.where(within[neither] > 0, -1.0, 1.0)
    likely = np.clip(floor_like, -CORNERS_MOST_LIKELY, CORNERS_MOST_LIKELY)
    smooth = _smooth(likely, fine.mm_per_px)
    right = min((smooth[outside] > 0).mean(), (smooth[inside] < 0).mean())
    of_floor, of_paper = float(likely[outside].mean()), float(likely[inside].mean())
    return _Colours(
        Field(grid.left, grid.top, grid.mm_per_px, likely),
        bool(right >= TOLD_SHARE),
        (of_floor + of_paper) / 2 if of_floor - of_paper > LEAST_APART_LOG else None,
    )


def _seen_paper(floor_like: Field) -> Polygon | MultiPolygon:
    """What is paper round a corner, by how much likelier each pixel is floor."""
    grid = Grid(floor_like.left, floor_like.top, floor_like.mm_per_px)
    smooth, shape = _smooth(floor_like.values, grid.mm_per_px), Polygon()
    for border in find_contours(np.pad(smooth, 1, constant_values=CORNERS_MOST_LIKELY), 0.0):
        if len(border) > 3:
            shape = shape.symmetric_difference(Polygon(grid.to_mm(border[:, ::-1] - 1)).buffer(0))
    return shape


def _smooth(likely: NDArray[np.float32], mm_per_px: float) -> NDArray[np.float32]:
    """(H, W) what pixels round about say together."""
    sigma = max(SMOOTH_MM / mm_per_px, 0.6)
    return np.asarray(cv2.GaussianBlur(likely, (0, 0), sigma), np.float32)


def _log_density(colours: NDArray[np.uint8], learned: Flags) -> NDArray[np.float32]:
    """(H, W) log density of colours (H, W, 3) by those learned, taken as normal."""
    known = colours[learned].astype(float)
    spread = np.cov(known.T) + CORNERS_LEAST_SPREAD**2 * np.eye(3)
    root = np.linalg.inv(np.linalg.cholesky(spread))
    away = (colours - known.mean(axis=0)) @ root.T
    return np.asarray(-(away**2).sum(axis=2) / 2 + np.log(np.diag(root)).sum(), np.float32)
