"""Where names stand in a drawing: clear of its lines and of each other, some with a leader."""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
import svgwrite
from numpy.typing import NDArray
from reportlab.pdfbase.pdfmetrics import stringWidth
from shapely import LineString, STRtree
from shapely.geometry.base import BaseGeometry
from svgwrite.container import Group

from digitize.record import Point

Floats = NDArray[np.float64]
Box = tuple[float, float, float, float]
ASCENT, DESCENT = 0.74, 0.22  # of a Helvetica letter, in its size
CLEAR_MM, SIMPLER_MM = 0.6, 0.1  # round a name
TIERS = (0.9, 2.0, 3.5, 5.5, 8.0, 11.0, 15.0, 20.0, 26.0, 34.0, 44.0)  # mm from what it names
DIRECTIONS = 16
MOST_PLACES, FEWEST_PLACES = 20_000, 4  # tried for all names together, and for each
MOST_LEADERS = 100  # tried for a name: where all are in the way, more would be too
LEADER_MM = 3.0  # a name further off than this has a leader


@dataclass(frozen=True)
class Callout:
    """Words that name something in a drawing.

    Attributes
    ----------
    places : any of which may be named, mm on the sheet, the likeliest first.
    size : of the letters, mm.
    """

    words: str
    places: tuple[Point, ...]
    colour: str = "#000000"
    size: float = 3.2


@dataclass(frozen=True)
class Label:
    """A callout and where it stands: left, top, right, low, mm on the sheet, y down.

    ``leader`` runs from what it names to the words; None where they stand beside it.
    """

    callout: Callout
    box: Box
    leader: tuple[Point, Point] | None


class _Others:
    """The labels that stand already: their boxes, and these and their leaders as shapes."""

    def __init__(self) -> None:
        self.boxes: list[Box] = []
        self.words: list[BaseGeometry] = []
        self.leaders: list[BaseGeometry] = []

    def add(self, label: Label) -> None:
        self.boxes.append(label.box)
        self.words.append(shapely.box(*label.box))
        if label.leader:
            self.leaders.append(LineString(label.leader))


def place_labels(
    callouts: Sequence[Callout], taken: Sequence[BaseGeometry], frame: Box
) -> tuple[Label, ...]:
    """Callouts where they are read: none over another, none on a line if there is room at all.

    Parameters
    ----------
    taken : what no words should stand on, mm on the sheet.
    frame : left, top, right, low of the sheet's part for them, mm.

    Each goes to the nearest free place; those with the most words choose first.
    """
    # Lines a hair simpler are found much sooner, and stretch by stretch: a long one is near all.
    tree = STRtree(_stretches(taken))
    order = sorted(range(len(callouts)), key=lambda k: -_size(callouts[k])[0])
    most = max(MOST_PLACES // max(len(callouts), 1), FEWEST_PLACES)
    placed: dict[int, Label] = {}
    before = _Others()
    for index in order:
        places = callouts[index].places[:: -(-len(callouts[index].places) // most)]
        placed[index] = _placed(callouts[index], places, tree, before, frame)
        before.add(placed[index])
    return tuple(placed[index] for index in range(len(callouts)))


def _stretches(shapes: Sequence[BaseGeometry]) -> list[BaseGeometry]:
    """Shapes, of lines each straight stretch."""
    parts: list[BaseGeometry] = []
    for shape in shapes:
        if isinstance(shape, LineString):
            points = shapely.get_coordinates(shape.simplify(SIMPLER_MM))
            parts += shapely.linestrings(np.stack([points[:-1], points[1:]], axis=1)).tolist()
        else:
            parts.append(shape)
    return parts


def _size(callout: Callout) -> tuple[float, float]:
    width = stringWidth(callout.words, "Helvetica", callout.size)
    return width, (ASCENT + DESCENT) * callout.size


def _placed(
    callout: Callout,
    places: Sequence[Point],
    tree: STRtree,
    others: _Others,
    frame: Box,
) -> Label:
    """The callout at the nearest place that is free of lines, or else of other words."""
    before = np.array(others.boxes).reshape(-1, 4)
    free_of_words: Label | None = None
    first: Label | None = None
    leaders = 0
    for low, at in _candidates(callout, places):
        high = low + np.array(_size(callout))
        first = first or Label(callout, _box(low[0], high[0]), None)
        inside = (low >= frame[:2]).all(axis=1) & (high <= frame[2:]).all(axis=1)
        grown = np.hstack([low - CLEAR_MM, high + CLEAR_MM])
        free = inside & ~_meets(grown, before)
        boxes = shapely.box(*grown.T)
        if others.leaders and free.any():
            free[np.unique(STRtree(others.leaders).query(boxes, "intersects")[0])] = False
        wanted = free.copy()
        if free.any():
            wanted[np.unique(tree.query(boxes, "intersects")[0])] = False
        for k in np.flatnonzero(wanted if free_of_words else free):
            if not wanted[k] and free_of_words:
                continue
            own = _leader(at[k], low[k], high[k])
            leaders += own is not None
            label = Label(callout, _box(low[k], high[k]), own)
            if leaders > MOST_LEADERS:
                return free_of_words or label
            if own is None or not _crosses(own, others):
                if wanted[k]:
                    return label
                free_of_words = free_of_words or label
    assert first is not None
    return free_of_words or first


def _meets(boxes: Floats, others: Floats) -> NDArray[np.bool_]:
    """(K,) whether each box (K, 4: left, top, right, low) meets any of others (M, 4)."""
    near = others[
        (others[:, :2] < boxes[:, 2:].max(axis=0)).all(axis=1)
        & (others[:, 2:] > boxes[:, :2].min(axis=0)).all(axis=1)
    ]
    return np.asarray(
        ((boxes[:, None, :2] < near[None, :, 2:]) & (boxes[:, None, 2:] > near[None, :, :2]))
        .all(axis=2)
        .any(axis=1)
    )


def _box(low: Floats, high: Floats) -> Box:
    return float(low[0]), float(low[1]), float(high[0]), float(high[1])


def _candidates(callout: Callout, places: Sequence[Point]) -> Iterator[tuple[Floats, Floats]]:
    """Of each tier, the nearest first: (K, 2) upper left corners of the words, and what each then
    names.
    """
    size = np.array(_size(callout))
    ways = np.linspace(0, 2 * math.pi, DIRECTIONS, endpoint=False)
    toward = np.column_stack([np.cos(ways), -np.sin(ways)])
    # Words to the right of their place, then above it, before those elsewhere.
    toward = toward[np.argsort(-toward[:, 0] - 0.6 * -toward[:, 1], kind="stable")]
    at = np.array(places, np.float64)
    for tier in TIERS:
        # The box touches the circle of that radius round the place.
        reach = size / 2 + tier
        scale = (reach / np.maximum(np.abs(toward), 1e-9)).min(axis=1)
        found = at[None] + (scale[:, None] * toward - size / 2)[:, None]
        yield found.reshape(-1, 2), np.tile(at, (len(toward), 1))


def _leader(place: Floats, low: Floats, high: Floats) -> tuple[Point, Point] | None:
    """From a place to the nearest point of a box, if that is far."""
    end = np.clip(place, low, high)
    if math.dist(place, end) < LEADER_MM:
        return None
    (x0, y0), (x1, y1) = np.round([place, end], 3).tolist()
    return (x0, y0), (x1, y1)


def _crosses(leader: tuple[Point, Point], others: _Others) -> bool:
    line = LineString(leader)
    return bool(
        (others.words and shapely.dwithin(others.words, line, CLEAR_MM).any())
        or (others.leaders and shapely.crosses(others.leaders, line).any())
    )


def labels_of(drawing: svgwrite.Drawing, name: str, labels: Sequence[Label]) -> Group:
    """The labels as a group of words and leaders."""
    group = drawing.g(id=name, stroke="none")
    for label in labels:
        colour = label.callout.colour
        if label.leader:
            group.add(drawing.line(*label.leader, stroke=colour, stroke_width=0.15))
        left, top = label.box[:2]
        size = label.callout.size
        group.add(
            drawing.text(
                label.callout.words,
                insert=(round(left, 3), round(top + ASCENT * size, 3)),
                fill=colour,
                font_size=size,
            )
        )
    return group
