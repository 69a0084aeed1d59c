"""The shrink sheet: where the metal has to be shrunk and by how much, in bands and as a table.

The bands' colours are one hue from pale to dark, so that most shrink is the loudest and they read
in grey and for colour-blind people (C. Brewer's "Oranges" of seven, colorbrewer2.org; from memory).
"""

import math
from collections.abc import Sequence

import numpy as np
import svgwrite
from numpy.typing import NDArray
from scipy.ndimage import map_coordinates
from shapely import LineString, Polygon
from skimage.measure import find_contours
from svgwrite.container import Group

from digitize.draw.callouts import carried, tuck_callouts
from digitize.draw.placing import labels_of, place_labels
from digitize.draw.runs import ClosedRun, OpenRun
from digitize.draw.sheet import MARGIN, WIDE, Window, new_picture, new_sheet, text_of, window_on
from digitize.draw.style import CAUTION, style_of
from digitize.record import Pattern, Point
from digitize.shop import ShrinkTable, sheet_words
from digitize.shop.shrink import ShrinkRow
from digitize.take_up import ShrinkField
from digitize.units import in_both, in_thirty_seconds, length_in_words

Floats = NDArray[np.float64]
COLOURS = ("#feedde", "#fdd0a2", "#fdae6b", "#fd8d3c", "#f16913", "#d94801", "#8c2d04")
BAND_STEPS = (0.005, 0.01, 0.02, 0.025, 0.05, 0.1)
ROW_MM, FIRST_MM, KEY_MM = 5.0, 24.0, 20.0
NAME_MM = 3.2


def shrink_svg(
    pattern: Pattern, fields: Sequence[ShrinkField], tables: Sequence[ShrinkTable]
) -> str:
    """The sheet as SVG text: a map with its key, then a table for each zone, and cautions."""
    window = window_on(_shown(pattern), FIRST_MM)
    rows = sum(len(table.rows) + 4 for table in tables)
    height = max(window.bottom + KEY_MM + 8 + ROW_MM * rows + 16, 297.0)
    drawing = new_sheet(f"{pattern.name}, {pattern.side} side: shrink", height)
    _map(drawing, pattern, fields, window, (MARGIN, FIRST_MM, WIDE - MARGIN, window.bottom))
    y = window.bottom + KEY_MM + 8
    for table in tables:
        y = _table(drawing, pattern, table, y)
    drawing.add(drawing.text(CAUTION, insert=(MARGIN, height - 10), font_size=2.9))
    return text_of(drawing)


def shrink_map_svg(
    pattern: Pattern, fields: Sequence[ShrinkField], size: tuple[float, float]
) -> str:
    """The map and its key alone as SVG text, at most so many mm wide and high."""
    wide, high = size
    window = window_on(_shown(pattern), 0.5, 25.0, (0.5, wide - 0.5), high - KEY_MM - 0.5)
    drawing = new_picture("shrink", wide, window.bottom + KEY_MM)
    _map(drawing, pattern, fields, window, (0.5, 0.5, wide - 0.5, window.bottom))
    return text_of(drawing)


def _shown(pattern: Pattern) -> list[Point]:
    """Points that the map has to show."""
    near = [point for zone in pattern.zones for point in zone.boundary]
    return near + [
        pattern.line(pattern.tuck(t).slit).points[-1] for z in pattern.zones for t in z.tucks
    ]


def _map(
    drawing: svgwrite.Drawing,
    pattern: Pattern,
    fields: Sequence[ShrinkField],
    window: Window,
    frame: tuple[float, float, float, float],
) -> None:
    """The map within left, top, right and low on the sheet (mm), and its key under it."""
    left, top, right, low = frame
    step = _band_step(max(abs(zone.peak_local) for zone in pattern.zones))
    clip = drawing.clipPath(id="map")
    clip.add(drawing.rect((left, top), (right - left, round(low - top, 3))))
    drawing.defs.add(clip)
    picture = drawing.g(id="shrink", clip_path="url(#map)")
    for field in fields:
        picture.add(_bands(drawing, field, window, step))
    _lines(drawing, picture, pattern, window)
    drawing.add(picture)
    names = tuck_callouts(pattern, window.at, NAME_MM, at_tip=False)
    taken = [LineString(carried(line.path, window.at)) for line in pattern.lines]
    taken += [Polygon(carried(zone.boundary, window.at)) for zone in pattern.zones]
    drawing.add(labels_of(drawing, "names", place_labels(names, taken, frame)))
    _key(drawing, pattern, window, step, left)


def _band_step(peak: float) -> float:
    """The finest even step that does with the colours there are."""
    return next((s for s in BAND_STEPS if peak / s < len(COLOURS)), BAND_STEPS[-1])


def _bands(drawing: svgwrite.Drawing, field: ShrinkField, window: Window, step: float) -> Group:
    zone, shrink = field.zone, np.abs(field.shrink)
    group = drawing.g(id=zone.id, stroke="none")
    group.set_desc(title=f"{zone.id} {zone.kind} zone, up to {abs(zone.peak_local):.1%}")
    for index, colour in enumerate(COLOURS):
        loops = _loops(shrink, field.places, index * step)
        if loops:
            path = " ".join(_path(loop, window) for loop in loops)
            shape = drawing.path(d=path, fill=colour, fill_rule="evenodd")
            shape.update({"stroke": "#ffffff", "stroke-width": 0.15})
            group.add(shape)
    return group


def _loops(field: Floats, places: Floats, level: float) -> list[Floats]:
    """Closed lines (N, 2) round where the field is at least as high as a level."""
    padded = np.pad(field, 1, constant_values=-1e6)
    if level == 0:
        padded = np.pad(np.ones_like(field), 1, constant_values=-1e6)
    found = []
    for loop in find_contours(padded, max(level, 1e-9)):
        at = np.clip(loop - 1, 0, np.array(field.shape) - 1).T
        found.append(
            np.column_stack([map_coordinates(places[..., axis], at, order=1) for axis in (0, 1)])
        )
    return found


def _path(loop: Floats, window: Window) -> str:
    points = carried(loop, window.at).tolist()
    return "M" + " L".join(f"{x:g},{y:g}" for x, y in points) + " Z"


def _lines(drawing: svgwrite.Drawing, group: Group, pattern: Pattern, window: Window) -> None:
    """Each line over a wider white one, so that it shows on the darkest band."""
    for line in pattern.lines:
        style = style_of(line)
        points = carried(line.points, window.at)
        width = 0.5 if line.role == "trim-edge" else 0.25
        for colour, wide in (("#ffffff", width + 0.5), (style.colour, width)):
            shape = (ClosedRun if line.closed else OpenRun)(
                points, fill="none", stroke=colour, factory=drawing
            )
            shape.update({"stroke-width": wide})
            if style.dashes and colour == style.colour:
                shape.dasharray([round(dash * 0.4, 2) for dash in style.dashes])
            group.add(shape)


def _key(
    drawing: svgwrite.Drawing, pattern: Pattern, window: Window, step: float, left: float
) -> None:
    top = window.bottom + 5
    used = math.ceil(max(abs(zone.peak_local) for zone in pattern.zones) / step)
    kinds = " and ".join(dict.fromkeys(zone.kind for zone in pattern.zones))
    drawing.add(drawing.text(f"{kinds}, %", insert=(left, top + 4)))
    for index in range(min(max(used, 1), len(COLOURS))):
        x = left + 26 + 22 * index
        drawing.add(drawing.rect((x, top), (22, 5), fill=COLOURS[index]))
        drawing.add(
            drawing.text(f"{100 * index * step:g}", insert=(x, top + 9), text_anchor="middle")
        )
    first = "inches (mm)" if pattern.unit == "inch" else "mm (inches)"
    drawing.add(
        drawing.text(
            f"Beside each tuck: {first} to take out at the trim edge (- : to let in). "
            f"Scale 1 : {1 / window.scale:.1f}.",
            insert=(left, top + 14),
        )
    )


def table_title(pattern: Pattern, table: ShrinkTable) -> str:
    """What stands over a zone's table."""
    verb = "take out" if table.kind == "shrink" else "let in (-)"
    first = "inches (and mm)" if pattern.unit == "inch" else "mm (and inches)"
    return f"{table.zone}, {table.kind}: {verb}, in {first}, so far in from the trim edge"


def table_heads(pattern: Pattern, table: ShrinkTable) -> tuple[str, ...]:
    """The heads of a zone's columns."""
    depths = (_in_from_edge(pattern, each) for each in table.distances)
    after = ("sheet after",) if pattern.sheet else ()
    return ("tuck", *depths, "fades at", "over", "per 100", *after)


def table_cells(pattern: Pattern, row: ShrinkRow) -> tuple[str, ...]:
    """A tuck's cells, under ``table_heads``."""
    after = (f"{row.thickness:.2f} mm",) if row.thickness is not None else ()
    return (
        row.tuck,
        *(in_both(mm, pattern.unit) for mm in row.taken),
        _in_from_edge(pattern, row.fades),
        _in_from_edge(pattern, row.width),
        f"{100 * row.shrink:.1f}",
        *after,
    )


def table_foot(pattern: Pattern, table: ShrinkTable) -> str:
    """What stands under a zone's table."""
    total = sum(row.taken[0] for row in table.rows)
    words = f"together {length_in_words(total, pattern.unit)} at the edge"
    if pattern.sheet:
        sheet = sheet_words(pattern.sheet)
        words += f"; {sheet} before, thicker where it shrinks if it keeps its volume"
    return words


def _in_from_edge(pattern: Pattern, length: float) -> str:
    if pattern.unit == "inch":
        return f"{in_thirty_seconds(length)} in"
    return f"{length:.0f} mm"


def _table(drawing: svgwrite.Drawing, pattern: Pattern, table: ShrinkTable, top: float) -> float:
    """The table of a zone; where the next one may start."""
    drawing.add(drawing.text(table_title(pattern, table), insert=(MARGIN, top), font_weight="bold"))
    xs = [MARGIN, *(MARGIN + 12 + 23 * i for i in range(len(table.distances)))]
    xs += [xs[-1] + 24 + 14 * i for i in range(4)]
    y = top + ROW_MM
    for x, head in zip(xs, table_heads(pattern, table), strict=False):
        drawing.add(drawing.text(head, insert=(x, y), font_size=2.9, fill="#444444"))
    for row in table.rows:
        y += ROW_MM
        for x, cell in zip(xs, table_cells(pattern, row), strict=False):
            drawing.add(drawing.text(cell, insert=(x, y), font_size=2.9))
        drawing.add(
            drawing.line(
                (MARGIN, y + 1.4), (WIDE - MARGIN, y + 1.4), stroke="#cccccc", stroke_width=0.15
            )
        )
    y += ROW_MM
    drawing.add(drawing.text(table_foot(pattern, table), insert=(MARGIN, y), font_size=2.9))
    return y + 2 * ROW_MM
