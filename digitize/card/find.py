"""Finding scale cards in a photo."""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from digitize.card.layout import CELL_MM, DICTIONARY, CardLayout, card_layout, card_of_marker
from digitize.errors import NoCard, PhotoError, TooBlurred, TooDark

Floats = NDArray[np.float64]
FEWEST_MARKERS = 2
# Of a picture's longer side, the least that a marker may measure all round; and to how many pixels
# of that side the picture is shrunk to look for such markers.
LOOKS = (0.03, 2400), (0.015, 4800)
WINDOWS_PX = 13, 31  # two windows of the local threshold, for a shadow's edge and for small markers
# By how much a marker's black is darker than the mean round it: of the brightest in the picture,
# and no less than OpenCV's own. Print is half as bright or less; what is fainter is a floor's
# grain, whose thousands of outlines took eight seconds to look through on rough concrete.
DARKER_SHARE, LEAST_DARKER = 0.06, 7.0
FEWEST_CORNERS = 12
WINDOW_CELLS = 0.3
LEAST_CELL_PX = 6.0
LEAST_CONTRAST = 0.3
DARK_GREY = 40
BLURRED_RATIO = 1.5


@dataclass(frozen=True)
class FoundCard:
    """A card in a photo: which checker corners were seen, and where.

    Attributes
    ----------
    corners_mm : (N, 2) places on the card as printed at nominal size.
    pixels : (N, 2) x, y in the photo; pixel centres are at whole numbers.
    """

    number: int
    paper: str
    corners_mm: Floats
    pixels: Floats


def find_cards(grey: NDArray[np.uint8]) -> tuple[FoundCard, ...]:
    """All cards in a grey picture (H, W), by number; cards that can't be read are left out."""
    # Small markers take far longer to look for on a rough floor: only if there are no larger ones.
    for least_size, most_px in LOOKS:
        found = _cards_of(grey, _markers(grey, least_size, most_px))
        if found:
            break
    return found


def _markers(grey: NDArray[np.uint8], least_size: float, most_px: int) -> dict[int, Floats]:
    """Each marker's corners (4, 2) by its number, to a pixel or two: enough to find its card by."""
    shrunk = min(most_px / max(grey.shape), 1.0)
    small = grey
    if shrunk < 1:
        size = round(grey.shape[1] * shrunk), round(grey.shape[0] * shrunk)
        small = np.asarray(cv2.resize(grey, size, interpolation=cv2.INTER_AREA), np.uint8)
    parameters = cv2.aruco.DetectorParameters()
    parameters.minMarkerPerimeterRate = least_size
    parameters.adaptiveThreshWinSizeMin, parameters.adaptiveThreshWinSizeMax = WINDOWS_PX
    parameters.adaptiveThreshWinSizeStep = WINDOWS_PX[1] - WINDOWS_PX[0]
    brightest = float(np.percentile(small[::4, ::4], 99))
    parameters.adaptiveThreshConstant = max(DARKER_SHARE * brightest, LEAST_DARKER)
    dictionary = cv2.aruco.getPredefinedDictionary(getattr(cv2.aruco, DICTIONARY))
    detector = cv2.aruco.ArucoDetector(dictionary, parameters)
    outlines, identifiers, _ = detector.detectMarkers(small)
    if identifiers is None:
        return {}
    return {
        int(identifier): (outline.reshape(4, 2) + 0.5) / shrunk - 0.5
        for outline, identifier in zip(outlines, np.ravel(identifiers), strict=True)
    }


def _cards_of(grey: NDArray[np.uint8], markers: dict[int, Floats]) -> tuple[FoundCard, ...]:
    """The cards that these markers (corners by number) belong to, with their checker corners."""
    by_card: dict[tuple[int, str], dict[int, Floats]] = {}
    for identifier, outline in markers.items():
        card = card_of_marker(identifier)
        if card is not None:
            number, paper, slot = card
            by_card.setdefault((number, paper), {})[slot] = outline
    found = [
        _measure(grey, number, card_layout(paper), slots)
        for (number, paper), slots in sorted(by_card.items())
        if len(slots) >= FEWEST_MARKERS
    ]
    return tuple(card for card in found if card is not None)


def why_no_card(name: str, grey: NDArray[np.uint8]) -> PhotoError:
    """What is wrong with a photo in which no card was found."""
    if float(np.percentile(grey, 99)) < DARK_GREY:
        return TooDark(f"{name}: the photo is nearly black; bring more light and take it again")
    # A sharp edge is far steeper at a fine scale than at a coarse one; a blurred edge is not.
    steepness = []
    for sigma in (1.0, 3.0):
        smooth = cv2.GaussianBlur(grey, (0, 0), sigma).astype(np.float32)
        slope = cv2.magnitude(
            cv2.Sobel(smooth, cv2.CV_32F, 1, 0), cv2.Sobel(smooth, cv2.CV_32F, 0, 1)
        )
        steepness.append(float(np.percentile(slope, 99)))
    if steepness[0] < BLURRED_RATIO * steepness[1]:
        return TooBlurred(
            f"{name}: the photo is blurred; hold the phone still, let it focus on the paper, or "
            "bring more light"
        )
    return NoCard(
        f"{name}: no scale card could be read; lay at least one card flat beside the paper, whole "
        "in the picture and in even light, and come closer if the cards look small"
    )


def _measure(
    grey: NDArray[np.uint8], number: int, layout: CardLayout, markers: dict[int, Floats]
) -> FoundCard | None:
    """Predict every checker corner from the markers, then find it in the picture."""
    on_card = np.concatenate([layout.marker_corners_mm(slot) for slot in markers])
    in_photo = np.concatenate(list(markers.values()))
    homography = _homography(on_card, in_photo, 4.0)
    if homography is None:
        return None
    pixels = np.empty((0, 2))
    seen = np.zeros(len(layout.corners_mm), bool)
    # Twice: corners found near the markers carry the prediction to those further off.
    for _ in range(2):
        predicted = _project(homography, layout.corners_mm)
        cell = _cell_size(homography, layout.corners_mm)
        pixels = _refine(grey, predicted, float(np.median(cell)))
        moved = np.linalg.norm(pixels - predicted, axis=1)
        seen = (moved < 0.2 * cell) & (cell > LEAST_CELL_PX)
        seen &= _is_checker(grey, homography, layout.corners_mm, pixels - predicted)
        if seen.sum() < FEWEST_CORNERS:
            return None
        homography = _homography(layout.corners_mm[seen], pixels[seen], 2.0)
        if homography is None:
            return None
    return FoundCard(number, layout.paper, layout.corners_mm[seen], pixels[seen])


def _homography(source: Floats, target: Floats, tolerance_px: float) -> Floats | None:
    matrix, _ = cv2.findHomography(source, target, cv2.RANSAC, tolerance_px)
    return None if matrix is None else np.asarray(matrix, np.float64)


def _project(homography: Floats, points: Floats) -> Floats:
    return np.asarray(cv2.perspectiveTransform(points[None].astype(float), homography)[0])


def _cell_size(homography: Floats, points: Floats) -> Floats:
    """(N,) the shorter side of a cell at each corner, px."""
    here = _project(homography, points)
    sides = [
        np.linalg.norm(_project(homography, points + step) - here, axis=1)
        for step in ([CELL_MM, 0.0], [0.0, CELL_MM])
    ]
    return np.asarray(np.minimum(*sides))


def _refine(grey: NDArray[np.uint8], predicted: Floats, cell: float) -> Floats:
    """Corners to a few hundredths of a pixel: every gradient near one points past it."""
    half = max(round(cell * WINDOW_CELLS), 2)
    height, width = grey.shape
    border = half + 2
    inside = ((predicted > border) & (predicted < [width - border, height - border])).all(axis=1)
    refined = predicted.copy()
    if inside.any():
        start = np.ascontiguousarray(predicted[inside, None, :], np.float32)
        criteria = (cv2.TERM_CRITERIA_EPS + cv2.TERM_CRITERIA_MAX_ITER, 40, 0.003)
        refined[inside] = cv2.cornerSubPix(grey, start, (half, half), (-1, -1), criteria)[:, 0]
    refined[~inside] = np.inf
    return refined


def _is_checker(
    grey: NDArray[np.uint8], homography: Floats, corners_mm: Floats, moved: Floats
) -> NDArray[np.bool_]:
    """Whether two opposite cells round each corner are dark and the other two light."""
    offsets = 0.3 * CELL_MM * np.array([[1, 1], [-1, -1], [1, -1], [-1, 1]])
    tones = []
    for offset in offsets:
        at = np.nan_to_num(_project(homography, corners_mm + offset) + moved, posinf=-9.0)
        tone = cv2.remap(
            grey,
            at[:, None, 0].astype(np.float32),
            at[:, None, 1].astype(np.float32),
            cv2.INTER_LINEAR,
        )
        tones.append(tone[:, 0].astype(float))
    first, second = np.array(tones[:2]), np.array(tones[2:])
    apart = np.maximum(first.min(0) - second.max(0), second.min(0) - first.max(0))
    brightest = np.maximum(first.max(0), second.max(0))
    return np.asarray(apart > LEAST_CONTRAST * brightest)
