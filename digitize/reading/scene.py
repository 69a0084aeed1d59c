"""The scene that photos show: the floor at true size, the paper on it, and how true both are."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import partial

import cv2
import numpy as np
from numpy.typing import NDArray
from shapely import MultiPoint, Polygon, box, union_all, voronoi_polygons
from shapely.geometry.base import BaseGeometry

from digitize.card import CELL_MM, SHEETS_MM, card_layout, find_cards, why_no_card
from digitize.defaults import TOLERANCE_MM
from digitize.errors import NoPaper, TooSmall
from digitize.floor import (
    HELD_FLAT_MM,
    NORMAL_95,
    PAPER_LIFT_MM,
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
    PrintSeen,
    Raster,
    Repeat,
    Surface,
    View,
    accuracy_at,
    choose_photos,
    compare_checks,
    doubt_of,
    lens_for,
    pixel_size_mm,
    pixels_per_mm,
    print_doubt,
    print_of,
    rectify_chosen,
    refuse_contradiction,
    refuse_lone_cut,
    refuse_misfit,
    refuse_open_lens,
    refuse_other_focal,
    see_sheet,
    set_repeats_aside,
    solve_heights,
    solve_rolled_ends,
    solve_sound_floor,
    upright_frame,
    use_checks,
    view_bounds,
)
from digitize.paper import LESS_LIGHT, Cut, Edge, LaidCard, cut_paper, place_edge, told_paper
from digitize.remarks import too_few
from digitize.workers import side_by_side

Floats = NDArray[np.float64]
FINE_MM, FINE_STEP_MM = (0.2, 0.4), 0.02  # the raster's pixel follows the photo's, within these
BOUNDS_MM = 10.0
MOST_RASTER_PX = 25e6
PAPER_MARGIN_MM = 24.0  # what is looked at beyond the paper, with room for its corners
LEAST_MARGIN_MM, MOST_RASTERS = 12.0, 3  # with less beyond it, the raster is laid anew
MOST_UNSURE = 1 / 3  # of the outline: beyond it the rest was seldom right either
MOSTLY_BURNT = 0.5  # of what cannot be told, or of the outline
NEAR_CELLS = 2.0  # from a card's corner: the outermost are no further from the sheet's edge
MOVED = 0.03  # of its area, from the rough cut
FEWEST_PIXELS_PER_MM = 1.0  # a pencil line is half a mm wide


@dataclass(frozen=True)
class Asked:
    """What is known beside the photos, and what is asked of them.

    Attributes
    ----------
    print_scale : the cards' true size over their nominal size; None if nobody measured.
    kept_camera : the photos' camera, if its lens was solved earlier.
    checks : taped distances, to compare; with ``checks_used`` they also bear on the solution.
    tolerance_mm : a remark says what to do where points may be further off than this.
    paper_px : the paper's corners in the first photo, if somebody says where it lies.
    held_flat : whether the paper is weighted or pinned flat all round.
    """

    print_scale: PrintScale | None = None
    kept_camera: KeptCamera | None = None
    checks: tuple[CheckDistance, ...] = ()
    checks_used: bool = False
    tolerance_mm: float = TOLERANCE_MM
    paper_px: tuple[tuple[float, float], ...] = ()
    held_flat: bool = False

    @property
    def lift_mm(self) -> float:
        """How far the paper may stand off the floor where no photos tell, 95 %."""
        return HELD_FLAT_MM if self.held_flat else PAPER_LIFT_MM


@dataclass(frozen=True)
class Scene:
    """What photos show of a paper beside its cards, in the pattern frame, mm.

    Attributes
    ----------
    floor : cameras and cards, in the floor frame; ``frame`` is the pattern's on it.
    photos : those used; ``repeats`` are copies of them that were given too.
    faults : cards that do not fit the others.
    checks : taped distances beside those read.
    print_scale : the cards' size that was used; ``print_relative`` how far it may be off, 95 %, as
        a share; ``print_measured`` whether a rule or a tape told it.
    print_seen : the cards' size as their sheets' edges tell it.
    choice : from which photo each place is read.
    surface : how the paper stands off the floor, if more than one photo shows it, or if one shows
        ends that roll up.
    raster : the paper from straight above.
    outline : (N, 2) its edge, counter-clockwise; ``unsure`` its stretches that no photo bears out:
        most of it where the paper is ``burnt_out`` white.
    pixels_per_mm : of floor, in the middle over the paper, where it is seen best: the root of those
        of a mm squared.
    on_cards : (M, 2) round what is seen of each card.
    """

    photos: tuple[Photo, ...]
    repeats: tuple[Repeat, ...]
    asked: Asked
    floor: FloorSolution
    faults: tuple[CardFault, ...]
    checks: tuple[Comparison, ...]
    print_scale: PrintScale
    print_relative: float
    print_measured: bool
    print_seen: PrintSeen
    frame: Frame
    choice: Choice
    surface: Surface | None
    raster: Raster
    outline: Floats
    unsure: tuple[Floats, ...]
    burnt_out: bool
    pixels_per_mm: float
    on_cards: tuple[Floats, ...]

    def accuracy(self, points: Floats, print_known: bool = False) -> Accuracy:
        """How far points (N, 2) may be off, 95 %; or would be if the cards' print were known."""
        lift: Floats | float = self.asked.lift_mm
        if self.surface is not None:
            lift = NORMAL_95 * self.surface.sigma_at(points)
            if self.asked.held_flat:
                # Where no photos tell; what they measured is believed before what was said.
                measured = np.abs(self.surface.to_solid(points)[1])
                lift = np.minimum(lift, HELD_FLAT_MM + measured)
        doubts = sum(doubt_of(fault, self.floor.cameras[0]) for fault in self.faults)
        return accuracy_at(
            self.floor,
            self.frame.to_floor(points),
            self.choice.at(points),
            self.frame.to_floor(self.outline),
            self.choice.at(self.outline),
            lift,
            float(np.hypot(0.0 if print_known else self.print_relative, doubts)),
        )


def see_scene(photos: Sequence[Photo], asked: Asked, progress: Callable[[str], None]) -> Scene:
    """The scene of overlapping photos of one paper.

    Raises
    ------
    PhotoError, CameraError, CheckError
        If the photos do not show it; the message says what to change about them.
    """
    progress("cards")
    photos, views, repeats = set_repeats_aside(photos, views_of(photos))

    progress("floor")
    print_scale = asked.print_scale or PrintScale()
    kept_lens = lens_for(asked.kept_camera, views) if asked.kept_camera else None
    floor, faults = solve_sound_floor(views, print_scale, kept_lens)
    if kept_lens:
        refuse_misfit(floor, print_scale)
    else:
        refuse_lone_cut(floor)
        refuse_open_lens(floor)
        refuse_other_focal(floor)
    grey = grey_of(photos[0]) if asked.checks else np.zeros((0, 0), np.uint8)
    compared = compare_checks(floor, asked.checks, grey)
    print_seen = _print_seen(photos, views, floor)
    print_measured = asked.print_scale is not None
    print_relative = print_doubt(print_seen, print_scale, print_measured)
    if asked.checks and asked.checks_used:
        floor, stretch, print_relative = use_checks(floor, asked.checks, grey, print_relative)
        print_measured = True
        print_scale = PrintScale(print_scale.x * stretch, print_scale.y * stretch)
        compared = tuple(replace(comparison, used=True) for comparison in compared)
    cameras = floor.cameras
    frame = upright_frame(cameras[0])
    choice, coarse = choose_photos(
        (photo.pixels for photo in photos), cameras, frame, view_bounds(cameras, frame)
    )

    progress("paper")
    cards = [laid_card(card, views, frame) for card in floor.cards]
    if asked.paper_px:
        corners = frame.from_floor(cameras[0].to_floor(np.array(asked.paper_px)))
        cut = told_paper(coarse, cards, corners)
    else:
        cut = cut_paper(coarse, cards)
    rough = cut.ring
    pixels = pixels_per_mm(cameras, frame, bounds_of(rough))
    if pixels < FEWEST_PIXELS_PER_MM:
        raise TooSmall(too_coarse(pixels))

    progress("height")
    surface = None
    if len(photos) > 1:
        greys = [grey_of(photo) for photo in photos]
        refuse_contradiction(greys, [photo.name for photo in photos], floor, frame, rough)
        surface = solve_heights(greys, cameras, frame, rough)
        del greys  # of many photos they are as large as the raster that follows
    lay = partial(_fine_raster, photos, floor, frame, choice=choice, surface=surface)
    raster, edge = _edge_shown(cut, lay)
    if _moved(edge.points, cut.ring) > MOVED:
        # What the cut had learned was of another paper.
        told = told_paper(coarse, cards, edge.points)
        told = replace(told, burnt_out=cut.burnt_out, burnt_beyond=cut.burnt_beyond)
        raster, edge = _edge_shown(told, lay)
    doubted = edge.unsure & ~edge.burnt if cut.burnt_out else edge.unsure
    if doubted.mean() > MOST_UNSURE and not asked.paper_px:
        raise NoPaper(too_unsure(edge))
    if surface is None and (rolled := _rolled_ends(floor, frame, choice, edge)) is not None:
        surface = rolled
        raster = _fine_raster(photos, floor, frame, edge.points, choice, surface)
        edge = place_edge(raster, replace(cut, ring=edge.points))
    origin = edge.points.min(axis=0)
    return Scene(
        photos=photos,
        repeats=repeats,
        asked=asked,
        floor=floor,
        faults=faults,
        checks=compared,
        print_scale=print_scale,
        print_relative=print_relative,
        print_measured=print_measured,
        print_seen=print_seen,
        frame=frame.shifted(origin),
        choice=choice.shifted(origin),
        surface=surface.shifted(origin) if surface else None,
        raster=replace(
            raster, left=raster.left - float(origin[0]), top=raster.top - float(origin[1])
        ),
        outline=edge.points - origin,
        pixels_per_mm=pixels,
        unsure=tuple(stretch - origin for stretch in edge.unsure_stretches()),
        burnt_out=cut.burnt_out and bool((edge.unsure & edge.burnt).mean() > MOSTLY_BURNT),
        on_cards=tuple(card.seen - origin for card in cards),
    )


def too_coarse(pixels: float) -> str:
    """What is said of a photo that has too few pixels a mm for a pencil line."""
    return (
        f"the paper is seen with {too_few(pixels, FEWEST_PIXELS_PER_MM)}, "
        "too few for a pencil line: "
        "come closer, or give the photo's own file and not a copy that a messenger has shrunk"
    )


def too_unsure(edge: Edge) -> str:
    """What is said where too little of the paper's edge can be told from the floor."""
    told = f"only {1 - edge.unsure.mean():.0%} of the paper's edge can be told from the floor"
    if (edge.unsure & edge.burnt).sum() > MOSTLY_BURNT * edge.unsure.sum():
        return f"{told}, as the paper is burnt out white along most of the rest: {LESS_LIGHT}"
    return (
        f"{told}: lay it on a floor of another colour or a rougher one and in even light, or say "
        "where its corners are with --paper"
    )


def views_of(photos: Sequence[Photo]) -> list[View]:
    """Each photo with its cards; raises NoCard, TooDark, TooBlurred if one shows none."""
    return side_by_side(_view, photos)


def _view(photo: Photo) -> View:
    grey = grey_of(photo)
    found = find_cards(grey)
    if not found:
        raise why_no_card(photo.name, grey)
    height, width = grey.shape
    return View(
        found, (width, height), photo.focal_px, photo.quarter_turns, photo.camera, photo.taken_px
    )


def grey_of(photo: Photo) -> NDArray[np.uint8]:
    """(H, W) the photo in grey."""
    return np.asarray(cv2.cvtColor(photo.pixels, cv2.COLOR_RGB2GRAY), np.uint8)


def _print_seen(photos: Sequence[Photo], views: Sequence[View], floor: FloorSolution) -> PrintSeen:
    """The cards' print by the edges of their sheets; those left out of the solution don't count."""
    sound = {card.number for card in floor.cards}
    seen = []
    for photo, view, camera in zip(photos, views, floor.cameras, strict=True):
        look = partial(see_sheet, photo.pixels, camera)
        seen += side_by_side(look, [card for card in view.cards if card.number in sound])
    return print_of(seen)


def bounds_of(points: Floats) -> Bounds:
    """The box round points (N, 2), mm."""
    low, high = points.min(axis=0), points.max(axis=0)
    return float(low[0]), float(low[1]), float(high[0]), float(high[1])


def laid_card(card: PlacedCard, views: Sequence[View], frame: Frame) -> LaidCard:
    """A card's sheet, and what of it is likely seen, and surely: the paper may lie on the rest."""
    found = [each for view in views for each in view.cards if each.number == card.number]
    corners = np.concatenate([each.corners_mm for each in found])
    half = np.array(SHEETS_MM[card.paper]) / 2
    whole = half * [[-1, -1], [1, -1], [1, 1], [-1, 1]]
    place = Frame(*card.centre, card.turn)
    likely = likely_seen(card.paper, corners)
    rings = (whole, likely, surely_seen(corners, likely))
    return LaidCard(*(frame.from_floor(place.to_floor(ring)) for ring in rings))


def likely_seen(paper: str, found: Floats) -> Floats:
    """(N, 2) round what is likely seen of a card by its corners that were found (M, 2), mm.

    What lies between these, and from the outermost of them to the sheet's edge, as far as it is
    nearer to them than to corners that were not found: a corner of the paper may hide some.
    """
    corners, half = card_layout(paper).corners_mm, np.array(SHEETS_MM[paper]) / 2
    low, high = corners.min(axis=0), corners.max(axis=0)
    at_edge = np.where(found < low + 1, -half, np.where(found > high - 1, half, found))
    between = MultiPoint(np.concatenate([found, at_edge])).convex_hull
    lost = np.abs(corners[:, None] - found).max(axis=2).min(axis=1) > CELL_MM / 2
    apart = np.abs(corners[:, None] - corners[lost]).max(axis=2)
    # One that is lost alone was just missed.
    lost &= (apart < 1.5 * CELL_MM).sum(axis=1) > 1
    gone = MultiPoint(corners[lost])
    cells = voronoi_polygons(MultiPoint(corners), extend_to=box(*-half, *half)).geoms
    return _round(between.difference(union_all([cell for cell in cells if cell.intersects(gone)])))


def surely_seen(found: Floats, seen: Floats) -> Floats:
    """(N, 2) round what of a card that is seen (K, 2) lies by corners that were found (M, 2), mm.

    All of it, if they go all round; the blank middle of a card does not show whether it is seen.
    """
    by_corners = MultiPoint(found).buffer(NEAR_CELLS * CELL_MM, cap_style="square")
    return _round(Polygon(seen).intersection(by_corners))


def _round(shape: BaseGeometry) -> Floats:
    """(N, 2) round the largest part of a shape."""
    whole = max(getattr(shape, "geoms", [shape]), key=lambda each: each.area)
    return np.array(whole.exterior.coords)[:-1]


def _moved(ring: Floats, before: Floats) -> float:
    """How much of its area a ring has gained or lost."""
    now, then = Polygon(ring).buffer(0), Polygon(before).buffer(0)
    return float(now.symmetric_difference(then).area / now.area)


def _edge_shown(cut: Cut, lay: Callable[[Floats], Raster]) -> tuple[Raster, Edge]:
    """The raster, as it is to be laid about the paper, and the paper's edge on it.

    Where that runs near the raster's border, or past it, the cut fell short of the paper, and the
    raster shows too little of it.
    """
    raster = lay(cut.ring)
    edge = place_edge(raster, cut)
    for _ in range(MOST_RASTERS - 1):
        if not runs_out(raster, edge.points):
            break
        raster = lay(edge.points)
        edge = place_edge(raster, replace(cut, ring=edge.points))
    return raster, edge


def runs_out(raster: Raster, ring: Floats) -> bool:
    """Whether a ring (N, 2), mm, passes a raster's border, or comes too near to it."""
    at = raster.to_px(ring) * raster.mm_per_px
    size = np.array(raster.pixels.shape[1::-1]) * raster.mm_per_px
    return bool((np.minimum(at, size - at) < LEAST_MARGIN_MM).any())


def _rolled_ends(floor: FloorSolution, frame: Frame, choice: Choice, edge: Edge) -> Surface | None:
    """The paper's surface by the bends of its sides in the one photo, if an end stands up."""
    on_floor, seen_by = frame.to_floor(edge.points), choice.at(edge.points)
    accuracy = accuracy_at(floor, on_floor, seen_by, on_floor, seen_by)
    return solve_rolled_ends(floor.cameras[0], frame, edge.points, ~edge.unsure, accuracy.cards_mm)


def _fine_raster(
    photos: Sequence[Photo],
    floor: FloorSolution,
    frame: Frame,
    paper: Floats,
    choice: Choice,
    surface: Surface | None,
) -> Raster:
    """The paper alone, put together from the photos at about their own resolution."""
    # In even steps, so that a border cut a little otherwise gives the same pixels.
    low = np.floor((paper.min(axis=0) - PAPER_MARGIN_MM) / BOUNDS_MM) * BOUNDS_MM
    high = np.ceil((paper.max(axis=0) + PAPER_MARGIN_MM) / BOUNDS_MM) * BOUNDS_MM
    bounds: Bounds = (float(low[0]), float(low[1]), float(high[0]), float(high[1]))
    own_mm = pixel_size_mm(floor.cameras, frame, bounds) * 0.8
    fine_mm = float(np.clip(own_mm // FINE_STEP_MM * FINE_STEP_MM, *FINE_MM))
    fine_mm = max(fine_mm, float(np.sqrt(np.prod(high - low) / MOST_RASTER_PX)))
    pictures = (photo.pixels for photo in photos)
    raster = rectify_chosen(pictures, floor.cameras, frame, bounds, fine_mm, choice, surface)
    for photo in photos:  # all that follows looks at the raster
        photo.forget_pixels()
    return raster
