"""What is to be said about the photos: cards, print, taped distances, accuracy, open slits."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from digitize.card import RULE_MM
from digitize.floor import (
    DOUBTFUL,
    MISREAD,
    WRONG,
    Accuracy,
    CardFault,
    Comparison,
    FloorSolution,
    Frame,
    PrintScale,
    PrintSeen,
    best_card_place,
)
from digitize.record import Point, Remark, Severity
from digitize.tucks import LapReading

Floats = NDArray[np.float64]
WORTH_A_CARD = 0.8  # a card more is advised if it brings its part down to this share


def about_faults(faults: Sequence[CardFault]) -> tuple[Remark, ...]:
    """A remark for each card that does not fit the others."""
    return tuple(_about_fault(fault) for fault in faults)


def _about_fault(fault: CardFault) -> Remark:
    numbers = tuple(str(number) for number in fault.numbers)
    if len(numbers) > 1:
        return Remark(
            kind="cards-contradict",
            words=f"cards {' and '.join(numbers)} contradict each other ({_difference(fault)}), "
            "and it cannot be told which is right: measure both prints, lay both flat, or add a "
            "third card",
            severity="stop",
            about=numbers,
        )
    done = "left out" if fault.left_out else "still used, since nothing else ties the photos"
    remedy = {
        "stretch": "measure its print and lay it flat",
        "lift": "lay it flat",
        "moved": "leave the cards where they lie until the last photo",
    }[fault.kind]
    return Remark(
        kind="card-fault",
        words=f"card {numbers[0]} is {_difference(fault)}; {done}: {remedy}",
        about=numbers,
    )


def _difference(fault: CardFault) -> str:
    if fault.kind == "lift":
        return f"not flat on the floor, about {fault.size:.0f} mm up at one side"
    if fault.kind == "moved":
        return f"{fault.size:.0f} mm away from where another photo shows it"
    larger = "larger" if fault.size > 0 else "smaller"
    return f"{abs(fault.size):.1%} {larger} than the rest, by its print or by lying higher or lower"


def about_checks(checks: Sequence[Comparison]) -> tuple[Remark, ...]:
    """A remark for each taped distance that the photos contradict."""
    return tuple(
        Remark(
            kind="taped-distance",
            words=f"{check.names[0]} to {check.names[1]}: taped {check.taped_mm:.1f} mm, read "
            f"{check.read_mm:.1f} mm; they should agree to {check.limit_mm:.1f} mm: tape it again, "
            "and measure the cards' 150 mm rules",
            severity="stop",
        )
        for check in checks
        if abs(check.read_mm - check.taped_mm) > check.limit_mm
    )


def about_print(
    seen: PrintSeen, used: PrintScale, print_measured: bool, accuracy: Accuracy, tolerance_mm: float
) -> tuple[Remark, ...]:
    """Whether the cards' print is what it is taken for, by their sheets' edges.

    Where nobody measured it and nothing tells against it, a note says once what that leaves open,
    if that is more than the tolerance: it is no warning, since it would stand with every photo.
    """
    beyond = seen.contradiction(used, MISREAD if print_measured else DOUBTFUL)
    if beyond:
        told = _shares(seen)
        if print_measured:
            words = (
                f"the cards' size as measured, {used.x:.1%} across and {used.y:.1%} along, is not "
                f"what their sheets' edges show, {told}: measure the two 150 mm rules again, not "
                "the 6 in ones, and give the one across as --measured-x and the one along as "
                "--measured-y; only if the sheets were trimmed may this be let stand"
            )
        else:
            words = (
                f"by their sheets' edges the cards are printed at {told}: measure the two 150 mm "
                f"rules and give what they read, about {_rules(seen)}; sheets that were trimmed "
                "may look so too"
            )
        severity: Severity = "stop" if beyond > WRONG else "warning"
        return (Remark(kind="print-scale", words=words, severity=severity),)
    open_mm = float(np.max(accuracy.print_mm))
    if print_measured or open_mm <= tolerance_mm:
        return ()
    return (
        Remark(
            kind="print-not-measured",
            words=f"nobody measured the cards' print, which leaves {open_mm:.1f} mm open at the "
            "paper's edge: measure the two 150 mm rules and give what they read as --measured-x "
            "and --measured-y",
            severity="note",
        ),
    )


def _shares(seen: PrintSeen) -> str:
    ways = ("across", seen.across), ("along", seen.along)
    return " and ".join(f"{way.scale:.1%} {name}" for name, way in ways if way)


def _rules(seen: PrintSeen) -> str:
    """What the rules should read, as the options have it; what is not seen is left to fill in."""
    ways = ("--measured-x", seen.across), ("--measured-y", seen.along)
    return " ".join(
        f"{name} {way.scale * RULE_MM:.1f}" if way else f"{name} …" for name, way in ways
    )


def about_accuracy(
    accuracy: Accuracy,
    tolerance_mm: float,
    floor: FloorSolution,
    frame: Frame,
    outline: Floats,
    seen_by: NDArray[np.int64],
    print_measured: bool,
) -> tuple[Remark, ...]:
    """What to do, if points at the paper's edge may be off by more than the tolerance.

    Of a print that nobody measured ``about_print`` speaks; it must not hide what else is wrong.
    """
    beside = "" if print_measured else "beside the print, "
    if not print_measured:
        accuracy = replace(accuracy, print_mm=np.zeros_like(accuracy.print_mm))
    worst = int(np.argmax(accuracy.total_mm))
    total = float(accuracy.total_mm[worst])
    if total <= tolerance_mm:
        return ()
    parts = {
        "the cards": float(accuracy.cards_mm[worst]),
        "the cards' print": float(accuracy.print_mm[worst]),
        "paper that may not lie flat": float(accuracy.flatness_mm[worst]),
    }
    largest = max(parts, key=lambda part: parts[part])
    if largest == "the cards":
        place, radius = best_card_place(floor, frame, outline, seen_by)
        remedy = "take a second photo from another side"
        if radius < WORTH_A_CARD * parts[largest]:
            remedy = f"lay a card {place}; that part would then be {radius:.1f} mm"
    elif largest == "the cards' print":
        remedy = "give a taped check distance"
    elif len(floor.cameras) == 1:
        remedy = (
            "take a second and a third photo from other sides, which shows how the paper stands, "
            "or weigh it down"
        )
    else:
        remedy = "take another photo of the part that only one shows"
    x, y = outline[worst].tolist()
    return (
        Remark(
            kind="accuracy",
            words=f"{beside}points at the paper's edge may be off by {total:.1f} mm; most of it "
            f"({parts[largest]:.1f} mm) comes from {largest}: {remedy}",
            at=(round(x, 3), round(y, 3)),
        ),
    )


def about_gapes(laps: Sequence[LapReading], tips: Sequence[Point]) -> tuple[Remark, ...]:
    """Which slits lie open in the photo, and what to do about it; ``tips`` are the tucks', mm."""
    gapes = {index: lap.gape_mm for index, lap in enumerate(laps) if lap.gape_mm > 0}
    if not gapes:
        return ()
    names = tuple(f"T{index + 1}" for index in gapes)
    widest = max(gapes, key=lambda index: gapes[index])
    return (
        Remark(
            kind="slits-open",
            words=f"slits lie open by up to {gapes[widest]:.1f} mm at the paper's edge "
            f"({', '.join(names)}); that is allowed for, but wider ones may not be read: push "
            "slits closed and tape them from behind before the photo",
            severity="note",
            about=names,
            at=tips[widest],
        ),
    )
