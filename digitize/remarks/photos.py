"""What is to be said about the photos: cards, taped distances, accuracy, slits that lie open."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from digitize.floor import Accuracy, CardFault, Comparison, FloorSolution, Frame, best_card_place
from digitize.plane import length_of
from digitize.record import Point, Remark
from digitize.tucks import LapReading

Floats = NDArray[np.float64]
THIRDS = 0.25, 0.75
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


def about_accuracy(
    accuracy: Accuracy,
    tolerance_mm: float,
    floor: FloorSolution,
    frame: Frame,
    outline: Floats,
    seen_by: NDArray[np.int64],
    print_measured: bool,
) -> tuple[Remark, ...]:
    """What to do, if points at the paper's edge may be off by more than the tolerance."""
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
        remedy = (
            "give a taped check distance"
            if print_measured
            else "measure the cards' 150 mm rules and give what they read"
        )
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
            words=f"points at the paper's edge may be off by {total:.1f} mm; most of it "
            f"({parts[largest]:.1f} mm) comes from {largest}: {remedy}",
            at=(round(x, 3), round(y, 3)),
        ),
    )


def about_outline(outline: Floats, unsure: Sequence[Floats]) -> tuple[Remark, ...]:
    """Where the photos do not bear the paper's edge out: stretches (N, 2), mm, of an outline."""
    if not unsure:
        return ()
    low, high = outline.min(axis=0), outline.max(axis=0)
    lengths: dict[str, float] = {}
    for stretch in unsure:
        x, y = (stretch.mean(axis=0) - low) / (high - low)
        place = _side(x, y)
        lengths[place] = lengths.get(place, 0.0) + length_of(stretch)
    places = [f"{length:.0f} mm {place}" for place, length in lengths.items()]
    longest = max(unsure, key=length_of)
    x, y = longest[len(longest) // 2].tolist()
    return (
        Remark(
            kind="outline-unsure",
            words=f"no photo bears out the paper's edge along {' and '.join(places)}; it is dashed "
            "there: take away what lies on it, even out the light or use a floor of another "
            "colour, or say where the paper's corners are with --paper",
            at=(round(x, 3), round(y, 3)),
        ),
    )


def _side(x: float, y: float) -> str:
    """Where a place is on the paper, by its shares of width and height."""
    across = "left" if x < THIRDS[0] else "right" if x > THIRDS[1] else ""
    down = "lower" if y < THIRDS[0] else "upper" if y > THIRDS[1] else ""
    if across and down:
        return f"at the {down} {across} corner"
    if across or down:
        return f"on the {across or down} side"
    return "in the middle"


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
