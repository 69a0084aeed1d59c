"""Whether photos show the same pencil lines in the same place: one paper, not moved in between.

The cards tie the photos together, so each photo's pencil should come down on the others'. Where it
does not, the paper's height may explain it: paper that stands up is seen aside, away from each
camera's foot, by its height times the slant. What no height of the paper explains is a paper, or
cards, that were moved; where no motion brings the lines together either, it is another paper.

Small windows of one photo's pencil are looked for in the other's by normalised correlation (J. P.
Lewis, "Fast normalized cross-correlation", Vision Interface, 1995); the motion that most of them
share is found by trial (M. Fischler and R. Bolles, "Random sample consensus", Communications of the
ACM 24, 1981).
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

import cv2
import numpy as np
from numpy.typing import NDArray

from digitize.errors import PhotosDisagree
from digitize.floor.accuracy import point_slopes, radius_95
from digitize.floor.frame import Bounds, Frame
from digitize.floor.raster import Raster, rectify
from digitize.floor.solve import FloorSolution
from digitize.plane import MEDIAN_TO_SIGMA, rigid_fit, rotation
from digitize.workers import side_by_side

Floats = NDArray[np.float64]
Grey = NDArray[np.uint8]
PIXEL_MM, MOST_PIXELS = 1.0, 2.5e6  # a large paper is looked at more coarsely
WINDOW_MM, STEP_MM, REACH_MM = 70.0, 35.0, 45.0
MOST_WINDOWS = 150
EDGE_MM = 6.0  # so much of the paper's rim is not looked at: the floor shows beside it
LIGHT_MM = 4.0  # what is broader than this is light and not a line
SHARP_MM, SOFT_MM = 0.7, 1.0  # grain is smoothed before lines are told from it, lines after it
INK_SIGMAS, MOST_SIGMAS = 4.0, 16.0  # of the paper's grain: what is darker is drawn
LEAST_INK = 0.01  # share of a window; a thin line across it covers twice as much
FOUND = 0.45  # correlation at which a window is taken to be found
DISTINCT = 0.8  # of its correlation, which it may have anywhere else at most
BESIDE_MM = 6.0  # what is nearer to the place found is no other place
FEWEST = 8  # windows found, below which a pair of photos says nothing
HEIGHTS_MM = (-2.0, 30.0)  # from a hollow in the floor to paper that rolls up at an edge
FLOATS_MM = 6.0  # paper touches the floor somewhere; a mat under all of it is thinner
FLOATS_SHARE = 0.1  # of the windows, which may be lower by chance
APART_MM = 2.0  # beyond the cards' doubt: what cards that curl a little bring, twice
TRIALS, INLIER_MM, SHARED = 300, 3.0, 0.5


@dataclass(frozen=True)
class Sighting:
    """Places of one photo's pencil and where another shows the same, on the floor, mm.

    Attributes
    ----------
    places : (N, 2) where the first shows it.
    away : (N, 2) from there to where the second shows it.
    slant : (N, 2) how far the second shows it away, for each mm that the paper stands up there.
    doubt_mm : (N,) by how much cards and pixels leave open where both see a place, 95 %.
    """

    places: Floats
    away: Floats
    slant: Floats
    doubt_mm: Floats


@dataclass(frozen=True)
class Contradiction:
    """What two sightings of one paper cannot be.

    Attributes
    ----------
    away_mm : how far the paper was moved; None if no motion brings the lines together.
    floats_mm : how high all of the paper would have to lie to look so; None if no height would.
    """

    away_mm: float | None
    floats_mm: float | None = None


def refuse_contradiction(
    photos: Sequence[Grey],
    names: Sequence[str],
    solution: FloorSolution,
    frame: Frame,
    paper: Floats,
) -> None:
    """Refuse photos whose pencil lines contradict each other; say which and by how much.

    Parameters
    ----------
    photos, names : grey pictures (H, W) and what they are called.
    paper : (N, 2) the paper's edge in the frame, roughly, mm.

    Raises
    ------
    PhotosDisagree
    """
    pencils = _pencils(photos, solution, frame, paper)
    pairs = list(combinations(range(len(photos)), 2))

    def looked_at(pair: tuple[int, int]) -> Contradiction | None:
        sighting = _sighted(pencils, solution, frame, *pair)
        return contradiction_in(sighting) if sighting is not None else None

    said = zip(pairs, side_by_side(looked_at, pairs), strict=True)
    found = {pair: contradiction for pair, contradiction in said if contradiction is not None}
    if not found:
        return
    # The odd one out contradicts most others; of two, the later one is named first.
    count = [sum(photo in pair for pair in found) for photo in range(len(photos))]
    odd = max(range(len(photos)), key=lambda photo: (count[photo], photo))
    pair = next(pair for pair in found if odd in pair)
    other = pair[0] if pair[1] == odd else pair[1]
    raise PhotosDisagree(_words(found[pair], names[odd], names[other]))


def contradiction_in(sighting: Sighting) -> Contradiction | None:
    """What is wrong with a sighting of some places; None if the paper's height explains it."""
    height, rest = _explained(sighting, sighting.away)
    if np.median(np.linalg.norm(rest, axis=1) - sighting.doubt_mm) > APART_MM:
        turn, shift, share = _motion(sighting)
        if share < SHARED:
            return Contradiction(None)
        moved = sighting.places @ rotation(turn).T + shift - sighting.places
        return Contradiction(float(np.median(np.linalg.norm(moved, axis=1))))
    slant = np.linalg.norm(sighting.slant, axis=1)
    lowest = height - sighting.doubt_mm / np.maximum(slant, 1e-6)
    if np.quantile(lowest, FLOATS_SHARE) > FLOATS_MM:
        away = float(np.median(np.linalg.norm(sighting.away, axis=1)))
        return Contradiction(away, float(np.median(height)))
    return None


def _explained(sighting: Sighting, away: Floats) -> tuple[Floats, Floats]:
    """(N,) the height that explains best how far places are seen away, and (N, 2) what is left."""
    square = np.maximum((sighting.slant**2).sum(axis=1), 1e-9)
    height = np.clip((away * sighting.slant).sum(axis=1) / square, *HEIGHTS_MM)
    return height, away - height[:, None] * sighting.slant


def _motion(sighting: Sighting) -> tuple[float, Floats, float]:
    """The turn (radians) and shift that most places share, and the share that does."""
    seen = sighting.places + sighting.away
    rng = np.random.default_rng(0)
    best = 0.0, np.zeros(2), 0.0
    for _ in range(TRIALS):
        some = rng.choice(len(seen), 2, replace=False)
        turn, shift = rigid_fit(sighting.places[some], seen[some])
        away = seen - (sighting.places @ rotation(turn).T + shift)
        rest = np.linalg.norm(_explained(sighting, away)[1], axis=1)
        near = rest < INLIER_MM + sighting.doubt_mm
        if near.mean() > best[2]:
            best = *rigid_fit(sighting.places[near], seen[near]), float(near.mean())
    return best


def _words(contradiction: Contradiction, odd: str, other: str) -> str:
    if contradiction.away_mm is None:
        return (
            f"{odd} shows another paper than {other}, or it was moved far between them: their "
            "pencil lines do not agree; give photos of one paper, and touch neither it nor the "
            "cards between them"
        )
    where = (
        f"{odd} shows the pencil lines {contradiction.away_mm:.0f} mm away from where {other} "
        "shows them: "
    )
    if contradiction.floats_mm is None:
        return where + "the paper or the cards were moved between them; take both again"
    return where + (
        "the paper or the cards were moved between them, or all of it lies "
        f"{contradiction.floats_mm:.0f} mm higher than the cards; take both again, with the paper "
        "and the cards on the same floor"
    )


@dataclass(frozen=True)
class _Pencil:
    """One photo's pencil from above, on the same raster for all photos.

    ``ink`` (H, W) is soft, to be compared; ``drawn`` and ``paper`` (H, W) are 0 or 1.
    """

    raster: Raster
    ink: NDArray[np.float32]
    drawn: NDArray[np.uint8]
    paper: NDArray[np.uint8]


def _pencils(
    photos: Sequence[Grey], solution: FloorSolution, frame: Frame, paper: Floats
) -> list[_Pencil]:
    low, high = paper.min(axis=0) - REACH_MM, paper.max(axis=0) + REACH_MM
    bounds: Bounds = (float(low[0]), float(low[1]), float(high[0]), float(high[1]))
    pixel_mm = max(PIXEL_MM, float(np.sqrt(np.prod(high - low) / MOST_PIXELS)))

    def pencil_of(photo: int) -> _Pencil:
        raster = rectify(photos[photo], solution.cameras[photo], frame, bounds, pixel_mm)
        inside = np.zeros(raster.pixels.shape, np.uint8)
        cv2.fillPoly(inside, [np.round(raster.to_px(paper)).astype(np.int32)], 1)
        inside[raster.pixels == 0] = 0
        rim = 2 * round(EDGE_MM / pixel_mm) + 1
        inside = np.asarray(cv2.erode(inside, np.ones((rim, rim))), np.uint8)
        grey = raster.pixels.astype(np.float32)
        dark = cv2.GaussianBlur(grey, (0, 0), LIGHT_MM / pixel_mm) - cv2.GaussianBlur(
            grey, (0, 0), SHARP_MM / pixel_mm
        )
        some = np.abs(dark[inside > 0])
        grain = max(MEDIAN_TO_SIGMA * float(np.median(some)), 1e-3) if some.size else 1.0
        ink = np.clip(dark / grain - INK_SIGMAS, 0, MOST_SIGMAS - INK_SIGMAS) * inside
        soft = np.asarray(cv2.GaussianBlur(ink, (0, 0), SOFT_MM / pixel_mm), np.float32)
        return _Pencil(raster, soft, (ink > 0).astype(np.uint8), inside)

    return side_by_side(pencil_of, range(len(photos)))


def _sighted(
    pencils: Sequence[_Pencil], solution: FloorSolution, frame: Frame, first: int, second: int
) -> Sighting | None:
    """Where the second photo shows what is drawn in windows of the first; None if in too few."""
    one, two = pencils[first], pencils[second]
    pixel_mm = one.raster.mm_per_px
    size, reach = round(WINDOW_MM / pixel_mm), round(REACH_MM / pixel_mm)
    step, beside = round(STEP_MM / pixel_mm), round(BESIDE_MM / pixel_mm)
    rows, columns = one.ink.shape
    both = one.paper * two.paper
    corners = [
        (y, x)
        for y in range(reach, rows - reach - size, step)
        for x in range(reach, columns - reach - size, step)
        if both[y : y + size, x : x + size].all()
        and one.drawn[y : y + size, x : x + size].mean() > LEAST_INK
    ]
    if len(corners) > MOST_WINDOWS:
        some = np.random.default_rng(0).choice(len(corners), MOST_WINDOWS, replace=False)
        corners = [corners[index] for index in some]
    middles, away = [], []
    for y, x in corners:
        looked = two.ink[y - reach : y + size + reach, x - reach : x + size + reach]
        likeness = cv2.matchTemplate(
            looked, one.ink[y : y + size, x : x + size], cv2.TM_CCOEFF_NORMED
        )
        row, column = np.unravel_index(likeness.argmax(), likeness.shape)
        best = float(likeness[row, column])
        near = np.s_[
            max(row - beside, 0) : row + beside + 1, max(column - beside, 0) : column + beside + 1
        ]
        likeness[near] = -1
        if best > FOUND and likeness.max() < DISTINCT * best:
            middles.append((x + (size - 1) / 2, y + (size - 1) / 2))
            away.append(((column - reach) * pixel_mm, (reach - row) * pixel_mm))
    if len(middles) < FEWEST:
        return None
    places = frame.to_floor(one.raster.to_mm(np.array(middles)))
    on_floor = np.array(away) @ rotation(frame.turn).T
    return Sighting(
        places,
        on_floor,
        _slant(solution, places, second) - _slant(solution, places, first),
        _doubt(solution, places, first, second) + pixel_mm / 2,
    )


def _slant(solution: FloorSolution, places: Floats, photo: int) -> Floats:
    """(N, 2) how far from the camera's foot places are seen away for each mm of their height."""
    foot = solution.cameras[photo].foot()
    return np.asarray((places - foot[:2]) / abs(foot[2]))


def _doubt(solution: FloorSolution, places: Floats, first: int, second: int) -> Floats:
    """(N,) how far apart two photos may show one place, for the cards alone, 95 %, mm."""
    slopes = point_slopes(solution, places, np.full(len(places), second)) - point_slopes(
        solution, places, np.full(len(places), first)
    )
    slopes = slopes.reshape(len(places), 2, -1)
    return radius_95(np.asarray(slopes @ solution.fit.covariance @ slopes.transpose(0, 2, 1)))
