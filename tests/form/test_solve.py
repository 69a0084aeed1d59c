"""Turns in space, how they grow, and when a solution holds."""

from dataclasses import replace

import numpy as np
import pytest
from shapely import box

from digitize.form import mesh_of, solved
from digitize.form.bending import curvature_readers, hinge_parts, over_hinges
from digitize.form.mesh import from_triangles
from digitize.form.metric import finished_lengths, stretched_along
from digitize.form.solve import turns_of
from digitize.form.start import laid_out
from tests.form import exact

PAIR = from_triangles(
    np.array([[0.0, 0.0], [0.0, 10.0], [-8.0, 4.0], [7.0, 6.0]]), np.array([[0, 1, 2], [1, 0, 3]])
)


def test_a_ridge_turns_by_what_its_sides_fall():
    fall = np.radians(20.0)
    ridge = np.column_stack([PAIR.paper[:, 0], PAIR.paper[:, 1], np.zeros(4)])
    ridge[:, 2] = -np.abs(ridge[:, 0]) * np.tan(fall)
    assert turns_of(ridge, PAIR)[0] == pytest.approx([2 * fall])
    ridge[:, 2] *= -1
    assert turns_of(ridge, PAIR)[0] == pytest.approx([-2 * fall])


def test_turns_grow_as_their_slopes_say():
    rng = np.random.default_rng(5)
    places = np.column_stack([PAIR.paper, np.zeros(4)]) + rng.normal(0, 1.5, (4, 3))
    _, grown = turns_of(places, PAIR)
    for row, corner in enumerate(PAIR.hinges[0]):
        for axis in range(3):
            step = np.zeros((4, 3))
            step[corner, axis] = 1e-5
            up, down = (turns_of(places + sign * step, PAIR)[0][0] for sign in (1, -1))
            assert grown[0, row, axis] == pytest.approx((up - down) / 2e-5, abs=1e-8)


def test_turns_and_the_curvature_read_of_them_are_exact_for_one_second_form():
    rng = np.random.default_rng(8)
    whole = mesh_of(box(0, 0, 120, 90), 15.0)
    mesh = from_triangles(whole.paper + rng.normal(0, 1.0, whole.paper.shape), whole.triangles)
    form = np.array([3e-6, -1e-6, 2e-6])  # so shallow that slopes are as good as angles
    x, y = mesh.paper.T
    places = np.column_stack([x, y, -(form[0] * x * x + 2 * form[1] * x * y + form[2] * y * y) / 2])
    flat = laid_out(mesh, np.linalg.norm(np.diff(mesh.paper[mesh.edges], axis=1)[:, 0], axis=1))
    right = flat[mesh.pairs[:, 1]]
    doubled = right[:, 1, 0] * right[:, 2, 1]
    run = np.diff(mesh.paper[mesh.hinges[:, :2]], axis=1)[:, 0]
    parts = hinge_parts(mesh, doubled / np.linalg.norm(run, axis=1))
    turns, _ = turns_of(places, mesh)
    assert turns == pytest.approx(
        (parts * over_hinges(mesh, lambda p: np.tile(form, (len(p), 1)))).sum(1), abs=1e-9
    )
    way = np.tile([0.6, 0.8], (len(mesh.triangles), 1))
    readers = curvature_readers(mesh, parts, exact.as_paper(way), way)
    inner = (mesh.around >= 0).all(axis=1)
    read = np.einsum("fkh,fh->fk", readers[inner], turns[mesh.around[inner]])
    u, w = np.array([0.6, 0.8]), np.array([-0.8, 0.6])
    h = np.array([[form[0], form[1]], [form[1], form[2]]])
    assert np.allclose(read, [u @ h @ u, u @ h @ w, w @ h @ w], atol=1e-9)


def test_lengths_shrink_along_and_stay_across_and_are_straight_in_space():
    paper = np.array([[0.0, 0.0], [20.0, 0.0], [0.0, 20.0]])
    edges = np.array([[0, 1], [0, 2]])

    def metric(p):
        return stretched_along(np.tile([1.0, 0.0], (len(p), 1)), np.full(len(p), 0.1))

    found = finished_lengths(paper, edges, metric, lambda p: np.zeros((len(p), 3)))
    assert found == pytest.approx([18.0, 20.0])
    rolled = finished_lengths(paper, edges, exact.as_paper, exact.cylinder(50.0).shape.bend)
    assert rolled == pytest.approx([100 * np.sin(0.2), 20.0], abs=2e-3)


def test_it_comes_to_rest_from_a_start_that_was_shaken_and_says_what_is_off():
    cap = exact.sphere(300.0, 120.0)
    mesh = mesh_of(cap.inside, 20.0)
    best = solved(mesh, cap.shape)
    shaken = best.places + np.random.default_rng(3).normal(0, 1.0, best.places.shape)
    again = solved(mesh, cap.shape, shaken)
    assert again.settled
    assert exact.off_by(again.places, best.places).max() < 0.01
    assert max(best.strain_off, best.bend_off) < 0.2
    longer = replace(cap.shape, metric=lambda p: cap.shape.metric(p) * 1.01**2)
    assert np.median(solved(mesh, longer).strains) == pytest.approx(0, abs=1e-3)
    kept = solved(mesh, longer, best.places)
    assert kept.settled
