"""Photos in, pattern out: the whole job on one page."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from digitize.card.find import find_cards, why_no_card
from digitize.card.layout import RULE_MM, SHEETS_MM
from digitize.floor.accuracy import (
    NORMAL_95,
    PAPER_LIFT_MM,
    RULE_READING_MM,
    Accuracy,
    Contour,
    accuracy_at,
    accuracy_contours,
)
from digitize.floor.check import CheckDistance, compare_checks, use_checks
from digitize.floor.faults import doubt_of, solve_sound_floor
from digitize.floor.frame import Bounds, Frame, Surface
from digitize.floor.heights import solve_heights
from digitize.floor.kept import KeptCamera, keep_camera, lens_for, refuse_misfit
from digitize.floor.photo import Photo
from digitize.floor.raster import (
    Choice,
    Raster,
    choose_photos,
    pixel_size_mm,
    put_together,
    rectify,
    upright_frame,
    view_bounds,
)
from digitize.floor.solve import FloorSolution, PlacedCard, PrintScale
from digitize.floor.start import View
from digitize.paper.outline import find_paper, place_edge
from digitize.pattern import Pattern, Rectified, Role, Side
from digitize.pencil.curves import fit_curves
from digitize.pencil.junctions import meet_at_corners, meet_at_tees
from digitize.pencil.ridges import find_ridges
from digitize.pencil.roles import NOTHING_TOLD, propose_roles
from digitize.pencil.strokes import find_strokes
from digitize.pencil.traces import without_traces
from digitize.pencil.writing import set_writing_aside
from digitize.record import lines_and_tucks, note_of, points_of, scale_of, source_of
from digitize.remarks import (
    about_accuracy,
    about_checks,
    about_faults,
    about_gapes,
    about_lines,
    about_unread,
)
from digitize.shop.derived import derived
from digitize.tucks.laps import measure_laps
from digitize.tucks.pivots import pivots_of
from digitize.tucks.slits import find_tucks

Floats = NDArray[np.float64]
FINE_MM = (0.2, 0.4)  # the raster's pixel follows the photo's, within these
MOST_RASTER_PX = 25e6
PAPER_MARGIN_MM = 12.0
TOLERANCE_MM = 0.8  # about 1/32 in; common practice, no source
STAGES = ("cards", "floor", "paper", "height", "pencil", "tucks", "record")


class ReadingError(Exception):
    """The photo was understood but holds no pattern; the message says what to change."""


@dataclass(frozen=True)
class Reading:
    """A pattern, the true-size raster it was read from, and lines of equal accuracy over it.

    All in the pattern frame.
    """

    pattern: Pattern
    raster: Raster
    contours: tuple[Contour, ...]


def read_pattern(
    photos: Sequence[Photo],
    name: str,
    side: Side = "unknown",
    print_scale: PrintScale | None = None,
    kept_camera: KeptCamera | None = None,
    checks: Sequence[CheckDistance] = (),
    checks_used: bool = False,
    tolerance_mm: float = TOLERANCE_MM,
    ink_roles: Mapping[str, Role] = NOTHING_TOLD,
    progress: Callable[[str], None] = lambda stage: None,
) -> Reading:
    """Read a paper pattern from photos of it beside scale cards.

    Parameters
    ----------
    photos : overlapping photos of the same paper; each place is read from the one that sees it
        best, and how the paper stands off the floor from two or more.
    name, side : as the user gives them.
    print_scale : the cards' true size over their nominal size.
    kept_camera : the photos' camera, if its lens was solved earlier.
    checks : taped distances, to compare; with ``checks_used`` they also bear on the solution.
    tolerance_mm : a warning says what to do where points may be further off than this.
    ink_roles : what lines of an ink are, as the user has it.
    progress : told each stage's name as it begins.

    Raises
    ------
    CardError, CardsApart, CameraError, CheckError, PaperError, ReadingError
        If a stage cannot do its work; the message says what to change about the photo.
    """
    measured = print_scale is not None
    print_scale = print_scale or PrintScale()

    progress("cards")
    views = [_view(photo) for photo in photos]

    progress("floor")
    kept_lens = lens_for(kept_camera, views) if kept_camera else None
    floor, faults = solve_sound_floor(views, print_scale, kept_lens)
    if kept_lens:
        refuse_misfit(floor)
    grey = _grey(photos[0]) if checks else np.zeros((0, 0), np.uint8)
    compared = compare_checks(floor, checks, grey)
    print_relative = RULE_READING_MM / RULE_MM
    if checks and checks_used:
        floor, stretch, print_relative = use_checks(floor, checks, grey)
        print_scale = PrintScale(print_scale.x * stretch, print_scale.y * stretch)
        compared = tuple(replace(comparison, used=True) for comparison in compared)
    cameras = floor.cameras
    frame = upright_frame(cameras[0])
    choice, coarse = choose_photos(
        [photo.pixels for photo in photos], cameras, frame, view_bounds(cameras, frame)
    )

    progress("paper")
    rough = find_paper(coarse, [_sheet(card, frame) for card in floor.cards])

    progress("height")
    surface = None
    if len(photos) > 1:
        surface = solve_heights([_grey(photo) for photo in photos], cameras, frame, rough)
    fine = _fine_raster(photos, floor, frame, rough, choice, surface)
    outline = place_edge(fine, rough)
    origin = outline.min(axis=0)
    frame, choice, outline = frame.shifted(origin), choice.shifted(origin), outline - origin
    surface = surface.shifted(origin) if surface else None
    fine = replace(fine, left=fine.left - float(origin[0]), top=fine.top - float(origin[1]))

    progress("pencil")
    ridges = find_ridges(fine, outline)
    strokes = find_strokes(ridges)
    marks, notes = set_writing_aside(fit_curves(strokes, ridges, fine))
    if not marks:
        raise ReadingError(
            "no pencil lines were found on the paper; go over them with a softer pencil or a pen, "
            "or take the photo closer and in brighter, even light"
        )

    progress("tucks")
    tucks, pieces = find_tucks(marks, outline, ridges.darkness_at)
    breaks = [mark for tuck in tucks for mark in (tuck.main, tuck.second) if mark is not None]
    lines = meet_at_corners(without_traces(pieces), breaks)
    lines = meet_at_tees(lines, [tuck.main for tuck in tucks])
    roles = propose_roles(lines, outline, [tuck.main.points for tuck in tucks], ink_roles)
    laps = [
        measure_laps(tuck, pivot, lines, ridges.darkness_at)
        for tuck, pivot in zip(tucks, pivots_of(tucks), strict=True)
    ]

    progress("record")
    print_relative = float(np.hypot(print_relative, sum(doubt_of(f, cameras[0]) for f in faults)))

    def accuracy(points: Floats) -> Accuracy:
        lift = PAPER_LIFT_MM if surface is None else NORMAL_95 * surface.sigma_at(points)
        return accuracy_at(
            floor,
            frame.to_floor(points),
            choice.at(points),
            frame.to_floor(outline),
            choice.at(outline),
            lift,
            print_relative,
        )

    at_edge = accuracy(outline)
    records, tuck_records = lines_and_tucks(lines, roles, tucks, laps)
    pattern = Pattern(
        name=name,
        side=side,
        sources=tuple(source_of(photo) for photo in photos),
        scale=scale_of(floor, frame, print_scale, at_edge, faults, compared),
        outline=points_of(outline),
        lines=records,
        tucks=tuck_records,
        rectified=Rectified(left=fine.left, top=fine.top, mm_per_px=fine.mm_per_px),
        notes=tuple(note_of(box, index) for index, box in enumerate(notes)),
        warnings=(
            *about_faults(faults),
            *about_checks(compared),
            *about_accuracy(
                at_edge, tolerance_mm, floor, frame, outline, choice.at(outline), measured
            ),
            *about_lines(records),
            *about_gapes(laps),
            *about_unread(laps),
        ),
    )
    return Reading(derived(pattern), fine, accuracy_contours(accuracy, outline))


def solve_camera(
    photos: Sequence[Photo],
    print_scale: PrintScale | None = None,
    progress: Callable[[str], None] = lambda stage: None,
) -> tuple[KeptCamera, tuple[str, ...]]:
    """Solve a camera's lens from shots of cards, to be kept; and what is to be said about it.

    Raises
    ------
    CardError, CardsApart, CameraError
        If the shots do not settle the lens; the message says what to change.
    """
    progress("cards")
    views = [_view(photo) for photo in photos]
    progress("floor")
    floor, faults = solve_sound_floor(views, print_scale)
    return keep_camera(floor), about_faults(faults)


def _grey(photo: Photo) -> NDArray[np.uint8]:
    return np.asarray(cv2.cvtColor(photo.pixels, cv2.COLOR_RGB2GRAY), np.uint8)


def _view(photo: Photo) -> View:
    grey = _grey(photo)
    found = find_cards(grey)
    if not found:
        raise why_no_card(photo.name, grey)
    height, width = grey.shape
    return View(found, (width, height), photo.focal_px, photo.quarter_turns, photo.camera)


def _sheet(card: PlacedCard, frame: Frame) -> Floats:
    width, height = SHEETS_MM[card.paper]
    corners = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) / 2 * [width, height]
    return frame.from_floor(Frame(*card.centre, card.turn).to_floor(corners))


def _fine_raster(
    photos: Sequence[Photo],
    floor: FloorSolution,
    frame: Frame,
    paper: Floats,
    choice: Choice,
    surface: Surface | None,
) -> Raster:
    """The paper alone, put together from the photos at about their own resolution."""
    low, high = paper.min(axis=0) - PAPER_MARGIN_MM, paper.max(axis=0) + PAPER_MARGIN_MM
    bounds: Bounds = (float(low[0]), float(low[1]), float(high[0]), float(high[1]))
    fine_mm = float(np.clip(pixel_size_mm(floor.cameras, frame, bounds) * 0.8, *FINE_MM))
    fine_mm = max(fine_mm, float(np.sqrt(np.prod(high - low) / MOST_RASTER_PX)))
    rasters = [
        rectify(photo.pixels, camera, frame, bounds, fine_mm, surface)
        for photo, camera in zip(photos, floor.cameras, strict=True)
    ]
    return put_together(rasters, choice)
