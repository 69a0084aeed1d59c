"""The short report on the terminal."""

from collections.abc import Sequence

from rich.console import Console
from rich.table import Table

from digitize.pattern import Pattern
from digitize.shop.bands import about_bands


def show_pattern(screen: Console, pattern: Pattern) -> None:
    """Scale, lines, tucks, zones and warnings."""
    if pattern.scale is not None:
        numbers = ", ".join(str(card.number) for card in pattern.scale.cards)
        screen.print(
            f"scale: card{'s' if len(pattern.scale.cards) > 1 else ''} {numbers}, residual "
            f"{pattern.scale.reprojection_px:.2f} px, points within "
            f"{pattern.scale.accuracy_mm:.2f} mm (95 %)",
            highlight=False,
        )
        for check in pattern.scale.checks:
            screen.print(
                f"check: {check.between[0]} to {check.between[1]}, taped {check.taped_mm:.1f} mm, "
                f"read {check.read_mm:.1f} mm; may differ by {check.limit_mm:.1f} mm"
                + (", used" if check.used else ""),
                highlight=False,
            )
    lines = Table("role", "lines", "sure", "length mm", title="Lines", title_justify="left")
    for role in dict.fromkeys(line.role for line in pattern.lines):
        members = [line for line in pattern.lines if line.role == role]
        lines.add_row(
            role,
            " ".join(line.id for line in members),
            f"{min(line.role_confidence for line in members):.0%}",
            f"{sum(line.length for line in members):.0f}",
        )
    screen.print(lines)
    if pattern.tucks:
        tucks = Table(
            "tuck",
            "kind",
            "lap at trim mm",
            "deficit deg",
            "stations",
            title="Tucks",
            title_justify="left",
        )
        for tuck in pattern.tucks:
            tucks.add_row(
                tuck.id,
                tuck.kind,
                f"{tuck.lap_at_trim:.1f}",
                f"{tuck.deficit_deg:.1f}",
                str(len(tuck.stations)),
            )
        screen.print(tucks)
    if pattern.zones:
        zones = Table("zone", "kind", "tucks", "peak shrink", title="Zones", title_justify="left")
        for zone in pattern.zones:
            zones.add_row(
                zone.id, zone.kind, ", ".join(zone.tucks), f"{100 * zone.peak_shrink:.1f} %"
            )
        screen.print(zones)
    if pattern.bands:
        screen.print(_bands(pattern))
    show_warnings(screen, (*pattern.warnings, *about_bands(pattern.bands)))


def _bands(pattern: Pattern) -> Table:
    table = Table(
        "band",
        "from",
        "to",
        "width mm",
        "radius mm",
        "turned deg",
        title="Radius bands",
        title_justify="left",
    )
    for band in pattern.bands:
        columns = (
            [station.width for station in band.stations],
            [s.radius for s in band.stations if s.radius is not None],
            [s.turned_deg for s in band.stations if s.turned_deg is not None],
        )
        ranges = (
            f"{min(values):.0f} to {max(values):.0f}" if values else "not told"
            for values in columns
        )
        table.add_row(band.id, band.start, " ".join(band.ends), *ranges)
    return table


def show_warnings(screen: Console, warnings: Sequence[str]) -> None:
    """A line for each."""
    for warning in warnings:
        screen.print(f"warning: {warning}", style="yellow", highlight=False)
