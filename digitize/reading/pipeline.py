"""Photos in, pattern out: the whole job on one page.

In two steps, so that what is told about the marks can be measured again without the photos: what
was seen, and what follows from it.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from digitize import __version__
from digitize.errors import NoLines, NoPaper
from digitize.floor import (
    Accuracy,
    KeptCamera,
    Photo,
    PrintScale,
    Raster,
    accuracy_contours,
    keep_camera,
    set_repeats_aside,
    solve_sound_floor,
)
from digitize.lines import (
    NOTHING_TOLD,
    meet_at_corners,
    meet_at_tees,
    points_of,
    propose_roles,
    without_traces,
)
from digitize.paper import EDGE_OF_LIGHT, stretches_passed
from digitize.pencil import (
    Curve,
    RidgeMap,
    Ring,
    Ruling,
    UnseenArea,
    between_their_ticks,
    by_hue,
    find_ridges,
    find_strokes,
    fit_curves,
    gather_ticks,
    handwriting,
    mostly_faint,
    set_hatching_aside,
    set_print_aside,
    set_rings_aside,
    set_struck_aside,
    set_writing_aside,
    unseen_areas,
    whole_writing,
)
from digitize.reading.entries import (
    doubted,
    hatched_area,
    lines_and_tucks,
    note_of,
    scale_of,
    source_of,
    unseen_of,
    withdrawn,
)
from digitize.reading.given import given_of
from digitize.reading.scene import Asked, Scene, see_scene, views_of
from digitize.record import Box, Pattern, PrintDoubt, Rectified, Remark, Role, Side
from digitize.remarks import (
    about_accuracy,
    about_checks,
    about_coarseness,
    about_cuts,
    about_damage,
    about_faults,
    about_gapes,
    about_height,
    about_outline,
    about_print,
    about_repeats,
    about_rings,
    about_rulings,
    about_unseen,
    with_remarks,
)
from digitize.take_up import derived
from digitize.tucks import (
    TuckMarks,
    cuts_on_dark,
    find_tucks,
    is_borne_out,
    measure_laps,
    pivots_of,
)

NOTHING_ASKED = Asked()
TUCK_PIXELS_PER_MM = 2.0  # fewer do not show a cut of a few tenths of a mm
STAGES = ("cards", "floor", "paper", "height", "pencil", "tucks", "record")


@dataclass(frozen=True)
class Marks:
    """What the photos show, before anything is made of it; in the pattern frame, mm.

    Attributes
    ----------
    ridges : the darkness of the paper everywhere.
    curves : every mark on the paper that is no writing.
    struck : lines that were struck out.
    hatched : (N, 2) areas that were hatched.
    writing : boxes round what is.
    rulings : what is printed on the paper and was left out.
    unseen : where pencil could not be seen.
    rings : what cups left and was left out.
    by_hue : they were told by their hue from paper on which they are too faint.
    """

    scene: Scene
    ridges: RidgeMap
    curves: tuple[Curve, ...]
    struck: tuple[Curve, ...]
    hatched: tuple[NDArray[np.float64], ...]
    writing: tuple[Box, ...]
    rulings: tuple[Ruling, ...]
    unseen: tuple[UnseenArea, ...]
    rings: tuple[Ring, ...] = ()
    by_hue: bool = False


@dataclass(frozen=True)
class Reading:
    """A pattern, and the true-size raster it was read from, in the pattern's frame."""

    pattern: Pattern
    raster: Raster


def read_pattern(
    photos: Sequence[Photo],
    name: str,
    side: Side = "unknown",
    asked: Asked = NOTHING_ASKED,
    ink_roles: Mapping[str, Role] = NOTHING_TOLD,
    progress: Callable[[str], None] = lambda stage: None,
) -> Reading:
    """Read a paper pattern from photos of it beside scale cards.

    Parameters
    ----------
    photos : overlapping photos of the same paper; each place is read from the one that sees it
        best, and how the paper stands off the floor from two or more.
    name, side : as the user gives them.
    ink_roles : what lines of an ink are, as the user has it.
    progress : told each stage's name as it begins.

    Raises
    ------
    PhotoError, CameraError, CheckError
        If a stage cannot do its work; the message says what to change about the photo.
    """
    reading = measure(read_marks(photos, asked, progress), name, side, ink_roles, progress)
    given = given_of(asked, ink_roles)
    return replace(reading, pattern=reading.pattern.model_copy(update={"given": given}))


def read_marks(
    photos: Sequence[Photo],
    asked: Asked = NOTHING_ASKED,
    progress: Callable[[str], None] = lambda stage: None,
) -> Marks:
    """The marks on the paper; raises as ``read_pattern`` does."""
    scene = see_scene(photos, asked, progress)
    progress("pencil")
    marks = _marks_on(scene)
    unseen = marks.unseen if marks.curves else (UnseenArea(scene.outline, "faint"),)
    # A camera's JPEG holds colours at half of its pixels: in a coarse one these are no pencil's.
    fine = scene.pixels_per_mm >= TUCK_PIXELS_PER_MM
    if fine and mostly_faint(unseen, scene.outline) and not marks.ridges.light:
        toned = by_hue(scene.raster, scene.outline)
        if toned is not None:
            # What was so faint may be lost in part either way: where nothing is sure, it stays so.
            again = replace(_marks_on(scene, toned), unseen=unseen, by_hue=True)
            marks = max(marks, again, key=_drawn_mm)
    if not marks.curves:
        why = about_unseen(scene.outline, [unseen_of(area) for area in marks.unseen], (), ())
        advice = "; ".join(remark.words for remark in why) or (
            "go over them with a softer pencil or a pen, or take the photo closer and in brighter, "
            "even light"
        )
        raise NoLines(f"no pencil lines were found on the paper; {advice}")
    return marks


def _drawn_mm(marks: Marks) -> float:
    """How long all marks are together, mm."""
    return sum(curve.length for curve in marks.curves)


def _marks_on(scene: Scene, toned: Raster | None = None) -> Marks:
    """The marks on a paper; ``toned`` is its picture in a grey that tells pencil better."""
    ridges = find_ridges(scene.raster, scene.outline, toned)
    strokes = find_strokes(ridges)
    marks = fit_curves(strokes, ridges, scene.raster)
    drawn, rulings = set_print_aside(marks, scene.outline, ridges.darkness_at)
    standing, struck = set_struck_aside(drawn)
    plain, hatched = set_hatching_aside(standing)
    legible, writing = set_writing_aside(
        gather_ticks(plain, ridges.darkness_at), ridges.darkness_at
    )
    curves, rings = set_rings_aside(legible)
    passed = stretches_passed(scene.raster, scene.outline, [curve.points for curve in curves])
    if passed.of_light and not scene.asked.paper_px:
        raise NoPaper(EDGE_OF_LIGHT)
    scene = replace(scene, unsure=(*scene.unsure, *passed.stretches))
    unseen = unseen_areas(
        scene.raster,
        scene.outline,
        ridges,
        marks,
        scene.on_cards,
        scene.unsure,
        [stroke.points for stroke in strokes],
    )
    notes = whole_writing(writing, curves, ridges)
    return Marks(scene, ridges, curves, struck, hatched, notes, rulings, unseen, rings)


def measure(
    marks: Marks,
    name: str,
    side: Side = "unknown",
    ink_roles: Mapping[str, Role] = NOTHING_TOLD,
    progress: Callable[[str], None] = lambda stage: None,
) -> Reading:
    """The record of marks: which are tucks, which lines, and all that follows."""
    scene = marks.scene
    progress("tucks")
    tucks, pieces = _tucks_of(marks)
    pieces = between_their_ticks(pieces, marks.curves, marks.ridges.darkness_at)
    breaks = [mark for tuck in tucks for mark in (tuck.main, tuck.second) if mark is not None]
    lines = meet_at_corners(without_traces(pieces), breaks)
    lines = meet_at_tees(lines, [tuck.main for tuck in tucks])
    roles = propose_roles(lines, scene.outline, [tuck.main.points for tuck in tucks], ink_roles)
    laps = [
        measure_laps(tuck, pivot, lines, marks.ridges.darkness_at)
        for tuck, pivot in zip(tucks, pivots_of(tucks), strict=True)
    ]
    tucks = tuple(
        tuck if is_borne_out(tuck, found) else tuck.unsure()
        for tuck, found in zip(tucks, laps, strict=True)
    )

    progress("record")
    records, tuck_records = lines_and_tucks(lines, roles, tucks, laps)
    records, hidden = doubted(records, marks.unseen)
    records = (*records, *withdrawn(marks.struck, len(records)))
    unseen = tuple(unseen_of(area) for area in marks.unseen)
    at_edge = scene.accuracy(scene.outline)
    raster = scene.raster
    pattern = Pattern(
        written_by=__version__,
        name=name,
        side=side,
        sources=tuple(source_of(photo) for photo in scene.photos),
        scale=scale_of(
            scene.floor,
            scene.frame,
            scene.print_scale,
            at_edge,
            print_doubt_of(scene),
            scene.faults,
            scene.checks,
            scene.asked.held_flat,
            accuracy_contours(scene.accuracy, scene.outline),
        ),
        outline=points_of(scene.outline),
        outline_unsure=tuple(points_of(stretch) for stretch in scene.unsure),
        unseen=unseen,
        lines=records,
        tucks=tuck_records,
        areas=tuple(hatched_area(ring, index) for index, ring in enumerate(marks.hatched)),
        rectified=Rectified(
            left=raster.left,
            top=raster.top,
            mm_per_px=raster.mm_per_px,
            size_px=(raster.pixels.shape[1], raster.pixels.shape[0]),
        ),
        notes=tuple(
            note_of(box, handwriting(box, marks.curves, marks.ridges), index)
            for index, box in enumerate(marks.writing)
        ),
        remarks=(
            *said_of_photos(scene, at_edge),
            *about_unseen(scene.outline, unseen, hidden, tuck_records),
            *about_rulings([ruling.spacing_mm for ruling in marks.rulings]),
            *about_rings([(ring.middle, ring.radius) for ring in marks.rings]),
            *about_gapes(laps, [tuck.tip for tuck in tuck_records]),
        ),
    )
    return Reading(with_remarks(derived(pattern)), raster)


def _tucks_of(marks: Marks) -> tuple[tuple[TuckMarks, ...], tuple[Curve, ...]]:
    """The tucks among marks, as sure as their picture lets them be; and the other marks."""
    scene, darkness_at = marks.scene, marks.ridges.darkness_at
    if scene.pixels_per_mm < TUCK_PIXELS_PER_MM:
        # A cut is a hair's breadth: in so coarse a picture anything may look like one.
        return (), marks.curves
    tucks, pieces = find_tucks(marks.curves, scene.outline, darkness_at)
    if marks.ridges.light:
        # On dark paper a cut hardly shows, and a lap line in chalk stands out like one.
        return cuts_on_dark(tucks, pieces, scene.outline, darkness_at)
    if marks.by_hue:
        # By its hue a cut is as dark as pencil, and what is faint may be neither.
        tucks = tuple(tuck.unsure() for tuck in tucks)
    return tucks, pieces


def print_doubt_of(scene: Scene) -> PrintDoubt:
    """What the cards' print leaves open, and what is left without that over the outline."""
    beside = scene.accuracy(scene.outline, print_known=True)
    return PrintDoubt(
        relative=round(scene.print_relative, 6),
        measured=scene.print_measured,
        accuracy_beside_mm=round(float(beside.total_mm.max()), 3),
    )


def said_of_photos(scene: Scene, at_edge: Accuracy) -> tuple[Remark, ...]:
    """What the photos themselves give to say; ``at_edge`` is the outline's accuracy."""
    return (
        *about_repeats(scene.repeats),
        *about_damage(scene.photos),
        *about_cuts(scene.floor.fit.problem.views, scene.asked.kept_camera is not None),
        *about_faults(scene.faults),
        *about_checks(scene.checks),
        *about_height(scene.surface, scene.outline, scene.asked.held_flat),
        *about_print(
            scene.print_seen,
            scene.print_scale,
            scene.print_measured,
            at_edge,
            scene.asked.tolerance_mm,
        ),
        *about_accuracy(
            at_edge,
            scene.asked.tolerance_mm,
            scene.floor,
            scene.frame,
            scene.outline,
            scene.choice.at(scene.outline),
            scene.print_measured,
            scene.asked.held_flat,
            scene.asked.kept_camera is not None,
        ),
        *about_outline(scene.outline, scene.unsure, scene.burnt_out),
        *about_coarseness(scene.pixels_per_mm, TUCK_PIXELS_PER_MM),
    )


def solve_camera(
    photos: Sequence[Photo],
    print_scale: PrintScale | None = None,
    progress: Callable[[str], None] = lambda stage: None,
) -> tuple[KeptCamera, tuple[Remark, ...]]:
    """Solve a camera's lens from shots of cards, to be kept; and what is to be said about it.

    Raises
    ------
    PhotoError, CameraError
        If the shots do not settle the lens; the message says what to change.
    """
    progress("cards")
    _, views, repeats = set_repeats_aside(photos, views_of(photos))
    progress("floor")
    floor, faults = solve_sound_floor(views, print_scale)
    return keep_camera(floor), (*about_repeats(repeats), *about_faults(faults))
