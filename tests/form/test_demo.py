"""The demo panel's form, as its rendered photo was read, against the surface it was drawn from."""

import sys
from dataclasses import replace

import numpy as np
import pytest
from scipy.spatial import KDTree

from digitize.form import formed
from digitize.form.marks import placed_on
from digitize.plane import places_along
from tests.bench.compare import laid_on
from tests.conftest import SAMPLES
from tests.form import exact
from tests.told import labelled

SEED, LEFT = 11, "left"  # as render.py has it for this photo
MOST_RMS_MM = 1.5


def drawn():
    """The demo panel's marked paper, with its places in space and its radii."""
    sys.path.insert(0, str(SAMPLES))
    try:
        from corner import develop
        from marking import mark
    finally:
        sys.path.remove(str(SAMPLES))
    return mark(develop(), SEED, LEFT)


@pytest.mark.slow
def test_the_demo_panel_comes_out_as_it_was_drawn(corner, easy_truth):
    marking = drawn()
    assert np.allclose(marking.pattern.outline, easy_truth.outline)
    fitted = laid_on(corner, easy_truth)
    start = max(
        (line for line in corner.lines if line.role == "radius-start"), key=lambda each: each.length
    )
    along = np.linspace(0.02, 0.98, 6) * start.length
    _, nearest = KDTree(marking.radii[:, :2]).query(
        fitted(places_along(np.array(start.path), along))
    )
    told = [
        (float(at), False, float(radius))
        for at, radius in zip(along, marking.radii[nearest, 2], strict=True)
    ]
    form = formed(labelled(corner, {}, {start.id: told}, {}))
    assert form.holds
    mesh = replace(form.solution.mesh, paper=fitted(form.solution.mesh.paper))
    at = placed_on(mesh, marking.form[:, :2])
    found = at.of(mesh, np.column_stack([form.solution.places, form.doubt.within_95]))[at.on]
    assert at.on.mean() > 0.8
    off = exact.off_by(found[:, :3], marking.form[at.on, 2:])
    assert exact.rms(off) < MOST_RMS_MM
    assert (off <= found[:, 3]).mean() > 0.93
