"""The shrink sheet: where the metal has to be shrunk and by how much, in bands and as a table.

The bands' colours run from pale to dark, so that they read in grey and for colour-blind people
(J. Nunez, C. Anderton and R. Renslow, "Optimizing colormaps with consideration for color vision
deficiency", PLoS ONE 13, 2018).
"""

import math
from collections.abc import Sequence

import numpy as np
import svgwrite
from numpy.typing import NDArray
from scipy.ndimage import map_coordinates
from skimage.measure import find_contours
from svgwrite.container import Group

from digitize.draw.sheet import MARGIN, WIDE, Window, new_sheet, text_of, window_on
from digitize.draw.style import CAUTION, style_of
from digitize.record import Pattern, Point
from digitize.shop import ShrinkTable, sheet_words
from digitize.take_up import ShrinkField
from digitize.units import in_both, in_thirty_seconds

Floats = NDArray[np.float64]
COLOURS = ("#fee838", "#d3c164", "#a59c74", "#7c7b78", "#575d6d", "#233e6c", "#00224e")
BAND_STEPS = (0.005, 0.01, 0.02, 0.025, 0.05, 0.1)
ROW_MM, FIRST_MM = 5.0, 24.0


def shrink_svg(
    pattern: Pattern, fields: Sequence[ShrinkField], tables: Sequence[ShrinkTable]
) -> str:
    """The sheet as SVG text: a map with its key, then a table for each zone, and cautions."""
    near = [point for zone in pattern.zones for point in zone.boundary]
    near += [_past_edge(pattern, pattern.tuck(t).slit) for z in pattern.zones for t in z.tucks]
    window = window_on(near, FIRST_MM)
    rows = sum(len(table.rows) + 4 for table in tables)
    height = max(window.bottom + 26 + ROW_MM * rows + 16, 297.0)
    drawing = new_sheet(f"{pattern.name}, {pattern.side} side: shrink", height)
    step = _band_step(max(abs(zone.peak_local) for zone in pattern.zones))
    clip = drawing.clipPath(id="map")
    clip.add(
        drawing.rect((MARGIN, FIRST_MM), (WIDE - 2 * MARGIN, round(window.bottom - FIRST_MM, 3)))
    )
    drawing.defs.add(clip)
    picture = drawing.g(id="shrink", clip_path="url(#map)")
    for field in fields:
        picture.add(_bands(drawing, field, window, step))
    _lines(drawing, picture, pattern, window)
    drawing.add(picture)
    _key(drawing, pattern, window, step)
    y = window.bottom + 26
    for table in tables:
        y = _table(drawing, pattern, table, y)
    drawing.add(drawing.text(CAUTION, insert=(MARGIN, height - 10), font_size=2.9))
    return text_of(drawing)


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
    points = (window.at((float(x), float(y))) for x, y in loop)
    return "M" + " L".join(f"{x:g},{y:g}" for x, y in points) + " Z"


def _lines(drawing: svgwrite.Drawing, group: Group, pattern: Pattern, window: Window) -> None:
    for line in pattern.lines:
        style = style_of(line)
        shape = (drawing.polygon if line.closed else drawing.polyline)(
            [window.at(p) for p in line.points], fill="none", stroke=style.colour
        )
        shape.update({"stroke-width": 0.5 if line.role == "trim-edge" else 0.25})
        if style.dashes:
            shape.dasharray([round(dash * 0.4, 2) for dash in style.dashes])
        group.add(shape)
    for tuck in pattern.tucks:
        if tuck.profile:
            x, y = window.at(_past_edge(pattern, tuck.slit))
            words = f"{tuck.id} {tuck.lap_at_trim:.1f}"
            group.add(
                drawing.text(
                    words,
                    insert=(x, round(y + 1.2, 3)),
                    text_anchor="middle",
                    stroke="#ffffff",
                    stroke_width=0.9,
                    font_size=3.2,
                )
            )
            group.add(
                drawing.text(
                    words, insert=(x, round(y + 1.2, 3)), text_anchor="middle", font_size=3.2
                )
            )


def _past_edge(pattern: Pattern, slit: str) -> Point:
    """A place for a tuck's figure: just beyond the paper's edge."""
    points = pattern.line(slit).points
    (x0, y0), (x1, y1) = points[max(len(points) - 20, 0)], points[-1]
    length = math.hypot(x1 - x0, y1 - y0) or 1.0
    return x1 + 9 * (x1 - x0) / length, y1 + 9 * (y1 - y0) / length


def _key(drawing: svgwrite.Drawing, pattern: Pattern, window: Window, step: float) -> None:
    top = window.bottom + 5
    used = math.ceil(max(abs(zone.peak_local) for zone in pattern.zones) / step)
    kinds = " and ".join(dict.fromkeys(zone.kind for zone in pattern.zones))
    drawing.add(drawing.text(f"{kinds}, %", insert=(MARGIN, top + 4)))
    for index in range(min(max(used, 1), len(COLOURS))):
        x = MARGIN + 26 + 22 * index
        drawing.add(drawing.rect((x, top), (22, 5), fill=COLOURS[index]))
        drawing.add(
            drawing.text(f"{100 * index * step:g}", insert=(x, top + 9), text_anchor="middle")
        )
    drawing.add(
        drawing.text(
            "Beside each tuck: mm to take out at the trim edge (- : to let in). "
            f"Scale 1 : {1 / window.scale:.1f}.",
            insert=(MARGIN, top + 15),
        )
    )


def _table(drawing: svgwrite.Drawing, pattern: Pattern, table: ShrinkTable, top: float) -> float:
    """The table of a zone; where the next one may start."""
    verb = "take out" if table.kind == "shrink" else "let in (-)"
    sheet = pattern.sheet
    title = f"{table.zone}, {table.kind}: {verb}, in mm (and inches), so far in from the trim edge"
    drawing.add(drawing.text(title, insert=(MARGIN, top), font_weight="bold"))
    heads = [
        "tuck",
        *(f"{distance:.0f} mm" for distance in table.distances),
        "fades at",
        "over",
        "per 100",
        "sheet after" if sheet else "",
    ]
    xs = [MARGIN, *(MARGIN + 12 + 21 * i for i in range(len(table.distances)))]
    xs += [xs[-1] + 22 + 15 * i for i in range(4)]
    y = top + ROW_MM
    for x, head in zip(xs, heads, strict=True):
        drawing.add(drawing.text(head, insert=(x, y), font_size=2.9, fill="#444444"))
    for row in table.rows:
        y += ROW_MM
        taken = [in_both(mm) for mm in row.taken]
        cells = [
            row.tuck,
            *taken,
            f"{row.fades:.0f} mm",
            f"{row.width:.0f} mm",
            f"{100 * row.shrink:.1f} mm",
            f"{row.thickness:.2f} mm" if row.thickness is not None else "",
        ]
        for x, cell in zip(xs, cells, strict=True):
            drawing.add(drawing.text(cell, insert=(x, y), font_size=2.9))
        drawing.add(
            drawing.line(
                (MARGIN, y + 1.4), (WIDE - MARGIN, y + 1.4), stroke="#cccccc", stroke_width=0.15
            )
        )
    total = sum(row.taken[0] for row in table.rows)
    y += ROW_MM
    words = f"together {total:.1f} mm ({in_thirty_seconds(total)} in) at the edge"
    if sheet:
        words += f"; {sheet_words(sheet)} before, thicker where it shrinks if it keeps its volume"
    drawing.add(drawing.text(words, insert=(MARGIN, y), font_size=2.9))
    return y + 2 * ROW_MM
