"""The pattern as an SVG at true size: one user unit is one millimetre."""

from collections.abc import Callable, Sequence

import svgwrite
from svgwrite.container import Group

from digitize.draw.style import CAUTION, OUTLINE, STYLES, ZONE, LineStyle, beyond_tip
from digitize.pattern import Line, Pattern, Point

MARGIN_MM = 10.0
FOOT_MM = 48.0
TEXT_MM = 4.5
LABEL_GAP_MM = 12.0
FONT = "Helvetica, Arial, sans-serif"


def pattern_svg(pattern: Pattern, face: str = "marked face up") -> str:
    """The drawing of a pattern, as SVG text.

    Parameters
    ----------
    face : which face of the paper the drawing shows, written on it.
    """
    width = max(x for x, _ in pattern.outline) + 2 * MARGIN_MM
    top = max(y for _, y in pattern.outline)
    height = top + 2 * MARGIN_MM + FOOT_MM
    drawing = svgwrite.Drawing(
        size=(f"{width:.3f}mm", f"{height:.3f}mm"),
        viewBox=f"0 0 {width:.3f} {height:.3f}",
        profile="full",
        debug=False,
    )
    drawing.set_desc(title=f"{pattern.name}, {pattern.side} side, {face}", desc="units: mm")

    def at(point: Point) -> Point:
        return round(point[0] + MARGIN_MM, 4), round(top + MARGIN_MM - point[1], 4)

    outline = _group(drawing, "outline", OUTLINE)
    outline.add(drawing.polygon([at(p) for p in pattern.outline], id="outline-paper"))
    zones = _group(drawing, "zones", ZONE)
    for zone in pattern.zones:
        shape = drawing.polygon([at(p) for p in zone.boundary], id=zone.id)
        shape.update({"fill": ZONE.colour, "fill-opacity": 0.15})
        shape.set_desc(title=f"{zone.id} {zone.kind} zone, peak {100 * zone.peak_shrink:.1f} %")
        zones.add(shape)
    for role, style in STYLES.items():
        members = [line for line in pattern.lines if line.role == role]
        if members:
            group = _group(drawing, role, style)
            for line in members:
                group.add(_line(drawing, line, [at(p) for p in line.points]))
    _tucks(drawing, pattern, at)
    _labels(drawing, pattern, at)
    _foot(drawing, pattern, face, height - FOOT_MM)
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


def _line(drawing: svgwrite.Drawing, line: Line, points: Sequence[Point]) -> object:
    shape = (drawing.polygon if line.closed else drawing.polyline)(points, id=line.id)
    shape.set_desc(title=f"{line.id} {STYLES[line.role].words}")
    return shape


def _words(drawing: svgwrite.Drawing, name: str) -> Group:
    group = drawing.g(id=name, fill="#000000", stroke="none", font_family=FONT, font_size=TEXT_MM)
    drawing.add(group)
    return group


def _tucks(drawing: svgwrite.Drawing, pattern: Pattern, at: Callable[[Point], Point]) -> None:
    marks = drawing.g(id="tuck-tips", fill="none", stroke="#000000", stroke_width=0.25)
    drawing.add(marks)
    words = _words(drawing, "tucks")
    for tuck in pattern.tucks:
        marks.add(drawing.circle(at(tuck.tip), 1.5, id=f"{tuck.id}-tip"))
        x, y = at(beyond_tip(pattern, tuck, LABEL_GAP_MM))
        words.add(
            drawing.text(
                f"{tuck.id} {tuck.lap_at_trim:.1f} mm",
                insert=(round(x, 3), round(y + TEXT_MM / 3, 3)),
                text_anchor="middle",
            )
        )


def _labels(drawing: svgwrite.Drawing, pattern: Pattern, at: Callable[[Point], Point]) -> None:
    words = _words(drawing, "line-names")
    words.update({"font-size": 3.2})
    for line in pattern.lines:
        if line.role not in ("slit", "crease", "lap"):
            x, y = at(line.points[len(line.points) // 2])
            words.add(
                drawing.text(line.id, insert=(x + 1.2, y - 1.2), fill=STYLES[line.role].colour)
            )
    notes = drawing.g(id="notes", fill="none", stroke="#7a7a7a", stroke_width=0.2)
    for note in pattern.notes:
        x, y = at((note.box[0], note.box[3]))
        size = (round(note.box[2] - note.box[0], 3), round(note.box[3] - note.box[1], 3))
        notes.add(drawing.rect((x, y), size, id=note.id))
    drawing.add(notes)


def _foot(drawing: svgwrite.Drawing, pattern: Pattern, face: str, top: float) -> None:
    """Name, key, check rules and cautions under the pattern."""
    rules = drawing.g(id="check-rules", fill="none", stroke="#000000", stroke_width=0.25)
    for row, (length, step) in enumerate(((100.0, 10.0), (101.6, 25.4))):
        y = top + 20 + 9 * row
        rules.add(drawing.line((MARGIN_MM, y), (MARGIN_MM + length, y)))
        for tick in range(round(length / step) + 1):
            x = round(MARGIN_MM + tick * step, 4)
            rules.add(drawing.line((x, y), (x, y - 3)))
    drawing.add(rules)
    words = _words(drawing, "words")
    title = f"{pattern.name} - {pattern.side} side - {face}"
    words.add(drawing.text(title, insert=(MARGIN_MM, top + 7), font_size=6))
    for row, text in enumerate(("100 mm: measure before use", "4 in")):
        words.add(drawing.text(text, insert=(MARGIN_MM + 105, top + 20 + 9 * row), font_size=3.2))
    words.add(drawing.text(CAUTION, insert=(MARGIN_MM, top + 41), font_size=3.2))
    key = drawing.g(id="key", fill="none")
    used = {line.role for line in pattern.lines}
    shown = [style for role, style in STYLES.items() if role in used]
    for index, style in enumerate([*shown, OUTLINE, *([ZONE] if pattern.zones else [])]):
        x, y = MARGIN_MM + 170 + 55 * (index % 3), top + 16 + 6 * (index // 3)
        stroke = drawing.line((x, y), (x + 16, y), stroke=style.colour, stroke_width=style.width)
        if style.dashes:
            stroke.dasharray(style.dashes)
        key.add(stroke)
        words.add(drawing.text(style.words, insert=(x + 18, y + 1.1), font_size=3.2))
    drawing.add(key)
