"""How a surface bends: its second form at places, and the turns at a net's edges that go with it.

A turn is positive where the metal is proud, seen from the marked face: there the two triangles fall
away from the edge that they share. Over the four corners of two triangles a surface is as good as
its second form alone: heights q(x) = -x.H x / 2 over the plane that touches it. The kink between
the planes through each three of the corners is then a fixed sum of H's three parts, whatever the
triangles' shapes are; so the turns foretold, and the curvature read back from three turns about a
triangle, are exact where H is the same all over them (the patch's second form by its neighbours'
turns is E. Grinspun and others' question, "Computing discrete shape operators on general meshes",
Computer Graphics Forum 25, 2006; this is no operator of theirs).
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import sparse

from digitize.form.mesh import Mesh
from digitize.form.metric import Form, of_vectors
from digitize.plane import cross

Floats = NDArray[np.float64]
SPLIT = 4  # a triangle's sides, to average a form over it
FLATTEST = 0.02  # the least size of a triangle's three hinges as a basis, of what is regular


def hinge_parts(mesh: Mesh, heights: Floats) -> Floats:
    """(H, 3) what each part of a second form (xx, xy, yy) gives of the turn at each hinge.

    Parameters
    ----------
    heights : (H,) of the right-hand corners over the hinges' edges, on the finished panel, mm.
    """
    a, b, c, d = (mesh.paper[mesh.hinges[:, k]] for k in range(4))
    b, c, d = b - a, c - a, d - a
    whole = cross(b, c)
    by_b, by_c = cross(d, c) / whole, cross(b, d) / whole

    def parts(p: Floats) -> Floats:
        return np.column_stack([p[:, 0] ** 2 / 2, p[:, 0] * p[:, 1], p[:, 1] ** 2 / 2])

    kink = parts(d) - by_b[:, None] * parts(b) - by_c[:, None] * parts(c)
    return np.asarray(kink / heights[:, None])


@dataclass(frozen=True)
class Hinged:
    """Places over a net's triangles, and what takes their mean at its hinges.

    Attributes
    ----------
    places : (P, 2) on the paper, mm.
    mean : (H, P), the weights of each hinge's mean.
    """

    places: Floats
    mean: sparse.csr_matrix


def hinged(mesh: Mesh) -> Hinged:
    """A net's places, for means at its hinges over their two triangles.

    The kink between two chords is the integral of the curvature, which counts in full at the edge
    and not at all at the far corners.
    """
    first, second = np.meshgrid(np.arange(SPLIT), np.arange(SPLIT), indexing="ij")
    low = np.stack([first, second], axis=-1)[first + second < SPLIT] + 1 / 3
    high = np.stack([first, second], axis=-1)[first + second < SPLIT - 1] + 2 / 3
    two = np.concatenate([low, high]) / SPLIT
    shares = np.column_stack([two, 1 - two.sum(axis=1)])  # (K, 3)
    corners = mesh.paper[mesh.triangles]  # (F, 3, 2)
    places = np.einsum("ks,fsx->fkx", shares, corners)
    areas, count = mesh.areas(), len(shares)
    rows, columns, weights = [], [], []
    for side in (0, 1):
        face, far = mesh.pairs[:, side], mesh.hinges[:, 2 + side]
        at = np.argmax(mesh.triangles[face] == far[:, None], axis=1)
        weight = 1 - shares[:, at].T  # (H, K)
        weight = weight / weight.sum(axis=1)[:, None]
        # Areas are as the triangles' reaches from the edge.
        weights.append(weight * (areas[face] / areas[mesh.pairs].sum(axis=1))[:, None])
        rows.append(np.repeat(np.arange(len(face)), count))
        columns.append((face[:, None] * count + np.arange(count)).ravel())
    mean = sparse.csr_matrix(
        (np.concatenate(weights).ravel(), (np.concatenate(rows), np.concatenate(columns))),
        shape=(len(mesh.hinges), len(mesh.triangles) * count),
    )
    return Hinged(places.reshape(-1, 2), mean)


def over_hinges(mesh: Mesh, form: Form) -> Floats:
    """(H, 3) a form's mean at each hinge, over its two triangles."""
    over = hinged(mesh)
    return np.asarray(over.mean @ form(over.places))


def curvature_readers(mesh: Mesh, parts: Floats, metric: Floats, across: Floats) -> Floats:
    """(F, 3, 3) what gives curvature across, twist and curvature along of a triangle's three turns.

    Nothing but zeros at triangles that lack a neighbour, or whose three hinges do not tell it.

    Parameters
    ----------
    parts : of ``hinge_parts``.
    metric : (F, 3) at each triangle.
    across : (F, 2) unit vectors on the paper.
    """
    along = np.column_stack([-across[:, 1], across[:, 0]])
    # Square to the first in the finished metric, and both of length one there.
    lean = of_vectors(metric, across, along) / of_vectors(metric, across, across)
    along = along - across * lean[:, None]
    one = across / np.sqrt(of_vectors(metric, across, across))[:, None]
    two = along / np.sqrt(of_vectors(metric, along, along))[:, None]

    def row(p: Floats, q: Floats) -> Floats:
        mixed = p[:, 0] * q[:, 1] + p[:, 1] * q[:, 0]
        return np.column_stack([p[:, 0] * q[:, 0], mixed, p[:, 1] * q[:, 1]])

    ways = np.stack([row(one, one), row(one, two), row(two, two)], axis=1)
    found = np.zeros((len(mesh.triangles), 3, 3))
    whole = (mesh.around >= 0).all(axis=1)
    basis = parts[mesh.around[whole]]
    size = np.linalg.norm(basis, axis=2).prod(axis=1)
    regular = np.abs(np.linalg.det(basis)) > FLATTEST * size
    chosen = np.flatnonzero(whole)[regular]
    found[chosen] = ways[chosen] @ np.linalg.inv(basis[regular])
    return found
