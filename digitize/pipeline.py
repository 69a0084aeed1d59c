"""Photos in, pattern out: the whole job on one page."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from digitize.card.find import FoundCard, find_cards, why_no_card
from digitize.card.layout import SHEETS_MM
from digitize.floor.accuracy import Accuracy, accuracy_over
from digitize.floor.photo import Photo
from digitize.floor.raster import (
    Frame,
    Raster,
    pixel_size_mm,
    rectify,
    upright_frame,
    view_bounds,
)
from digitize.floor.solve import FloorSolution, PlacedCard, PrintScale, solve_floor
from digitize.paper.outline import COARSE_MM, find_paper, place_edge
from digitize.pattern import (
    CardSeen,
    Line,
    Note,
    Pattern,
    PrintCorrection,
    Role,
    Scale,
    Side,
    Source,
    Tuck,
    Zone,
)
from digitize.pencil.curves import Curve, fit_curves
from digitize.pencil.junctions import meet_at_corners, meet_at_tees
from digitize.pencil.mend import extend_strokes, join_strokes, split_strokes
from digitize.pencil.ridges import find_ridges
from digitize.pencil.roles import RoleProposal, propose_roles
from digitize.pencil.trace import trace_strokes
from digitize.pencil.writing import set_writing_aside
from digitize.tucks.laps import LapProfile, measure_laps
from digitize.tucks.slits import TuckMarks, find_tucks
from digitize.tucks.zones import ShrinkZone, build_zones

Floats = NDArray[np.float64]
FINE_MM = (0.2, 0.4)  # the raster's pixel follows the photo's, within these
PAPER_MARGIN_MM = 12.0
TOLERANCE_MM = 0.8  # about 1/32 in; common practice, no source
LINE_ORDER: tuple[Role, ...] = ("trim-edge", "radius-start", "radius-end", "form", "unknown")
STAGES = ("cards", "floor", "paper", "pencil", "tucks", "record")


class ReadingError(Exception):
    """The photo was understood but holds no pattern; the message says what to change."""


@dataclass(frozen=True)
class Reading:
    """A pattern, and the true-size raster it was read from (in the pattern frame)."""

    pattern: Pattern
    raster: Raster


def read_pattern(
    photos: Sequence[Photo],
    name: str,
    side: Side = "unknown",
    print_scale: PrintScale | None = None,
    progress: Callable[[str], None] = lambda stage: None,
) -> Reading:
    """Read a paper pattern from photos of it beside scale cards.

    Parameters
    ----------
    photos : all take part in solving the floor; the pattern is read from the first.
    name, side : as the user gives them.
    print_scale : the cards' true size over their nominal size.
    progress : told each stage's name as it begins.

    Raises
    ------
    CardError, CardsApart, PaperError, ReadingError
        If a stage cannot do its work; the message says what to change about the photo.
    """
    print_scale = print_scale or PrintScale()

    progress("cards")
    cards = [_cards_in(photo) for photo in photos]
    sizes = [(photo.pixels.shape[1], photo.pixels.shape[0]) for photo in photos]

    progress("floor")
    floor = solve_floor(cards, sizes, [photo.focal_px for photo in photos], print_scale)
    camera, pixels = floor.cameras[0], photos[0].pixels
    frame = upright_frame(camera)
    coarse = rectify(pixels, camera, frame, view_bounds(camera, frame), COARSE_MM)

    progress("paper")
    rough = find_paper(coarse, [_sheet(card, frame) for card in floor.cards])
    bounds = (*(rough.min(axis=0) - PAPER_MARGIN_MM), *(rough.max(axis=0) + PAPER_MARGIN_MM))
    fine_mm = float(np.clip(pixel_size_mm(camera, frame, bounds) * 0.8, *FINE_MM))
    fine = rectify(pixels, camera, frame, bounds, fine_mm)
    outline = place_edge(fine, rough)
    origin = outline.min(axis=0)
    frame, outline = frame.shifted(origin), outline - origin
    fine = replace(fine, left=fine.left - float(origin[0]), top=fine.top - float(origin[1]))

    progress("pencil")
    ridges = find_ridges(fine, outline)
    strokes = extend_strokes(trace_strokes(ridges, fine.mm_per_px), ridges, fine.mm_per_px)
    strokes = join_strokes(strokes, ridges, fine.mm_per_px)
    strokes = split_strokes(strokes, ridges, fine.mm_per_px)
    marks, notes = set_writing_aside(fit_curves(strokes, ridges, fine))
    if not marks:
        raise ReadingError(
            "no pencil lines were found on the paper; go over them with a softer pencil or a pen, "
            "or take the photo closer and in brighter, even light"
        )

    progress("tucks")
    tucks, pieces = find_tucks(marks, outline)
    lines = meet_at_tees(meet_at_corners(pieces), [tuck.main for tuck in tucks])
    roles = propose_roles(lines, outline, [tuck.main.points for tuck in tucks])
    trim = [line for line, role in zip(lines, roles, strict=True) if role.role == "trim-edge"]
    laps = [measure_laps(tuck, lines, trim) for tuck in tucks]
    zones = build_zones(tucks, laps)

    progress("record")
    accuracy = accuracy_over(floor, frame.to_floor(outline))
    records, tuck_records = _lines_and_tucks(lines, roles, tucks, laps)
    pattern = Pattern(
        name=name,
        side=side,
        sources=tuple(_source(photo) for photo in photos),
        scale=_scale(floor, frame, print_scale, accuracy),
        outline=_points(outline),
        lines=records,
        tucks=tuck_records,
        zones=tuple(_zone(zone, index) for index, zone in enumerate(zones)),
        notes=tuple(_note(box, index) for index, box in enumerate(notes)),
        warnings=_warnings(accuracy, print_scale, records),
    )
    return Reading(pattern, fine)


def _cards_in(photo: Photo) -> tuple[FoundCard, ...]:
    grey = np.asarray(cv2.cvtColor(photo.pixels, cv2.COLOR_RGB2GRAY), np.uint8)
    found = find_cards(grey)
    if not found:
        raise why_no_card(photo.name, grey)
    return found


def _sheet(card: PlacedCard, frame: Frame) -> Floats:
    width, height = SHEETS_MM[card.paper]
    corners = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) / 2 * [width, height]
    return frame.from_floor(Frame(*card.centre, card.turn).to_floor(corners))


def _points(points: Floats) -> tuple[tuple[float, float], ...]:
    return tuple((round(float(x), 3), round(float(y), 3)) for x, y in points)


def _source(photo: Photo) -> Source:
    height, width = photo.pixels.shape[:2]
    return Source(
        photo=photo.name,
        sha256=photo.sha256,
        width_px=width,
        height_px=height,
        camera=photo.camera,
        taken=photo.taken,
    )


def _scale(
    floor: FloorSolution, frame: Frame, print_scale: PrintScale, accuracy: Accuracy
) -> Scale:
    centres = frame.from_floor(np.array([card.centre for card in floor.cards]))
    return Scale(
        cards=tuple(
            CardSeen(
                number=card.number,
                paper=card.paper,
                corners=card.corners,
                centre=(round(float(x), 3), round(float(y), 3)),
                turn_deg=round(float(np.degrees(card.turn - frame.turn)), 3),
            )
            for card, (x, y) in zip(floor.cards, centres, strict=True)
        ),
        reprojection_px=round(floor.reprojection_px, 4),
        print_correction=PrintCorrection(x=print_scale.x, y=print_scale.y),
        accuracy_mm=round(accuracy.total_mm, 3),
        accuracy_cards_mm=round(accuracy.cards_mm, 3),
        accuracy_print_mm=round(accuracy.print_mm, 3),
        accuracy_flatness_mm=round(accuracy.flatness_mm, 3),
    )


def _lines_and_tucks(
    lines: Sequence[Curve],
    roles: Sequence[RoleProposal],
    tucks: Sequence[TuckMarks],
    laps: Sequence[LapProfile],
) -> tuple[tuple[Line, ...], tuple[Tuck, ...]]:
    records: list[Line] = []

    def add(curve: Curve, role: Role, confidence: float) -> str:
        red, green, blue = curve.grey
        records.append(
            Line(
                id=f"L{len(records) + 1}",
                role=role,
                role_confidence=confidence,
                points=_points(curve.points),
                closed=curve.closed,
                colour=f"#{red:02x}{green:02x}{blue:02x}",
                width=round(curve.width, 2),
                sigma=round(curve.sigma, 3),
            )
        )
        return records[-1].id

    for wanted in LINE_ORDER:
        for curve, proposal in zip(lines, roles, strict=True):
            if proposal.role == wanted:
                add(curve, proposal.role, proposal.confidence)
    tuck_records = []
    for index, (marks, profile) in enumerate(zip(tucks, laps, strict=True)):
        fold = marks.kind == "fold"
        main = add(marks.main, "crease" if fold else "slit", 0.9)
        second = add(marks.second, "crease" if fold else "lap", 0.85) if marks.second else None
        tuck_records.append(
            Tuck(
                id=f"T{index + 1}",
                kind=marks.kind,
                tip=_points(marks.main.points[:1])[0],
                slit=main,
                lap_line=None if fold else second,
                stations=profile.stations,
                deficit_deg=round(profile.deficit_deg, 3),
                lap_at_trim=round(profile.lap_at_trim, 3),
            )
        )
    return tuple(records), tuple(tuck_records)


def _note(box: tuple[float, float, float, float], index: int) -> Note:
    x0, y0, x1, y1 = (round(value, 3) for value in box)
    return Note(id=f"N{index + 1}", box=(x0, y0, x1, y1))


def _zone(zone: ShrinkZone, index: int) -> Zone:
    return Zone(
        id=f"Z{index + 1}",
        kind="shrink",
        boundary=_points(zone.boundary),
        tucks=tuple(f"T{tuck + 1}" for tuck in zone.tucks),
        stations=zone.stations,
        peak_shrink=zone.peak_shrink,
    )


def _warnings(accuracy: Accuracy, scale: PrintScale, lines: Sequence[Line]) -> tuple[str, ...]:
    warnings = []
    if accuracy.total_mm > TOLERANCE_MM:
        remedies = {
            "the cards": (accuracy.cards_mm, "lay a card on each side of the paper"),
            "the cards' print": (
                accuracy.print_mm,
                "measure the cards' 150 mm rules and give what they read"
                if scale == PrintScale()
                else "read the cards' rules more closely",
            ),
            "paper that may not lie flat": (
                accuracy.flatness_mm,
                "weigh the paper down, and stand over its middle or further off",
            ),
        }
        part, (size, remedy) = max(remedies.items(), key=lambda item: item[1][0])
        warnings.append(
            f"points at the paper's edge may be off by {accuracy.total_mm:.1f} mm; most of it "
            f"({size:.1f} mm) comes from {part}: {remedy}"
        )
    if not any(line.role == "trim-edge" for line in lines):
        warnings.append("no line could be told for the trim edge")
    return tuple(warnings)
