"""The pattern made to fit a page: its lines, bands and blank, each with its name."""

from shapely import LineString

from digitize.draw.callouts import (
    carried,
    group_callouts,
    line_callouts,
    points_on,
    radius_callouts,
    tuck_callouts,
    what_is_drawn,
)
from digitize.draw.handwriting import handwriting_of
from digitize.draw.placing import labels_of, place_labels
from digitize.draw.sheet import new_picture, text_of, window_on
from digitize.draw.style import BLANK, OUTLINE, STYLES, start_marks, style_of
from digitize.record import Pattern
from digitize.shop import Blank

START_MM = 1.6  # on the sheet
RIM_MM = 9.0  # round the drawing, for names
NAME_MM = 3.0
FINE_MM = 0.02  # a line's points are as many as a print can show


def plan_svg(pattern: Pattern, blank: Blank | None, size: tuple[float, float]) -> str:
    """The picture as SVG text, at most so many mm wide and high."""
    corners = [*pattern.outline, *([(x, y) for x, y in blank.edge.tolist()] if blank else [])]
    wide, high = size
    window = window_on(corners, RIM_MM, 0.0, (RIM_MM, wide - RIM_MM), high - 2 * RIM_MM)
    height = window.bottom + RIM_MM
    drawing = new_picture(f"{pattern.name}, {pattern.side} side", wide, height)
    group = drawing.g(id="pattern", fill="none")
    group.add(drawing.polygon([window.at(p) for p in pattern.outline], stroke=OUTLINE.colour))
    if blank:
        edge = [window.at((x, y)) for x, y in blank.edge.tolist()]
        group.add(drawing.polygon(edge, stroke=BLANK.colour, stroke_dasharray="2.5,0.8"))
    drawing.add(handwriting_of(drawing, pattern.notes, window.at))
    for line in pattern.lines:
        style = style_of(line)
        path = LineString(carried(line.path, window.at)).simplify(FINE_MM)
        shape = drawing.polyline(list(path.coords), stroke=style.colour)
        if style.dashes:
            shape.dasharray([round(0.3 * dash, 2) for dash in style.dashes])
        group.add(shape)
    group.update({"stroke-width": 0.25})
    drawing.add(group)
    start_mm = START_MM / window.scale
    metal = [line for line in pattern.lines if line.is_of_metal]
    for line, head in zip(metal, start_marks(metal, start_mm), strict=True):
        drawing.add(drawing.polygon(points_on(head, window.at), fill=STYLES[line.role].colour))
    names = [
        *radius_callouts(pattern, window.at, NAME_MM),
        *tuck_callouts(pattern, window.at, NAME_MM, at_tip=False),
        *group_callouts(pattern, window.at, NAME_MM),
        *line_callouts(pattern, window.at, NAME_MM, marks=False),
    ]
    taken = what_is_drawn(pattern, blank, window.at, start_mm)
    labels = place_labels(names, taken, (0.5, 0.5, wide - 0.5, height - 0.5))
    drawing.add(labels_of(drawing, "names", labels))
    return text_of(drawing)
