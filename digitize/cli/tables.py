"""The short report on the terminal."""

from collections.abc import Sequence
from typing import TYPE_CHECKING

from rich.console import Console
from rich.table import Column, Table

from digitize.record import Curvature, Pattern, Remark, Role, Severity
from digitize.units import Unit, in_both

if TYPE_CHECKING:
    from digitize.jobs.compare import Comparison, Verdict
    from digitize.jobs.form import Shaped
    from digitize.jobs.renew import Renewed
    from digitize.jobs.shrink import Shrink
    from digitize.jobs.tell import Heard

STYLES: dict[Severity, str] = {"note": "cyan", "warning": "yellow", "stop": "bold red"}
FRACTION_WIDTH = len("(15/32)")


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
    lines = Table(
        "role", "as one on the metal", "sure", "length mm", title="Lines", title_justify="left"
    )
    for role in dict.fromkeys(line.role for line in pattern.lines):
        members = [line for line in pattern.lines if line.role == role]
        lines.add_row(
            role,
            _grouped(pattern, role),
            f"{min(line.role_confidence for line in members):.0%}",
            f"{sum(line.length for line in members):.0f}",
        )
    screen.print(lines)
    if pattern.tucks:
        screen.print(_tucks(pattern))
        if pattern.closure_rms is not None:
            screen.print(
                f"with its tucks closed, lines that they break meet again within "
                f"{pattern.closure_rms:.2f} mm (RMS)",
                highlight=False,
            )
    if pattern.zones:
        screen.print(_zones(pattern))
    if pattern.bands:
        screen.print(_bands(pattern))
    show_remarks(screen, pattern.remarks)


def _grouped(pattern: Pattern, role: Role) -> str:
    """The lines of a role, each group's after its name; those of no group by themselves."""
    groups = [group for group in pattern.groups if group.role == role]
    if not groups:
        return " ".join(line.id for line in pattern.lines if line.role == role)
    return "; ".join(
        f"{group.id}: {' '.join(piece.line for piece in group.pieces)}" for group in groups
    )


def _tucks(pattern: Pattern) -> Table:
    table = Table(
        "tuck",
        "kind",
        "lap at trim mm",
        "deficit deg",
        "turn at trim deg",
        "stations",
        title="Tucks",
        title_justify="left",
    )
    for tuck in pattern.tucks:
        table.add_row(
            tuck.id + " (unsure)" * tuck.unsure,
            tuck.kind,
            f"{tuck.lap_at_trim:.1f} ± {2 * tuck.profile[-1].sigma:.1f}" if tuck.profile else "",
            f"{tuck.deficit_deg:.1f}",
            f"{tuck.turn_deg:.1f} ± {2 * tuck.turn_sigma_deg:.1f}",
            str(len(tuck.stations)),
        )
    return table


def _zones(pattern: Pattern) -> Table:
    table = Table(
        "zone",
        "kind",
        "tucks",
        "peak shrink",
        "at most",
        "curvature deg",
        "by the radii",
        title="Zones",
        title_justify="left",
    )
    for zone in pattern.zones:
        found = zone.curvature or Curvature(laps_deg=0.0, laps_sigma_deg=0.0)
        by_radii = "not told"
        if found.radii_deg is not None and found.radii_sigma_deg is not None:
            by_radii = f"{found.radii_deg:.0f} ± {2 * found.radii_sigma_deg:.0f}"
        table.add_row(
            zone.id,
            zone.kind,
            ", ".join(zone.tucks),
            f"{zone.peak_shrink:.1%}",
            f"{zone.peak_local:.1%}",
            f"{found.laps_deg:.0f} ± {2 * found.laps_sigma_deg:.0f}",
            by_radii,
        )
    return table


def show_shrink(screen: Console, shrink: "Shrink") -> None:
    """A table for each zone: how much to take out, how far in from the trim edge."""
    from digitize.jobs.shrink import CAUTION

    for found in shrink.tables:
        # Rather another row than a digit less: what is shown here is hammered into metal.
        heads = [
            Column(f"{distance:.0f} mm\nin", min_width=FRACTION_WIDTH, overflow="fold")
            for distance in found.distances
        ]
        told = shrink.sheet is not None
        table = Table(
            "tuck",
            *heads,
            "fades\nat mm",
            "over\nmm",
            *(["sheet\nmm"] if told else []),
            title=f"{found.zone}: {'take out' if found.kind == 'shrink' else 'let in (-)'}, "
            "mm and inches, so far in from the trim edge; tucks as they follow along the edge",
            title_justify="left",
            pad_edge=False,
        )
        for row in found.rows:
            table.add_row(
                row.tuck,
                *(in_both(mm) for mm in row.taken),
                f"{row.fades:.0f}",
                f"{row.width:.0f}",
                *([f"{row.thickness:.2f}"] if row.thickness is not None else []),
            )
        screen.print(table)
    if shrink.sheet is not None:
        screen.print(f"sheet: {shrink.sheet}", highlight=False)
    else:
        screen.print("say what sheet it is, with --sheet, to see how thick it gets")
    screen.print(CAUTION, highlight=False)


def show_comparison(screen: Console, comparison: "Comparison", verdict: "Verdict") -> None:
    """Line by line and tuck by tuck what differs, and the verdict."""
    from digitize.jobs.compare import SURE, about_growth, doubt

    lines = Table(
        *("line", "is", "there", "mm", "off RMS", "largest", "±", "at x, y"),
        title="Lines: how far the other lies further out (+) or in (-), mm",
        title_justify="left",
    )
    for each in comparison.deviations:
        if not each.length_mm:
            lines.add_row(each.line, each.role, "none")
            continue
        worst = each.worst
        x, y = each.points[worst]
        lines.add_row(
            each.line,
            each.role,
            each.other,
            f"{each.length_mm:.0f}",
            f"{each.rms_mm:.2f}",
            f"{each.off[worst]:+.2f}",
            f"{doubt(each, comparison.accuracy_mm)[worst]:.2f}",
            f"{x:.0f}, {y:.0f}",
        )
    screen.print(lines)
    if comparison.tucks:
        tucks = Table(
            *("tuck", "there", "lap", "lap there", "difference", "±", "tips apart"),
            title="Tucks: laps at the trim edge, mm",
            title_justify="left",
        )
        for pair in comparison.tucks:
            both = pair.tuck is not None and pair.other is not None
            tucks.add_row(
                pair.tuck or "none",
                pair.other or "none",
                f"{pair.laps[0]:.1f}" if pair.tuck else "",
                f"{pair.laps[1]:.1f}" if pair.other else "",
                f"{pair.off:+.1f}" if both else "",
                f"{SURE * pair.sigma:.1f}" if both else "",
                f"{pair.tip_mm:.1f}" if both else "",
            )
        screen.print(tucks)
    if comparison.growth is not None:
        screen.print(about_growth(comparison.growth), highlight=False)
    screen.print(verdict.says, style="bold", highlight=False)
    for reason in verdict.reasons:
        screen.print(f"  {reason}", highlight=False, soft_wrap=True)


def show_told(screen: Console, told: "Sequence[Heard]", unit: Unit) -> None:
    """What was told, a row for each fact."""
    from digitize.jobs.tell import in_words

    if not told:
        screen.print("nothing was told about this pattern")
        return
    table = Table("no.", "told", "what", "at x, y", "", title="Told", title_justify="left")
    for heard in told:
        fact = heard.fact
        state = "taken back" if not heard.counts else "does not fit" if heard.lost else ""
        table.add_row(
            str(fact.number),
            (fact.time or "")[:16].replace("T", " "),
            in_words(fact, unit),
            f"{heard.at[0]:.0f}, {heard.at[1]:.0f}" if heard.at else "",
            state,
        )
    screen.print(table)
    for heard in told:
        if heard.lost:
            screen.print(f"{heard.fact.number}: {heard.lost}", style="yellow", highlight=False)


def show_renewed(screen: Console, renewed: "Sequence[Renewed]") -> None:
    """What has become of each kept pattern that was read again."""
    table = Table(
        *("pattern", "kept by", "lines", "tucks", "lines off mm", "laps off mm", "told", "lost"),
        title="Read again: how it was kept, and how it is now",
        title_justify="left",
    )
    for each in renewed:
        if each.why_not is None:
            table.add_row(
                str(each.kept or each.pattern),
                each.written_by or "",
                f"{each.lines[0]} -> {each.lines[1]}",
                f"{each.tucks[0]} -> {each.tucks[1]}",
                f"{each.furthest_mm:.2f}",
                f"{each.lap_mm:.2f}",
                str(each.told),
                str(each.lost),
            )
    if table.row_count:
        screen.print(table)
    for each in renewed:
        if each.why_not is not None:
            screen.print(f"not read again: {each.why_not}", style="yellow", highlight=False)


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


def show_remarks(screen: Console, remarks: Sequence[Remark]) -> None:
    """A line for each."""
    for remark in remarks:
        words = f"{remark.severity}: {remark.words}"
        screen.print(words, style=STYLES[remark.severity], highlight=False)


def show_form(screen: Console, shaped: "Shaped") -> None:
    """A form's sizes, and what it may be off by."""
    from digitize.jobs.shrink import CAUTION

    screen.print(f"As the panel lies here, {shaped.lies}:", highlight=False)
    for words in shaped.words:
        screen.print(words, highlight=False)
    screen.print(CAUTION, highlight=False)
