"""A sheet to be read at the bench: a part of the pattern, made to fit, with words around it."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import svgwrite

from digitize.record import Point

FONT = "Helvetica, Arial, sans-serif"
WIDE, MARGIN, TEXT_MM = 210.0, 12.0, 3.4
HIGHEST_PICTURE = 150.0


@dataclass(frozen=True)
class Window:
    """A part of the pattern on a sheet: ``at`` carries its points (mm) there; scale is to 1."""

    at: Callable[[Point], Point]
    scale: float
    bottom: float


def window_on(points: Sequence[Point], top: float, spare: float = 25.0) -> Window:
    """The window that shows all of some points, with so many mm to spare."""
    low = [min(p[axis] for p in points) - spare for axis in (0, 1)]
    high = [max(p[axis] for p in points) + spare for axis in (0, 1)]
    scale = min((WIDE - 2 * MARGIN) / (high[0] - low[0]), HIGHEST_PICTURE / (high[1] - low[1]))

    def at(point: Point) -> Point:
        x, y = MARGIN + scale * (point[0] - low[0]), top + scale * (high[1] - point[1])
        return round(x, 3), round(y, 3)

    return Window(at, scale, top + scale * (high[1] - low[1]))


def new_sheet(title: str, height: float) -> svgwrite.Drawing:
    """An empty white sheet with a title, mm."""
    drawing = svgwrite.Drawing(
        size=(f"{WIDE:g}mm", f"{height:.1f}mm"),
        viewBox=f"0 0 {WIDE:g} {height:.1f}",
        profile="full",
        debug=False,
        font_family=FONT,
        font_size=TEXT_MM,
    )
    drawing.set_desc(title=title)
    drawing.add(drawing.rect((0, 0), (WIDE, height), fill="#ffffff"))
    drawing.add(drawing.text(title, insert=(MARGIN, MARGIN + 2), font_size=5.5))
    return drawing


def text_of(drawing: svgwrite.Drawing) -> str:
    """The drawing as the text of an SVG file."""
    text: str = drawing.tostring()
    return '<?xml version="1.0" encoding="utf-8"?>\n' + text + "\n"
