"""The form sheet: three views and a shaded one, sizes, before and after, and how it holds."""

import base64
import io
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import svgwrite
from numpy.typing import NDArray
from PIL import Image
from reportlab.lib.utils import simpleSplit
from shapely import MultiPolygon, Polygon, polygons, unary_union

from digitize.draw.sheet import MARGIN, WIDE, new_sheet, text_of
from digitize.draw.style import CAUTION, STYLES
from digitize.draw.title import title_fields, title_words
from digitize.form import FRONT, RIGHT, TOP, Check, Flow, FormLine, Length, Sizes, View
from digitize.plane import cross
from digitize.record import Pattern
from digitize.units import Unit, length_in_words

Floats = NDArray[np.float64]
Pixels = NDArray[np.uint8]
HIGH, TEXT, ROW = 297.0, 2.8, 4.1
SCALES = (1, 2, 2.5, 4, 5, 8, 10, 15, 20, 25, 50)
GAP, FOOT = 8.0, 53.0
LOWEST = HIGH - 8 - 4 * ROW  # above the title block
MAP_MM, FLOW_MM = 95.0, 46.0  # how high the strain map with its words, and a flow, may be
LEAST_MM2 = 0.05  # of a triangle seen from the edge
METAL, PALE, HEAD = "#d9dee4", "#ecdbb8", "#444444"
STEPS = ((0.001, "#f2f2f2"), (0.002, "#fde8b0"), (0.005, "#f6b26b"), (np.inf, "#c0504d"))


@dataclass(frozen=True)
class ShownForm:
    """What the form sheet shows, places in the frame that the sizes are of, mm.

    Attributes
    ----------
    pattern : of the side that is shown; face : which face of the paper is drawn.
    places, triangles, open : the form; paper : (V, 2) its corners on the paper.
    picture, per_mm : the shaded view, and its pixels per mm.
    lies : how it lies, in words.
    within_95 : that half of its places lie within, and nearly all; None if it does not hold.
    """

    pattern: Pattern
    face: str
    places: Floats
    triangles: NDArray[np.int64]
    paper: Floats
    open: NDArray[np.bool_]
    lines: tuple[FormLine, ...]
    picture: Pixels
    per_mm: float
    sizes: Sizes
    lies: str
    within_95: tuple[float, float] | None


def form_sheets(shown: ShownForm, lengths: Sequence[Length], check: Check) -> list[str]:
    """The pages, as SVG: the views, then lengths before and after, and whether it holds."""
    pages = [_seen(shown), *_held(shown, lengths, check)]
    for number, page in enumerate(pages, 1):
        _foot(page, shown, f"{number} of {len(pages)}")
    return [text_of(page) for page in pages]


def _seen(shown: ShownForm) -> svgwrite.Drawing:
    """The first page: views at one scale, the shaded one, sizes over all."""
    drawing = new_sheet(f"{_title(shown.pattern)}: form", HIGH)
    words = "solved from the paper's finished lengths and the radii told; check against the panel"
    drawing.add(drawing.text(words, insert=(MARGIN, MARGIN + 7), font_size=TEXT, fill=HEAD))
    length, width, height = shown.sizes.over_all
    room = (WIDE - 2 * MARGIN - GAP) / (length + width), 150.0 / (width + height)
    scale = next((s for s in SCALES if 1 / s <= min(room)), SCALES[-1])
    left, top = MARGIN, MARGIN + 18
    at_front = top + width / scale + GAP
    _view(drawing, shown, TOP, (left, top), scale, "from above")
    _view(drawing, shown, FRONT, (left, at_front), scale, "from the front")
    _view(drawing, shown, RIGHT, (left + length / scale + GAP, at_front), scale, "from the right")
    y = at_front + height / scale + GAP
    high, wide = (side / shown.per_mm for side in shown.picture.shape[:2])
    small = next(
        (s for s in SCALES if wide / s <= WIDE - 2 * MARGIN and high / s <= HIGH - y - FOOT), 50
    )
    picture = drawing.image(_png_uri(shown.picture), (left, y + 4), (wide / small, high / small))
    drawing.add(picture)
    shading = f"shaded, 1:{small:g}, lamps in a row mirrored in it: smooth lines, smooth metal"
    drawing.add(drawing.text(shading, insert=(left, y + 2), font_size=TEXT, fill=HEAD))
    y += high / small + 10
    said = size_words(shown.sizes, shown.within_95, bool(shown.open.any()), shown.pattern.unit)
    for words in (f"Views 1:{scale:g}; they lie {shown.lies}.", *said):
        for part in simpleSplit(words, "Helvetica", TEXT, WIDE - 2 * MARGIN):
            drawing.add(drawing.text(part, insert=(left, y), font_size=TEXT))
            y += ROW
    return drawing


def _title(pattern: Pattern) -> str:
    return f"{pattern.part or pattern.name}, {pattern.side} side"


def _foot(drawing: svgwrite.Drawing, shown: ShownForm, page: str) -> None:
    """The title block and the cautions."""
    y = HIGH - 8 - 3 * ROW
    drawing.add(drawing.line((MARGIN, y), (WIDE - MARGIN, y), stroke="#000000", stroke_width=0.2))
    words = title_words(title_fields(shown.pattern, shown.face, "form sheet", page))
    for part in simpleSplit(words, "Helvetica", TEXT, WIDE - 2 * MARGIN)[:2]:
        y += ROW
        drawing.add(drawing.text(part, insert=(MARGIN, y), font_size=TEXT))
    drawing.add(drawing.text(CAUTION, insert=(MARGIN, HIGH - 8), font_size=TEXT))


def size_words(
    sizes: Sizes, within_95: tuple[float, float] | None, open_: bool, unit: Unit
) -> list[str]:
    """A form's sizes over all and what it may be off by.

    Parameters
    ----------
    within_95 : None if its lengths and bending contradict each other.
    open_ : whether a part of it is not determined.
    """
    rows = zip(("length", "width", "height"), sizes.over_all, sizes.within_95, strict=True)
    words = [
        f"{name} {length_in_words(size, unit, 0)}"
        + (f" within {length_in_words(off, unit)}" if within_95 else "")
        for name, size, off in rows
    ]
    found = [f"Over all{' (95 %)' if within_95 else ''}: {'; '.join(words)}."]
    if within_95:
        half, most = (length_in_words(each, unit) for each in within_95)
        found.append(
            f"Half of the panel lies within {half} of its place, most of it within {most} (95 %)."
        )
    else:
        found.append("Lengths and radii contradict each other: how far it is off nobody knows.")
    if open_:
        found.append("Pale parts are not determined: a radius is not told there.")
    return found


def _view(
    drawing: svgwrite.Drawing,
    shown: ShownForm,
    view: View,
    at: tuple[float, float],
    scale: float,
    words: str,
) -> None:
    seen = view.flat(shown.places)
    low, high = seen.min(axis=0), seen.max(axis=0)

    def placed(points: Floats) -> list[tuple[float, float]]:
        x = at[0] + (points[:, 0] - low[0]) / scale
        y = at[1] + (high[1] - points[:, 1]) / scale
        return [(round(float(a), 2), round(float(b), 2)) for a, b in zip(x, y, strict=True)]

    group = drawing.g(stroke="#666666", stroke_width=0.2)
    pale = shown.open[shown.triangles].any(axis=1)
    for some, fill in ((~pale, METAL), (pale, PALE)):
        for ring in _silhouette(seen, shown.triangles[some]):
            group.add(drawing.polygon(placed(ring), fill=fill))
    for line in shown.lines:
        style = STYLES[line.role]
        for run in line.runs:
            points = placed(view.flat(run[:: max(len(run) // 80, 1)]))
            group.add(drawing.polyline(points, fill="none", stroke=style.colour, stroke_width=0.25))
    drawing.add(group)
    drawing.add(drawing.text(words, insert=(at[0], at[1] - 1.5), font_size=TEXT, fill=HEAD))


def _silhouette(seen: Floats, triangles: NDArray[np.int64]) -> list[Floats]:
    if not len(triangles):
        return []
    whole = unary_union(polygons(seen[triangles][_areas(seen, triangles) > LEAST_MM2]))
    parts = whole.geoms if isinstance(whole, MultiPolygon) else [whole]
    rings = [np.array(p.exterior.simplify(0.1).coords) for p in parts if isinstance(p, Polygon)]
    return [ring for ring in rings if len(ring) > 3]


def _areas(seen: Floats, triangles: NDArray[np.int64]) -> Floats:
    a, b, c = (seen[triangles[:, k]] for k in range(3))
    return np.asarray(np.abs(cross(b - a, c - a)) / 2)


def _held(shown: ShownForm, lengths: Sequence[Length], check: Check) -> list[svgwrite.Drawing]:
    """Before and after, and whether it holds together, on as many pages as it takes."""
    unit, pages, y = shown.pattern.unit, list[svgwrite.Drawing](), LOWEST
    xs = (MARGIN, MARGIN + 62, MARGIN + 104, MARGIN + 146)
    head = ("line or section", "on the paper", "finished", "take-up")
    for each in lengths:
        if y + ROW > LOWEST:
            pages.append(new_sheet(f"{_title(shown.pattern)}: before and after", HIGH))
            y = MARGIN + 11
            _row(pages[-1], head, xs, y, HEAD)
        y += ROW
        sizes = (each.paper, each.finished, each.take_up)
        cells = (each.of, *(length_in_words(size, unit) for size in sizes))
        _row(pages[-1], cells, xs, y, "#000000")
    title = "Does it hold together?"
    if y + 3 * ROW + MAP_MM > LOWEST:
        pages.append(new_sheet(f"{_title(shown.pattern)}: {title[0].lower()}{title[1:]}", HIGH))
        y = MARGIN + 11
    else:
        y += 3 * ROW
        pages[-1].add(pages[-1].text(title, insert=(MARGIN, y), font_size=4.6))
        y += 1.5 * ROW
    y = _strain_map(pages[-1], shown, check, y)
    for turned in check.turned:
        radii = "" if turned.radii_deg is None else f", by the radii {turned.radii_deg:.1f}"
        words = (
            f"{turned.zone}: total curvature {turned.laps_deg:.1f} degrees by its laps (within "
            f"{1.96 * turned.laps_sigma_deg:.1f}){radii}, on the form {turned.form_deg:.1f}"
        )
        pages[-1].add(pages[-1].text(words, insert=(MARGIN, y), font_size=TEXT))
        y += ROW
    y += ROW
    for flow in check.flows:
        if y + FLOW_MM > LOWEST:
            pages.append(new_sheet(f"{_title(shown.pattern)}: radius and angle", HIGH))
            y = MARGIN + 11
        y = _flow(pages[-1], flow, y, unit)
    return pages


def _row(
    drawing: svgwrite.Drawing, cells: Sequence[str], xs: Sequence[float], y: float, colour: str
) -> None:
    for x, cell in zip(xs, cells, strict=True):
        drawing.add(drawing.text(cell, insert=(x, y), font_size=TEXT, fill=colour))


def _strain_map(drawing: svgwrite.Drawing, shown: ShownForm, check: Check, top: float) -> float:
    """Where the form's lengths miss the paper's, over the paper."""
    low, high = shown.paper.min(axis=0), shown.paper.max(axis=0)
    scale = max((high[0] - low[0]) / 100.0, (high[1] - low[1]) / 70.0)
    group = drawing.g(stroke="none")
    step = np.searchsorted([limit for limit, _ in STEPS], check.strain)
    for number, (_, colour) in enumerate(STEPS):
        for ring in _silhouette(shown.paper, shown.triangles[step == number]):
            points = [
                (round(MARGIN + (x - low[0]) / scale, 2), round(top + (high[1] - y) / scale, 2))
                for x, y in ring.tolist()
            ]
            group.add(drawing.polygon(points, fill=colour))
    drawing.add(group)
    x, y = MARGIN + 108, top + 4
    drawing.add(
        drawing.text("lengths miss the paper's by", insert=(x, y), font_size=TEXT, fill=HEAD)
    )
    before = 0.0
    for limit, fill in STEPS:
        y += ROW
        drawing.add(
            drawing.rect((x, y - 2.4), (5, 2.8), fill=fill, stroke="#888888", stroke_width=0.2)
        )
        words = f"over {before:.1%}" if limit == np.inf else f"{before:.1%} to {limit:.1%}"
        drawing.add(drawing.text(words, insert=(x + 7, y), font_size=TEXT))
        before = limit
    return float(top + (high[1] - low[1]) / scale + 2 * ROW)


def _flow(drawing: svgwrite.Drawing, flow: Flow, top: float, unit: Unit) -> float:
    """Radius and angle along a band, with kinks and flats marked."""
    left, wide, high = MARGIN + 2, 120.0, 30.0
    length = float(flow.along[-1])
    words = f"{flow.band} along {flow.start}: radius and angle"
    drawing.add(drawing.text(words, insert=(left, top), font_size=TEXT, fill=HEAD))
    base = top + 3 + high
    drawing.add(drawing.line((left, base), (left + wide, base), stroke="#000000", stroke_width=0.2))
    curves = (
        (flow.radius, "radius told", STYLES["radius-start"].colour),
        (flow.angle_deg, "degrees, width over radius", STYLES["trim-edge"].colour),
        (flow.form_deg, "degrees, on the form", "#000000"),
    )
    known = flow.angle_deg[np.isfinite(flow.angle_deg)].tolist()
    known += flow.form_deg[np.isfinite(flow.form_deg)].tolist()
    y = top + 6
    for values, words, colour in curves:
        finite = np.isfinite(values)
        if not finite.any():
            continue
        most = max(known) if "degrees" in words else float(values[finite].max())
        points = [
            (round(left + wide * a / length, 2), round(base - 0.9 * high * v / most, 2))
            for a, v in zip(flow.along[finite].tolist(), values[finite].tolist(), strict=True)
        ]
        line = drawing.polyline(points, fill="none", stroke=colour, stroke_width=0.35)
        drawing.add(line)
        low, top_value = values[finite].min(), values[finite].max()
        ends = [f"{value:.0f}" for value in (low, top_value)]
        if "radius told" in words:
            ends = [length_in_words(float(value), unit, 0) for value in (low, top_value)]
        said = f"{words}: {' to '.join(ends)}"
        drawing.add(drawing.text(said, insert=(left + wide + 4, y), font_size=TEXT, fill=colour))
        y += ROW
    for jump in flow.jumps:
        x = left + wide * jump.along / length
        drawing.add(drawing.line((x, base - high), (x, base), stroke="#c0504d", stroke_width=0.4))
        drawing.add(drawing.text("kink or flat", insert=(x + 1, base - high + 3), font_size=TEXT))
    for share in (0.0, 0.5, 1.0):
        x = left + share * wide
        along = length_in_words(share * length, unit, 0)
        drawing.add(drawing.text(along, insert=(x, base + 3.5), font_size=TEXT))
    return base + 3 * ROW


def picture_png(picture: Pixels) -> bytes:
    """A picture as the bytes of a PNG file."""
    stream = io.BytesIO()
    Image.fromarray(picture).save(stream, "PNG", optimize=True)
    return stream.getvalue()


def _png_uri(picture: Pixels) -> str:
    return "data:image/png;base64," + base64.b64encode(picture_png(picture)).decode()
