"""Where names stand in a drawing: clear of its lines and of each other, some with a leader."""

import itertools
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
TOGETHER = 48  # places looked at in one go
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
    # Lines a hair simpler are found much sooner.
    tree = STRtree([shape.simplify(SIMPLER_MM) for shape in taken])
    order = sorted(range(len(callouts)), key=lambda k: -_size(callouts[k])[0])
    placed: dict[int, Label] = {}
    for index in order:
        placed[index] = _placed(callouts[index], tree, list(placed.values()), frame)
    return tuple(placed[index] for index in range(len(callouts)))


def _size(callout: Callout) -> tuple[float, float]:
    width = stringWidth(callout.words, "Helvetica", callout.size)
    return width, (ASCENT + DESCENT) * callout.size


def _placed(callout: Callout, tree: STRtree, others: Sequence[Label], frame: Box) -> Label:
    low, at = _candidates(callout)
    high = low + np.array(_size(callout))
    nearest = low[0], high[0]
    left, top, right, bottom = frame
    free = (low >= [left, top]).all(axis=1) & (high <= [right, bottom]).all(axis=1)
    for label in others:
        before = np.array(label.box)
        free &= ((low - CLEAR_MM >= before[2:]) | (high + CLEAR_MM <= before[:2])).any(axis=1)
    low, high, at = low[free], high[free], at[free]
    boxes = shapely.box(*(low - CLEAR_MM).T, *(high + CLEAR_MM).T)
    words = [shapely.box(*label.box) for label in others]
    leaders = [LineString(label.leader) for label in others if label.leader]
    for k in itertools.chain(_clear_of(tree, boxes), range(len(boxes))):
        own = _leader(at[k], low[k], high[k])
        if any(boxes[k].intersects(leader) for leader in leaders) or (
            own is not None and _crosses(own, words, leaders)
        ):
            continue
        return Label(callout, _box(low[k], high[k]), own)
    return Label(callout, _box(*nearest), None)


def _clear_of(tree: STRtree, boxes: NDArray[np.object_]) -> Iterator[int]:
    """Which boxes (N,) lie on no line, the first of them first: most names need no more."""
    for start in range(0, len(boxes), TOGETHER):
        part = boxes[start : start + TOGETHER]
        on_lines = np.zeros(len(part), bool)
        on_lines[tree.query(part, "intersects")[0]] = True
        yield from (np.flatnonzero(~on_lines) + start).tolist()


def _box(low: Floats, high: Floats) -> Box:
    return float(low[0]), float(low[1]), float(high[0]), float(high[1])


def _candidates(callout: Callout) -> tuple[Floats, Floats]:
    """(K, 2) upper left corners of the words, and what each then names, the nearest first."""
    size = np.array(_size(callout))
    ways = np.linspace(0, 2 * math.pi, DIRECTIONS, endpoint=False)
    toward = np.column_stack([np.cos(ways), -np.sin(ways)])
    # Words to the right of their place, then above it, before those elsewhere.
    toward = toward[np.argsort(-toward[:, 0] - 0.6 * -toward[:, 1], kind="stable")]
    places = np.array(callout.places, np.float64)
    # The box touches the circle of that radius round the place.
    reach = size / 2 + np.array(TIERS)[:, None]
    scale = (reach[:, None] / np.maximum(np.abs(toward), 1e-9)).min(axis=2)
    steps = (scale[..., None] * toward).reshape(-1, 1, 2)
    found = places + steps - size / 2
    return found.reshape(-1, 2), np.tile(places, (len(steps), 1))


def _leader(place: Floats, low: Floats, high: Floats) -> tuple[Point, Point] | None:
    """From a place to the nearest point of a box, if that is far."""
    end = np.clip(place, low, high)
    if math.dist(place, end) < LEADER_MM:
        return None
    (x0, y0), (x1, y1) = np.round([place, end], 3).tolist()
    return (x0, y0), (x1, y1)


def _crosses(
    leader: tuple[Point, Point], words: Sequence[BaseGeometry], leaders: Sequence[BaseGeometry]
) -> bool:
    line = LineString(leader)
    return any(line.dwithin(word, CLEAR_MM) for word in words) or any(
        line.crosses(other) for other in leaders
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
