"""The pattern as an SVG at true size: one user unit is one millimetre."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
import svgwrite
from reportlab.lib.utils import simpleSplit
from shapely import LineString
from shapely import Point as ShapelyPoint
from svgwrite.container import Group

from digitize.draw.callouts import (
    At,
    Number,
    carried,
    group_callouts,
    line_callouts,
    points_on,
    radius_callouts,
    tuck_callouts,
    what_is_drawn,
)
from digitize.draw.handwriting import handwriting_of
from digitize.draw.placing import Callout, labels_of, place_labels
from digitize.draw.runs import ClosedRun, Floats, OpenRun
from digitize.draw.style import (
    BLANK,
    CAUTION,
    OUTLINE,
    STYLES,
    WITHDRAWN,
    ZONE,
    ZONE_FILL,
    LineStyle,
    start_marks,
    style_of,
    styles_in,
)
from digitize.draw.title import title_fields, title_words
from digitize.plane import arrays_of
from digitize.record import Datum, Line, Pattern, Point
from digitize.shop import Blank, PunchedLine
from digitize.units import INCH_MM, length_in_words

MARGIN_MM = 10.0
FOOT_MM = 48.0
LEAST_WIDTH_MM = 350.0  # for what stands at the foot
PUNCH_MM = 2.0
START_MM = 4.0
TEXT_MM, NAME_MM = 4.5, 3.6
TIP_MM = 1.5
DATUM_MM = 25.0
AREAS = {
    "stretch": "stretch here",
    "extra-metal": "extra metal",
    "no-shrink": "no shrinking in here",
    "hatched": "hatched",
}
DRAWN_STEP_MM = 10.0  # less than tiles share: what lies between is on a neighbour
FONT = "Helvetica, Arial, sans-serif"


@dataclass(frozen=True)
class Page:
    """The sheet that a pattern is drawn on: its size (mm), and where a point comes to lie."""

    width: float
    height: float
    left: float
    top: float

    def at(self, point: tuple[Number, Number]) -> tuple[Number, Number]:
        """A point's place on the sheet, mm from its upper left corner; or many's, by columns."""
        x, y = point[0] - self.left + MARGIN_MM, self.top + MARGIN_MM - point[1]
        return np.round(x, 4), np.round(y, 4)

    def drawn(self, pattern: Pattern, blank: Blank | None) -> list[Point]:
        """Points of all that is drawn on the sheet over its foot.

        So close together that a straight edge has one on every tile that it runs over.
        """
        rings = [pattern.outline, *(zone.boundary for zone in pattern.zones)]
        rings += [blank.edge.tolist()] if blank else []
        paths = [(*ring, ring[0]) for ring in rings] + [line.path for line in pattern.lines]
        lines = shapely.segmentize([LineString(np.array(path)) for path in paths], DRAWN_STEP_MM)
        return points_on(shapely.get_coordinates(lines), self.at)


def page_for(pattern: Pattern, blank: Blank | None) -> Page:
    """The sheet that holds a pattern, its blank and what stands at the foot."""
    corners = [*pattern.outline, *(blank.edge.tolist() if blank else [])]
    left, low = (min(p[axis] for p in corners) for axis in (0, 1))
    top = max(y for _, y in corners)
    width = max(max(x for x, _ in corners) - left + 2 * MARGIN_MM, LEAST_WIDTH_MM)
    return Page(width, top - low + 2 * MARGIN_MM + FOOT_MM, left, top)


def pattern_svg(
    pattern: Pattern,
    face: str = "marked face up",
    blank: Blank | None = None,
    punched: Sequence[PunchedLine] = (),
) -> str:
    """The drawing of a pattern, as SVG text.

    Parameters
    ----------
    face : which face of the paper the drawing shows, written on it.
    blank, punched : the blank's edge and punch points, drawn if given.
    """
    page = page_for(pattern, blank)
    width, height, at = page.width, page.height, page.at
    drawing = svgwrite.Drawing(
        size=(f"{width:.3f}mm", f"{height:.3f}mm"),
        viewBox=f"0 0 {width:.3f} {height:.3f}",
        profile="full",
        debug=False,
    )
    drawing.set_desc(title=f"{pattern.name}, {pattern.side} side, {face}", desc="units: mm")
    outline = _group(drawing, "outline", OUTLINE)
    outline.add(drawing.polygon([at(p) for p in pattern.outline], id="outline-paper"))
    zones = _group(drawing, "zones", ZONE)
    for zone in pattern.zones:
        shape = drawing.polygon([at(p) for p in zone.boundary], id=zone.id)
        shape.update({"fill": ZONE_FILL})
        shape.set_desc(title=f"{zone.id} {zone.kind} zone, peak {100 * zone.peak_shrink:.1f} %")
        zones.add(shape)
    drawing.add(handwriting_of(drawing, pattern.notes, at))
    for name, style in (*STYLES.items(), ("withdrawn", WITHDRAWN)):
        members = [line for line in pattern.lines if style_of(line) == style]
        if members:
            group = _group(drawing, name, style)
            for line, points in zip(
                members, arrays_of([each.points for each in members]), strict=True
            ):
                group.add(_line(drawing, line, carried(points, at)))
    if blank:
        _group(drawing, "blank", BLANK).add(
            drawing.polygon([at((x, y)) for x, y in blank.edge.tolist()], id="blank-edge")
        )
    _told(drawing, pattern, at)
    _punches(drawing, punched, at)
    _starts(drawing, pattern, at)
    _tips(drawing, pattern, at)
    _names(drawing, pattern, page, blank, punched)
    _foot(drawing, pattern, face, height - FOOT_MM, blank, punched)
    text: str = drawing.tostring()
    return '<?xml version="1.0" encoding="utf-8"?>\n' + text + "\n"


def _group(drawing: svgwrite.Drawing, name: str, style: LineStyle) -> Group:
    group = drawing.g(
        id=name,
        fill="none",
        stroke=style.colour,
        stroke_width=style.width,
        stroke_linecap="round",
        stroke_linejoin="round",
    )
    if style.dashes:
        group.dasharray(style.dashes)
    drawing.add(group)
    return group


def _line(drawing: svgwrite.Drawing, line: Line, points: Floats) -> object:
    shape = (ClosedRun if line.closed else OpenRun)(points, id=line.id, factory=drawing)
    shape.set_desc(title=f"{line.id} {style_of(line).words}")
    return shape


def _punches(drawing: svgwrite.Drawing, punched: Sequence[PunchedLine], at: At) -> None:
    """A small cross for each punch point, counted along its line."""
    if not punched:
        return
    group = drawing.g(id="punch-points", fill="none", stroke="#000000", stroke_width=0.15)
    for line in punched:
        arm = PUNCH_MM / 2
        strokes = [
            f"M{x - arm:.4f},{y:.4f} L{x + arm:.4f},{y:.4f} "
            f"M{x:.4f},{y - arm:.4f} L{x:.4f},{y + arm:.4f}"
            for x, y in points_on(line.points, at)
        ]
        crosses = drawing.path(d=" ".join(strokes), id=f"{line.line}-punch")
        crosses.set_desc(title=f"{line.line}: {len(line.points)} punch points")
        group.add(crosses)
    drawing.add(group)


def _told(drawing: svgwrite.Drawing, pattern: Pattern, at: At) -> None:
    """Holes at their size, areas in dots, and the datum's point with its direction."""
    if not (pattern.holes or pattern.areas or pattern.datum):
        return
    group = drawing.g(id="told", fill="none", stroke="#000000", stroke_width=0.25)
    for hole in pattern.holes:
        x, y = at(hole.at)
        group.add(drawing.circle((x, y), hole.diameter / 2, id=hole.id))
        group.add(drawing.path(d=f"M{x - 1},{y} L{x + 1},{y} M{x},{y - 1} L{x},{y + 1}"))
    for area in pattern.areas:
        ring = drawing.polygon([at(p) for p in area.boundary], id=area.id)
        ring.dasharray([0.5, 2.0])
        group.add(ring)
    if pattern.datum:
        group.add(drawing.circle(at(pattern.datum.at), 1.5, id="datum"))
        group.add(drawing.line(*map(at, _datum(pattern.datum)), id="datum-direction"))
    drawing.add(group)


def _datum(datum: Datum) -> tuple[Point, Point]:
    """The datum's point, and where the line that shows its direction ends."""
    way, (x, y) = math.radians(datum.direction_deg), datum.at
    return datum.at, (x + DATUM_MM * math.cos(way), y + DATUM_MM * math.sin(way))


def _told_callouts(pattern: Pattern, at: At) -> list[Callout]:
    holes = [
        Callout(
            f"{hole.id} diameter {length_in_words(hole.diameter, pattern.unit)}", (at(hole.at),)
        )
        for hole in pattern.holes
    ]
    areas = [
        Callout(f"{area.id} {AREAS[area.use]}", tuple(at(p) for p in area.boundary))
        for area in pattern.areas
    ]
    return holes + areas + ([Callout("datum", (at(pattern.datum.at),))] if pattern.datum else [])


def _starts(drawing: svgwrite.Drawing, pattern: Pattern, at: At) -> None:
    """An arrow head at the first point of each line, from which places along it are told."""
    group = drawing.g(id="line-starts", stroke="none")
    metal = [line for line in pattern.lines if line.is_of_metal]
    for line, mark in zip(metal, start_marks(metal, START_MM), strict=True):
        head = ClosedRun(
            carried(mark, at),
            id=f"{line.id}-start",
            fill=STYLES[line.role].colour,
            factory=drawing,
        )
        head.set_desc(title=f"{line.id} starts here")
        group.add(head)
    drawing.add(group)


def _words(drawing: svgwrite.Drawing, name: str) -> Group:
    group = drawing.g(id=name, fill="#000000", stroke="none", font_family=FONT, font_size=TEXT_MM)
    drawing.add(group)
    return group


def _tips(drawing: svgwrite.Drawing, pattern: Pattern, at: At) -> None:
    marks = drawing.g(id="tuck-tips", fill="none", stroke="#000000", stroke_width=0.25)
    drawing.add(marks)
    for tuck in pattern.tucks:
        marks.add(drawing.circle(at(tuck.tip), TIP_MM, id=f"{tuck.id}-tip"))


def _names(
    drawing: svgwrite.Drawing,
    pattern: Pattern,
    page: Page,
    blank: Blank | None,
    punched: Sequence[PunchedLine],
) -> None:
    """The names of all that has one, and the radii, each clear of what is drawn."""
    at = page.at
    callouts = [
        *tuck_callouts(pattern, at, TEXT_MM, at_tip=True),
        *radius_callouts(pattern, at, TEXT_MM),
        *_told_callouts(pattern, at),
        *group_callouts(pattern, at, NAME_MM),
        *line_callouts(pattern, at, NAME_MM, marks=True),
    ]
    taken = what_is_drawn(pattern, blank, at, START_MM)
    taken += [ShapelyPoint(at(tuck.tip)).buffer(TIP_MM) for tuck in pattern.tucks]
    for line in punched:
        points = carried(line.points, at)
        taken += shapely.box(*(points - PUNCH_MM / 2).T, *(points + PUNCH_MM / 2).T).tolist()
    if pattern.datum:
        taken.append(LineString([at(p) for p in _datum(pattern.datum)]).buffer(1.5))
    frame = (2.0, 2.0, page.width - 2.0, page.height - FOOT_MM)
    group = labels_of(drawing, "names", place_labels(callouts, taken, frame))
    group.update({"font-family": FONT})
    drawing.add(group)


def _foot(
    drawing: svgwrite.Drawing,
    pattern: Pattern,
    face: str,
    top: float,
    blank: Blank | None,
    punched: Sequence[PunchedLine],
) -> None:
    """Name, key, check rules and cautions under the pattern."""
    rules = drawing.g(id="check-rules", fill="none", stroke="#000000", stroke_width=0.25)
    for row, (length, step) in enumerate(((100.0, 10.0), (4 * INCH_MM, INCH_MM))):
        y = top + 20 + 9 * row
        rules.add(drawing.line((MARGIN_MM, y), (MARGIN_MM + length, y)))
        for tick in range(round(length / step) + 1):
            x = round(MARGIN_MM + tick * step, 4)
            rules.add(drawing.line((x, y), (x, y - 3)))
    drawing.add(rules)
    words = _words(drawing, "words")
    title = f"{pattern.name} - {pattern.side} side - {face}"
    words.add(drawing.text(title, insert=(MARGIN_MM, top + 7), font_size=6))
    fields = title_fields(pattern, face, "pattern at 1 : 1, mm")
    block = title_words(fields)
    for row, part in enumerate(simpleSplit(block, "Helvetica", 3.2, LEAST_WIDTH_MM - 20)[:2]):
        words.add(drawing.text(part, insert=(MARGIN_MM, top + 38 + 4 * row), font_size=3.2))
    for row, text in enumerate(("100 mm: measure before use", "4 in")):
        words.add(drawing.text(text, insert=(MARGIN_MM + 105, top + 20 + 9 * row), font_size=3.2))
    if punched:
        count = sum(len(line.points) for line in punched)
        said = f"{count} punch points (crosses)"
        words.add(drawing.text(said, insert=(MARGIN_MM + 105, top + 12), font_size=3.2))
    words.add(drawing.text(CAUTION, insert=(MARGIN_MM, top + 46), font_size=3.2))
    key = drawing.g(id="key", fill="none")
    shown = styles_in(pattern)
    shown += [OUTLINE, *([ZONE] if pattern.zones else []), *([BLANK] if blank else [])]
    for index, style in enumerate(shown):
        x, y = MARGIN_MM + 170 + 55 * (index % 3), top + 8 + 6 * (index // 3)
        stroke = drawing.line((x, y), (x + 16, y), stroke=style.colour, stroke_width=style.width)
        if style.dashes:
            stroke.dasharray(style.dashes)
        key.add(stroke)
        words.add(drawing.text(style.words, insert=(x + 18, y + 1.1), font_size=3.2))
    drawing.add(key)
