"""The steps of the job in the order in which they are done, each in words with its figures."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from digitize.draw.callouts import radii_along
from digitize.draw.style import STYLES
from digitize.record import Band, Pattern, ToldUse
from digitize.shop import Blank, PunchedLine, ShrinkTable, StockChoice, group_lengths, sheet_words
from digitize.units import length_in_words

SPARED: ToldUse = "no-shrink"


@dataclass(frozen=True)
class Step:
    """A step, and its parts: a box to tick stands before each."""

    title: str
    parts: tuple[str, ...]


def steps_of_job(
    pattern: Pattern,
    blank: Blank | None,
    stock: StockChoice | None,
    punched: Sequence[PunchedLine],
    tables: Sequence[ShrinkTable],
) -> tuple[Step, ...]:
    """The steps that this pattern has, first to last; those with nothing to do are left out.

    The order is common practice, no source.
    """
    shrinks = [table for table in tables if table.kind == "shrink"]
    stretches = [table for table in tables if table.kind == "stretch"]
    steps = (
        Step("Mark out and cut the blank", tuple(_blank(pattern, blank, stock))),
        Step("Punch the pattern through", tuple(_punches(pattern, punched))),
        Step(
            "Shrink",
            (
                *_take_up(pattern, shrinks),
                *(f"{name}, as drawn: no shrinking in there" for name in _areas(pattern, SPARED)),
            ),
        ),
        Step("Bend", tuple(_bend(pattern, band) for band in pattern.bands)),
        Step(
            "Stretch",
            (
                *_take_up(pattern, stretches),
                *(f"{name}, as drawn" for name in _areas(pattern, "stretch")),
            ),
        ),
        Step("Trim", tuple(_edges(pattern))),
        Step("Check, tape laid along the metal", tuple(_lengths(pattern))),
    )
    return tuple(step for step in steps if step.parts)


def _areas(pattern: Pattern, use: ToldUse) -> tuple[str, ...]:
    """The ids of areas told for a use."""
    return tuple(area.id for area in pattern.areas if area.use == use)


def _blank(pattern: Pattern, blank: Blank | None, stock: StockChoice | None) -> Iterator[str]:
    if blank is None:
        yield "no blank is worked out, as the trim edge does not close"
        return
    sides = " x ".join(length_in_words(side, pattern.unit) for side in blank.size)
    yield f"{sides}, cut outside the dashed line"
    if pattern.sheet:
        mass = blank.mass_g(pattern.sheet) / 1000
        yield f"{sheet_words(pattern.sheet)}; the blank weighs about {mass:.1f} kg"
    if stock:
        one = f"fits {stock.one}" if stock.one else "fits none of the stock sheets"
        both = f"with the other side's, {stock.both}" if stock.both else "both sides in one: none"
        yield f"{one}; {both} (of {', '.join(stock.sheets)})"


def _punches(pattern: Pattern, punched: Sequence[PunchedLine]) -> Iterator[str]:
    count = sum(len(line.points) for line in punched)
    if count:
        yield f"{count} punch points, on the crosses; check the print's rule first"
    for hole in pattern.holes:
        diameter = length_in_words(hole.diameter, pattern.unit)
        yield f"{hole.id}: middle of a hole, diameter {diameter}"
    if pattern.datum:
        yield "the datum and its direction"


def _take_up(pattern: Pattern, tables: Sequence[ShrinkTable]) -> Iterator[str]:
    for table in tables:
        verb = "take out" if table.kind == "shrink" else "let in"
        for row in table.rows:
            edge = length_in_words(abs(row.taken[0]), pattern.unit)
            width, fades = (
                length_in_words(length, pattern.unit, 0) for length in (row.width, row.fades)
            )
            yield (
                f"{table.zone} {row.tuck}: {verb} {edge} at the edge, over {width} of it; "
                f"fading to nothing {fades} in from it"
            )
    for tuck in pattern.tucks:
        if tuck.unsure and tables:
            yield f"{tuck.id} is not sure and not counted: look at the paper"


def _bend(pattern: Pattern, band: Band) -> str:
    widths = [station.width for station in band.stations]
    ends = dict.fromkeys(pattern.line(end).group or end for end in band.ends)
    between = f"{pattern.line(band.start).group or band.start} to {' '.join(ends)}"
    apart = " to ".join(
        dict.fromkeys(length_in_words(each, pattern.unit, 0) for each in (min(widths), max(widths)))
    )
    told = "; ".join(words for words, _ in radii_along(pattern, band))
    return f"{band.id}, {between}, {apart} wide: {told or 'radius not told, find it by gauge'}"


def _edges(pattern: Pattern) -> Iterator[str]:
    for group in pattern.groups:
        if group.role == "trim-edge":
            yield f"{group.id}, {STYLES[group.role].words}"


def _lengths(pattern: Pattern) -> Iterator[str]:
    """Each line's length once its tucks are taken up."""
    for each in group_lengths(pattern):
        if each.group.role != "trim-edge":
            length = length_in_words(each.finished, pattern.unit)
            yield f"{each.group.id}, {STYLES[each.group.role].words}: {length}"
