"""The net of triangles."""

import itertools

import numpy as np
import pytest
from shapely import Polygon, box

from digitize.form.mesh import from_triangles, mesh_of
from digitize.plane import cross

SHAPE = Polygon([(0, 0), (400, 0), (400, 150), (150, 150), (150, 300), (0, 300)])


def test_it_covers_what_is_inside_and_no_more():
    mesh = mesh_of(SHAPE, 15.0)
    assert (mesh.areas() > 0).all()
    assert mesh.areas().sum() == pytest.approx(SHAPE.area, rel=0.005)
    # Euler's formula for a disc.
    assert len(mesh.paper) - len(mesh.edges) + len(mesh.triangles) == 1


def test_edges_are_as_long_as_asked_but_at_the_edge():
    mesh = mesh_of(SHAPE, 15.0)
    lengths = np.linalg.norm(np.diff(mesh.paper[mesh.edges], axis=1)[:, 0], axis=1)
    assert np.median(lengths) == pytest.approx(15.0, rel=0.01)
    assert lengths.max() < 30.0


def test_it_is_coarse_away_from_where_it_has_to_be_fine():
    sheet = box(0, 0, 600, 600)
    even = mesh_of(sheet, 10.0)
    graded = mesh_of(sheet, 10.0, lambda p: np.maximum(p[:, 1] - 60.0, 0.0))
    assert len(graded.paper) < 0.35 * len(even.paper)
    # Coarse as it is there, the sheet's own corners are the net's.
    assert graded.areas().sum() == pytest.approx(sheet.area)
    for corner in ((0, 0), (600, 0), (600, 600), (0, 600)):
        assert np.linalg.norm(graded.paper - corner, axis=1).min() < 1e-9
    height = graded.middles()[:, 1]
    assert np.median(graded.areas()[height < 60]) == pytest.approx(25 * np.sqrt(3), rel=0.01)
    assert np.median(graded.areas()[height > 300]) > 100 * np.sqrt(3) - 1


def test_hinges_have_their_triangles_left_and_right():
    mesh = mesh_of(SHAPE, 20.0)
    a, b, c, d = (mesh.paper[mesh.hinges[:, k]] for k in range(4))
    assert (cross(b - a, c - a) > 0).all()
    assert (cross(b - a, d - a) < 0).all()
    for side in (0, 1):
        whole = mesh.triangles[mesh.pairs[:, side]]
        for corner in (0, 1, 2 + side):
            assert (whole == mesh.hinges[:, corner, None]).any(axis=1).all()
    assert (np.sort(mesh.edges[mesh.hinge_edges]) == np.sort(mesh.hinges[:, :2])).all()


def test_each_triangle_knows_its_hinges_and_sides():
    paper = np.array([[0.0, 0.0], [2.0, 0.0], [2.0, 2.0], [0.0, 2.0], [1.0, 1.0]])
    ring = np.array([[0, 1, 4], [1, 2, 4], [2, 3, 4], [3, 0, 4]])
    mesh = from_triangles(paper, ring)
    assert len(mesh.hinges) == 4
    for face, around in enumerate(mesh.around):
        assert sorted((mesh.pairs[around[around >= 0]] == face).any(axis=1)) == [True, True]
        for k in range(3):
            ends = {int(ring[face, k]), int(ring[face, (k + 1) % 3])}
            assert set(mesh.edges[mesh.sides[face, k]].tolist()) == ends


def test_edges_follow_lines():
    turn = np.linspace(0.3, 1.2, 200)
    arc = 90 * np.column_stack([np.cos(turn), np.sin(turn)])
    mesh = mesh_of(box(0, 0, 120, 120), 12.0, lines=[arc])
    away = np.abs(np.linalg.norm(mesh.paper, axis=1) - 90)
    on = np.flatnonzero(away < 0.01)
    along = on[np.argsort(np.arctan2(mesh.paper[on, 1], mesh.paper[on, 0]))]
    edges = set(map(tuple, mesh.edges.tolist()))
    assert len(along) > 6
    assert all(tuple(sorted(pair)) in edges for pair in itertools.pairwise(along.tolist()))
