"""Where to begin: each photo's pose and each card's place, from one card to the next.

A flat card seen alone allows two poses, mirror images of each other about the line of sight
(T. Collins and A. Bartoli, "Infinitesimal plane-based pose estimation", 2014). Every card of a
photo lies on the same floor, so the pose that lays all of them down at their true size is taken.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from digitize.card import FoundCard
from digitize.errors import CardsApart
from digitize.floor.camera import Camera
from digitize.plane import rigid_fit, rotation

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class View:
    """One photo as the solution needs it.

    Attributes
    ----------
    cards : the cards found in it.
    size_px : its width and height, upright.
    focal_px : its focal length from EXIF, or None.
    quarter_turns : clockwise turns that brought the sensor's picture upright.
    camera : the camera's name from EXIF, or None. Photos with the same name, focal length and
        sensor size share a lens.
    taken_px : the size at which EXIF says that it was taken, as the sensor lay, or None.
    """

    cards: tuple[FoundCard, ...]
    size_px: tuple[int, int]
    focal_px: float | None = None
    quarter_turns: int = 0
    camera: str | None = None
    taken_px: tuple[int, int] | None = None


@dataclass(frozen=True)
class Start:
    """Lenses (8,) and poses (6,) by photo, the other pose that one card allows, places by card.

    A place is (x, y, turn) in mm and radians. ``miss`` is how far cards' corners come down from
    where they should, as a share of the card.
    """

    lenses: tuple[Floats, ...]
    poses: tuple[Floats, ...]
    others: tuple[Floats | None, ...]
    places: dict[int, Floats]
    miss: float


def turned(points: Floats, place: Floats) -> Floats:
    """(N, 2) points of a card (mm) carried to its place (x, y, turn)."""
    return np.asarray(points @ rotation(-place[2]) + place[:2])


def place_of(source: Floats, target: Floats) -> Floats:
    """(3,) shift and turn (x, y, radians) that best carry source points onto target points."""
    turn, shift = rigid_fit(source, target)
    return np.append(shift, turn)


def start_from(views: Sequence[View], lenses: Sequence[Floats], scale: Floats) -> Start:
    """Lay the cards out with each photo's lens as guessed.

    Raises
    ------
    CardsApart
        If a photo shares no card with the others.
    """
    cards = [card for view in views for card in view.cards]
    biggest = max(cards, key=lambda card: len(card.pixels)).number
    places = {biggest: np.zeros(3)}
    poses: dict[int, list[tuple[float, Floats]]] = {}
    while len(poses) < len(views):
        reached = [
            photo
            for photo, view in enumerate(views)
            if photo not in poses and any(card.number in places for card in view.cards)
        ]
        if not reached:
            missing = [str(photo + 1) for photo in range(len(views)) if photo not in poses]
            raise CardsApart(
                f"photo {', '.join(missing)}: shares no scale card with the other photos; "
                "let each photo show a card that another one shows too"
            )
        # The photo that shows most of what is already placed carries on best.
        photo = max(reached, key=lambda p: sum(c.number in places for c in views[p].cards))
        poses[photo] = _poses(views[photo], lenses[photo], scale, places)
        camera = _camera(views[photo], lenses[photo], poses[photo][0][1])
        for card in views[photo].cards:
            if card.number not in places:
                places[card.number] = place_of(
                    card.corners_mm * scale, camera.to_floor(card.pixels)
                )
    ordered = [poses[photo] for photo in range(len(views))]
    return Start(
        lenses=tuple(lenses),
        poses=tuple(candidates[0][1] for candidates in ordered),
        others=tuple(
            candidates[1][1] if len(views[photo].cards) == 1 and len(candidates) > 1 else None
            for photo, candidates in enumerate(ordered)
        ),
        places=places,
        miss=float(max(candidates[0][0] for candidates in ordered)),
    )


def _camera(view: View, lens: Floats, pose: Floats) -> Camera:
    return Camera(lens, pose, view.size_px, view.quarter_turns)


def _poses(
    view: View, lens: Floats, scale: Floats, places: dict[int, Floats]
) -> list[tuple[float, Floats]]:
    """Possible poses, best first, each with its miss."""
    focal = lens[0]
    middle = (np.array(view.size_px) - 1) / 2
    matrix = np.array([[focal, 0, middle[0]], [0, focal, middle[1]], [0, 0, 1.0]])
    known = [card for card in view.cards if card.number in places]
    sets = [[card] for card in known] + ([known] if len(known) > 1 else [])
    candidates = []
    for some in sets:
        floor = np.concatenate([turned(c.corners_mm * scale, places[c.number]) for c in some])
        pixels = np.concatenate([card.pixels for card in some])
        solid = np.column_stack([floor, np.zeros(len(floor))])
        count, turns, shifts, _ = cv2.solvePnPGeneric(
            solid, pixels, matrix, None, flags=cv2.SOLVEPNP_IPPE
        )
        for turn, shift in zip(turns[:count], shifts[:count], strict=True):
            pose = np.concatenate([turn.ravel(), shift.ravel()])
            candidates.append((_miss(_camera(view, lens, pose), view, scale, places), pose))
    return sorted(candidates, key=lambda candidate: candidate[0])


def _miss(camera: Camera, view: View, scale: Floats, places: dict[int, Floats]) -> float:
    """How badly the photo's cards come down; the middle one counts, so that one may be faulty."""
    misses = []
    for card in view.cards:
        corners = card.corners_mm * scale
        down = camera.to_floor(card.pixels)
        if not np.isfinite(down).all():  # by this lens it cannot be seen where it is
            misses.append(np.inf)
            continue
        place = place_of(corners, down)
        away = float(np.sqrt(((turned(corners, place) - down) ** 2).sum(axis=1).mean()))
        if card.number in places:
            apart = turned(corners, places[card.number]) - turned(corners, place)
            # Cards further off come down less exactly; shape says more than place.
            away = float(np.hypot(away, 0.3 * np.linalg.norm(apart, axis=1).mean()))
        misses.append(away / float(np.ptp(corners, axis=0).max()))
    return (
        float(np.sqrt(np.mean(np.square(misses)))) if len(misses) < 3 else float(np.median(misses))
    )
