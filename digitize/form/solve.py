"""The panel's surface in space: the one whose lengths and bending come nearest to those wanted.

Residuals are the strain of each edge and, about each triangle, the curvature across, the twist and
the curvature along, in units of what they may be off by, each by its share of the area. They are
made least by Gauss and Newton's steps with damping (D. Marquardt, "An algorithm for least-squares
estimation of nonlinear parameters", SIAM J. Appl. Math. 11, 1963), from the start of ``start.py``.

``python -m tests.bench form`` compares that start with the flat paper: to the same surface, a
corner of two radii takes 4 steps from frames and 20 from flat at edges of 12 mm, 4 and 27 at 6 mm,
2.5 s and 20 s. So nothing is gained by coarser nets first.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import sparse

from digitize.form.bending import curvature_readers, hinge_parts, over_hinges
from digitize.form.mesh import Mesh
from digitize.form.metric import finished_lengths
from digitize.form.shape import Shape
from digitize.form.start import factored, laid_out, started

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
MOST_STEPS = 40
DAMPING, MOST_DAMPING = 1e-8, 1.0
SETTLED_MM = 0.002
HOLDS = 2.0  # sigmas, RMS: beyond, lengths and bending contradict each other
MOST_TURN = np.pi / 2  # at a hinge: beyond, the net has folded over


@dataclass(frozen=True)
class Solution:
    """A net in space.

    Attributes
    ----------
    mesh : the net on the paper.
    places : (V, 3) its corners, mm; the marked face is on the side of the triangles' normals.
    strains : (E,) by how much edges are too long, over their lengths.
    bends : (F, 3) curvature across, twist and along, over those wanted, 1 / mm; nothing at
        triangles that lack a neighbour.
    strain_off, bend_off : RMS of the same over the area, in units of what they may be off by.
    most_turn : the largest turn at a hinge, radians.
    steps : that the solution took.
    settled : whether it came to rest.
    problem : what was solved.
    """

    mesh: Mesh
    places: Floats
    strains: Floats
    bends: Floats
    strain_off: float
    bend_off: float
    most_turn: float
    steps: int
    settled: bool
    problem: "Problem"

    @property
    def holds(self) -> bool:
        """Whether lengths and bending are met, without a fold."""
        met = max(self.strain_off, self.bend_off) < HOLDS and self.most_turn < MOST_TURN
        return self.settled and met


def solved(mesh: Mesh, shape: Shape, start: Floats | None = None) -> Solution:
    """A net's corners in space, for what is known of the shape.

    Parameters
    ----------
    start : (V, 3) corners to begin from; None for those that the wanted turns give.
    """
    problem, flat = problem_of(mesh, shape)
    lengths, wanted = problem.lengths, problem.wanted
    places = started(mesh, flat, wanted) if start is None else start
    places, steps, settled = _descended(problem, places)
    turns, _ = turns_of(places, mesh)
    off = problem.off(places, turns)
    return Solution(
        mesh,
        places,
        _lengths_of(places, mesh) / lengths - 1,
        off[len(lengths) :].reshape(-1, 3) / problem.per_bend,
        float(np.linalg.norm(off[: len(lengths)])),
        float(np.linalg.norm(off[len(lengths) :])),
        float(np.abs(turns).max(initial=0.0)),
        steps,
        settled,
        problem,
    )


def problem_of(mesh: Mesh, shape: Shape) -> tuple["Problem", Floats]:
    """What is to be made least, and (F, 3, 2) the triangles laid out flat by their lengths."""
    lengths = finished_lengths(mesh.paper, mesh.edges, shape.metric, shape.bend)
    flat = laid_out(mesh, lengths)
    parts = hinge_parts(mesh, _right_heights(mesh, flat, lengths))
    wanted = (parts * over_hinges(mesh, shape.bend)).sum(axis=1)
    middles = mesh.middles()
    readers = curvature_readers(mesh, parts, shape.metric(middles), shape.across(middles))
    share = mesh.areas() / mesh.areas().sum()
    per_bend = np.sqrt(share)[:, None] / shape.bend_sigma(middles)
    edge_share = np.bincount(mesh.sides.ravel(), np.repeat(share / 3, 3), len(mesh.edges))
    problem = Problem(
        mesh,
        lengths,
        np.sqrt(edge_share) / shape.strain_sigma(mesh.paper[mesh.edges].mean(axis=1)),
        parts,
        wanted,
        per_bend,
        _as_matrix(mesh, readers * per_bend[:, :, None]),
    )
    return problem, flat


def turns_of(places: Floats, mesh: Mesh) -> tuple[Floats, Floats]:
    """(H,) turns at a net's hinges, proud is positive; (H, 4, 3) how they grow with each corner."""
    a, b, c, d = (places[mesh.hinges[:, k]] for k in range(4))
    run = b - a
    length = np.linalg.norm(run, axis=1, keepdims=True)
    ahead = run / length
    left, right = np.cross(run, c - a), np.cross(d - a, run)
    left_size, right_size = (np.linalg.norm(n, axis=1, keepdims=True) for n in (left, right))
    left, right = left / left_size, right / right_size
    turns = np.arctan2((ahead * np.cross(left, right)).sum(axis=1), (left * right).sum(axis=1))
    by_c, by_d = -left * length / left_size, -right * length / right_size
    at_c, at_d = (((p - a) * ahead).sum(axis=1, keepdims=True) / length for p in (c, d))
    by_a = -(1 - at_c) * by_c - (1 - at_d) * by_d
    by_b = -at_c * by_c - at_d * by_d
    return turns, np.stack([by_a, by_b, by_c, by_d], axis=1)


@dataclass(frozen=True)
class Problem:
    """Residuals in units of what they may be off by, and by their share of the area.

    Attributes
    ----------
    lengths : (E,) wanted, mm; per_strain : (E,) residual per strain.
    parts : (H, 3) what a second form gives of the turn at each hinge.
    wanted : (H,) turns; readers : (3 F, H) residuals per turn.
    per_bend : (F, 3) residual per curvature across, twist and curvature along, mm.
    """

    mesh: Mesh
    lengths: Floats
    per_strain: Floats
    parts: Floats
    wanted: Floats
    per_bend: Floats
    readers: sparse.csr_matrix

    def off(self, places: Floats, turns: Floats) -> Floats:
        """(E + 3 F,) residuals of corners (V, 3) and the turns (H,) that they make."""
        strains = _lengths_of(places, self.mesh) / self.lengths - 1
        return np.concatenate([self.per_strain * strains, self.readers @ (turns - self.wanted)])

    def cost(self, places: Floats) -> float:
        """The sum of the residuals' squares."""
        return float(np.square(self.off(places, turns_of(places, self.mesh)[0])).sum())

    def residuals(self, places: Floats) -> tuple[Floats, sparse.csr_matrix]:
        """Them, and how they grow with every coordinate."""
        mesh = self.mesh
        run = places[mesh.edges[:, 1]] - places[mesh.edges[:, 0]]
        ahead = run / np.linalg.norm(run, axis=1, keepdims=True)
        ahead *= (self.per_strain / self.lengths)[:, None]
        turns, grown = turns_of(places, mesh)
        by_length = _spread(np.stack([-ahead, ahead], axis=1), mesh.edges, len(places))
        by_turn = self.readers @ _spread(grown, mesh.hinges, len(places))
        return self.off(places, turns), sparse.vstack([by_length, by_turn]).tocsr()


def _descended(problem: Problem, places: Floats) -> tuple[Floats, int, bool]:
    """Corners at rest, in how many steps, and whether they are."""
    cost, damping = problem.cost(places), DAMPING
    for step in range(MOST_STEPS):
        off, by = problem.residuals(places)
        normal, pull = by.T @ by, by.T @ off
        diagonal = normal.diagonal()
        while True:
            # Nothing but damping holds rigid motions.
            held = normal + sparse.diags(damping * diagonal + DAMPING * diagonal.mean())
            move = factored(held).solve(pull).reshape(-1, 3)
            far = float(np.abs(move).max())
            now = problem.cost(places - move)
            if now <= cost:
                break
            if far < SETTLED_MM:
                return places, step, True
            if damping >= MOST_DAMPING:
                return places, step, False
            damping *= 10
        places, cost, damping = places - move, now, max(damping / 10, DAMPING)
        if far < SETTLED_MM:
            return places, step + 1, True
    return places, MOST_STEPS, False


def _lengths_of(places: Floats, mesh: Mesh) -> Floats:
    return np.asarray(np.linalg.norm(places[mesh.edges[:, 1]] - places[mesh.edges[:, 0]], axis=1))


def _right_heights(mesh: Mesh, flat: Floats, lengths: Floats) -> Floats:
    """(H,) of the right-hand corners over the hinges' edges, mm."""
    face = flat[mesh.pairs[:, 1]]
    return np.asarray(face[:, 1, 0] * face[:, 2, 1] / lengths[mesh.hinge_edges])


def _spread(values: Floats, corners: Ints, count: int) -> sparse.csr_matrix:
    """(N, 3 count) values (N, K, 3) at corners (N, K), in the columns of their coordinates."""
    columns = (3 * corners[:, :, None] + np.arange(3)).reshape(len(values), -1)
    rows = np.repeat(np.arange(len(values)), columns.shape[1])
    shape = (len(values), 3 * count)
    return sparse.csr_matrix((values.ravel(), (rows, columns.ravel())), shape=shape)


def _as_matrix(mesh: Mesh, readers: Floats) -> sparse.csr_matrix:
    """(3 F, H) what each triangle's readers (F, 3, 3) take of its hinges' turns."""
    rows = np.repeat(np.arange(3 * len(readers)), 3)
    columns = np.repeat(np.maximum(mesh.around, 0), 3, axis=0).ravel()
    shape = (3 * len(readers), len(mesh.hinges))
    found = sparse.csr_matrix((readers.ravel(), (rows, columns)), shape=shape)
    found.eliminate_zeros()
    return found
