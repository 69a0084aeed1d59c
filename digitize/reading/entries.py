"""From what the stages found to the record's own words: ids and roundings."""

import base64
from collections.abc import Sequence

import cv2
import numpy as np
from numpy.typing import NDArray
from shapely import LineString, Polygon
from shapely.ops import unary_union

from digitize.floor import (
    Accuracy,
    CardFault,
    Comparison,
    Contour,
    FloorSolution,
    Frame,
    Photo,
    PrintScale,
)
from digitize.lines import RoleProposal, line_of, points_of
from digitize.pencil import Curve, UnseenArea
from digitize.record import (
    AccuracyLine,
    Area,
    Box,
    Break,
    By,
    CardSeen,
    Check,
    Line,
    Note,
    PrintCorrection,
    PrintDoubt,
    Role,
    Scale,
    Source,
    Tuck,
    Unseen,
)
from digitize.tucks import LapReading, TuckMarks

Floats = NDArray[np.float64]
# How often a tuck's marks are what they are taken for, as rendered papers have it.
CUT_SURE, CREASE_SURE = 0.97, 0.93
# Of which mark is which; below, a tuck is unsure. At 0.9 a whole zone's would be, of 43 tucks in
# marks that are known exactly, though none is the other way about.
SURE_ENOUGH = 0.8
UNSEEN_SURE = 0.5  # the most that is claimed of a line where pencil cannot be seen
UNSEEN_SHARE = 0.1  # of a line's length; less of it there leaves it what it is
LINE_ORDER: tuple[Role, ...] = ("trim-edge", "radius-start", "radius-end", "form", "unknown")


def source_of(photo: Photo) -> Source:
    """A photo's entry in the record."""
    width, height = photo.size_px
    return Source(
        photo=photo.name,
        sha256=photo.sha256,
        width_px=width,
        height_px=height,
        camera=photo.camera,
        taken=photo.taken,
    )


def scale_of(
    floor: FloorSolution,
    frame: Frame,
    print_scale: PrintScale,
    accuracy: Accuracy,
    print_doubt: PrintDoubt,
    faults: Sequence[CardFault],
    checks: Sequence[Comparison],
    held_flat: bool,
    contours: Sequence[Contour],
) -> Scale:
    """How the photos were brought to true size; the accuracy is that of the outline's points."""
    centres = frame.from_floor(np.array([card.centre for card in floor.cards]))
    worst = int(np.argmax(accuracy.total_mm))
    return Scale(
        cards=tuple(
            CardSeen(
                number=card.number,
                paper=card.paper,
                corners=card.corners,
                centre=points_of(np.array([centre]))[0],
                turn_deg=round(float(np.degrees(card.turn - frame.turn)), 3),
            )
            for card, centre in zip(floor.cards, centres, strict=True)
        ),
        cards_left_out=tuple(n for fault in faults if fault.left_out for n in fault.numbers),
        reprojection_px=round(floor.reprojection_px, 4),
        print_correction=PrintCorrection(x=print_scale.x, y=print_scale.y),
        accuracy_mm=round(float(accuracy.total_mm[worst]), 3),
        accuracy_cards_mm=round(float(accuracy.cards_mm[worst]), 3),
        accuracy_print_mm=round(float(accuracy.print_mm[worst]), 3),
        accuracy_flatness_mm=round(float(accuracy.flatness_mm[worst]), 3),
        held_flat=held_flat,
        accuracy_lines=tuple(
            AccuracyLine(within=contour.mm, points=points_of(contour.points))
            for contour in contours
        ),
        print_doubt=print_doubt,
        checks=tuple(
            Check(
                between=check.names,
                taped_mm=check.taped_mm,
                read_mm=round(check.read_mm, 3),
                limit_mm=round(check.limit_mm, 3),
                used=check.used,
            )
            for check in checks
        ),
    )


def lines_and_tucks(
    lines: Sequence[Curve],
    roles: Sequence[RoleProposal],
    tucks: Sequence[TuckMarks],
    laps: Sequence[LapReading],
) -> tuple[tuple[Line, ...], tuple[Tuck, ...]]:
    """Every line, numbered by role, then each tuck's own lines; and the tucks."""
    records: list[Line] = []

    def add(curve: Curve, role: Role, confidence: float, by: By = "proposed") -> str:
        records.append(line_of(curve, f"L{len(records) + 1}", role, confidence, by))
        return records[-1].id

    names = [""] * len(lines)
    for wanted in LINE_ORDER:
        for index, (curve, proposal) in enumerate(zip(lines, roles, strict=True)):
            if proposal.role == wanted:
                names[index] = add(curve, proposal.role, proposal.confidence, proposal.by)
    tuck_records = []
    for index, (marks, reading) in enumerate(zip(tucks, laps, strict=True)):
        fold = marks.kind == "fold"
        sure = round((CREASE_SURE if fold else CUT_SURE) * marks.sure, 2)
        main = add(marks.main, "crease" if fold else "slit", sure)
        second = add(marks.second, "crease" if fold else "lap", sure) if marks.second else None
        tuck_records.append(
            Tuck(
                id=f"T{index + 1}",
                kind=marks.kind,
                tip=points_of(marks.main.points[:1])[0],
                slit=main,
                lap_line=None if fold else second,
                other_crease=second if fold else None,
                stations=reading.stations,
                unsure=marks.sure < SURE_ENOUGH,
                breaks=tuple(
                    Break(
                        lines=(names[found.lines[0]], names[found.lines[1]]),
                        depth=round(found.depth, 3),
                        lap=round(found.lap, 3),
                        along=round(found.along, 3),
                    )
                    for found in reading.breaks
                ),
            )
        )
    return tuple(records), tuple(tuck_records)


def withdrawn(struck: Sequence[Curve], before: int) -> tuple[Line, ...]:
    """Lines that were struck out, numbered after so many others."""
    return tuple(
        line_of(curve, f"L{before + index + 1}", "unknown", 0.0).model_copy(
            update={"withdrawn": True}
        )
        for index, curve in enumerate(struck)
    )


def hatched_area(boundary: Floats, index: int) -> Area:
    """A hatched area's (N, 2) entry in the record; told ones have no dash in their names."""
    return Area(id=f"A-{index + 1}", use="hatched", boundary=points_of(boundary))


def note_of(box: Box, picture: NDArray[np.uint8], index: int) -> Note:
    """Writing's entry in the record, with a grey picture (H, W) of it."""
    x0, y0, x1, y1 = (round(value, 3) for value in box)
    _, content = cv2.imencode(".png", picture, [cv2.IMWRITE_PNG_COMPRESSION, 9])
    shown = base64.b64encode(content.tobytes()).decode("ascii")
    return Note(id=f"N{index + 1}", box=(x0, y0, x1, y1), picture=shown)


def unseen_of(area: UnseenArea) -> Unseen:
    """An area's entry in the record."""
    return Unseen(boundary=points_of(area.boundary), reason=area.reason)


def doubted(
    lines: Sequence[Line], areas: Sequence[UnseenArea]
) -> tuple[tuple[Line, ...], tuple[str, ...]]:
    """The lines, those less sure that lie where pencil cannot be seen; and the ids of these."""
    if not areas:
        return tuple(lines), ()
    hidden = unary_union([Polygon(area.boundary) for area in areas])
    result, there = [], []
    for line in lines:
        path, sure, role_sure = LineString(line.path), line.confidence, line.role_confidence
        if path.intersection(hidden).length > UNSEEN_SHARE * path.length:
            there.append(line.id)
            sure = min(sure, UNSEEN_SURE)
            if line.role_by == "proposed":
                role_sure = min(role_sure, UNSEEN_SURE)
        result.append(line.model_copy(update={"confidence": sure, "role_confidence": role_sure}))
    return tuple(result), tuple(there)
