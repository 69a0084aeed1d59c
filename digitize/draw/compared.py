"""Two patterns laid on each other, with their differences drawn many times larger."""

import math
import textwrap
from collections.abc import Sequence
from itertools import pairwise
from typing import NamedTuple

import numpy as np
import svgwrite
from numpy.typing import NDArray

from digitize.compare import Comparison, LineDeviation, Verdict, about_growth, standing
from digitize.draw.sheet import MARGIN, WIDE, Window, new_sheet, text_of, window_on
from digitize.draw.style import STYLES
from digitize.record import OPPOSITE

Floats = NDArray[np.float64]
FACTORS = (1, 2, 5, 10, 20, 50, 100)
DRAWN_MM = 7.0  # on the sheet, about what the largest difference is drawn as
HAIRS_EVERY = 10
TEXT, LINE_MM = 3.2, 4.6
MOST_REASONS = 6
TOP, NAME_MM, SPARE_MM = 30.0, 6.0, 25.0
OURS, CORRIDOR = "#777777", "#efefef"


class _Look(NamedTuple):
    words: str
    colour: str
    width: float
    dashes: tuple[float, ...]


LOOKS = (
    _Look("within the tolerance", STYLES["radius-start"].colour, 0.35, ()),
    _Look("cannot tell", "#e69f00", 0.5, (1.6, 0.8)),
    _Look("beyond it, without doubt", STYLES["trim-edge"].colour, 0.9, ()),
)


def compared_svg(comparison: Comparison, verdict: Verdict, tolerance_mm: float) -> str:
    """The picture as SVG text, mm: our lines, the other's differences, the verdict and a scale."""
    reasons = [
        part for reason in verdict.reasons[:MOST_REASONS] for part in textwrap.wrap(reason, 104)
    ]
    top = TOP + LINE_MM * len(reasons)
    everything = [(float(x), float(y)) for each in comparison.deviations for x, y in each.points]
    window = window_on(everything, top, SPARE_MM)
    factor = _factor(comparison, tolerance_mm, window.scale)
    height = window.bottom + 40
    ours, other = comparison.pattern, comparison.other
    drawing = new_sheet(f"{ours.name}, {ours.side} side: {verdict.says}", height)
    side = (
        f"{OPPOSITE[other.side]} side, flipped over" if comparison.mirror else f"{other.side} side"
    )
    against = f"against {other.name}, {side}; tolerance {tolerance_mm:.2g} mm"
    head = [against, *([about_growth(comparison.growth)] if comparison.growth else []), *reasons]
    for row, words in enumerate(head):
        y = MARGIN + 8 + LINE_MM * row
        drawing.add(drawing.text(words, insert=(MARGIN, y), font_size=TEXT))
    for each in comparison.deviations:
        _corridor(drawing, each, window, factor * tolerance_mm)
    for each in comparison.deviations:
        _line(drawing, each, window, factor, comparison.accuracy_mm, tolerance_mm)
    for each in comparison.deviations:
        middle = len(each.points) // 2
        away = NAME_MM if each.role == "trim-edge" else -NAME_MM
        place = each.points[middle] + away / window.scale * each.normals[middle]
        x, y = window.at(_point(place))
        drawing.add(drawing.text(each.line, insert=(x - 2, y + 1), font_size=2.6, fill="#444444"))
    _key(drawing, window, factor, height - 32)
    return text_of(drawing)


def _factor(comparison: Comparison, tolerance_mm: float, scale: float) -> int:
    """How many times larger differences are drawn."""
    offs = np.abs(np.concatenate([each.off for each in comparison.deviations]))
    offs = offs[np.isfinite(offs)]
    largest = max(float(np.quantile(offs, 0.98)) if len(offs) else 0.0, tolerance_mm)
    return max((each for each in FACTORS if each * largest * scale <= DRAWN_MM), default=1)


def _point(place: Floats) -> tuple[float, float]:
    return float(place[0]), float(place[1])


def _path(window: Window, places: Floats) -> list[tuple[float, float]]:
    return [window.at(_point(place)) for place in places]


def _corridor(
    drawing: svgwrite.Drawing, deviation: LineDeviation, window: Window, half: float
) -> None:
    """What is within the tolerance, as large as the differences are drawn."""
    points, normals = deviation.points, deviation.normals
    edge = np.concatenate([points + half * normals, (points - half * normals)[::-1]])
    drawing.add(drawing.polygon(_path(window, edge), fill=CORRIDOR, stroke="none"))


def _line(
    drawing: svgwrite.Drawing,
    deviation: LineDeviation,
    window: Window,
    factor: int,
    accuracy_mm: float,
    tolerance_mm: float,
) -> None:
    """Our line, hairs from it to the other's, and the other's, by what can be said of it."""
    group = drawing.g(id=deviation.line, fill="none", stroke_linecap="round")
    drawing.add(group)
    group.add(drawing.polyline(_path(window, deviation.points), stroke=OURS, stroke_width=0.2))
    off = np.nan_to_num(deviation.off)
    drawn = deviation.points + factor * off[:, None] * deviation.normals
    stands = standing(deviation, accuracy_mm, tolerance_mm)
    for index in range(0, len(off), HAIRS_EVERY):
        if stands[index] >= 0:
            ends = _path(window, np.stack([deviation.points[index], drawn[index]]))
            group.add(drawing.line(*ends, stroke=LOOKS[stands[index]].colour, stroke_width=0.12))
    for run, look in _runs(stands):
        stroke = drawing.polyline(
            _path(window, drawn[run]), stroke=look.colour, stroke_width=look.width
        )
        if look.dashes:
            stroke.dasharray(list(look.dashes))
        group.add(stroke)


def _runs(stands: NDArray[np.int64]) -> list[tuple[NDArray[np.int64], _Look]]:
    """Stretches that stand alike, each with one place more, so that they join."""
    cuts = [0, *(np.flatnonzero(np.diff(stands)) + 1).tolist(), len(stands)]
    return [
        (np.arange(first, min(last + 1, len(stands))), LOOKS[stands[first]])
        for first, last in pairwise(cuts)
        if stands[first] >= 0
    ]


def _key(drawing: svgwrite.Drawing, window: Window, factor: int, top: float) -> None:
    bar = factor * window.scale
    length = 1.0 if bar > 2.5 else 10.0 ** math.ceil(math.log10(2.5 / bar))
    words = (
        f"{length:g} mm of difference; differences are drawn {factor} times larger than the "
        "pattern, outwards and inwards from its middle"
    )
    x, right = MARGIN, MARGIN + bar * length
    ticks = [((at, top - 1), (at, top + 1)) for at in (x, right)]
    for ends in (((x, top), (right, top)), *ticks):
        drawing.add(drawing.line(*ends, stroke="#000000", stroke_width=0.25))
    drawing.add(drawing.text(words, insert=(right + 3, top + 1), font_size=TEXT))
    row = top + 9
    step = (WIDE - 2 * MARGIN) / 4
    entries: Sequence[tuple[str, str, float, tuple[float, ...]]] = (
        ("this pattern", OURS, 0.2, ()),
        *LOOKS,
    )
    for index, (name, colour, width, dashes) in enumerate(entries):
        left = MARGIN + index * step
        stroke = drawing.line((left, row), (left + 8, row), stroke=colour, stroke_width=width)
        if dashes:
            stroke.dasharray(list(dashes))
        drawing.add(stroke)
        drawing.add(drawing.text(name, insert=(left + 10, row + 1), font_size=2.8))
    drawing.add(drawing.rect((MARGIN, row + 5), (8, 4), fill=CORRIDOR))
    drawing.add(
        drawing.text(
            "the tolerance. No coloured line: no counterpart, or slits in other places.",
            insert=(MARGIN + 10, row + 8),
            font_size=2.8,
        )
    )
