"""Where names stand in a drawing: clear of its lines and of each other, some with a leader."""

import math
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

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
Kind = tuple[tuple[float, float], tuple[Point, ...]]
ASCENT, DESCENT = 0.74, 0.22  # of a Helvetica letter, in its size
CLEAR_MM, SIMPLER_MM = 0.6, 0.1  # round a name
TIERS = (0.9, 2.0, 3.5, 5.5, 8.0, 11.0, 15.0, 20.0, 26.0, 34.0, 44.0)  # mm from what it names
AT_ONCE = ((0, 2), (2, 5), (5, 11))  # most find their place soon; where none is, all are tried
DIRECTIONS = 16
PART_STRETCHES = 8  # straight ones, of a line that names keep off
LOOKED_AT = (12, 60)  # of the places that are clear of words, so many first, then so many more
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


@dataclass(frozen=True)
class _Drawing:
    """A drawing's labels in the order in which they were placed, what their places depend on, and
    what stood in their way.
    """

    kinds: tuple[Kind, ...]
    labels: tuple[Label, ...]
    taken: frozenset[bytes]


class _Boxes:
    """Boxes: left, top, right, low."""

    def __init__(self, most: int) -> None:
        self._boxes = np.empty((4, most))
        self._count = 0

    def add(self, box: Box) -> None:
        self._boxes[:, self._count] = box
        self._count += 1

    def meet(self, boxes: Floats) -> Flags:
        """(K,) whether any stands in each box (K, 4)."""
        if not self._count:
            return np.zeros(len(boxes), np.bool_)
        return _meets(boxes, self._boxes[:, : self._count])


class _AsBefore:
    """What stood in a drawing before, and where it is no longer the same.

    A label depends on nothing but how large its words are, what they may name and what lies within
    its reach, so that where none of these has changed it stands where it stood.
    """

    def __init__(self, before: _Drawing, kinds: Sequence[Kind], taken: frozenset[bytes]) -> None:
        """``kinds`` in the order in which they are placed."""
        once = _once(before.kinds) & _once(kinds)
        if [each for each in before.kinds if each in once] != [
            each for each in kinds if each in once
        ]:
            once = set()  # another order: any may stand elsewhere
        shapes = shapely.from_wkb(list(before.taken ^ taken))
        changed = _Boxes(len(shapes) + len(before.labels))
        for box in shapely.bounds(shapes).tolist():
            changed.add(box)
        self._stood: dict[Kind, Label] = {}
        for kind, label in zip(before.kinds, before.labels, strict=True):
            if kind in once:
                self._stood[kind] = label
            else:
                changed.add(_reach(label))
        self._within = np.array([_within(kind) for kind in kinds]).reshape(-1, 4)
        self._near = changed.meet(self._within)
        self._anew = _Boxes(2 * len(kinds))

    def label(self, number: int, kind: Kind) -> Label | None:
        """Where the words that are placed at this number stood, if that is still their place."""
        if self._near[number] or self._anew.meet(self._within[number : number + 1])[0]:
            return None
        return self._stood.get(kind)

    def add(self, kind: Kind, label: Label) -> None:
        """A label that stands where it had to be placed anew."""
        stood = self._stood.get(kind)
        if stood is None or (label.box, label.leader) != (stood.box, stood.leader):
            for each in (label, stood) if stood else (label,):
                self._anew.add(_reach(each))


def _within(kind: Kind) -> Box:
    """The box within which words of a kind may stand."""
    (width, height), places = kind
    across, down = zip(*places, strict=True)
    wide, high = (each + TIERS[-1] + CLEAR_MM for each in (width, height))
    return min(across) - wide, min(down) - high, max(across) + wide, max(down) + high


def _once(kinds: Sequence[Kind]) -> set[Kind]:
    """Those that there are once."""
    return {each for each, count in Counter(kinds).items() if count == 1}


def _reach(label: Label) -> Box:
    """The box round a label and its leader."""
    across, down = zip(*(label.box[:2], label.box[2:], *(label.leader or ())), strict=True)
    return min(across), min(down), max(across), max(down)


class _Others(_Boxes):
    """The labels that stand already: their boxes, and these and their leaders as shapes.

    Shapes are looked up in trees, which are built anew only when there are many more than before.
    """

    def __init__(self, most: int) -> None:
        super().__init__(most)
        self._words, self._leaders = _Shapes(), _Shapes()

    def stand(self, label: Label) -> None:
        self.add(label.box)
        self._words.add(shapely.box(*label.box))
        if label.leader:
            self._leaders.add(LineString(label.leader))

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

    Each goes to the nearest free place; those with the most words choose first. Of the drawings
    last asked for it is known where all stood: what nothing has changed round is not tried again.
    """
    kinds = [(_size(each), each.places) for each in callouts]
    order = sorted(range(len(callouts)), key=lambda k: -kinds[k][0][0])
    most = max(MOST_PLACES // max(len(callouts), 1), FEWEST_PLACES)
    most = 1 << (most.bit_length() - 1)  # the same for one name more
    known, shapes = _last(frame, most), frozenset(shapely.to_wkb(taken).tolist())
    ordered = tuple(kinds[index] for index in order)
    before = _AsBefore(known[0], ordered, shapes)
    # Lines a hair simpler are found much sooner, and part by part: a long one is near all.
    tree = STRtree(_parts(taken))
    placed: dict[int, Label] = {}
    others = _Others(len(callouts))
    for number, index in enumerate(order):
        callout = callouts[index]
        label = before.label(number, kinds[index])
        if label is None:
            places = callout.places[:: -(-len(callout.places) // most)]
            label = _placed(callout, places, tree, others, frame)
            before.add(kinds[index], label)
        others.stand(label)
        placed[index] = replace(label, callout=callout)
    known[0] = _Drawing(ordered, tuple(placed.values()), shapes)  # whole, whoever else draws
    return tuple(placed[index] for index in range(len(callouts)))


@lru_cache(8)
def _last(frame: Box, most: int) -> list[_Drawing]:
    """The drawing in a frame that was last asked for, with so many places tried a name; at first an
    empty one.
    """
    return [_Drawing((), (), frozenset())]


def _parts(shapes: Sequence[BaseGeometry]) -> NDArray[np.object_]:
    """Shapes, lines in parts of PART_STRETCHES straight stretches each."""
    every = np.array(shapes, np.object_)
    are_lines = np.array([isinstance(shape, LineString) for shape in shapes], np.bool_)
    if not are_lines.any():
        return every
    simpler = shapely.simplify(every[are_lines], SIMPLER_MM, preserve_topology=False)
    points, line = shapely.get_coordinates(simpler, return_index=True)
    begins = np.append(True, line[1:] != line[:-1])
    place = np.arange(len(line)) - np.flatnonzero(begins)[np.cumsum(begins) - 1]
    # Where one part ends the next begins, so such a point is there twice.
    joint = (place % PART_STRETCHES == 0) & ~begins & ~np.roll(begins, -1)
    which = np.repeat(np.arange(len(line)), 1 + joint)
    new = begins[which] | (joint[which] & (np.diff(which, prepend=-1) == 0))
    parts = shapely.linestrings(points[which], indices=np.cumsum(new) - 1)
    return np.concatenate([np.atleast_1d(parts), every[~are_lines]])


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
        for some in np.split(free, LOOKED_AT):
            if not len(some):
                continue
            boxes = shapely.box(*grown[some].T)
            led_through = others.lead_through(boxes)
            some, boxes = some[~led_through], boxes[~led_through]
            wanted = np.ones(len(some), np.bool_)
            wanted[tree.query(boxes, "intersects")[0]] = False
            if free_of_words:
                some, wanted = some[wanted], wanted[wanted]
            ends = np.clip(at[some], low[some], high[some])
            led = np.hypot(*(ends - at[some]).T) >= LEADER_MM
            own = np.round(np.stack([at[some], ends], axis=1), 3)
            crossed = np.zeros(len(some), np.bool_)
            crossed[led] = others.crossed_by(shapely.linestrings(own[led]))
            for k, place in enumerate(some.tolist()):
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
