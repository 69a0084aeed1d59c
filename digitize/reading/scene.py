"""The scene that photos show: the floor at true size, the paper on it, and how true both are."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from digitize.card import RULE_MM, SHEETS_MM, find_cards, why_no_card
from digitize.floor import (
    NORMAL_95,
    PAPER_LIFT_MM,
    RULE_READING_MM,
    Accuracy,
    Bounds,
    CardFault,
    CheckDistance,
    Choice,
    Comparison,
    FloorSolution,
    Frame,
    KeptCamera,
    Photo,
    PlacedCard,
    PrintScale,
    Raster,
    Surface,
    View,
    accuracy_at,
    choose_photos,
    compare_checks,
    doubt_of,
    lens_for,
    pixel_size_mm,
    put_together,
    rectify,
    refuse_misfit,
    refuse_other_focal,
    solve_heights,
    solve_sound_floor,
    upright_frame,
    use_checks,
    view_bounds,
)
from digitize.paper import find_paper, place_edge

Floats = NDArray[np.float64]
FINE_MM = (0.2, 0.4)  # the raster's pixel follows the photo's, within these
MOST_RASTER_PX = 25e6
PAPER_MARGIN_MM = 12.0
TOLERANCE_MM = 0.8  # about 1/32 in; common practice, no source


@dataclass(frozen=True)
class Asked:
    """What is known beside the photos, and what is asked of them.

    Attributes
    ----------
    print_scale : the cards' true size over their nominal size; None if nobody measured.
    kept_camera : the photos' camera, if its lens was solved earlier.
    checks : taped distances, to compare; with ``checks_used`` they also bear on the solution.
    tolerance_mm : a remark says what to do where points may be further off than this.
    """

    print_scale: PrintScale | None = None
    kept_camera: KeptCamera | None = None
    checks: tuple[CheckDistance, ...] = ()
    checks_used: bool = False
    tolerance_mm: float = TOLERANCE_MM


@dataclass(frozen=True)
class Scene:
    """What photos show of a paper beside its cards, in the pattern frame, mm.

    Attributes
    ----------
    floor : cameras and cards, in the floor frame; ``frame`` is the pattern's on it.
    faults : cards that do not fit the others.
    checks : taped distances beside those read.
    print_scale : the cards' size that was used; ``print_relative`` how far it may be off, 95 %, as
        a share.
    choice : from which photo each place is read.
    surface : how the paper stands off the floor, if more than one photo shows it.
    raster : the paper from straight above.
    outline : (N, 2) its edge, counter-clockwise.
    """

    photos: tuple[Photo, ...]
    asked: Asked
    floor: FloorSolution
    faults: tuple[CardFault, ...]
    checks: tuple[Comparison, ...]
    print_scale: PrintScale
    print_relative: float
    frame: Frame
    choice: Choice
    surface: Surface | None
    raster: Raster
    outline: Floats

    def accuracy(self, points: Floats) -> Accuracy:
        """How far points (N, 2) may be off, 95 %."""
        lift = PAPER_LIFT_MM if self.surface is None else NORMAL_95 * self.surface.sigma_at(points)
        doubts = sum(doubt_of(fault, self.floor.cameras[0]) for fault in self.faults)
        return accuracy_at(
            self.floor,
            self.frame.to_floor(points),
            self.choice.at(points),
            self.frame.to_floor(self.outline),
            self.choice.at(self.outline),
            lift,
            float(np.hypot(self.print_relative, doubts)),
        )


def see_scene(photos: Sequence[Photo], asked: Asked, progress: Callable[[str], None]) -> Scene:
    """The scene of overlapping photos of one paper.

    Raises
    ------
    NoCard, TooDark, TooBlurred, CardsApart, CameraError, CheckError, NoPaper
        If the photos do not show it; the message says what to change about them.
    """
    progress("cards")
    views = views_of(photos)

    progress("floor")
    print_scale = asked.print_scale or PrintScale()
    kept_lens = lens_for(asked.kept_camera, views) if asked.kept_camera else None
    floor, faults = solve_sound_floor(views, print_scale, kept_lens)
    if kept_lens:
        refuse_misfit(floor, print_scale)
    else:
        refuse_other_focal(floor)
    grey = _grey(photos[0]) if asked.checks else np.zeros((0, 0), np.uint8)
    compared = compare_checks(floor, asked.checks, grey)
    print_relative = RULE_READING_MM / RULE_MM
    if asked.checks and asked.checks_used:
        floor, stretch, print_relative = use_checks(floor, asked.checks, grey)
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
    raster = _fine_raster(photos, floor, frame, rough, choice, surface)
    outline = place_edge(raster, rough)
    origin = outline.min(axis=0)
    return Scene(
        photos=tuple(photos),
        asked=asked,
        floor=floor,
        faults=faults,
        checks=compared,
        print_scale=print_scale,
        print_relative=print_relative,
        frame=frame.shifted(origin),
        choice=choice.shifted(origin),
        surface=surface.shifted(origin) if surface else None,
        raster=replace(
            raster, left=raster.left - float(origin[0]), top=raster.top - float(origin[1])
        ),
        outline=outline - origin,
    )


def views_of(photos: Sequence[Photo]) -> list[View]:
    """Each photo with its cards; raises NoCard, TooDark, TooBlurred if one shows none."""
    return [_view(photo) for photo in photos]


def _view(photo: Photo) -> View:
    grey = _grey(photo)
    found = find_cards(grey)
    if not found:
        raise why_no_card(photo.name, grey)
    height, width = grey.shape
    return View(found, (width, height), photo.focal_px, photo.quarter_turns, photo.camera)


def _grey(photo: Photo) -> NDArray[np.uint8]:
    return np.asarray(cv2.cvtColor(photo.pixels, cv2.COLOR_RGB2GRAY), np.uint8)


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
