"""Distances taped by hand, against the solution or in it."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import combinations

import cv2
import numpy as np
from numpy.typing import NDArray

from digitize.card import RULE_MM
from digitize.errors import CheckError
from digitize.floor.accuracy import NORMAL_95, RULE_READING_MM, point_slopes
from digitize.floor.camera import POSE_TERMS
from digitize.floor.problem import CARD_TERMS
from digitize.floor.solve import FloorSolution

Floats = NDArray[np.float64]
Mark = int | tuple[float, float]  # a card's number, or a cross: its pixel in the first photo
TAPE_MM = 1.0  # 95 %: hooking and reading a steel tape; common practice, no source
CROSS_WINDOW_PX = 12
TOO_FAR = 5.0  # sigmas; chance alone is beyond them once in two million
UNIT_NEAR = 0.01  # share by which print and tape may be off beside a mistaken unit
UNITS = {
    25.4: "inches taken for mm? Give them with in, as 47-3/8in",
    10.0: "cm taken for mm? Give it in mm",
    1000.0: "metres taken for mm? Give it in mm",
    1 / 25.4: "mm taken for inches? Give it without in",
}
PRINTED_NEAR = 0.1  # share by which a printer may fit a page; a rule of 135 to 165 mm is taken


@dataclass(frozen=True)
class CheckDistance:
    """A distance taped between two marks, mm."""

    marks: tuple[Mark, Mark]
    taped_mm: float


@dataclass(frozen=True)
class Comparison:
    """A taped distance beside the one read; ``limit_mm``: by how much they may differ, 95 %."""

    names: tuple[str, str]
    taped_mm: float
    read_mm: float
    limit_mm: float
    used: bool


def compare_checks(
    solution: FloorSolution, checks: Sequence[CheckDistance], grey: NDArray[np.uint8]
) -> tuple[Comparison, ...]:
    """Each taped distance beside the one read.

    Parameters
    ----------
    grey : the first photo (H, W), in which crosses are looked for.

    Raises
    ------
    CheckError
        If a card was not seen.
    """
    return tuple(_compare(solution, check, grey) for check in checks)


def _compare(solution: FloorSolution, check: CheckDistance, grey: NDArray[np.uint8]) -> Comparison:
    read, slopes = _distance(solution, check, grey)
    print_sigma = read * RULE_READING_MM / RULE_MM / NORMAL_95
    spread = slopes @ solution.fit.covariance @ slopes + print_sigma**2
    limit = float(np.hypot(NORMAL_95 * np.sqrt(spread), TAPE_MM))
    return Comparison(_names(check), check.taped_mm, read, limit, used=False)


def use_checks(
    solution: FloorSolution,
    checks: Sequence[CheckDistance],
    grey: NDArray[np.uint8],
    print_relative: float = RULE_READING_MM / RULE_MM,
) -> tuple[FloorSolution, float, float]:
    """The solution that takes taped distances into account as further observations.

    They bear on the cards' printed size and on whatever the corners leave open (a linear update:
    R. Kalman, "A new approach to linear filtering and prediction problems", 1960).

    Parameters
    ----------
    print_relative : how far the cards' size may be off before, 95 %, as a share.

    Returns
    -------
    solution : in the new size.
    stretch : what the cards' size was multiplied by.
    print_relative : how far the cards' size may still be off, 95 %, as a share.

    Raises
    ------
    CheckError
        If a card was not seen, or a distance is further off than cards, print and tape can make
        it; the message says what is likely wrong.
    """
    stretch: float = 1.0
    print_sigma: float = print_relative / NORMAL_95
    for check in checks:
        read, slopes = _distance(solution, check, grey)
        tape_sigma = TAPE_MM / NORMAL_95
        covariance = solution.fit.covariance
        spread = float(slopes @ covariance @ slopes) + (read * print_sigma) ** 2 + tape_sigma**2
        missing = check.taped_mm - read
        if abs(missing) > TOO_FAR * np.sqrt(spread):
            raise CheckError(_why_too_far(solution, check, read, float(np.sqrt(spread))))
        gain = covariance @ slopes / spread
        by_print = float(read * print_sigma**2 / spread)
        parameters = solution.fit.parameters + gain * missing
        more = 1 + by_print * missing
        solution = _resized(solution, parameters, covariance - np.outer(gain, gain) * spread, more)
        stretch *= more
        print_sigma *= float(np.sqrt(max(1 - (read * print_sigma) ** 2 / spread, 0)))
    return solution, stretch, NORMAL_95 * print_sigma


def _why_too_far(solution: FloorSolution, check: CheckDistance, read: float, sigma: float) -> str:
    """What is likely wrong with a taped distance that is so far from the one read, mm."""
    taped = check.taped_mm
    a, b = _names(check)
    words = (
        f"check distance {a} to {b}: taped {taped:.1f} mm, but the photos show {read:.1f} mm, and "
        f"they should agree to {NORMAL_95 * sigma:.1f} mm; it was not used: "
    )
    for factor, said in UNITS.items():
        if abs(taped * factor / read - 1) < UNIT_NEAR:
            return words + said
    centres = {card.number: np.array(card.centre) for card in solution.cards}
    fitting = [
        f"{one} and {other}"
        for one, other in combinations(sorted(centres), 2)
        if {one, other} != set(check.marks)
        and abs(np.linalg.norm(centres[one] - centres[other]) - taped) < NORMAL_95 * sigma
    ]
    if fitting:
        return (
            words + f"it fits cards {' or '.join(fitting)}; give the numbers of the cards that it "
            "was taped between"
        )
    again = "tape it again, from centre mark to centre mark, and look at the cards' numbers"
    if abs(taped / read - 1) < PRINTED_NEAR:
        return (
            words + f"{again}; or the cards are not printed at 100 %, and their 150 mm rules "
            f"measure {RULE_MM * taped / read:.1f} mm: measure them and give what they read"
        )
    return words + again


def _names(check: CheckDistance) -> tuple[str, str]:
    a, b = (f"card {m}" if isinstance(m, int) else f"{m[0]:g},{m[1]:g}" for m in check.marks)
    return a, b


def _distance(
    solution: FloorSolution, check: CheckDistance, grey: NDArray[np.uint8]
) -> tuple[float, Floats]:
    """The distance read between a check's marks, mm, and its derivatives by the parameters."""
    places, slopes = [], []
    for mark in check.marks:
        if isinstance(mark, int):
            place, slope = _card_centre(solution, mark)
        else:
            pixel = _cross(grey, mark)
            place = solution.cameras[0].to_floor(pixel[None])[0]
            slope = point_slopes(solution, place[None], np.zeros(1, np.int64))
        places.append(place)
        slopes.append(slope)
    apart = places[0] - places[1]
    length = float(np.linalg.norm(apart))
    if length == 0:
        raise CheckError("a check distance runs between two different marks")
    return length, apart / length @ (slopes[0] - slopes[1])


def _card_centre(solution: FloorSolution, number: int) -> tuple[Floats, Floats]:
    numbers = [card.number for card in solution.cards]
    if number not in numbers:
        seen = ", ".join(str(n) for n in numbers)
        raise CheckError(f"check distance: card {number} is not in the photos; seen: {seen}")
    index = numbers.index(number)
    slope = np.zeros((2, len(solution.fit.parameters)))
    first = solution.fit.problem.card_at(index).start
    slope[0, first] = slope[1, first + 1] = 1
    return np.array(solution.cards[index].centre), slope


def _cross(grey: NDArray[np.uint8], near: tuple[float, float]) -> Floats:
    """(2,) the middle of the cross drawn near a pixel: all its edges run past it."""
    height, width = grey.shape
    border = CROSS_WINDOW_PX + 2
    if not (border < near[0] < width - border and border < near[1] < height - border):
        raise CheckError(f"check distance: {near[0]:g},{near[1]:g} is not in the first photo")
    start = np.array([[near]], np.float32)
    criteria = (cv2.TERM_CRITERIA_EPS + cv2.TERM_CRITERIA_MAX_ITER, 40, 0.003)
    window = (CROSS_WINDOW_PX, CROSS_WINDOW_PX)
    return np.asarray(cv2.cornerSubPix(grey, start, window, (-1, -1), criteria)[0, 0], np.float64)


def _resized(
    solution: FloorSolution, parameters: Floats, covariance: Floats, stretch: float
) -> FloorSolution:
    """The solution at other parameters, then with all its lengths multiplied."""
    problem = solution.fit.problem
    factor = np.ones(len(parameters))
    for photo in range(len(problem.views)):
        factor[problem.pose_at(photo)][POSE_TERMS // 2 :] = stretch
    for first in range(problem.card_at(0).start, len(parameters), CARD_TERMS):
        factor[first : first + 2] = stretch
    parameters = parameters * factor
    fit = replace(
        solution.fit, parameters=parameters, covariance=covariance * np.outer(factor, factor)
    )
    cards = []
    for index, card in enumerate(solution.cards):
        x, y, turn = parameters[problem.card_at(index)][:3]
        cards.append(replace(card, centre=(float(x), float(y)), turn=float(turn)))
    cameras = tuple(problem.camera(parameters, photo) for photo in range(len(problem.views)))
    return replace(solution, fit=fit, cards=tuple(cards), cameras=cameras)
