"""What a photo shows at a glance: its cards, the paper, and what is wrong, before it is read."""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from digitize.card import FoundCard, blur_mm
from digitize.errors import DigitizeError, PhotoError
from digitize.floor import (
    Camera,
    Frame,
    Photo,
    PrintScale,
    Raster,
    choose_photos,
    pixels_per_mm,
    solve_sound_floor,
    upright_frame,
    view_bounds,
)
from digitize.paper import cut_paper
from digitize.reading.pipeline import TUCK_PIXELS_PER_MM
from digitize.reading.scene import (
    FEWEST_PIXELS_PER_MM,
    bounds_of,
    grey_of,
    laid_card,
    too_coarse,
    views_of,
)
from digitize.remarks import about_coarseness, about_faults

Floats = NDArray[np.float64]
LINE_MM = 0.5  # a pencil line's width; common practice, no source
LEAST_LEFT = 1 / 3  # of a line's darkness after blur: less drowns in the paper's grain
BURNT = 250  # of 255: a channel that is as good as full
MUCH_BURNT = 0.02  # of the paper: four fingers' breadth on a door skin
DARK_LEVEL = 60  # of 255: a pencil's sixth of it is no more than three sigma of a phone's noise
LEAST_AREA_PX = 9  # of the coarse raster


@dataclass(frozen=True)
class Fault:
    """Something wrong with a photo and what to do; round which place (N, 2, px), if it has one.

    ``stops`` says that the photo cannot be read so.
    """

    words: str
    around: Floats | None = None
    stops: bool = False


@dataclass(frozen=True)
class Glance:
    """What a photo shows, in its own pixels.

    Attributes
    ----------
    cards : each card's number and its sheet's corners (4, 2).
    paper : (N, 2) about where the paper's edge is; None if it was not found.
    faults : what is wrong, the worst first.
    """

    cards: tuple[tuple[int, Floats], ...] = ()
    paper: Floats | None = None
    faults: tuple[Fault, ...] = ()


def glance_at(photo: Photo, progress: Callable[[Glance], None] = lambda so_far: None) -> Glance:
    """What a photo shows at a glance; ``progress`` is told what is known as soon as it is."""
    grey = grey_of(photo)
    try:
        views = views_of([photo])
        floor, faults = solve_sound_floor(views, PrintScale(), None)
    except (DigitizeError, np.linalg.LinAlgError) as error:
        return Glance(faults=(Fault(_said(error, photo), stops=True),))
    camera, frame = floor.cameras[0], upright_frame(floor.cameras[0])
    laid = {card.number: laid_card(card, views, frame) for card in floor.cards}
    cards = tuple((number, _in_photo(each.sheet, frame, camera)) for number, each in laid.items())
    rings = dict(cards)
    found = [
        Fault(remark.words, rings.get(fault.numbers[0]))
        for fault, remark in zip(faults, about_faults(faults), strict=True)
    ]
    found += _blurred(grey, views[0].cards, rings)
    if len(cards) == 1:
        found.append(
            Fault("one card alone leaves some mm open at the paper's edge: lay three more round it")
        )
    glance = Glance(cards, None, tuple(found))
    progress(glance)
    bounds = view_bounds(floor.cameras, frame)
    _, coarse = choose_photos([photo.pixels], floor.cameras, frame, bounds)
    try:
        ring = cut_paper(coarse, list(laid.values())).ring
    except PhotoError as error:
        return replace(glance, faults=(Fault(_said(error, photo), stops=True), *glance.faults))
    found += _coarse(pixels_per_mm(floor.cameras, frame, bounds_of(ring)))
    found += _lit(coarse, ring, frame, camera)
    found.sort(key=lambda fault: not fault.stops)
    return replace(glance, paper=_in_photo(ring, frame, camera), faults=tuple(found))


def _said(error: Exception, photo: Photo) -> str:
    """An error's words; the page stands beside the photo, whose name need not be said again."""
    if not isinstance(error, DigitizeError):
        return "the cards cannot be made sense of: lay them flat, and take the photo again"
    return str(error).removeprefix(f"{photo.name}: ")


def _in_photo(points: Floats, frame: Frame, camera: Camera) -> Floats:
    """Places (N, 2) of the pattern's frame in the photo, px."""
    return camera.to_pixels(frame.to_floor(points))


def _blurred(
    grey: NDArray[np.uint8], cards: Sequence[FoundCard], rings: dict[int, Floats]
) -> list[Fault]:
    """Cards at which too little would be left of a pencil line: the share of it that a Gaussian of
    deviation s leaves at its middle is erf(width / (2 sqrt(2) s)).
    """
    faults = []
    for card in cards:
        blur = blur_mm(grey, card)
        if blur is None or math.erf(LINE_MM / (2 * math.sqrt(2) * blur)) >= LEAST_LEFT:
            continue
        words = (
            f"blurred by {blur:.1f} mm at card {card.number}: a pencil line will not show there; "
            "let the phone focus on the paper and hold it still"
        )
        faults.append(Fault(words, rings.get(card.number)))
    return faults


def _coarse(pixels: float) -> list[Fault]:
    if pixels < FEWEST_PIXELS_PER_MM:
        return [Fault(too_coarse(pixels), stops=True)]
    return [Fault(each.words) for each in about_coarseness(pixels, TUCK_PIXELS_PER_MM)]


def _lit(coarse: Raster, ring: Floats, frame: Frame, camera: Camera) -> list[Fault]:
    """Paper that is burnt out, or too dark, and where."""
    paper = np.zeros(coarse.pixels.shape[:2], np.uint8)
    cv2.fillPoly(paper, [np.round(coarse.to_px(ring)).astype(np.int32)], 1)
    area = int(paper.sum())
    if not area:
        return []
    burnt = (coarse.pixels.min(axis=2) >= BURNT) & (paper > 0)
    dark = (coarse.pixels.max(axis=2) < DARK_LEVEL) & (paper > 0)
    faults = []
    for seen, words in (
        (burnt, "burnt out white: no pencil shows there; turn the flash off, shade the sun"),
        (dark, "too dark: pencil will hardly show there; bring more light, from all sides"),
    ):
        # Light lies in patches; single pixels are the paper's grain, or pencil.
        patches = cv2.morphologyEx(seen.astype(np.uint8), cv2.MORPH_OPEN, np.ones((3, 3), np.uint8))
        if patches.sum() < MUCH_BURNT * area:
            continue
        contours, _ = cv2.findContours(patches, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_SIMPLE)
        largest = max(contours, key=cv2.contourArea)
        around = None
        if len(largest) >= LEAST_AREA_PX:
            hull = cv2.convexHull(largest)[:, 0].astype(float)
            around = _in_photo(coarse.to_mm(hull), frame, camera)
        faults.append(Fault(f"{patches.sum() / area:.0%} of the paper is {words}", around))
    return faults
