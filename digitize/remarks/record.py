"""What is to be said about a record: it is said anew whenever the record changes."""

from collections.abc import Sequence

import numpy as np
from shapely import Point as ShapelyPoint
from shapely import Polygon
from shapely.prepared import prep

from digitize.plane import places_along
from digitize.record import Line, Pattern, Point, Remark, Tuck
from digitize.take_up import contradicted_by, disagreements_of, jumps_of, untucked_stretches
from digitize.units import length_in_words

SPARED_SIGMAS = 3.0  # a lap of less may be none
CLOSURE_MM = 1.5  # RMS; a reading's own is about a quarter of a mm
FOLLOWS = {
    "trim-edge-missing",
    "line-struck-out",
    "area-hatched",
    "area-spared",
    "lap-unread",
    "tuck-unsure",
    "band-jump",
    "laps-disagree",
    "closure",
    "curvature",
    "bend-untucked",
}


def with_remarks(pattern: Pattern) -> Pattern:
    """The pattern with what is to be said of it as it is now, after what its photos gave."""
    anew = (
        *_about_lines(pattern),
        *_about_struck(pattern),
        *_about_hatched(pattern),
        *_about_spared(pattern),
        *_about_unread(pattern),
        *_about_unsure(pattern),
        *_about_bands(pattern),
        *_about_closure(pattern),
        *_about_curvature(pattern),
        *_about_untucked(pattern),
    )
    said = {remark.words for remark in anew}
    before = (each for each in pattern.remarks if each.kind not in FOLLOWS)
    kept = (each for each in before if each.words not in said)
    return pattern.model_copy(update={"remarks": (*kept, *anew)})


def about_no_blank(why: str) -> Remark:
    """That drawings are without a blank, and why."""
    return Remark(kind="no-blank", words=f"drawn without a blank: {why}")


def _about_lines(pattern: Pattern) -> tuple[Remark, ...]:
    """What is missing among the lines."""
    if any(line.role == "trim-edge" for line in pattern.lines):
        return ()
    words = "no line could be told for the trim edge"
    return (Remark(kind="trim-edge-missing", words=words, severity="stop"),)


def _about_struck(pattern: Pattern) -> tuple[Remark, ...]:
    """Which lines were struck out on the paper, and how one counts all the same."""
    struck = [line for line in pattern.lines if line.withdrawn]
    if not struck:
        return ()
    names = tuple(line.id for line in struck)
    words = (
        f"struck out on the paper, and left out of all that is measured and cut: "
        f"{', '.join(names)}; tell its role if one counts all the same"
    )
    middle = struck[0].points[len(struck[0].points) // 2]
    return (Remark(kind="line-struck-out", words=words, about=names, at=middle),)


def _about_hatched(pattern: Pattern) -> tuple[Remark, ...]:
    """Which areas were hatched on the paper: what that means is not known."""
    hatched = [area for area in pattern.areas if area.use == "hatched"]
    if not hatched:
        return ()
    names = tuple(area.id for area in hatched)
    words = f"hatched on the paper, and no lines of the pattern: {', '.join(names)}"
    at = hatched[0].boundary[0]
    return (Remark(kind="area-hatched", words=words, severity="note", about=names, at=at),)


def _about_spared(pattern: Pattern) -> tuple[Remark, ...]:
    """Where metal is told not to be shrunk though the paper laps there."""
    remarks = []
    for area in pattern.areas:
        if area.use != "no-shrink":
            continue
        inside = prep(Polygon(area.boundary).buffer(0))
        for tuck in pattern.tucks:
            slit = pattern.line(tuck.slit)
            found = [
                (station, at)
                for station in tuck.stations
                if station.lap > SPARED_SIGMAS * station.sigma
                and inside.contains(ShapelyPoint(at := _place_along(slit, station.depth)))
            ]
            if found:
                most, at = max(found, key=lambda each: each[0].lap)
                remarks.append(
                    Remark(
                        kind="area-spared",
                        words=f"{area.id} is told as free of shrinking, but {tuck.id} laps by "
                        f"{most.lap:.1f} mm in it: draw the area clear of it, or tell what the "
                        "tuck is",
                        about=(area.id, tuck.id),
                        at=at,
                    )
                )
    return tuple(remarks)


def _about_unread(pattern: Pattern) -> tuple[Remark, ...]:
    """Which tucks' laps could not be read, and what to do about it."""
    unread = [tuck for tuck in pattern.tucks if not tuck.stations]
    names = ", ".join(tuck.id for tuck in unread)
    words = (
        f"no lap could be read at {names}: go over the lap line, and over the "
        "lines that break there, with a softer pencil, and take the photo again"
    )
    return _about_tucks("lap-unread", unread, words)


def _about_unsure(pattern: Pattern) -> tuple[Remark, ...]:
    """Which tucks' two marks look too much alike, or show too little, and what to do about it."""
    remarks: tuple[Remark, ...] = ()
    for fold, what, which in (
        (False, "which mark is the cut, and which the lap line,", "the lap line"),
        (True, "on which side of the bare paper the crease lies", "the crease"),
    ):
        unsure = [t for t in pattern.tucks if t.unsure and (t.kind == "fold") == fold]
        names = ", ".join(tuck.id for tuck in unsure)
        words = (
            f"{what} cannot be told at {names}: no zone counts "
            f"{'their laps' if len(unsure) > 1 else 'its lap'}; go over {which} in a colour and "
            "take the photo again, closer"
        )
        remarks += _about_tucks("tuck-unsure", unsure, words)
    return remarks


def _about_tucks(kind: str, tucks: Sequence[Tuck], words: str) -> tuple[Remark, ...]:
    """A remark about some tucks, at the first one's tip; none if there are none."""
    if not tucks:
        return ()
    about = tuple(tuck.id for tuck in tucks)
    return (Remark(kind=kind, words=words, about=about, at=tucks[0].tip),)


def _about_bands(pattern: Pattern) -> tuple[Remark, ...]:
    """A remark for each place where a band's angle or radius jumps."""
    return tuple(
        Remark(
            kind="band-jump",
            words=f"band {jump.band}: its {jump.what} jumps from {jump.before:.0f} to "
            f"{jump.after:.0f} {jump.unit} about {jump.along:.0f} mm along {jump.start}: a flat "
            "or a kink there, or a line that was read or told wrongly",
            about=(jump.band, jump.start),
            at=_place_along(pattern.line(jump.start), jump.along),
        )
        for jump in jumps_of(pattern.bands)
    )


def _about_closure(pattern: Pattern) -> tuple[Remark, ...]:
    """Laps that their evidence contradicts, and tucks that do not close."""
    remarks = []
    for found in disagreements_of(pattern):
        tuck = found.tuck
        mark, says = ("lap line", "says") if tuck.kind == "slit" else ("creases", "say")
        remarks.append(
            Remark(
                kind="laps-disagree",
                words=f"tuck {tuck.id}: {found.depth:.0f} mm from its tip a line breaks by "
                f"{found.broken:.1f} mm, but its {mark} {says} {found.marked:.1f} mm: look at the "
                "overlay there",
                about=(tuck.id, tuck.slit),
                at=_place_along(pattern.line(tuck.slit), found.depth),
            )
        )
    if pattern.closure_rms is not None and pattern.closure_rms > CLOSURE_MM:
        remarks.append(
            Remark(
                kind="closure",
                words=f"closing the tucks leaves the broken lines {pattern.closure_rms:.1f} mm "
                "apart (RMS): look at closed.svg for the tuck that was misread",
            )
        )
    return tuple(remarks)


def _about_curvature(pattern: Pattern) -> tuple[Remark, ...]:
    """A remark for each zone whose laps and radii contradict each other (95 %)."""
    remarks = []
    for zone in pattern.zones:
        limit, found = contradicted_by(zone.curvature), zone.curvature
        if limit is not None and found is not None:
            middle = zone.boundary[len(zone.boundary) // 2]
            remarks.append(
                Remark(
                    kind="curvature",
                    words=f"zone {zone.id}: its laps add up to a total curvature of "
                    f"{found.laps_deg:.0f} degrees, the radii told beside it to "
                    f"{found.radii_deg:.0f}; they should agree to {limit:.0f}: a radius told "
                    "wrongly, a line taken for another, or metal that is shaped beyond the bend",
                    about=(zone.id, *zone.tucks),
                    at=middle,
                )
            )
    return tuple(remarks)


def _about_untucked(pattern: Pattern) -> tuple[Remark, ...]:
    """A remark for each stretch of a bend that curves the metal both ways, and has no tuck."""
    remarks = []
    for found in untucked_stretches(pattern):
        first, last = (length_in_words(each, pattern.unit, 0) for each in found.between)
        needs = "a tuck" if found.radii_deg > 0 else "a slit that spreads"
        remarks.append(
            Remark(
                kind="bend-untucked",
                words=f"along {pattern.line(found.start).label} (band {found.band}), from {first} "
                f"to {last}, the radii told ask for {needs} of {abs(found.radii_deg):.0f} degrees, "
                "and none was read there: one was missed, a radius told wrongly, or the metal "
                "inside the bend is not flat",
                about=(found.band, found.start),
                at=found.at,
            )
        )
    return tuple(remarks)


def _place_along(line: Line, along: float) -> Point:
    """The place so many mm along a line, mm."""
    x, y = places_along(np.array(line.path), np.array([along]))[0].tolist()
    return round(x, 3), round(y, 3)
