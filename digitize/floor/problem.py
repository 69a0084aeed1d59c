"""The joint solution's unknowns, and how far photos of the cards are from what they would show.

The parameters are each lens's terms, each photo's pose, and each card's place and shape, in that
order. A flat card of its true size on the floor has a shape of all zeros; a sheet of paper lies
near that, as near as the root of the shapes' information says.
"""

from dataclasses import dataclass, field
from itertools import groupby

import numpy as np
from numpy.typing import NDArray

from digitize.floor.camera import LENS_TERMS, POSE_TERMS, Camera, project_with_slopes
from digitize.floor.start import View
from digitize.plane import rotation

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]
PLACE_TERMS = 3  # x, y, turn
CARD_TERMS = 10  # and its shape: stretch, height, tilt x and y, bend xx, xy, yy
SHAPE_TERMS = CARD_TERMS - PLACE_TERMS
HEIGHT_TERM = 1  # among those of the shape
BEND_MM = 100.0  # a bend's terms are heights per this squared


@dataclass(frozen=True)
class Sight:
    """A card's corners in one photo: (N, 2) on the card in true mm, (N, 2) pixels."""

    photo: int
    card: int
    corners_mm: Floats
    pixels: Floats


@dataclass(frozen=True)
class Problem:
    """What is known: the sights, and the lenses' and cards' priors.

    Attributes
    ----------
    views, sights : photo by photo; ``Sight.card`` counts the cards in the parameters' order.
    lens_of : each photo's lens.
    lens_priors : for each lens its terms (8,) and the square root of their information (8, 8).
    free : (P,) which parameters are solved for.
    shape_prior : every card's usual shape (7,) and the square root of the information on it
        (7, 7); zeros where nothing is known of it, or it is not solved for.
    """

    views: tuple[View, ...]
    sights: tuple[Sight, ...]
    lens_of: tuple[int, ...]
    lens_priors: tuple[tuple[Floats, Floats], ...]
    free: Flags
    shape_prior: tuple[Floats, Floats] = field(
        default_factory=lambda: (np.zeros(SHAPE_TERMS), np.zeros((SHAPE_TERMS, SHAPE_TERMS)))
    )

    @property
    def cards(self) -> int:
        """How many cards there are."""
        return int(self.free.size - self.card_at(0).start) // CARD_TERMS

    def lens_at(self, lens: int) -> slice:
        """Where a lens's terms are among the parameters."""
        return slice(lens * LENS_TERMS, (lens + 1) * LENS_TERMS)

    def pose_at(self, photo: int) -> slice:
        """Where a photo's pose is among the parameters."""
        start = len(self.lens_priors) * LENS_TERMS + photo * POSE_TERMS
        return slice(start, start + POSE_TERMS)

    def card_at(self, card: int) -> slice:
        """Where a card's terms are among the parameters."""
        start = len(self.lens_priors) * LENS_TERMS + len(self.views) * POSE_TERMS
        return slice(start + card * CARD_TERMS, start + (card + 1) * CARD_TERMS)

    def shape_at(self, card: int) -> slice:
        """Where a card's shape is among the parameters."""
        at = self.card_at(card)
        return slice(at.start + PLACE_TERMS, at.stop)

    def camera(self, parameters: Floats, photo: int) -> Camera:
        """One photo's camera at some parameters."""
        view = self.views[photo]
        return Camera(
            parameters[self.lens_at(self.lens_of[photo])],
            parameters[self.pose_at(photo)],
            view.size_px,
            view.quarter_turns,
        )

    def misses_px(self, parameters: Floats) -> tuple[Floats, Floats]:
        """Residuals (M,) of all corners and their derivatives (M, P) by all parameters."""
        count = 2 * sum(len(sight.pixels) for sight in self.sights)
        misses, slopes = np.empty(count), np.zeros((count, len(parameters)))
        first = 0
        for photo, group in groupby(self.sights, key=lambda sight: sight.photo):
            sights = list(group)
            laid = [lay(s.corners_mm, parameters[self.card_at(s.card)]) for s in sights]
            seen, by_lens, by_pose, by_point = project_with_slopes(
                self.camera(parameters, photo), np.concatenate([solid for solid, _ in laid])
            )
            rows = slice(first, first + seen.size)
            misses[rows] = seen.ravel() - np.concatenate([s.pixels.ravel() for s in sights])
            slopes[rows, self.lens_at(self.lens_of[photo])] = by_lens.reshape(-1, LENS_TERMS)
            slopes[rows, self.pose_at(photo)] = by_pose.reshape(-1, POSE_TERMS)
            corner = 0
            for sight, (solid, by_terms) in zip(sights, laid, strict=True):
                some = slice(corner, corner + len(solid))
                rows = slice(first + 2 * some.start, first + 2 * some.stop)
                by_card = by_point[some] @ by_terms
                slopes[rows, self.card_at(sight.card)] = by_card.reshape(-1, CARD_TERMS)
                corner = some.stop
            first += seen.size
        return misses, slopes

    def prior_misses(self, parameters: Floats) -> tuple[Floats, Floats]:
        """How far lenses and shapes are from their priors in sigmas, and its derivatives."""
        misses = []
        lenses = len(self.lens_priors) * LENS_TERMS
        slopes = np.zeros((lenses + self.cards * SHAPE_TERMS, len(parameters)))
        for lens, (terms, root) in enumerate(self.lens_priors):
            at = self.lens_at(lens)
            misses.append(root @ (parameters[at] - terms))
            slopes[at, at] = root
        usual, root = self.shape_prior
        for card in range(self.cards):
            at = self.shape_at(card)
            misses.append(root @ (parameters[at] - usual))
            first = lenses + card * SHAPE_TERMS
            slopes[first : first + SHAPE_TERMS, at] = root
        return np.concatenate(misses), slopes


def lay(corners: Floats, terms: Floats) -> tuple[Floats, Floats]:
    """A card's corners over the floor (N, 3), and the derivatives (N, 3, 10) by its terms."""
    x, y, turn, stretch = terms[:4]
    arms = corners @ rotation(turn).T
    by_shape = _height_slopes(corners)
    solid = np.empty((len(corners), 3))
    solid[:, :2] = (1 + stretch) * arms + [x, y]
    solid[:, 2] = by_shape @ terms[4:]
    by_terms = np.zeros((len(corners), 3, CARD_TERMS))
    by_terms[:, 0, 0] = by_terms[:, 1, 1] = 1
    by_terms[:, 0, 2], by_terms[:, 1, 2] = -(1 + stretch) * arms[:, 1], (1 + stretch) * arms[:, 0]
    by_terms[:, :2, 3] = arms
    by_terms[:, 2, 4:] = by_shape
    return solid, by_terms


def _height_slopes(corners: Floats) -> Floats:
    slopes = np.empty((len(corners), SHAPE_TERMS - HEIGHT_TERM))
    x, y = corners.T
    slopes[:, 0] = 1
    slopes[:, 1:3] = corners
    slopes[:, 3], slopes[:, 4], slopes[:, 5] = x * x, x * y, y * y
    slopes[:, 3:] /= BEND_MM**2
    return slopes


def card_heights(corners: Floats, shape: Floats) -> Floats:
    """(N,) how high a card's corners (N, 2) stand, mm, by its height, tilt and bend (6,)."""
    return np.asarray(_height_slopes(corners) @ shape)
