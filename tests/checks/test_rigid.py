"""The rigid fit against published closed forms and registry libraries.

W. Kabsch, "A solution for the best rotation to relate two sets of vectors", Acta Crystallographica
A32, 1976 (by its singular value form), and S. Umeyama, "Least-squares estimation of transformation
parameters between two point patterns", IEEE PAMI 13, 1991, with the numerical example printed there
(its figures are from memory).
"""

import numpy as np
import pytest
from scipy.spatial.transform import Rotation
from skimage.transform import EuclideanTransform, estimate_transform

from digitize.compare.marks import marks_of
from digitize.plane import laid_on, rigid_fit, rotation
from digitize.record import Line


@pytest.fixture(params=range(8))
def pairs(request):
    rng = np.random.default_rng(request.param)
    points = rng.uniform(0, 900, (40, 2))
    turn = rng.uniform(-np.pi, np.pi)
    matrix = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
    return points, points @ matrix.T + rng.uniform(-300, 300, 2) + rng.normal(0, 0.5, (40, 2))


def test_kabsch_s_singular_value_form(pairs):
    points, targets = pairs
    a, b = points - points.mean(axis=0), targets - targets.mean(axis=0)
    u, _, vt = np.linalg.svd(a.T @ b)
    closed = vt.T @ np.diag([1, np.linalg.det(vt.T @ u.T)]) @ u.T
    turn, shift = rigid_fit(points, targets)
    matrix = rotation(turn)
    assert matrix == pytest.approx(closed, abs=1e-12)
    assert shift == pytest.approx(targets.mean(axis=0) - closed @ points.mean(axis=0), abs=1e-9)


def test_two_libraries(pairs):
    points, targets = pairs
    turn, shift = rigid_fit(points, targets)
    matrix = rotation(turn)
    theirs = estimate_transform("euclidean", points, targets)
    assert matrix == pytest.approx(theirs.params[:2, :2], abs=1e-9)
    assert shift == pytest.approx(theirs.params[:2, 2], abs=1e-6)
    flat = [np.column_stack([p - p.mean(axis=0), np.zeros(len(p))]) for p in (targets, points)]
    turned, _ = Rotation.align_vectors(*flat)
    assert matrix == pytest.approx(turned.as_matrix()[:2, :2], abs=1e-6)


def test_umeyama_s_example():
    points = np.array([[0.0, 0.0], [1.0, 0.0], [0.0, 2.0]])
    targets = np.array([[0.0, 0.0], [-1.0, 0.0], [0.0, 2.0]])
    matrix = rotation(rigid_fit(points, targets)[0])
    assert matrix == pytest.approx(np.array([[0.832, 0.555], [-0.555, 0.832]]), abs=5e-4)


@pytest.mark.parametrize("turn_deg", [0, 17, 95, -150])
def test_lines_without_known_pairs_come_to_lie_where_a_library_puts_their_points(turn_deg):
    """The whole fit knows the lines alone, the library where each of their points belongs."""
    t = np.linspace(0, 1, 400)[:, None]
    curves = (
        np.hstack([700 * t, 40 * np.sin(5 * t)]),
        np.hstack([60 + 120 * t**2, 30 + 400 * t]),
        np.hstack([300 + 250 * np.cos(2 * t), 150 + 250 * np.sin(2 * t)]),
    )
    theirs = EuclideanTransform(rotation=np.radians(turn_deg), translation=(120, -45))

    def marks(lines):
        return marks_of(
            [
                Line(
                    id=f"L{index}",
                    role="form",
                    role_confidence=1.0,
                    points=tuple(map(tuple, points)),
                    width=0.5,
                    sigma=0.05,
                )
                for index, points in enumerate(lines)
            ],
            range(3),
        )

    placement = laid_on(marks(curves), marks([theirs(points) for points in curves]))
    for points in curves:
        assert np.abs(placement(points) - theirs(points)).max() < 0.02
