"""How each kind of line looks in every drawing: a colour, and a dash pattern that reads in grey.

The hues are those of a published palette that colour-blind people can tell apart (M. Okabe and K.
Ito, "Color Universal Design", 2008), darkened until thin lines and words in them stand out by 4.5
to 1 from white paper and from a zone's fill (WCAG 2.2, success criterion 1.4.3).
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from digitize.plane import arrays_of, lines_through
from digitize.record import Line, Pattern, Role

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class LineStyle:
    """Colour (#rrggbb), stroke width in mm, dash lengths in mm (none: solid), and plain words."""

    colour: str
    width: float
    dashes: tuple[float, ...]
    words: str


STYLES: dict[Role, LineStyle] = {
    "trim-edge": LineStyle("#b34e00", 0.5, (), "trim edge"),
    "radius-start": LineStyle("#004c80", 0.35, (8.0, 2.0), "radius start"),
    "radius-end": LineStyle("#0e69ae", 0.35, (8.0, 2.0, 1.5, 2.0), "radius end"),
    "form": LineStyle("#007a5a", 0.35, (), "form line"),
    "lap": LineStyle("#a8437b", 0.35, (3.0, 1.5), "lap line"),
    "slit": LineStyle("#000000", 0.35, (), "slit"),
    "crease": LineStyle("#666666", 0.35, (1.0, 1.5), "crease"),
    "unknown": LineStyle("#7a5c00", 0.35, (), "line of unknown role"),
}
WITHDRAWN = LineStyle("#6e6e6e", 0.35, (0.5, 2.0), "struck out")
HATCHED = LineStyle("#666666", 0.25, (0.5, 2.0), "hatched")
OUTLINE = LineStyle("#6e6e6e", 0.25, (), "edge of the paper")
CONTOUR = LineStyle("#845aa2", 0.25, (), "true to so many mm")
BLANK = LineStyle("#000000", 0.3, (12.0, 3.0), "edge of the blank")
ZONE = LineStyle("#8a5c00", 0.35, (4.0, 2.0), "shrink zone")
UNSEEN = LineStyle("#c2185b", 0.35, (), "pencil not seen")
ZONE_FILL = "#fbf0d9"  # pale, so that lines and words on it stay plain in black and white
CAUTION = (
    "Gloves for sharp edges, eye protection, try a scrap first. Structural or roadworthiness "
    "parts: local codes and licensed practice."
)


def style_of(line: Line) -> LineStyle:
    """How a line looks: by its role, or as one that was struck out."""
    return WITHDRAWN if line.withdrawn else STYLES[line.role]


def styles_in(pattern: Pattern) -> list[LineStyle]:
    """How the lines of a pattern look, each look once, as a key has them."""
    used = {style_of(line) for line in pattern.lines}
    return [style for style in (*STYLES.values(), WITHDRAWN) if style in used]


def start_marks(lines: Sequence[Line], size: float) -> Floats:
    """(K, 3, 2) a small arrow head at each line's first point, so many mm long, pointing the way it
    runs.

    Places along a line are told from there.
    """
    paths = arrays_of([line.path for line in lines])
    if not paths:
        return np.empty((0, 3, 2))
    runs = lines_through(paths)
    ahead = shapely.line_interpolate_point(runs, np.minimum(2 * size, shapely.length(runs)))
    first = np.array([path[0] for path in paths])
    away = shapely.get_coordinates(ahead) - first
    length = np.hypot(*away.T)
    along = away / np.where(length > 0, length, 1.0)[:, None]
    side = 0.35 * size * np.column_stack([-along[:, 1], along[:, 0]])
    return np.stack([first + size * along, first + side, first - side], axis=1)
