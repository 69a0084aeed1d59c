"""Where the cameras stood, what their lenses do, where each card lies: one joint solution.

All checker corners of all cards in all photos are fitted at once. The floor is the plane z = 0 in
mm; the first card lies at its origin, unturned. Unknown are each photo's pose, a lens for each
camera and zoom, each other card's place and turn, and, once all that is near, how unevenly each
card lies. Weak priors stand in for what the corners cannot carry: with one card the lens stays near
what EXIF or a usual phone says, less near where the picture may have been cropped, with four the
corners settle it; a kept camera's own uncertainty takes the priors' place. Finer lens terms are let
in only where the corners ask for them by Schwarz's criterion (G. Schwarz, "Estimating the dimension
of a model", 1978). The inverse of the normal matrix is the covariance that every later figure rests
on (Triggs et al., "Bundle adjustment: a modern synthesis", 2000).
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from digitize.floor.camera import LENS_TERMS, Camera, turned_size
from digitize.floor.crop import is_cut, may_be_cut
from digitize.floor.photo import FULL_FRAME_DIAGONAL_MM
from digitize.floor.problem import CARD_TERMS, PLACE_TERMS, Problem, Sight
from digitize.floor.start import Start, View, start_from
from digitize.floor.uneven import shape_prior, unevenness_of
from digitize.plane import robust_sigma

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]
USUAL_EQUIVALENT_MM = 26.0  # of a phone's main camera; common practice, no source
FOCAL_PRIOR = 0.04  # relative, when EXIF gives it: rounded to a mm, and the phone crops
FOCAL_PRIOR_UNKNOWN = 0.2
CENTRE_PRIOR = 0.006  # of the picture's longer side
# A cut leaves out up to as much again as it shows, a share c of it, evenly between 0 and 1 (common
# practice, no source), from anywhere in the whole. The focal length is 1 + c times what it would be
# for a whole picture of the cut's size, and the root mean square of c is the root of 1/3; the
# middle lies off by up to c / 2 either way, and its root mean square is that of c / 2 over root 3.
CUT_FOCAL = 3**-0.5
CUT_CENTRE = 1 / 6
RADIAL_PRIOR = 0.05, 0.05, 0.03
ASKEW_PRIOR = 0.001
RADIAL_PRIOR_UNKNOWN = 0.2, 0.2, 0.1  # without EXIF, which phones write; common practice
USUAL_TERMS = 5
FOCAL_TRIALS = 1.0, 0.75, 1.35, 0.55, 1.8
LEAST_CORNER_SIGMA_PX = 0.02
ROBUST_SCALE = 3.0
MOST_STEPS = 100
OUTLIER = 4.5  # in sigmas, of a corner's two coordinates each
KEPT_FOCAL_DRIFT = 0.002  # relative: focusing moves a lens; common practice, no source


@dataclass(frozen=True)
class PrintScale:
    """True size over nominal size of the printed cards, across (x) and along (y) the sheet."""

    x: float = 1.0
    y: float = 1.0


@dataclass(frozen=True)
class KeptLens:
    """A lens solved earlier: its terms (8,) as in Camera, and their covariance (8, 8)."""

    terms: Floats
    covariance: Floats


@dataclass(frozen=True)
class PlacedCard:
    """A card on the floor: its centre (mm) and turn (radians) in the floor frame."""

    number: int
    paper: str
    corners: int
    centre: tuple[float, float]
    turn: float


@dataclass(frozen=True)
class Fit:
    """A problem's solution: parameters (P,), their covariance (P, P), what is left over.

    Attributes
    ----------
    sigma_px : scatter of the corners kept, in one coordinate.
    misses_px : (M,) residuals; kept : (M,) those that are not outliers.
    cost : twice the negative logarithm of the likelihood, up to a constant.
    """

    problem: Problem
    parameters: Floats
    covariance: Floats
    sigma_px: float
    misses_px: Floats
    kept: Flags
    cost: float


@dataclass(frozen=True)
class FloorSolution:
    """The joint solution.

    Attributes
    ----------
    cameras : one per photo, in order.
    cards : every card's place.
    reprojection_px : RMS distance of the corners kept.
    fit : the parameters behind it, and their covariance.
    unevenness : how uneven the cards lie, as a multiple of the usual; 0 where they were taken as
        flat.
    """

    cameras: tuple[Camera, ...]
    cards: tuple[PlacedCard, ...]
    reprojection_px: float
    fit: Fit
    unevenness: float = 0.0

    def camera_with(self, parameters: Floats, photo: int) -> Camera:
        """A photo's camera at other parameters, for carrying the covariance on."""
        return self.fit.problem.camera(parameters, photo)


def solve_floor(
    views: Sequence[View],
    print_scale: PrintScale | None = None,
    kept_lens: KeptLens | None = None,
    finer: bool = True,
) -> FloorSolution:
    """Solve cameras, lenses and cards together, from every card of every photo.

    Parameters
    ----------
    views : at least one card in each.
    print_scale : the cards' true size over their nominal size.
    kept_lens : the lens of these photos, if their camera was solved before; at the photos' size.
    finer : whether cards may lie unevenly, and finer lens terms be let in, if the corners ask for
        them; else cards are flat.

    Raises
    ------
    CardsApart
        If photos share no card with the others.
    """
    print_scale = print_scale or PrintScale()
    scale = np.array([print_scale.x, print_scale.y])
    start, lens_of, priors = _begin(views, scale, kept_lens)
    numbers = list(start.places)
    problem = Problem(
        views=tuple(views),
        sights=tuple(
            Sight(photo, numbers.index(card.number), card.corners_mm * scale, card.pixels)
            for photo, view in enumerate(views)
            for card in view.cards
        ),
        lens_of=lens_of,
        lens_priors=priors,
        free=np.ones(0, bool),
    )
    terms = USUAL_TERMS if kept_lens is None else LENS_TERMS
    problem = replace(problem, free=_free(problem, len(numbers), terms))
    places = [np.pad(start.places[number], (0, CARD_TERMS - PLACE_TERMS)) for number in numbers]
    lenses = [start.lenses[lens_of.index(lens)] for lens in range(len(priors))]
    sigma = corner_scatter(problem.sights)
    fit = solve(problem, np.concatenate([*lenses, *start.poses, *places]), sigma)
    for photo, other in enumerate(start.others):
        if other is not None:
            mirrored = fit.parameters.copy()
            mirrored[problem.pose_at(photo)] = other
            twin = solve(problem, mirrored, sigma)
            fit = twin if twin.cost < fit.cost else fit
    solution = _solution(fit, numbers)
    return made_finer(solution, kept_lens is None) if finer else solution


def made_finer(solution: FloorSolution, lens_too: bool) -> FloorSolution:
    """A solution of flat cards with cards as uneven as they are, and perhaps a finer lens."""
    fit, problem = solution.fit, solution.fit.problem
    unevenness = unevenness_of(problem, fit.parameters, fit.sigma_px, fit.kept)
    free = problem.free.copy()
    for card in range(problem.cards):
        free[problem.shape_at(card)] = True
    uneven = replace(problem, free=free, shape_prior=shape_prior(unevenness))
    fit = solve(uneven, fit.parameters, fit.sigma_px)
    finer = _solution(fit, [card.number for card in solution.cards], unevenness)
    return _with_finer_lens(finer) if lens_too else finer


def _with_finer_lens(solution: FloorSolution) -> FloorSolution:
    """The solution with every lens term, if the corners ask for them; else as it was."""
    fit, numbers = solution.fit, [card.number for card in solution.cards]
    free = fit.problem.free | _free(fit.problem, len(numbers), LENS_TERMS)
    finer = replace(fit.problem, free=free)
    grown = solve(finer, fit.parameters, fit.sigma_px)
    more = int(finer.free.sum() - fit.problem.free.sum())
    if grown.cost + more * np.log(len(grown.misses_px)) < fit.cost:
        return _solution(grown, numbers, solution.unevenness)
    return solution


def _begin(
    views: Sequence[View], scale: Floats, kept: KeptLens | None
) -> tuple[Start, tuple[int, ...], tuple[tuple[Floats, Floats], ...]]:
    """The start that lays the cards down best, each photo's lens, and the lenses' priors."""
    # Pictures that are known to be cut may each be cut elsewhere.
    cuts = [photo if is_cut(view) else None for photo, view in enumerate(views)]
    sizes = [turned_size(view.size_px, view.quarter_turns) for view in views]
    keys = [(v.camera, v.focal_px, *each) for v, *each in zip(views, sizes, cuts, strict=True)]
    if kept is not None:
        keys = keys[:1] * len(views)
    names = list(dict.fromkeys(keys))
    lens_of = tuple(names.index(key) for key in keys)
    priors = []
    for name in names:
        view = views[keys.index(name)]
        long_side = max(view.size_px)
        usual = USUAL_EQUIVALENT_MM / FULL_FRAME_DIAGONAL_MM * float(np.hypot(*view.size_px))
        focal = view.focal_px or usual
        terms = np.zeros(LENS_TERMS)
        terms[0] = focal
        cut = may_be_cut(view)
        told = FOCAL_PRIOR if view.focal_px else FOCAL_PRIOR_UNKNOWN
        spread = focal * float(np.hypot(told, cut * CUT_FOCAL))
        centre = long_side * float(np.hypot(CENTRE_PRIOR, cut * CUT_CENTRE))
        radial = RADIAL_PRIOR if view.focal_px else RADIAL_PRIOR_UNKNOWN
        sigmas = np.array([spread, centre, centre, *radial, ASKEW_PRIOR, ASKEW_PRIOR])
        priors.append((terms, np.diag(1 / sigmas)))
    if kept is not None:
        priors = [_kept_prior(kept)]
    starts = []
    trials = FOCAL_TRIALS if kept is None and any(v.focal_px is None for v in views) else (1.0,)
    for trial in trials:
        lenses = []
        for view, lens in zip(views, lens_of, strict=True):
            terms = priors[lens][0].copy()
            terms[0] *= 1.0 if view.focal_px else trial
            lenses.append(terms)
        starts.append(start_from(views, lenses, scale))
    return min(starts, key=lambda start: start.miss), lens_of, tuple(priors)


def _kept_prior(kept: KeptLens) -> tuple[Floats, Floats]:
    covariance = kept.covariance.copy()
    covariance[0, 0] += (KEPT_FOCAL_DRIFT * kept.terms[0]) ** 2
    solved = np.flatnonzero(np.diag(covariance) > 0)
    root = np.zeros((LENS_TERMS, LENS_TERMS))
    information = np.linalg.inv(covariance[np.ix_(solved, solved)])
    root[np.ix_(solved, solved)] = np.linalg.cholesky(information).T
    return kept.terms, root


def _free(problem: Problem, cards: int, lens_terms: int) -> Flags:
    """Poses, every card's place but the first's, and so many terms of each lens."""
    free = np.zeros(problem.card_at(cards - 1).stop, bool)
    for lens, (_, root) in enumerate(problem.lens_priors):
        free[problem.lens_at(lens)][:lens_terms] = np.diag(root)[:lens_terms] > 0
    for photo in range(len(problem.views)):
        free[problem.pose_at(photo)] = True
    for card in range(1, cards):
        free[problem.card_at(card)][:PLACE_TERMS] = True
    return free


def corner_scatter(sights: Sequence[Sight]) -> float:
    """How exactly corners were found, px: what each card leaves over from a homography of its own.

    It needs no camera and no flat floor, so that it is a measure of the corners alone.
    """
    scatters = []
    for sight in sights:
        homography, _ = cv2.findHomography(sight.corners_mm, sight.pixels, 0)
        if homography is None:
            continue
        seen = cv2.perspectiveTransform(sight.corners_mm[None], homography)[0]
        rest = ((seen - sight.pixels) ** 2).sum()
        scatters.append(float(np.sqrt(rest / max(sight.pixels.size - 8, 1))))
    return max(float(np.median(scatters)) if scatters else 0.1, LEAST_CORNER_SIGMA_PX)


def solve(problem: Problem, start: Floats, sigma_px: float) -> Fit:
    """The most likely parameters, from a start (P,) and a guess at the corners' scatter."""
    free = problem.free
    parameters = start
    for _ in range(3):
        parameters = _descend(problem, parameters, sigma_px)
        misses, slopes = problem.misses_px(parameters)
        guess, sigma_px = sigma_px, _scatter(misses, slopes, problem, parameters, sigma_px)
        if abs(sigma_px - guess) < 0.1 * guess:
            break
    kept = np.abs(misses) < OUTLIER * sigma_px
    prior, prior_slopes = problem.prior_misses(parameters)
    weighted, prior_weighted = slopes[kept][:, free] / sigma_px, prior_slopes[:, free]
    normal = weighted.T @ weighted + prior_weighted.T @ prior_weighted
    sizes = 1 / np.sqrt(np.diag(normal))
    sizes = np.outer(sizes, sizes)
    covariance = np.zeros((len(start), len(start)))
    covariance[np.ix_(free, free)] = np.linalg.inv(normal * sizes) * sizes
    capped = np.minimum((misses / sigma_px) ** 2, OUTLIER**2)
    cost = float(capped.sum() + 2 * len(misses) * np.log(sigma_px) + (prior**2).sum())
    return Fit(problem, parameters, covariance, sigma_px, misses, kept, cost)


def _descend(problem: Problem, start: Floats, sigma_px: float) -> Floats:
    """The parameters (P,) with the least robust cost, at a given scatter.

    Levenberg's and Marquardt's damped steps (D. Marquardt, "An algorithm for least-squares
    estimation of nonlinear parameters", 1963), each corner weighed by its miss.
    """
    free = problem.free

    def cost_at(parameters: Floats) -> tuple[float, Floats, Floats]:
        misses, slopes = problem.misses_px(parameters)
        scaled = (misses / (sigma_px * ROBUST_SCALE)) ** 2
        prior, _ = problem.prior_misses(parameters)
        # Squared for small misses, straight for large ones.
        robust = 2 * ROBUST_SCALE**2 * (np.sqrt(1 + scaled) - 1)
        return float(robust.sum() + (prior**2).sum()), misses, slopes

    parameters, damping = start, 1e-3
    cost, misses, slopes = cost_at(parameters)
    for _ in range(MOST_STEPS):
        prior, prior_slopes = problem.prior_misses(parameters)
        weight = 1 / np.sqrt(1 + (misses / (sigma_px * ROBUST_SCALE)) ** 2) / sigma_px**2
        some, prior_some = slopes[:, free], prior_slopes[:, free]
        normal = some.T @ (some * weight[:, None]) + prior_some.T @ prior_some
        downhill = -(some.T @ (weight * misses) + prior_some.T @ prior)
        sizes = 1 / np.sqrt(np.diag(normal) + 1e-30)
        scaled_normal = normal * np.outer(sizes, sizes)
        while damping < 1e8:
            damped = scaled_normal + damping * np.eye(len(sizes))
            trial = parameters.copy()
            trial[free] += sizes * np.linalg.solve(damped, sizes * downhill)
            reached = cost_at(trial)
            if reached[0] <= cost:
                break
            damping = max(damping, 1e-6) * 8
        else:
            break
        gained = cost - reached[0]
        parameters, (cost, misses, slopes) = trial, reached
        damping /= 10
        if gained < 1e-3 + 1e-6 * cost:
            break
    return parameters


def _scatter(
    misses: Floats, slopes: Floats, problem: Problem, parameters: Floats, sigma: float
) -> float:
    """The corners' scatter after the fit, px, for the parameters that the corners themselves set.

    A parameter that its prior holds takes no degree of freedom from the corners.
    """
    rough = max(robust_sigma(misses), LEAST_CORNER_SIGMA_PX)
    kept = np.abs(misses) < OUTLIER * rough
    free = problem.free
    data = slopes[kept][:, free].T @ slopes[kept][:, free] / sigma**2
    prior_slopes = problem.prior_misses(parameters)[1][:, free]
    scales = 1 / np.sqrt(np.diag(data) + (prior_slopes**2).sum(axis=0) + 1e-30)
    data = data * np.outer(scales, scales)
    whole = data + (prior_slopes * scales).T @ (prior_slopes * scales)
    used = float(np.trace(np.linalg.solve(whole, data)))
    spread = float(np.sqrt((misses[kept] ** 2).sum() / max(kept.sum() - used, 1.0)))
    return max(spread, LEAST_CORNER_SIGMA_PX)


def _solution(fit: Fit, numbers: Sequence[int], unevenness: float = 0.0) -> FloorSolution:
    problem = fit.problem
    placed = []
    for index, number in enumerate(numbers):
        terms = fit.parameters[problem.card_at(index)]
        seen = [card for view in problem.views for card in view.cards if card.number == number]
        placed.append(
            PlacedCard(
                number=number,
                paper=seen[0].paper,
                corners=sum(len(card.pixels) for card in seen),
                centre=(float(terms[0]), float(terms[1])),
                turn=float(terms[2]),
            )
        )
    return FloorSolution(
        cameras=tuple(problem.camera(fit.parameters, photo) for photo in range(len(problem.views))),
        cards=tuple(placed),
        reprojection_px=float(np.sqrt((fit.misses_px[fit.kept] ** 2).mean() * 2)),
        fit=fit,
        unevenness=unevenness,
    )
