"""A sheet to be read at the bench: a part of the pattern, made to fit, with words around it."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import svgwrite

from digitize.draw.callouts import At, Number
from digitize.record import Point

FONT = "Helvetica, Arial, sans-serif"
WIDE, MARGIN, TEXT_MM = 210.0, 12.0, 3.4
HIGHEST_PICTURE = 150.0


@dataclass(frozen=True)
class Window:
    """A part of the pattern on a sheet: ``at`` carries its points (mm) there; scale is to 1."""

    at: At
    scale: float
    bottom: float


def window_on(
    points: Sequence[Point],
    top: float,
    spare: float = 25.0,
    across: tuple[float, float] = (MARGIN, WIDE - MARGIN),
    highest: float = HIGHEST_PICTURE,
) -> Window:
    """The window that shows all of some points, with so many mm to spare.

    Parameters
    ----------
    top : where it begins on the sheet, mm.
    across : from where to where it may reach on the sheet, mm; it lies in the middle.
    highest : how high it may be there, mm.
    """
    low = [min(p[axis] for p in points) - spare for axis in (0, 1)]
    high = [max(p[axis] for p in points) + spare for axis in (0, 1)]
    scale = min((across[1] - across[0]) / (high[0] - low[0]), highest / (high[1] - low[1]))
    left = (across[0] + across[1] - scale * (high[0] - low[0])) / 2

    def at(point: tuple[Number, Number]) -> tuple[Number, Number]:
        x, y = left + scale * (point[0] - low[0]), top + scale * (high[1] - point[1])
        return np.round(x, 3), np.round(y, 3)

    return Window(at, scale, top + scale * (high[1] - low[1]))


def new_sheet(title: str, height: float) -> svgwrite.Drawing:
    """An empty white sheet with a title, mm."""
    drawing = new_picture(title, WIDE, height)
    drawing.add(drawing.text(title, insert=(MARGIN, MARGIN + 2), font_size=5.5))
    return drawing


def new_picture(title: str, width: float, height: float) -> svgwrite.Drawing:
    """An empty white drawing of that size, mm."""
    drawing = svgwrite.Drawing(
        size=(f"{width:g}mm", f"{height:.1f}mm"),
        viewBox=f"0 0 {width:g} {height:.1f}",
        profile="full",
        debug=False,
        font_family=FONT,
        font_size=TEXT_MM,
    )
    drawing.set_desc(title=title)
    drawing.add(drawing.rect((0, 0), (width, height), fill="#ffffff"))
    return drawing


def text_of(drawing: svgwrite.Drawing) -> str:
    """The drawing as the text of an SVG file."""
    text: str = drawing.tostring()
    return '<?xml version="1.0" encoding="utf-8"?>\n' + text + "\n"
