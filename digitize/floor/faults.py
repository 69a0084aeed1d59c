"""Cards that do not fit: printed at another scale, not lying flat, or moved between photos.

Each card in turn is let free of what a sound card has none of (stretch, tilt, a place of its own
in each photo), everything else being solved again beside it. The card whose freedom explains most
is the faulty one; it is left out, and the rest looked at again. Of two cards that contradict each
other nobody can say which is right: both are named, and the contradiction goes into the stated
accuracy.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from digitize.card import card_layout
from digitize.errors import CardsApart
from digitize.floor.camera import Camera
from digitize.floor.kept import contradiction
from digitize.floor.problem import CARD_TERMS, HEIGHT_TERM, PLACE_TERMS, card_heights
from digitize.floor.solve import (
    OUTLIER,
    Fit,
    FloorSolution,
    KeptLens,
    PrintScale,
    corner_scatter,
    made_finer,
    solve,
    solve_floor,
)
from digitize.floor.start import View, place_of

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]
Kind = Literal["stretch", "lift", "moved"]
FAULTY_STRETCH = 0.003  # three times what a steel rule tells of a card's print
FAULTY_LIFT_MM = 4.0  # more than a floor's unevenness; common practice, no source
FAULTY_JUMP_MM = 3.0
MOVED_OVER_MM = 300.0  # a moved card is taken to be off by its jump over a card's length
SUSPICIOUS = 1.5  # corners this much worse than the cards' own scatter call for a closer look
ALIKE = 0.1  # a runner-up that falls short by less than this share cannot be told from the best
WORTH_A_LOOK = 0.3  # of what is faulty, by a first estimate
WORTH = 50.0  # drop in the cost that a fault must bring; chance alone brings less than 20


@dataclass(frozen=True)
class CardFault:
    """A card that does not fit the others.

    Attributes
    ----------
    numbers : the card; or two cards, where it cannot be told which of them it is.
    size : share by which the card is larger than the others; mm by which it stands up at most;
        mm by which it was moved.
    left_out : whether the solution does without it.
    """

    numbers: tuple[int, ...]
    kind: Kind
    size: float
    left_out: bool


@dataclass(frozen=True)
class _Trial:
    """What letting a card free brings: the fit, and what it says is wrong with the card."""

    fit: Fit
    card: int
    kind: Kind
    size: float
    faulty: bool


def solve_sound_floor(
    views: Sequence[View],
    print_scale: PrintScale | None = None,
    kept_lens: KeptLens | None = None,
) -> tuple[FloorSolution, tuple[CardFault, ...]]:
    """Solve the floor as solve_floor does, without the cards that do not fit; name those.

    Raises
    ------
    CardsApart
        If photos share no card with the others.
    CameraError
        If nothing can be solved with the kept lens.
    """
    try:
        solution, faults = _without_faulty(tuple(views), print_scale, kept_lens)
        if kept_lens is not None and not np.isfinite(solution.fit.parameters).all():
            raise contradiction()
    except np.linalg.LinAlgError as error:
        # A lens that is far off sends points behind the camera, and nothing can be solved.
        if kept_lens is None:
            raise
        raise contradiction() from error
    return solution, faults


def _without_faulty(
    views: tuple[View, ...], print_scale: PrintScale | None, kept_lens: KeptLens | None
) -> tuple[FloorSolution, tuple[CardFault, ...]]:
    faults: list[CardFault] = []
    # Uneven cards and a finer lens would bend themselves to a faulty card, so they come last.
    solution = solve_floor(views, print_scale, kept_lens, finer=False)
    while (fault := _worst_fault(solution)) is not None:
        rest = tuple(_without(view, fault.numbers) for view in views)
        if not fault.left_out or not all(view.cards for view in rest):
            faults.append(replace(fault, left_out=False))
            break
        try:
            solution = solve_floor(rest, print_scale, kept_lens, finer=False)
        except CardsApart:
            faults.append(replace(fault, left_out=False))
            break
        views = rest
        faults.append(fault)
    return made_finer(solution, kept_lens is None), tuple(faults)


def _without(view: View, numbers: tuple[int, ...]) -> View:
    return replace(view, cards=tuple(card for card in view.cards if card.number not in numbers))


def _worst_fault(solution: FloorSolution) -> CardFault | None:
    fit = solution.fit
    every = float(np.sqrt((fit.misses_px**2).mean()))
    if len(solution.cards) == 1 or every < SUSPICIOUS * corner_scatter(fit.problem.sights):
        return None
    trials = []
    for card in range(len(solution.cards)):
        if _shape_size(_step(fit, card)) > WORTH_A_LOOK:
            trials.append(_freed(fit, card))
        if _jump_mm(_places(solution, card).values()) > WORTH_A_LOOK * FAULTY_JUMP_MM:
            trials.append(_apart(solution, card))
    if not trials:
        return None
    # All at the scatter of the best, so that their costs can be compared.
    sigma = min(trial.fit.sigma_px for trial in trials)
    base = _cost(fit, sigma)
    trials.sort(key=lambda trial: _cost(trial.fit, sigma))
    best = trials[0]
    drop = base - _cost(best.fit, sigma)
    if drop < WORTH or not best.faulty:
        return None
    short = max(WORTH, ALIKE * drop)
    rivals = {t.card for t in trials[1:] if base - _cost(t.fit, sigma) > drop - short}
    numbers = sorted(solution.cards[card].number for card in rivals | {best.card})
    return CardFault(tuple(numbers), best.kind, best.size, left_out=len(numbers) == 1)


def _cost(fit: Fit, sigma_px: float) -> float:
    """Squared misses in sigmas; one corner counts no more than an outlier does."""
    return float(np.minimum((fit.misses_px / sigma_px) ** 2, OUTLIER**2).sum())


def _lift_mm(shape: Floats) -> float:
    """How far a card's highest corner stands over its lowest, by its shape (7,)."""
    return float(np.ptp(card_heights(card_layout("a4").corners_mm, shape[1:])))


def _shape_size(shape: Floats) -> float:
    """A card's stretch, tilt and bend (7,) in units of what is faulty; the larger one."""
    return max(abs(float(shape[0])) / FAULTY_STRETCH, _lift_mm(shape) / FAULTY_LIFT_MM)


def _with_shape(fit: Fit, card: int) -> Flags:
    """(P,) what is free when a card's stretch, tilt and bend are too.

    Its height is not: in one photo it is a stretch, and the stretch stands for both.
    """
    free = fit.problem.free.copy()
    free[fit.problem.shape_at(card)] = True
    free[fit.problem.shape_at(card).start + HEIGHT_TERM] = False
    return free


def _step(fit: Fit, card: int) -> Floats:
    """(7,) the stretch, tilt and bend that the residuals ask for, by one linear step."""
    at = fit.problem.shape_at(card)
    free = _with_shape(fit, card)
    misses, slopes = fit.problem.misses_px(fit.parameters)
    prior, prior_slopes = fit.problem.prior_misses(fit.parameters)
    matrix = np.concatenate([slopes[:, free] / fit.sigma_px, prior_slopes[:, free]])
    sizes = np.linalg.norm(matrix, axis=0) + 1e-30
    wanted = -np.concatenate([misses / fit.sigma_px, prior])
    step = np.linalg.lstsq(matrix / sizes, wanted, rcond=None)[0] / sizes
    whole = np.zeros(len(free))
    whole[free] = step
    return whole[at]


def _freed(fit: Fit, card: int) -> _Trial:
    """The solution with a card's stretch, tilt and bend solved for too."""
    at = fit.problem.shape_at(card)
    problem = replace(fit.problem, free=_with_shape(fit, card))
    freed = solve(problem, fit.parameters, fit.sigma_px)
    shape = freed.parameters[at]
    if _lift_mm(shape) > FAULTY_LIFT_MM:
        return _Trial(freed, card, "lift", _lift_mm(shape), True)
    return _Trial(freed, card, "stretch", float(shape[0]), _shape_size(shape) > 1)


def _places(solution: FloorSolution, card: int) -> dict[int, Floats]:
    """Where each photo that shows a card sees it: x, y, turn, by photo."""
    return {
        sight.photo: place_of(
            sight.corners_mm, solution.cameras[sight.photo].to_floor(sight.pixels)
        )
        for sight in solution.fit.problem.sights
        if sight.card == card
    }


def _jump_mm(places: Iterable[Floats]) -> float:
    """How far apart places of a card's middle are."""
    places = list(places)
    return max((float(np.hypot(*(a - b)[:2])) for a in places for b in places), default=0.0)


def _apart(solution: FloorSolution, card: int) -> _Trial:
    """The solution with a card as so many cards, one in each photo that shows it."""
    fit, places = solution.fit, _places(solution, card)
    first, *others = places
    names = {photo: len(solution.cards) + index for index, photo in enumerate(others)}
    sights = tuple(
        replace(sight, card=names[sight.photo])
        if sight.card == card and sight.photo != first
        else sight
        for sight in fit.problem.sights
    )
    more = [np.pad(places[photo], (0, CARD_TERMS - PLACE_TERMS)) for photo in others]
    free = np.concatenate(
        [fit.problem.free, np.tile(np.arange(CARD_TERMS) < PLACE_TERMS, len(others))]
    )
    problem = replace(fit.problem, sights=sights, free=free)
    apart = solve(problem, np.concatenate([fit.parameters, *more]), fit.sigma_px)
    jump = _jump_mm(apart.parameters[problem.card_at(at)] for at in (card, *names.values()))
    return _Trial(apart, card, "moved", jump, jump > FAULTY_JUMP_MM)


def doubt_of(fault: CardFault, camera: Camera) -> float:
    """The share by which lengths may be off for a faulty card that had to stay in."""
    if fault.left_out:
        return 0.0
    by_kind = {
        "stretch": abs(fault.size),
        "lift": fault.size / float(abs(camera.foot()[2])),
        "moved": fault.size / MOVED_OVER_MM,
    }
    return by_kind[fault.kind]
