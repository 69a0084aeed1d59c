"""A small plot of each radius band: width, radius and turned angle along it."""

from collections.abc import Sequence

import svgwrite

from digitize.draw.style import STYLES
from digitize.record import Band, BandStation, Pattern

WIDE, HIGH, LEFT, RIGHT, TOP, FOOT = 180.0, 46.0, 22.0, 60.0, 12.0, 12.0
FONT = "Helvetica, Arial, sans-serif"
TEXT_MM = 3.4
CURVES = (
    ("width", "width mm", "#7a7a7a", "1.5,1"),
    ("radius", "radius mm", STYLES["radius-start"].colour, "none"),
    ("turned_deg", "turned deg", STYLES["trim-edge"].colour, "4,1"),
)


def bands_svg(pattern: Pattern) -> str:
    """One plot under the other, as SVG text in mm; curves rise from zero to their highest value."""
    rows = pattern.bands
    height = len(rows) * (HIGH + TOP + FOOT)
    drawing = svgwrite.Drawing(
        size=(f"{WIDE:g}mm", f"{height:g}mm"),
        viewBox=f"0 0 {WIDE:g} {height:g}",
        profile="full",
        debug=False,
    )
    drawing.set_desc(title=f"{pattern.name}: radius bands")
    drawing.add(drawing.rect((0, 0), (WIDE, height), fill="#ffffff"))
    for row, band in enumerate(rows):
        _plot(drawing, pattern, band, row * (HIGH + TOP + FOOT) + TOP)
    text: str = drawing.tostring()
    return '<?xml version="1.0" encoding="utf-8"?>\n' + text + "\n"


def _plot(drawing: svgwrite.Drawing, pattern: Pattern, band: Band, top: float) -> None:
    group = drawing.g(id=band.id, font_family=FONT, font_size=TEXT_MM, fill="#000000")
    length = pattern.line(band.start).length
    right, bottom = WIDE - RIGHT, top + HIGH
    title = f"{band.id}: from {band.start} to {' '.join(band.ends)}"
    group.add(drawing.text(title, insert=(LEFT, top - 4), font_weight="bold"))
    axes = drawing.polyline([(LEFT, top), (LEFT, bottom), (right, bottom)], fill="none")
    axes.stroke("#000000", width=0.25)
    group.add(axes)
    for share in (0.0, 0.25, 0.5, 0.75, 1.0):
        x = LEFT + share * (right - LEFT)
        group.add(drawing.line((x, bottom), (x, bottom + 1.2), stroke="#000000", stroke_width=0.25))
        label = drawing.text(f"{share * length:.0f}", insert=(x, bottom + 5), text_anchor="middle")
        group.add(label)
    group.add(
        drawing.text(
            f"mm along {band.start}",
            insert=((LEFT + right) / 2, bottom + 9.5),
            text_anchor="middle",
        )
    )
    ends = []
    for key, words, colour, dashes in CURVES:
        known = [(s.along, value) for s in band.stations if (value := _value(s, key)) is not None]
        if not known:
            continue
        highest = max(value for _, value in known)
        points = [
            (
                round(LEFT + along / length * (right - LEFT), 3),
                round(bottom - 0.9 * HIGH * value / highest, 3),
            )
            for along, value in known
        ]
        curve = drawing.polyline(points, fill="none", stroke=colour, stroke_width=0.5)
        if dashes != "none":
            curve.dasharray([float(d) for d in dashes.split(",")])
        group.add(curve)
        low = min(value for _, value in known)
        ends.append((points[-1][1], f"{words}: {low:.0f} to {highest:.0f}", colour))
    _beside(drawing, group, ends, right)
    drawing.add(group)


def _beside(
    drawing: svgwrite.Drawing,
    group: svgwrite.container.Group,
    ends: Sequence[tuple[float, str, str]],
    right: float,
) -> None:
    """Each curve's name at its end, kept apart."""
    last = -1e9
    for y, words, colour in sorted(ends):
        y = max(y, last + 1.3 * TEXT_MM)
        last = y
        group.add(drawing.text(words, insert=(right + 3, y + 1), fill=colour))


def _value(station: BandStation, key: str) -> float | None:
    value: float | None = getattr(station, key)
    return value
