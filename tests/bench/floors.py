"""Simulated floors: cards, cameras and noisy corners, and what could be known from them at best.

Nothing here uses the solver: points are projected by OpenCV, and the bound on any unbiased
estimate (Cramér and Rao's, with the priors of the lens and of the cards' bends as information:
H. Van Trees, Detection, Estimation, and Modulation Theory, part I, 1968, section 2.4) is taken by
differences. A bent card is a piece of a cylinder, as a sheet of paper is, and lies on the floor
with its lowest point.
"""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from digitize.card.layout import card_layout

Floats = NDArray[np.float64]
SIZE = (4032, 3024)
PAPER = 1000.0, 700.0
SLOTS = (
    (-640, 0),
    (640, 0),
    (0, 480),
    (0, -480),
    (-600, 460),
    (600, 460),
    (600, -460),
    (-600, -460),
)
FEWEST_CORNERS = 12
# Focal length (relative), principal point (of the picture's width), two radial terms.
LENS_SIGMA = np.array([0.04, 0.006, 0.006, 0.05, 0.05])
KEPT_SIGMA = np.array([0.001, 0.0003, 0.0003, 0.001, 0.002])
CURVATURE_PER_MM = 1e-4  # sigma; an A4 sheet's ends then stand off its middle by 1.1 mm RMS
BEND_DRAWS = 4000  # of bent cards, that their bends' prior is taken from
BEND_MM = 100.0  # a bend's terms are heights per this squared
FOCUSING = 0.002  # a kept camera's focal length moves by about this when it focuses


@dataclass(frozen=True)
class SimulatedFloor:
    """Cards on a floor, and cameras over it.

    Attributes
    ----------
    places : (C, 3) each card's x, y (mm) and turn (radians).
    poses : (V, 6) rotation vector and translation of each photo.
    focal_px : the nominal focal length.
    known_lens : whether the camera was solved before.
    noise_px : scatter of the corners.
    seen : which corners of which card (by index) each photo sees.
    bent : whether the cards are bent; each draw of noise bends them anew.
    """

    places: Floats
    poses: Floats
    focal_px: float
    known_lens: bool
    noise_px: float
    seen: tuple[dict[int, NDArray[np.int64]], ...]
    bent: bool = False

    @property
    def lens(self) -> Floats:
        """(5,) the nominal lens."""
        return np.array([self.focal_px, (SIZE[0] - 1) / 2, (SIZE[1] - 1) / 2, 0.0, 0.0])

    @property
    def lens_sigma(self) -> Floats:
        """(5,) how far the true lens may lie from the nominal one."""
        sigma = self.solved_sigma
        return np.hypot(sigma, [self.known_lens * FOCUSING * self.focal_px, 0, 0, 0, 0])

    @property
    def solved_sigma(self) -> Floats:
        """(5,) the same without focusing: what a kept camera's file says."""
        sigma = KEPT_SIGMA if self.known_lens else LENS_SIGMA
        return np.asarray(sigma * [self.focal_px, SIZE[0], SIZE[0], 1, 1])


def project(lens: Floats, pose: Floats, floor: Floats, high: Floats | float = 0.0) -> Floats:
    """(N, 2) pixels of floor points (N, 2), ``high`` mm (N,) above the floor, by OpenCV."""
    if not len(floor):
        return np.empty((0, 2))
    focal, x, y, k1, k2 = lens
    matrix = np.array([[focal, 0, x], [0, focal, y], [0, 0, 1]])
    solid = np.column_stack([floor, np.broadcast_to(high, len(floor))])
    bend = np.array([k1, k2, 0, 0])
    return np.asarray(cv2.projectPoints(solid, pose[:3], pose[3:], matrix, bend)[0][:, 0])


def corners_at(place: Floats) -> Floats:
    """(66, 2) a card's corners on the floor."""
    cos, sin = np.cos(place[2]), np.sin(place[2])
    turned = card_layout("a4").corners_mm @ np.array([[cos, sin], [-sin, cos]])
    return np.asarray(turned + place[:2])


def bend_shapes(count: int, rng: np.random.Generator) -> Floats:
    """(count, 4) cards' heights at their middle and bends xx, xy, yy: cylinders on the floor."""
    curvature = rng.normal(0, CURVATURE_PER_MM, count)
    angle = rng.uniform(0, np.pi, count)
    x, y = np.cos(angle), np.sin(angle)
    bends = curvature[:, None] / 2 * np.stack([x * x, 2 * x * y, y * y], axis=1) * BEND_MM**2
    shapes = np.column_stack([np.zeros(count), bends])
    corners = card_layout("a4").corners_mm
    shapes[:, 0] = [-heights(corners, shape).min() for shape in shapes]
    return shapes


def heights(corners: Floats, shape: Floats) -> Floats:
    """(N,) how high corners of a card (N, 2) stand over the floor, by its shape (4,)."""
    x, y = corners.T / BEND_MM
    return np.asarray(np.stack([np.ones(len(corners)), x * x, x * y, y * y], axis=1) @ shape)


def simulate(
    cards: int, photos: int, known_lens: bool, rng: np.random.Generator, bent: bool = False
) -> SimulatedFloor:
    """A floor of so many cards and photos; every photo shows a card, and they hang together."""
    while True:
        slots = rng.permutation(len(SLOTS))[:cards]
        places = np.column_stack(
            [
                np.array(SLOTS)[slots] + rng.uniform(-40, 40, (cards, 2)),
                rng.uniform(-np.pi, np.pi, cards),
            ]
        )
        floor = SimulatedFloor(
            places=places,
            poses=np.array([_pose(rng) for _ in range(photos)]),
            focal_px=float(rng.uniform(2800, 3100)),
            known_lens=known_lens,
            noise_px=float(rng.uniform(0.05, 0.3)),
            seen=(),
            bent=bent,
        )
        seen = tuple(_seen(floor, pose) for pose in floor.poses)
        if _hang_together(seen, cards):
            return SimulatedFloor(**{**floor.__dict__, "seen": seen})


def _pose(rng: np.random.Generator) -> Floats:
    """A camera held over the paper's middle, tilted by 0 to 35 degrees from any side."""
    tilt, side = np.radians(rng.uniform(0, 35)), rng.uniform(0, 2 * np.pi)
    aim = np.array([rng.uniform(-80, 80), rng.uniform(-60, 60), 0.0])
    away = rng.uniform(1250, 1500)
    sideways = np.array([np.cos(side), np.sin(side), 0.0])
    eye = aim + away * (np.sin(tilt) * sideways + np.cos(tilt) * np.array([0, 0, 1.0]))
    ahead = (aim - eye) / away
    roll = rng.normal(0, np.radians(4))
    right = np.cross(ahead, [np.sin(roll), np.cos(roll), 0.0])
    right /= np.linalg.norm(right)
    rotation = np.stack([right, np.cross(ahead, right), ahead])
    return np.concatenate([cv2.Rodrigues(rotation)[0].ravel(), -rotation @ eye])


def _seen(floor: SimulatedFloor, pose: Floats) -> dict[int, NDArray[np.int64]]:
    seen = {}
    for card, place in enumerate(floor.places):
        pixels = project(floor.lens, pose, corners_at(place))
        inside = ((pixels > 12) & (pixels < np.array(SIZE) - 12)).all(axis=1)
        if inside.sum() >= FEWEST_CORNERS:
            seen[card] = np.flatnonzero(inside)
    return seen


def _hang_together(seen: tuple[dict[int, NDArray[np.int64]], ...], cards: int) -> bool:
    if {card for view in seen for card in view} != set(range(cards)) or not all(seen):
        return False
    reached, left = set(seen[0]), list(seen[1:])
    while any(reached & set(view) for view in left):
        view = next(view for view in left if reached & set(view))
        reached |= set(view)
        left.remove(view)
    return not left


def paper_points() -> Floats:
    """(N, 2) points all over the paper, mm."""
    x, y = np.meshgrid(np.linspace(-0.5, 0.5, 11), np.linspace(-0.5, 0.5, 8))
    return np.stack([x.ravel(), y.ravel()], axis=1) * PAPER


def nearest_photo(floor: SimulatedFloor, points: Floats) -> NDArray[np.int64]:
    """(N,) the photo whose camera stands nearest to each point, and sees it."""
    away = []
    for pose in floor.poses:
        rotation = cv2.Rodrigues(pose[:3])[0]
        eye = -rotation.T @ pose[3:]
        away.append(np.linalg.norm(np.pad(points, ((0, 0), (0, 1))) - eye, axis=1))
    return np.argmin(away, axis=0)


def information_bound(floor: SimulatedFloor, points: Floats, seen_by: NDArray[np.int64]) -> float:
    """The least RMS error (mm) over the points that any estimate of this floor can have."""
    drawn = bend_shapes(BEND_DRAWS, np.random.default_rng(4))
    cards = len(floor.places)
    bends = np.tile(drawn.mean(axis=0), (cards, 1)) * floor.bent
    start = np.concatenate(
        [floor.lens, floor.poses.ravel(), floor.places[1:].ravel(), bends.ravel()]
    )
    views, shape = len(floor.poses), floor.poses.shape
    first_bend = 5 + 6 * views + 3 * (cards - 1)

    def parts(p: Floats) -> tuple[Floats, Floats, Floats]:
        places = np.concatenate([floor.places[:1], p[5 + 6 * views : first_bend].reshape(-1, 3)])
        return p[:5], p[5 : 5 + 6 * views].reshape(shape), places

    def corners(p: Floats) -> Floats:
        lens, poses, places = parts(p)
        flat = card_layout("a4").corners_mm
        high = [heights(flat, each) for each in p[first_bend:].reshape(-1, 4)]
        return np.concatenate(
            [
                project(
                    lens, poses[view], corners_at(places[card])[which], high[card][which]
                ).ravel()
                for view, cards in enumerate(floor.seen)
                for card, which in cards.items()
            ]
        )

    def pixels(p: Floats) -> Floats:
        lens, poses, _ = parts(p)
        each = np.stack([project(lens, pose, points) for pose in poses])
        return each[seen_by, np.arange(len(points))].ravel()

    def pixels_of_moved(step: Floats) -> Floats:
        each = np.stack([project(floor.lens, pose, points + step) for pose in floor.poses])
        return each[seen_by, np.arange(len(points))]

    steps = np.concatenate(
        [[1e-2, 1e-2, 1e-2, 1e-5, 1e-5], np.tile([1e-6] * 3 + [1e-3] * 3, views)]
        + [[1e-3, 1e-3, 1e-6]] * (cards - 1)
        + [[1e-3] * 4] * cards
    )
    by_corner, by_pixel = [], []
    for index, step in enumerate(steps):
        moved = np.zeros(len(start))
        moved[index] = step
        by_corner.append((corners(start + moved) - corners(start - moved)) / (2 * step))
        by_pixel.append((pixels(start + moved) - pixels(start - moved)) / (2 * step))
    slopes = np.array(by_corner).T / floor.noise_px
    information = slopes.T @ slopes
    information[:5, :5] += np.diag(floor.lens_sigma**-2.0)
    by_pixel_of = np.array(by_pixel)
    if floor.bent:
        for card in range(cards):
            at = slice(first_bend + 4 * card, first_bend + 4 * (card + 1))
            information[at, at] += np.linalg.inv(np.cov(drawn.T))
    else:
        information, by_pixel_of = information[:first_bend, :first_bend], by_pixel_of[:first_bend]
    sizes = 1 / np.sqrt(np.diag(information))
    covariance = np.linalg.inv(information * np.outer(sizes, sizes)) * np.outer(sizes, sizes)
    axes = [np.array([0.01, 0.0]), np.array([0.0, 0.01])]
    local = np.stack([(pixels_of_moved(s) - pixels_of_moved(-s)) / 0.02 for s in axes], axis=2)
    on_floor = -np.linalg.inv(local) @ by_pixel_of.T.reshape(len(points), 2, -1)
    on_floor = on_floor.reshape(2 * len(points), -1)
    arms = points - points.mean(axis=0)
    rigid = np.zeros((2 * len(points), 3))
    rigid[0::2, 0] = rigid[1::2, 1] = 1
    rigid[0::2, 2], rigid[1::2, 2] = -arms[:, 1], arms[:, 0]
    basis, _ = np.linalg.qr(rigid)
    free = on_floor - basis @ (basis.T @ on_floor)
    return float(np.sqrt(np.einsum("ij,jk,ik->", free, covariance, free) / len(points)))
