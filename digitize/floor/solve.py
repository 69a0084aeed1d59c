"""Where the camera stood, what its lens does, and where each card lies: one joint solution.

All checker corners of all cards in all photos are fitted at once. The floor is the plane z = 0 in
mm; the card with the most corners lies at its origin, unturned. Unknown are each photo's pose,
one lens for all photos (focal length, principal point, two radial terms) and each other card's
place and turn. Weak priors stand in for what the corners cannot carry: with one card the lens
stays near what EXIF or a usual phone says, with four the corners settle it. The inverse of the
normal matrix at the solution is the covariance that every later figure rests on.

The lens model is Brown's radial polynomial (D. C. Brown, "Close-range camera calibration",
Photogrammetric Engineering 37, 1971); the joint solution is a bundle adjustment (Triggs et al.,
"Bundle adjustment: a modern synthesis", 2000).
"""

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.optimize import least_squares

from digitize.card.find import FoundCard
from digitize.floor.photo import FULL_FRAME_DIAGONAL_MM

Floats = NDArray[np.float64]
LENS_TERMS = 5
POSE_TERMS = 6
USUAL_EQUIVALENT_MM = 26.0  # of a phone's main camera; common practice, no source
FOCAL_PRIOR = 0.04  # relative, when EXIF gives it
FOCAL_PRIOR_UNKNOWN = 0.25
CENTRE_PRIOR = 0.006  # of the picture's width
RADIAL_PRIOR = (0.05, 0.05)
LEAST_CORNER_SIGMA_PX = 0.03
ROBUST_SCALE = 3.0


class CardsApart(Exception):
    """Photos share no card; the message says what to change."""


@dataclass(frozen=True)
class PrintScale:
    """True size over nominal size of the printed cards, across (x) and along (y) the sheet."""

    x: float = 1.0
    y: float = 1.0


@dataclass(frozen=True)
class PlacedCard:
    """A card on the floor: its centre (mm) and turn (radians) in the floor frame."""

    number: int
    paper: str
    corners: int
    centre: tuple[float, float]
    turn: float


@dataclass(frozen=True)
class Camera:
    """One photo's pose and lens.

    Attributes
    ----------
    lens : focal length, principal point x and y (px), two radial terms.
    pose : rotation vector and translation (mm), floor to camera.
    size_px : the photo's width and height.
    """

    lens: Floats
    pose: Floats
    size_px: tuple[int, int]

    def to_pixels(self, floor: Floats) -> Floats:
        """(N, 2) pixels of floor points (N, 2) in mm."""
        return _project(self.lens, self.pose, floor)

    def to_floor(self, pixels: Floats) -> Floats:
        """(N, 2) floor points in mm seen at pixels (N, 2)."""
        focal, centre_x, centre_y, k1, k2 = self.lens
        bent = (np.asarray(pixels, float) - [centre_x, centre_y]) / focal
        straight = bent.copy()
        for _ in range(20):  # fixed-point inversion; phones' residual distortion is a few percent
            square = (straight**2).sum(axis=1, keepdims=True)
            straight = bent / (1 + k1 * square + k2 * square**2)
        rotation = cv2.Rodrigues(self.pose[:3])[0]
        plane = np.column_stack([rotation[:, :2], self.pose[3:]])
        rays = np.column_stack([straight, np.ones(len(straight))]) @ np.linalg.inv(plane).T
        return np.asarray(rays[:, :2] / rays[:, 2:])

    def foot(self) -> Floats:
        """(3,) the camera's place in the floor frame, mm; the third is its height."""
        rotation = cv2.Rodrigues(self.pose[:3])[0]
        return np.asarray(-rotation.T @ self.pose[3:])


@dataclass(frozen=True)
class FloorSolution:
    """The joint solution.

    Attributes
    ----------
    cameras : one per photo, in order.
    cards : every card's place.
    reprojection_px : RMS of the residuals of the corners kept.
    parameters : (P,) lens, poses, then each card but the first.
    covariance : (P, P) of the parameters.
    """

    cameras: tuple[Camera, ...]
    cards: tuple[PlacedCard, ...]
    reprojection_px: float
    parameters: Floats
    covariance: Floats

    def with_parameters(self, parameters: Floats) -> tuple[Camera, ...]:
        """The cameras at other parameters, for carrying the covariance on."""
        return tuple(
            Camera(parameters[:LENS_TERMS], _pose(parameters, photo), camera.size_px)
            for photo, camera in enumerate(self.cameras)
        )


def _pose(parameters: Floats, photo: int) -> Floats:
    start = LENS_TERMS + POSE_TERMS * photo
    return parameters[start : start + POSE_TERMS]


def _place(parameters: Floats, photos: int, card: int) -> Floats:
    """(3,) x, y and turn of a card; the first one holds the frame."""
    at = LENS_TERMS + POSE_TERMS * photos + 3 * (card - 1)
    return parameters[at : at + 3] if card else np.zeros(3)


def _project(lens: Floats, pose: Floats, floor: Floats) -> Floats:
    focal, centre_x, centre_y, k1, k2 = lens
    rotation = cv2.Rodrigues(pose[:3])[0]
    seen = floor @ rotation[:, :2].T + pose[3:]
    straight = seen[:, :2] / seen[:, 2:]
    square = (straight**2).sum(axis=1, keepdims=True)
    bent = straight * (1 + k1 * square + k2 * square**2)
    return np.asarray(bent * focal + [centre_x, centre_y])


def _turned(points: Floats, place: Floats) -> Floats:
    cos, sin = np.cos(place[2]), np.sin(place[2])
    return np.asarray(points @ np.array([[cos, sin], [-sin, cos]]) + place[:2])


def solve_floor(
    cards: Sequence[Sequence[FoundCard]],
    sizes_px: Sequence[tuple[int, int]],
    focal_px: Sequence[float | None],
    print_scale: PrintScale,
) -> FloorSolution:
    """Solve cameras, lens and cards together.

    Parameters
    ----------
    cards : the cards found in each photo, at least one in each.
    sizes_px, focal_px : each photo's size, and its focal length from EXIF if known.

    Raises
    ------
    CardsApart
        If photos share no card with the others.
    """
    scale = np.array([print_scale.x, print_scale.y])
    width, height = sizes_px[0]
    usual = USUAL_EQUIVALENT_MM / FULL_FRAME_DIAGONAL_MM * float(np.hypot(width, height))
    known = [focal for focal in focal_px if focal]
    focal = known[0] if known else usual
    lens = np.array([focal, (width - 1) / 2, (height - 1) / 2, 0.0, 0.0])
    poses, places = _start(cards, lens, scale)
    numbers = list(places)

    prior = lens
    prior_sigma = np.array(
        [
            focal * (FOCAL_PRIOR if known else FOCAL_PRIOR_UNKNOWN),
            width * CENTRE_PRIOR,
            width * CENTRE_PRIOR,
            *RADIAL_PRIOR,
        ]
    )
    start = np.concatenate([lens, *poses, *[places[number] for number in numbers[1:]]])
    sights = [
        (photo, numbers.index(card.number), card.corners_mm * scale, card.pixels)
        for photo, found in enumerate(cards)
        for card in found
    ]

    def residuals_px(parameters: Floats) -> Floats:
        misses = []
        for photo, index, corners, pixels in sights:
            place = _place(parameters, len(cards), index)
            seen = _project(
                parameters[:LENS_TERMS], _pose(parameters, photo), _turned(corners, place)
            )
            misses.append((seen - pixels).ravel())
        return np.concatenate(misses)

    size = np.concatenate(
        [
            [focal, width, width, 0.1, 0.1],
            np.tile([1, 1, 1, 500, 500, 500], len(cards)),
            np.tile([500, 500, 1], len(numbers) - 1),
        ]
    )
    # The corners' own scatter sets how much the priors weigh: first a guess, then measured.
    sigma = 0.1
    parameters = start
    for _ in range(2):
        solution = least_squares(
            lambda p, sigma=sigma: np.concatenate(
                [residuals_px(p) / sigma, (p[:LENS_TERMS] - prior) / prior_sigma]
            ),
            parameters,
            x_scale=size,
            loss="soft_l1",
            f_scale=ROBUST_SCALE,
        )
        parameters = np.asarray(solution.x)
        misses = residuals_px(parameters)
        sigma = max(1.4826 * float(np.median(np.abs(misses))), LEAST_CORNER_SIGMA_PX)
    kept = np.abs(misses) < 2 * ROBUST_SCALE * sigma
    normal = np.asarray(solution.jac.T @ solution.jac)
    scales = np.outer(size, size)
    covariance = np.asarray(np.linalg.inv(normal * scales) * scales, np.float64)
    counts = {
        n: sum(len(c.pixels) for found in cards for c in found if c.number == n) for n in numbers
    }
    papers = {card.number: card.paper for found in cards for card in found}
    placed = []
    for index, number in enumerate(numbers):
        place = _place(parameters, len(cards), index)
        placed.append(
            PlacedCard(
                number,
                papers[number],
                counts[number],
                (float(place[0]), float(place[1])),
                float(place[2]),
            )
        )
    cameras = tuple(
        Camera(parameters[:LENS_TERMS], _pose(parameters, photo), sizes_px[photo])
        for photo in range(len(cards))
    )
    rms = float(np.sqrt((misses[kept] ** 2).mean() * 2))
    return FloorSolution(cameras, tuple(placed), rms, parameters, covariance)


def _start(
    cards: Sequence[Sequence[FoundCard]], lens: Floats, scale: Floats
) -> tuple[list[Floats], dict[int, Floats]]:
    """Poses and card places to begin with: from card to photo to card, until all are reached."""
    matrix = np.array([[lens[0], 0, lens[1]], [0, lens[0], lens[2]], [0, 0, 1.0]])
    biggest = max((card for found in cards for card in found), key=lambda card: len(card.pixels))
    places = {biggest.number: np.zeros(3)}
    poses: list[Floats | None] = [None] * len(cards)
    while any(pose is None for pose in poses):
        reached = [
            photo
            for photo, found in enumerate(cards)
            if poses[photo] is None and any(card.number in places for card in found)
        ]
        if not reached:
            missing = [str(photo + 1) for photo, pose in enumerate(poses) if pose is None]
            raise CardsApart(
                f"photo {', '.join(missing)}: shares no scale card with the other photos; "
                "let each photo show a card that another one shows too"
            )
        for photo in reached:
            known = [card for card in cards[photo] if card.number in places]
            floor = np.concatenate([_turned(c.corners_mm * scale, places[c.number]) for c in known])
            pixels = np.concatenate([card.pixels for card in known])
            solid = np.column_stack([floor, np.zeros(len(floor))])
            _, turns, shifts, _ = cv2.solvePnPGeneric(
                solid, pixels, matrix, None, flags=cv2.SOLVEPNP_IPPE
            )
            pose = np.concatenate([turns[0].ravel(), shifts[0].ravel()])
            poses[photo] = pose
            camera = Camera(lens, pose, (0, 0))
            for card in cards[photo]:
                if card.number not in places:
                    places[card.number] = _rigid(
                        card.corners_mm * scale, camera.to_floor(card.pixels)
                    )
    return [pose for pose in poses if pose is not None], places


def _rigid(source: Floats, target: Floats) -> Floats:
    """Shift and turn (x, y, radians) that best carry source onto target."""
    a, b = source - source.mean(axis=0), target - target.mean(axis=0)
    turn = np.arctan2((a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]).sum(), (a * b).sum())
    place = np.array([0.0, 0.0, turn])
    place[:2] = target.mean(axis=0) - _turned(source, place).mean(axis=0)
    return place
