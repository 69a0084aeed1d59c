"""What is to be said about the photos: cards, print, taped distances, accuracy, open slits."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray
from shapely import Polygon

from digitize.card import RULE_MM
from digitize.floor import (
    DOUBTFUL,
    HELD_FLAT_MM,
    MISREAD,
    PAPER_LIFT_MM,
    WRONG,
    Accuracy,
    CardFault,
    Comparison,
    FloorSolution,
    Frame,
    Photo,
    PrintScale,
    PrintSeen,
    Repeat,
    Surface,
    View,
    best_card_place,
    is_cut,
    may_be_cut,
)
from digitize.paper import LESS_LIGHT
from digitize.plane import length_of
from digitize.record import Hidden, Point, Remark, Severity, Tuck, Unseen
from digitize.tucks import LapReading

Floats = NDArray[np.float64]
THIRDS = 0.25, 0.75
STANDS_HIGH_MM = 8.0  # higher paper rolls up so steeply that its height is read less surely
NOT_HELD_MM = 2.0  # paper that stands so high is not held flat there
WIDE_OPEN_MM = 1.0  # at the paper's edge; less is allowed for as surely as a lap is read
EDGES = ("left", "right", "lower", "upper")
# Shares of the paper's width and height, to say in words where an area lies on it.
SPANS, LONG, NARROW, QUARTER, AT_EDGE, MOST_OF_IT = 0.75, 0.4, 0.15, 0.36, 0.1, 0.75
ALL_OVER, MOST_PLACES = "on most of the paper", 3
HIDES: Mapping[Hidden, tuple[str, str]] = MappingProxyType(
    {
        "bright": (
            "the picture is burnt out white",
            "keep sun and flash off the paper, let the phone expose for it (touch it on the "
            "screen), and take the photo again",
        ),
        "dark": (
            "the picture is too dark",
            "bring more light there or let the phone expose for the paper (touch it on the "
            "screen), and take the photo again",
        ),
        "blurred": (
            "the picture is blurred",
            "wipe the lens, hold the phone still and level, touch the paper on the screen to "
            "focus, and take the photo again",
        ),
        "faint": (
            "the pencil is too faint for this picture",
            "go over the lines with a softer pencil or a pen, or come closer and give "
            "overlapping photos",
        ),
    }
)
WORTH_A_CARD = 0.8  # a card more is advised if it brings its part down to this share


def about_repeats(repeats: Sequence[Repeat]) -> tuple[Remark, ...]:
    """A remark for each photo that is a copy of another."""
    return tuple(
        Remark(
            kind="photo-repeated",
            words=f"{repeat.photo} is the same photo as {repeat.of} and was left out: only photos "
            "from different places tell more than one",
            severity="note",
        )
        for repeat in repeats
    )


def about_damage(photos: Sequence[Photo]) -> tuple[Remark, ...]:
    """A remark for each photo that looks as where its file was damaged, and how."""
    signs = [
        (photo.name, sign)
        for photo in photos
        for shows, sign in (
            (photo.light_jumps, "gets brighter or darker all along a row"),
            (photo.unlike_copy, "shows elsewhere than the small copy of it in its own file"),
        )
        if shows
    ]
    return tuple(
        Remark(
            kind="photo-damaged",
            words=f"{name} {sign}, as where a file was damaged: look at it, and copy it from the "
            "phone again",
        )
        for name, sign in signs
    )


def about_cuts(views: Sequence[View], lens_kept: bool) -> tuple[Remark, ...]:
    """One remark on the photos that were cropped, or may have been, if no kept lens says better."""
    found = [
        f"photo {photo + 1} {'was' if is_cut(view) else 'may have been'} cropped"
        for photo, view in enumerate(views)
        if may_be_cut(view)
    ]
    if lens_kept or not found:
        return ()
    return (
        Remark(
            kind="picture-cropped",
            words=f"{' and '.join(found)}, by its size and shape; its lens then goes by the cards "
            "alone, and less surely: give photos as they were taken",
            severity="note",
        ),
    )


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
    held_flat: bool,
    lens_kept: bool,
) -> tuple[Remark, ...]:
    """What to do, if points at the paper's edge may be off by more than the tolerance, as told.

    That one photo cannot show how the paper stands is a note; a warning is what can be mended
    however the paper lies. Of a print that nobody measured ``about_print`` speaks; it must not hide
    what else is wrong.
    """
    beside = "" if print_measured else "beside the print, "
    if not print_measured:
        accuracy = replace(accuracy, print_mm=np.zeros_like(accuracy.print_mm))
    worst = _worst(accuracy)
    total = round(float(accuracy.total_mm[worst]), 1)
    if total <= tolerance_mm:
        return ()
    remarks: list[Remark] = []
    if len(floor.cameras) == 1 and not held_flat:
        held = accuracy.flatness_mm * (HELD_FLAT_MM / PAPER_LIFT_MM)
        held_mm = float(replace(accuracy, flatness_mm=held).total_mm.max())
        remarks.append(
            Remark(
                kind="flatness-unseen",
                words=f"{beside}points at the paper's edge are within {total:.1f} mm, as one "
                "photo cannot show how the paper stands off the floor; if it is weighed or pinned "
                f"flat all round, say so by --held-flat, and it is {held_mm:.1f} mm; or give two "
                "more photos from other sides",
                severity="note",
            )
        )
        accuracy = replace(accuracy, flatness_mm=np.zeros_like(held))
        worst = _worst(accuracy)
        total = round(float(accuracy.total_mm[worst]), 1)
    if total > tolerance_mm:
        parts = _parts(accuracy, worst)
        largest = max(parts, key=lambda part: parts[part])
        remedy = _remedy(largest, parts, floor, frame, outline, seen_by, lens_kept)
        remarks.append(
            Remark(
                kind="accuracy",
                words=f"{beside}points at the paper's edge may be off by {total:.1f} mm"
                f"{' even if it lies flat' if remarks else ''}; most of it "
                f"({parts[largest]:.1f} mm) comes from {largest}: {remedy}",
                at=_place(outline[worst]),
            )
        )
    return tuple(remarks)


def _worst(accuracy: Accuracy) -> int:
    """Which point may be furthest off."""
    return int(np.argmax(accuracy.total_mm))


def _parts(accuracy: Accuracy, point: int) -> dict[str, float]:
    return {
        "the cards": float(accuracy.cards_mm[point]),
        "the cards' print": float(accuracy.print_mm[point]),
        "paper that may not lie flat": float(accuracy.flatness_mm[point]),
    }


def _remedy(
    largest: str,
    parts: Mapping[str, float],
    floor: FloorSolution,
    frame: Frame,
    outline: Floats,
    seen_by: NDArray[np.int64],
    lens_kept: bool,
) -> str:
    """What to do about the largest of the parts."""
    if largest == "the cards":
        place, radius = best_card_place(floor, frame, outline, seen_by)
        # One card alone tells its tilt and the lens badly apart.
        lone = len(floor.cards) == 1 and not lens_kept
        beside = ", or keep the camera with digitize camera" if lone else ""
        if radius < WORTH_A_CARD * parts[largest]:
            return f"lay a card {place}; that part would then be {radius:.1f} mm{beside}"
        return f"take a second photo from another side{beside}"
    if largest == "the cards' print":
        return "give a taped check distance"
    if len(floor.cameras) == 1:
        return "take a second and a third photo from other sides, which shows how the paper stands"
    return "take another photo of the part that only one shows"


def _place(point: Floats) -> Point:
    x, y = point.tolist()
    return round(x, 3), round(y, 3)


def about_height(surface: Surface | None, outline: Floats, held_flat: bool) -> tuple[Remark, ...]:
    """Where the paper's edge stands highest, if that is too high, or not as it was said to be."""
    if surface is None:
        return ()
    heights = surface.to_solid(outline)[1]
    highest = int(np.argmax(heights))
    height = float(heights[highest])
    if height <= (NOT_HELD_MM if held_flat else STANDS_HIGH_MM):
        return ()
    # The side of the box round the paper that the place is nearest to.
    low, high = outline.min(axis=0), outline.max(axis=0)
    x, y = outline[highest]
    gaps = (x - low[0], high[0] - x, y - low[1], high[1] - y)
    where = f"{height:.0f} mm off the floor at its {EDGES[int(np.argmin(gaps))]} edge"
    words = f"the paper stands {where}: weigh it down there and photograph it again"
    if held_flat and height <= STANDS_HIGH_MM:
        words = (
            f"the paper was said to be held flat, but stands {where}, as the photos show it; that "
            "was used"
        )
    return (Remark(kind="stands-up", words=words, at=_place(outline[highest])),)


def about_coarseness(pixels_per_mm: float, needed: float) -> tuple[Remark, ...]:
    """That a picture is too coarse for tucks, and what to do about it."""
    if pixels_per_mm >= needed:
        return ()
    words = (
        f"the paper is seen with {too_few(pixels_per_mm, needed)}; under {needed:g} slits and "
        "folds cannot be told from lines, and none are claimed: come closer, give overlapping "
        "photos, or give the photo's own file and not a copy that a messenger has shrunk"
    )
    return (Remark(kind="coarse-picture", words=words),)


def too_few(pixels_per_mm: float, needed: float) -> str:
    """In words, how many pixels per mm there are where more are needed."""
    seen = f"{pixels_per_mm:.1f}"
    if float(seen) >= needed:
        # Cut off and not rounded, or it would read as enough.
        seen = f"{np.floor(100 * pixels_per_mm) / 100:.2f}"
    return f"{seen} pixels per mm"


def about_rulings(spacings_mm: Sequence[float]) -> tuple[Remark, ...]:
    """That the paper is ruled or squared, and what that leaves open; the lines' spacings."""
    if not spacings_mm:
        return ()
    apart = " and ".join(f"{spacing:.1f} mm" for spacing in spacings_mm)
    words = (
        f"the paper is printed with lines every {apart}; they were left out, and so was any "
        "pencil line as thin and pale that runs straight along them: go over such a line with a "
        "softer pencil, or use plain paper"
    )
    return (Remark(kind="ruled-paper", words=words, severity="note"),)


def about_rings(rings: Sequence[tuple[Point, float]]) -> tuple[Remark, ...]:
    """What was taken for a cup's ring and left out, by middle and radius, mm."""
    return tuple(
        Remark(
            kind="ring-left-out",
            words=f"a broad, pale ring {2 * radius:.0f} mm across was left out, as a wet cup "
            "leaves one: go over it in pencil, or draw it, if it is a line",
            severity="note",
            at=(round(middle[0], 3), round(middle[1], 3)),
        )
        for middle, radius in rings
    )


def about_outline(outline: Floats, unsure: Sequence[Floats], burnt_out: bool) -> tuple[Remark, ...]:
    """Where the photos do not bear the paper's edge out: stretches (N, 2), mm, of an outline.

    Of paper that is ``burnt_out`` white they bear out little of it.
    """
    if burnt_out:
        words = (
            "most of the paper is burnt out white: its edge is taken to be where the white ends, "
            f"and dashed, as a patch of sun looks like that too; {LESS_LIGHT}, and take the photo "
            "again, or say where the paper's corners are with --paper"
        )
        return (Remark(kind="outline-unsure", words=words, at=_place(outline[0])),)
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
    return (
        Remark(
            kind="outline-unsure",
            words=f"no photo bears out the paper's edge along {' and '.join(places)}; it is dashed "
            "there: take away what lies on it, even out the light or use a floor of another "
            "colour, or say where the paper's corners are with --paper",
            at=_place(longest[len(longest) // 2]),
        ),
    )


def about_unseen(
    outline: Floats, areas: Sequence[Unseen], lines: Sequence[str], tucks: Sequence[Tuck]
) -> tuple[Remark, ...]:
    """Where pencil could not be seen, for each thing that hides it, and what to do about that.

    Parameters
    ----------
    lines : ids of those that lie there; a tuck does if its slit, crease or lap line does.
    """
    there = [tuck.id for tuck in tucks if tuck.slit in lines or tuck.lap_line in lines]
    own = {name for tuck in tucks for name in (tuck.slit, tuck.lap_line)}
    named = (*there, *(name for name in lines if name not in own))
    unsure = f"; what was read there is not sure: {', '.join(named)}" if named else ""
    low, high = outline.min(axis=0), outline.max(axis=0)
    remarks = []
    for reason, (fault, remedy) in HIDES.items():
        mine = [np.array(area.boundary) for area in areas if area.reason == reason]
        if not mine:
            continue
        mine.sort(key=_area_of, reverse=True)
        share = sum(map(_area_of, mine)) / _area_of(outline)
        places = dict.fromkeys(_part((ring - low) / (high - low)) for ring in mine)
        where = ALL_OVER if share > MOST_OF_IT else _listed(list(places)[:MOST_PLACES])
        remarks.append(
            Remark(
                kind="unseen",
                words=f"{fault} {where}: pencil lines may be missing there{unsure}; {remedy}",
                about=named,
                at=_place(mine[0].mean(axis=0)),
            )
        )
    return tuple(remarks)


def _area_of(ring: Floats) -> float:
    """The area inside points (N, 2)."""
    return float(Polygon(ring).area)


def _listed(words: Sequence[str]) -> str:
    return " and ".join([", ".join(words[:-1]), words[-1]] if len(words) > 1 else words)


def _part(shares: Floats) -> str:
    """Which part of the paper an area is, by the shares (N, 2) of width and height it lies at."""
    (left, lower), (right, upper) = shares.min(axis=0), shares.max(axis=0)
    wide, high = right - left, upper - lower
    if wide > SPANS and high > SPANS:
        return ALL_OVER
    ends = {
        "left": (high, wide, left),
        "right": (high, wide, 1 - right),
        "lower": (wide, high, lower),
        "upper": (wide, high, 1 - upper),
    }
    for end, (along, deep, gap) in ends.items():
        if along > LONG and along > deep and gap < AT_EDGE:
            if deep < NARROW:
                return f"along the {end} edge"
            if along > SPANS:
                return f"on the {end} {'quarter' if deep < QUARTER else 'half'}"
    if wide > SPANS or high > SPANS:
        return "across the middle" if wide > SPANS else "down the middle"
    return _side((left + right) / 2, (lower + upper) / 2)


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
    gapes = {index: lap.gape_mm for index, lap in enumerate(laps) if lap.gape_mm > WIDE_OPEN_MM}
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
