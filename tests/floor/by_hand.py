"""Cameras that look straight down, and solutions made by hand, so that figures can be worked out.

Such a camera sees floor point (X, Y) at focal length / height times its distance from the camera's
foot, x to the right and y down.
"""

import cv2
import numpy as np

from digitize.floor.camera import Camera
from digitize.floor.problem import Problem
from digitize.floor.solve import Fit, FloorSolution, PlacedCard
from digitize.floor.start import View

SIZE = (2017, 1513)  # its middle pixel is (1008, 756)


def camera_over(foot, focal_px=1500.0, size=SIZE, turn_deg=0.0, lens=(0.0,) * 7):
    """A camera at ``foot`` (x, y, height), its picture's rows along a turned x axis."""
    turn = np.radians(turn_deg)
    cos, sin = np.cos(turn), np.sin(turn)
    matrix = np.array([[cos, sin, 0], [sin, -cos, 0], [0, 0, -1.0]])
    pose = np.concatenate([cv2.Rodrigues(matrix)[0].ravel(), -matrix @ foot])
    return Camera(np.array([focal_px, *lens]), pose, size)


def solution_of(cameras, places=((0.0, 0.0, 0.0),), known=None):
    """A solution with these cameras of one lens and cards 1, 2, .. at places (x, y, turn).

    Its covariance is all zeros but for ``known``: variances by the parameter's place, such as
    ("pose", 1, 5) for the second photo's depth or ("card", 0, 2) for the first card's turn.
    """
    lens = cameras[0].lens
    size = 8 + 6 * len(cameras) + 10 * len(places)
    problem = Problem(
        views=tuple(View((), camera.size_px) for camera in cameras),
        sights=(),
        lens_of=(0,) * len(cameras),
        lens_priors=((lens, np.eye(8)),),
        free=np.ones(size, bool),
    )
    cards = [np.pad(place, (0, 7)) for place in places]
    parameters = np.concatenate([lens, *(camera.pose for camera in cameras), *cards])
    covariance = np.zeros((size, size))
    for (kind, index, term), variance in (known or {}).items():
        at = {"lens": problem.lens_at, "pose": problem.pose_at, "card": problem.card_at}[kind]
        covariance[at(index).start + term, at(index).start + term] = variance
    nothing = np.zeros(0)
    return FloorSolution(
        cameras=tuple(cameras),
        cards=tuple(
            PlacedCard(index + 1, "a4", 66, (float(x), float(y)), float(turn))
            for index, (x, y, turn) in enumerate(places)
        ),
        reprojection_px=0.1,
        fit=Fit(problem, parameters, covariance, 0.1, nothing, nothing.astype(bool), 0.0),
    )
