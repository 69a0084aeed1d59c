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
Flags = NDArray[np.bool_]
Box = tuple[float, float, float, float]
ASCENT, DESCENT = 0.74, 0.22  # of a Helvetica letter, in its size
CLEAR_MM, SIMPLER_MM = 0.6, 0.1  # round a name
TIERS = (0.9, 2.0, 3.5, 5.5, 8.0, 11.0, 15.0, 20.0, 26.0, 34.0, 44.0)  # mm from what it names
AT_ONCE = ((0, 2), (2, 5), (5, 11))  # most find their place soon; where none is, all are tried
DIRECTIONS = 16
MOST_PLACES, FEWEST_PLACES = 20_000, 4  # tried for all names together, and for each
MOST_LEADERS = 100  # tried for a name: where all are in the way, more would be too
REBUILT_EVERY = 50  # labels
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
    """The labels that stand already: their boxes, and these and their leaders as shapes.

    Shapes are looked up in trees, which are built anew only when there are many more than before.
    """

    def __init__(self, most: int) -> None:
        self._boxes = np.empty((4, most))
        self._count = 0
        self._words, self._leaders = _Shapes(), _Shapes()

    def add(self, label: Label) -> None:
        self._boxes[:, self._count] = label.box
        self._count += 1
        self._words.add(shapely.box(*label.box))
        if label.leader:
            self._leaders.add(LineString(label.leader))

    def meet(self, boxes: Floats) -> Flags:
        """(K,) whether words stand in each box (K, 4)."""
        return _meets(boxes, self._boxes[:, : self._count])

    def lead_through(self, boxes: NDArray[np.object_]) -> Flags:
        """(K,) whether a leader runs through each box (K,)."""
        return self._leaders.near(boxes, "intersects")

    def crossed_by(self, leaders: NDArray[np.object_]) -> Flags:
        """(K,) whether each leader (K,) runs over words, or crosses another."""
        over = self._words.near(leaders, "dwithin", CLEAR_MM)
        return over | self._leaders.near(leaders, "crosses")


class _Shapes:
    """Shapes in a tree, and those that came since it was built."""

    def __init__(self) -> None:
        self._tree = STRtree([])
        self._since: list[BaseGeometry] = []

    def add(self, shape: BaseGeometry) -> None:
        self._since.append(shape)
        if len(self._since) >= REBUILT_EVERY:
            self._tree = STRtree([*self._tree.geometries, *self._since])
            self._since = []

    def near(self, those: NDArray[np.object_], how: str, mm: float | None = None) -> Flags:
        """(K,) whether each of those (K,) stands so to any of the shapes."""
        found = np.zeros(len(those), np.bool_)
        for tree in (self._tree, STRtree(self._since)):
            if len(tree):
                found[tree.query(those, how, distance=mm)[0]] = True
        return found


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
    before = _Others(len(callouts))
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
    free_of_words: Label | None = None
    first: Label | None = None
    leaders = 0
    for low, at in _candidates(callout, places):
        high = low + np.array(_size(callout))
        first = first or Label(callout, _box(low[0], high[0]), None)
        inside = (low >= frame[:2]).all(axis=1) & (high <= frame[2:]).all(axis=1)
        grown = np.hstack([low - CLEAR_MM, high + CLEAR_MM])
        free = np.flatnonzero(inside)
        free = free[~others.meet(grown[free])]
        if not len(free):
            continue
        boxes = shapely.box(*grown[free].T)
        led_through = others.lead_through(boxes)
        free, boxes = free[~led_through], boxes[~led_through]
        wanted = np.ones(len(free), np.bool_)
        wanted[tree.query(boxes, "intersects")[0]] = False
        if free_of_words:
            free, wanted = free[wanted], wanted[wanted]
        ends = np.clip(at[free], low[free], high[free])
        led = np.hypot(*(ends - at[free]).T) >= LEADER_MM
        own = np.round(np.stack([at[free], ends], axis=1), 3)
        crossed = np.zeros(len(free), np.bool_)
        crossed[led] = others.crossed_by(shapely.linestrings(own[led]))
        for k, place in enumerate(free.tolist()):
            if not wanted[k] and free_of_words:
                continue
            leaders += bool(led[k])
            leader = _leader(own[k]) if led[k] else None
            label = Label(callout, _box(low[place], high[place]), leader)
            if leaders > MOST_LEADERS:
                return free_of_words or label
            if not crossed[k]:
                if wanted[k]:
                    return label
                free_of_words = free_of_words or label
    assert first is not None
    return free_of_words or first


def _meets(boxes: Floats, others: Floats) -> Flags:
    """(K,) whether each box (K, 4: left, top, right, low) meets any of others (4, M)."""
    if not len(boxes):
        return np.zeros(0, np.bool_)
    left, top, right, low = boxes.T
    near = (others[0] < right.max()) & (others[1] < low.max())
    near &= (others[2] > left.min()) & (others[3] > top.min())
    to_left, above, to_right, below = others[:, near]
    meets = np.less.outer(left, to_right) & np.greater.outer(right, to_left)
    meets &= np.less.outer(top, below) & np.greater.outer(low, above)
    return np.asarray(meets.any(axis=1))


def _box(low: Floats, high: Floats) -> Box:
    return float(low[0]), float(low[1]), float(high[0]), float(high[1])


def _candidates(callout: Callout, places: Sequence[Point]) -> Iterator[tuple[Floats, Floats]]:
    """Of some tiers at once, the nearest first: (K, 2) upper left corners of the words, and what
    each then names.
    """
    size = np.array(_size(callout))
    ways = np.linspace(0, 2 * math.pi, DIRECTIONS, endpoint=False)
    toward = np.column_stack([np.cos(ways), -np.sin(ways)])
    # Words to the right of their place, then above it, before those elsewhere.
    toward = toward[np.argsort(-toward[:, 0] - 0.6 * -toward[:, 1], kind="stable")]
    at = np.array(places, np.float64)
    for first, last in AT_ONCE:
        # The box touches the circle of that radius round the place.
        reach = size / 2 + np.array(TIERS[first:last])[:, None]
        scale = (reach[:, None] / np.maximum(np.abs(toward), 1e-9)).min(axis=2)
        found = at + (scale[..., None] * toward - size / 2)[:, :, None]
        yield found.reshape(-1, 2), np.tile(at, (scale.size, 1))


def _leader(ends: Floats) -> tuple[Point, Point]:
    """From a place to the nearest point of a box, by both (2, 2)."""
    (x0, y0), (x1, y1) = ends.tolist()
    return (x0, y0), (x1, y1)


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
