"""How a form lies: turned so that its sizes and views mean something.

By the datum, if one is told: its point is the origin, x runs along its direction on the metal and z
stands on it, out of the marked face. Else the way out of most of the metal is up, x runs as the
paper's does, and the origin is below the left front corner of the box about it.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from digitize.form.marks import placed_on
from digitize.form.panel import Formed

Floats = NDArray[np.float64]
ROUNDS = 20
DATUM_STEP_MM = 5.0


@dataclass(frozen=True)
class Frame:
    """A turn (3, 3) and an origin (3,): ``at`` carries places there; ``words`` say what it is."""

    turn: Floats
    origin: Floats
    words: str

    def at(self, places: Floats) -> Floats:
        """(..., 3) places of the solution, mm, in this frame."""
        return np.asarray((places - self.origin) @ self.turn.T)


def frame_of(form: Formed) -> Frame:
    """The frame that a form is shown and measured in."""
    mesh, places = form.solution.mesh, form.solution.places
    datum = form.pattern.datum
    if datum is not None:
        way = np.radians(datum.direction_deg)
        ahead = DATUM_STEP_MM * np.array([np.cos(way), np.sin(way)])
        near = np.array(datum.at) + np.array([[0.0, 0.0], ahead, [-ahead[1], ahead[0]]])
        found = placed_on(mesh, form.known.carried(near))
        if found.on.all():
            here, along, aside = found.of(mesh, places)
            x = (along - here) / np.linalg.norm(along - here)
            z = np.cross(x, aside - here)
            z /= np.linalg.norm(z)
            return Frame(np.stack([x, np.cross(z, x), z]), here, "from the datum")
    normals, areas = normals_of(places, mesh.triangles)
    z = (areas[:, None] * normals).sum(axis=0)
    for _ in range(ROUNDS):  # their median: most of the metal decides, not its mean
        off = np.maximum(np.linalg.norm(normals - z / np.linalg.norm(z), axis=1), 1e-3)
        z = ((areas / off)[:, None] * normals).sum(axis=0)
    z /= np.linalg.norm(z)
    # The turn that lays the paper best on the form (P. Schoenemann, 1966).
    left, _, right = np.linalg.svd(
        (places - places.mean(axis=0)).T @ mesh.paper, full_matrices=False
    )
    x = (left @ right)[:, 0]
    x -= (x @ z) * z
    x /= np.linalg.norm(x)
    turn = np.stack([x, np.cross(z, x), z])
    return Frame(turn, (places @ turn.T).min(axis=0) @ turn, "as most of the metal lies")


def normals_of(places: Floats, triangles: NDArray[np.int64]) -> tuple[Floats, Floats]:
    """(F, 3) unit normals of triangles, on the marked face's side, and (F,) their areas, mm2."""
    a, b, c = (places[triangles[:, k]] for k in range(3))
    normals = np.cross(b - a, c - a)
    sizes = np.linalg.norm(normals, axis=1)
    return normals / sizes[:, None], sizes / 2


@dataclass(frozen=True)
class Sizes:
    """Length, width and height over all (3,) in a frame, and what they are off by at 95 %, mm."""

    over_all: Floats
    within_95: Floats


def sizes_of(form: Formed, frame: Frame) -> Sizes:
    """A form's sizes over all."""
    places = frame.at(form.solution.places)
    high, low = places.argmax(axis=0), places.argmin(axis=0)
    moves = form.doubt.moves @ frame.turn.T
    axes = np.arange(3)
    grown = moves[:, high, axes] - moves[:, low, axes]
    return Sizes(places.max(axis=0) - places.min(axis=0), 1.96 * np.linalg.norm(grown, axis=0))
