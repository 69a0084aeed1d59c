"""What is told about the whole: the paper's edge, allowances, datum, holes, areas, the part."""

from digitize.errors import ToldError
from digitize.floor import HELD_FLAT_MM, PAPER_LIFT_MM
from digitize.mend.places import along_at, lines_along, piece_at
from digitize.record import (
    Allowance,
    Area,
    Datum,
    Hole,
    Pattern,
    Scale,
    TellAbout,
    TellAllowance,
    TellArea,
    TellDatum,
    TellHole,
    TellOutline,
)
from digitize.units import NotALength, sheet_size

# What the photos left open and gave to say, until it is told.
FLATNESS_UNSEEN, OUTLINE_UNSURE, ACCURACY = "flatness-unseen", "outline-unsure", "accuracy"


def outline_told(pattern: Pattern, fact: TellOutline) -> Pattern:
    """The pattern with its paper's edge as told; none of it is unsure."""
    kept = tuple(remark for remark in pattern.remarks if remark.kind != OUTLINE_UNSURE)
    return pattern.model_copy(
        update={"outline": fact.points, "outline_unsure": (), "remarks": kept}
    )


def allowance_told(pattern: Pattern, fact: TellAllowance) -> Pattern:
    """The pattern with an allowance in place of any told for the same lines."""
    meant = [line for on in fact.on for line in lines_along(pattern, on)]
    for line in meant:
        if line.role != "trim-edge":
            raise ToldError(f"{line.id}: is {line.role}, and metal to spare lies along a trim edge")
    if fact.between is not None:
        if not meant:
            raise ToldError("an allowance between two places has to be along a line: say which")
        line = piece_at(meant, fact.between[0])
        along_at(line, fact.between[1])
        stretch = Allowance(lines=(line.id,), width=fact.width, between=fact.between)
        return pattern.model_copy(update={"allowances": (*pattern.allowances, stretch)})
    lines = tuple(line.id for line in meant)
    kept = []
    for each in pattern.allowances:
        left = tuple(name for name in each.lines if name not in lines)
        if left or (lines and not each.lines):
            kept.append(each.model_copy(update={"lines": left}))
    return pattern.model_copy(
        update={"allowances": (*kept, Allowance(lines=lines, width=fact.width))}
    )


def datum_told(pattern: Pattern, fact: TellDatum) -> Pattern:
    """The pattern with the datum, in place of one told before."""
    return pattern.model_copy(update={"datum": Datum(at=fact.at, direction_deg=fact.direction_deg)})


def hole_told(pattern: Pattern, fact: TellHole) -> Pattern:
    """The pattern with a hole more."""
    hole = Hole(id=f"H{fact.number}", at=fact.at, diameter=fact.diameter)
    return pattern.model_copy(update={"holes": (*pattern.holes, hole)})


def area_told(pattern: Pattern, fact: TellArea) -> Pattern:
    """The pattern with an area more."""
    area = Area(id=f"A{fact.number}", use=fact.use, boundary=fact.boundary)
    return pattern.model_copy(update={"areas": (*pattern.areas, area)})


def about_told(pattern: Pattern, fact: TellAbout) -> Pattern:
    """The pattern with its name, part, sheet and the like as told; what is not told stays."""
    if fact.stock is not None:
        try:
            sheet_size(fact.stock, fact.unit or pattern.unit)
        except NotALength as error:
            raise ToldError(
                f"stock {fact.stock}: {error}; write it like 1250x2500, 4x8ft"
            ) from error
    fields = ("name", "part", "reference", "side", "sheet", "stock", "unit")
    update = {field: getattr(fact, field) for field in fields if getattr(fact, field) is not None}
    if fact.held_flat is not None and pattern.scale is not None:
        update["scale"] = _held(pattern.scale, fact.held_flat, len(pattern.sources))
        gone = (FLATNESS_UNSEEN, ACCURACY) if fact.held_flat else (ACCURACY,)
        update["remarks"] = tuple(r for r in pattern.remarks if r.kind not in gone)
    return pattern.model_copy(update=update)


def _held(scale: Scale, held_flat: bool, photos: int) -> Scale:
    """The scale of a paper that was, or was not, held flat.

    Of one photo the part for flatness is in proportion to how far the paper may stand off the
    floor; what several photos measured stays.
    """
    if scale.held_flat == held_flat or photos > 1:
        return scale.model_copy(update={"held_flat": held_flat})
    lift = HELD_FLAT_MM / PAPER_LIFT_MM if held_flat else PAPER_LIFT_MM / HELD_FLAT_MM
    flatness = scale.accuracy_flatness_mm * lift
    off = flatness**2 - scale.accuracy_flatness_mm**2
    doubt = scale.print_doubt
    if doubt is not None:
        beside = max(doubt.accuracy_beside_mm**2 + off, 0.0) ** 0.5
        doubt = doubt.model_copy(update={"accuracy_beside_mm": round(beside, 3)})
    return scale.model_copy(
        update={
            "held_flat": held_flat,
            "accuracy_flatness_mm": round(flatness, 3),
            "accuracy_lines": (),
            "accuracy_mm": round(max(scale.accuracy_mm**2 + off, 0.0) ** 0.5, 3),
            "print_doubt": doubt,
        }
    )
