"""How far off a form's places may be: every cause carried through the solution as it stands.

Where the solution is at rest, a small change of what is wanted moves its corners by the normal
equations' solution for that change, so each cause gives one move of all corners, of one sigma.
Their outer products' sum is the covariance. Of each move the rigid motion is taken out that fits
it best, as where the panel lies in space says nothing.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import sparse
from scipy.special import chdtri

from digitize.form.causes import NORMAL_95, Cause, Kind
from digitize.form.mesh import Mesh
from digitize.form.solve import DAMPING, Solution
from digitize.form.start import factored
from digitize.take_up import Fan

Floats = NDArray[np.float64]
NET_MM = 0.1  # sigma in each direction: straight edges on a surface that is curved
OPEN_MM = 10.0  # a place that may be further off by what was never told is not determined
AT_ONCE = 40
LEAST_GAIN = 0.3  # of the sum of squares
BLUNT_EDGES = 2.5  # about a sharp tip


@dataclass(frozen=True)
class Doubt:
    """What a form may be off by.

    Attributes
    ----------
    kinds, of, at : (K,) of each cause: its kind, its band or tuck, how far along that it is (mm).
    moves : (K, V, 3) of the corners by each cause of one sigma, mm.
    within_95 : (V,) mm that a corner lies within of its true place, at 95 %, the panel laid on the
        true one as well as it can be.
    open : (V,) corners that the record does not determine, as a radius is not told.
    """

    kinds: tuple[Kind, ...]
    of: tuple[str, ...]
    at: Floats
    moves: Floats
    within_95: Floats
    open: NDArray[np.bool_]

    def most_missed(self) -> str | None:
        """The band whose radius, if it were told, would gain most; None if none is missing."""
        squares: dict[str, float] = {}
        for kind, band, move in zip(self.kinds, self.of, self.moves, strict=True):
            if kind == "no-radius":
                squares[band] = squares.get(band, 0.0) + float(np.square(move).sum())
        return max(squares, key=lambda band: squares[band], default=None)

    def next_radius(self) -> tuple[str, float] | None:
        """Where a further radius told would gain most: the band, and how far along its start (mm);
        None where it would take away less than LEAST_GAIN of all that corners may be off by.
        """
        whole, squares = 0.0, dict[tuple[str, float], float]()
        for kind, of, at, move in zip(self.kinds, self.of, self.at, self.moves, strict=True):
            size = float(np.square(move).sum())
            whole += size
            if kind == "between":
                squares[of, float(at)] = squares.get((of, float(at)), 0.0) + size
        best = max(squares, key=lambda place: squares[place], default=None)
        return best if best is not None and squares[best] > LEAST_GAIN * whole else None


def doubt_of(
    solution: Solution,
    causes: Sequence[Cause],
    blunt: Floats,
) -> Doubt:
    """What a solution may be off by, by its causes.

    Parameters
    ----------
    blunt : (V,) of ``blunt_by``.
    """
    problem, mesh = solution.problem, solution.mesh
    _, by = problem.residuals(solution.places)
    normal = by.T @ by
    diagonal = normal.diagonal()
    factor = factored(normal + sparse.diags(np.full(len(diagonal), DAMPING * diagonal.mean())))
    rigid, weights = _rigid(solution.places, mesh)
    moves = np.zeros((len(causes), len(solution.places), 3))
    for first in range(0, len(causes), AT_ONCE):
        some = causes[first : first + AT_ONCE]
        wanted = [
            np.concatenate([problem.per_strain * c.strains, problem.readers @ c.turns])
            for c in some
        ]
        found = factor.solve(by.T @ np.column_stack(wanted))
        # Rigid motions as near as least squares over the area have them.
        fitted = np.linalg.lstsq(weights[:, None] * rigid, weights[:, None] * found, rcond=None)[0]
        moves[first : first + AT_ONCE] = (found - rigid @ fitted).T.reshape(len(some), -1, 3)
    kinds = tuple(cause.kind for cause in causes)
    untold = np.array([kind == "no-radius" for kind in kinds], dtype=bool)
    open_ = within_95(moves[untold], np.zeros(len(solution.places))) > OPEN_MM
    return Doubt(
        kinds,
        tuple(cause.of for cause in causes),
        np.array([cause.at for cause in causes]),
        moves,
        within_95(moves, np.hypot(NET_MM, blunt)),
        open_,
    )


def within_95(moves: Floats, more_mm: Floats) -> Floats:
    """(V,) the radius of the ball that holds a place at 95 %, mm.

    The square of a distance with unlike sigmas along three axes is near to a multiple of a
    chi-square of fewer degrees of freedom (F. Satterthwaite, "An approximate distribution of
    estimates of variance components", Biometrics Bulletin 2, 1946).

    Parameters
    ----------
    moves : (K, V, 3) by each cause; more_mm : (V,) a sigma beside them in each direction.
    """
    covariance = np.einsum("kvx,kvy->vxy", moves, moves) + more_mm[:, None, None] ** 2 * np.eye(3)
    trace = np.einsum("vxx->v", covariance)
    squares = np.maximum(np.einsum("vxy,vxy->v", covariance, covariance), 1e-30)
    freedom = np.maximum(trace**2 / squares, 1.0)
    return np.asarray(np.sqrt(trace / freedom * chdtri(freedom, 0.05)))


def blunt_by(fans: Sequence[Fan], mesh: Mesh) -> Floats:
    """(V,) how far corners may be off near a tuck's sharp tip, where the net is blunt, as a sigma.

    A cone that lacks an angle a at its point falls by the root of 1 / l^2 - 1 a mm, where l is
    1 - a / 2 pi; the net rounds it off over a few of its edges.
    """
    lengths = np.linalg.norm(np.diff(mesh.paper[mesh.edges], axis=1)[:, 0], axis=1)
    found = np.zeros(len(mesh.paper))
    for fan in fans:
        for spine, lap in zip(fan.spines, fan.laps, strict=True):
            lacking = float(lap.slope_at(np.zeros(1))[0][0])
            left = 1 - min(abs(lacking) / (2 * np.pi), 0.5)
            away = np.linalg.norm(mesh.paper - spine[0], axis=1)
            nearest = np.flatnonzero((mesh.edges == np.argmin(away)).any(axis=1))
            reach = BLUNT_EDGES * float(lengths[nearest].mean())
            fall = np.sqrt(1 / left**2 - 1) * np.maximum(reach - away, 0.0)
            found = np.hypot(found, fall / NORMAL_95)
    return found


def area_of_corners(mesh: Mesh) -> Floats:
    """(V,) the area about each corner, mm2."""
    third = np.repeat(mesh.areas() / 3, 3)
    return np.asarray(np.bincount(mesh.triangles.ravel(), third, len(mesh.paper)))


def _rigid(places: Floats, mesh: Mesh) -> tuple[Floats, Floats]:
    """(3 V, 6) moves of the corners by rigid motions, and (3 V,) roots of their areas."""
    area = area_of_corners(mesh)
    off = places - np.average(places, axis=0, weights=area)
    found = np.zeros((len(places), 3, 6))
    for axis in range(3):
        found[:, axis, axis] = 1.0
        found[:, :, 3 + axis] = np.cross(np.eye(3)[axis], off)
    return found.reshape(-1, 6), np.repeat(np.sqrt(area / area.sum()), 3)
