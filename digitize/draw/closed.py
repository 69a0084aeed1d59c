"""The closed pattern: its tucks taken up, and how well the broken lines meet again."""

from collections.abc import Sequence

import numpy as np
import svgwrite

from digitize.draw.callouts import carried
from digitize.draw.runs import OpenRun
from digitize.draw.sheet import MARGIN, Window, new_sheet, text_of, window_on
from digitize.draw.style import STYLES
from digitize.record import Pattern
from digitize.take_up import ClosedZone

GAP_MM = 12.0
GOOD_MM = 0.5


def closed_svg(pattern: Pattern, zones: Sequence[ClosedZone]) -> str:
    """Each zone with its tucks closed, as SVG text in mm."""
    top, windows = 24.0, []
    for zone in zones:
        everything = np.concatenate([points for _, points in zone.lines] + list(zone.seams))
        window = window_on([(float(x), float(y)) for x, y in everything], top, 8.0)
        windows.append(window)
        top = window.bottom + GAP_MM
    drawing = new_sheet(f"{pattern.name}, {pattern.side} side: tucks closed", top + 14)
    for zone, window in zip(zones, windows, strict=True):
        _zone(drawing, pattern, zone, window)
    rms = f"; {pattern.closure_rms:.2f} mm RMS" if pattern.closure_rms is not None else ""
    for row, words in enumerate(
        (
            f"At each seam: how far apart the two ends of a broken line stay, mm{rms}.",
            "Along curves of equal depth this is what the metal will measure.",
        )
    ):
        drawing.add(drawing.text(words, insert=(MARGIN, top + 5 * row)))
    return text_of(drawing)


def _zone(drawing: svgwrite.Drawing, pattern: Pattern, zone: ClosedZone, window: Window) -> None:
    group = drawing.g(id=zone.zone, fill="none", stroke_width=0.35)
    for seam in zone.seams:
        group.add(_polyline(drawing, seam, window, "#999999", (1.2, 1.2)))
    for name, points in zone.lines:
        style = STYLES[pattern.line(name).role]
        group.add(_polyline(drawing, points, window, style.colour, ()))
    drawing.add(group)
    for _, place, error in zone.breaks:
        x, y = window.at((float(place[0]), float(place[1])))
        colour = "#000000" if error < GOOD_MM else STYLES["trim-edge"].colour
        drawing.add(drawing.circle((x, y), 1.2, fill="none", stroke=colour, stroke_width=0.25))
        drawing.add(
            drawing.text(f"{error:.1f}", insert=(x + 1.8, y + 3.2), fill=colour, font_size=2.8)
        )
    for seam, name in zip(zone.seams, _names(pattern, zone), strict=True):
        x, y = window.at((float(seam[0][0]), float(seam[0][1])))
        drawing.add(drawing.text(name, insert=(x, y - 1.5), text_anchor="middle"))


def _names(pattern: Pattern, zone: ClosedZone) -> tuple[str, ...]:
    return next(each.tucks for each in pattern.zones if each.id == zone.zone)


def _polyline(
    drawing: svgwrite.Drawing,
    points: np.ndarray[tuple[int, ...], np.dtype[np.float64]],
    window: Window,
    colour: str,
    dashes: tuple[float, ...],
) -> OpenRun:
    line = OpenRun(carried(points, window.at), stroke=colour, factory=drawing)
    if dashes:
        line.dasharray(list(dashes))
    return line
