"""Writing as a whole and what it looks like, so that it can stand in drawings in its own hand."""

from collections.abc import Sequence

import cv2
import numpy as np
from numpy.typing import NDArray
from shapely import LineString, STRtree, box, unary_union

from digitize.pencil.curves import Curve
from digitize.pencil.ridges import RidgeMap
from digitize.pencil.thresholds import (
    DARK_PERCENTILE,
    DOT,
    GRAIN_MM2,
    GRAIN_SIGMAS,
    LETTER,
    MARK_SIGMAS,
    NOTE_EDGE_MM,
    NOTE_LINE_MM,
    ONE_LINE,
    PEN_MM,
    SPACE,
    WORD,
    WORDS_APART,
)

Floats = NDArray[np.float64]
Picture = NDArray[np.uint8]
Box = tuple[float, float, float, float]
SHADES = 16  # as many as print tells apart; they make a small file


def whole_writing(
    boxes: Sequence[Box], curves: Sequence[Curve], ridges: RidgeMap
) -> tuple[Box, ...]:
    """Boxes round pieces of writing (x min, y min, x max, y max, mm), grown to the whole of it.

    A letter that is lost among its strokes leaves marks that are neither line nor writing: those
    that stand within a space's width of a box, no larger than its letters, are taken into it.
    Boxes that come to overlap are one.
    """
    lines = STRtree([LineString(curve.points) for curve in curves])
    grown = unary_union([box(*_grown(each, lines, ridges)) for each in boxes])
    return tuple(part.bounds for part in getattr(grown, "geoms", [grown]) if not part.is_empty)


def handwriting(around: Box, curves: Sequence[Curve], ridges: RidgeMap) -> Picture:
    """(H, W) grey, 0 black: the writing in a box (mm) on white, without the lines that cross it.

    The picture fills the box; its first row lies along the box's top.
    """
    darkness, paper, grain = _cut_out(around, ridges)
    least = paper + GRAIN_SIGMAS * grain
    marked = darkness[darkness > paper + MARK_SIGMAS * grain]
    if not marked.size:
        return np.full(darkness.shape, 255, np.uint8)
    full = max(float(np.percentile(marked, DARK_PERCENTILE)) - least, 1e-6)
    pencil = np.clip((darkness - least) / full, 0, 1)
    grey = np.asarray(255 - np.round(pencil * (SHADES - 1)) * (255 // (SHADES - 1)), np.uint8)
    step = ridges.fine.mm_per_px
    paths = [
        np.round((curve.points - [around[0], around[3]]) * [1 / step, -1 / step]).astype(np.int32)
        for curve in curves
    ]
    cv2.polylines(grey, paths, False, 255, max(round(2 * NOTE_LINE_MM / step), 1))
    return grey


def _grown(around: Box, lines: STRtree, ridges: RidgeMap) -> Box:
    """One box with the signs beside it, and a little of the paper round them."""
    wide = _widened(around, WORD * min(around[2] - around[0], around[3] - around[1]))
    signs = [sign for sign in _signs(wide, ridges) if not _on_line(sign, lines)]
    own = [max(s[2] - s[0], s[3] - s[1]) for s in signs if box(*s).intersects(box(*around))]
    if not own:
        return _widened(around, NOTE_EDGE_MM)
    letter = float(np.median(own))
    least, most = DOT * letter, LETTER * letter
    waiting = [s for s in signs if least <= max(s[2] - s[0], s[3] - s[1]) <= most]
    whole = around
    while True:
        reached = box(*_reach(whole, letter))
        near = [sign for sign in waiting if box(*sign).intersects(reached)]
        if not near:
            return _widened(whole, NOTE_EDGE_MM)
        waiting = [sign for sign in waiting if sign not in near]
        whole = unary_union([box(*each) for each in (whole, *near)]).bounds


def _reach(around: Box, letter: float) -> Box:
    """How far the next sign may stand: words go on along their line, sooner than across it."""
    wide, high = around[2] - around[0], around[3] - around[1]
    x, y = SPACE * letter, SPACE * letter
    if max(wide, high) > ONE_LINE * letter:
        x, y = (WORDS_APART * letter, x / 2) if wide > high else (y / 2, WORDS_APART * letter)
    return around[0] - x, around[1] - y, around[2] + x, around[3] + y


def _signs(wide: Box, ridges: RidgeMap) -> list[Box]:
    """Boxes round the connected dark marks in a box, but for grains."""
    darkness, paper, grain = _cut_out(wide, ridges)
    dark = (darkness > paper + MARK_SIGMAS * grain).astype(np.uint8)
    _, _, found, _ = cv2.connectedComponentsWithStats(dark, connectivity=8)
    step, signs = ridges.fine.mm_per_px, []
    for left, top, width, height, area in found[1:].tolist():
        if area * step**2 >= GRAIN_MM2:
            x, y = wide[0] + left * step, wide[3] - top * step
            signs.append((x, y - height * step, x + width * step, y))
    return signs


def _on_line(sign: Box, lines: STRtree) -> bool:
    return bool(lines.query(box(*sign), "dwithin", NOTE_LINE_MM).size)


def _widened(around: Box, by: float) -> Box:
    return around[0] - by, around[1] - by, around[2] + by, around[3] + by


def _cut_out(around: Box, ridges: RidgeMap) -> tuple[Floats, float, float]:
    """The darkness in a box, (H, W), rows from its top; of bare paper there, and its grain."""
    grid = ridges.fine
    corners = np.array([[around[0], around[3]], [around[2], around[1]]])
    (left, top), (right, bottom) = np.round(grid.to_px(corners)).astype(int)
    size = (max(right - left, 1), max(bottom - top, 1))
    middle = ((left + right - 1) / 2, (top + bottom - 1) / 2)
    darkness = cv2.getRectSubPix(np.asarray(ridges.darkness, np.float32), size, middle)
    smooth = np.asarray(cv2.GaussianBlur(darkness, (0, 0), PEN_MM / grid.mm_per_px), np.float64)
    paper = float(np.median(smooth))
    return smooth, paper, 1.4826 * float(np.median(np.abs(smooth - paper)))
