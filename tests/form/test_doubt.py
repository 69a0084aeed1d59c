"""What a form may be off by: carried through as a solution anew would have it."""

import numpy as np
import pytest

from digitize.form import form_of, formed
from digitize.form.causes import _strays
from digitize.form.doubt import OPEN_MM, within_95
from digitize.form.strips import strips_of
from tests.form import exact
from tests.form.bent import straight_bend
from tests.told import labelled

WIDTH, RADIUS, EDGE_MM = 60.0, 50.0, 12.0


def laid(moved, places):
    """Places moved, once laid on where they were."""
    turn, _ = exact.Rotation.align_vectors(places - places.mean(0), moved - moved.mean(0))
    return turn.apply(moved - moved.mean(0)) - (places - places.mean(0))


def share_of(found, true):
    """How much of a true move is found. The softest bending moves a little by itself."""
    assert (found * true).sum() > 0.85 * exact.rms(found) * exact.rms(true) * true.size
    return (found * true).sum() / np.square(true).sum()


def test_one_axis_and_three():
    none = np.zeros(2)
    one = np.zeros((1, 2, 3))
    one[0, :, 2] = [1.0, 2.0]
    assert within_95(one, none) == pytest.approx([1.96, 3.92], abs=0.01)
    # Chi-square of three degrees of freedom: 7.815 at 95 %.
    assert within_95(np.zeros((1, 2, 3)), none + 1.0) == pytest.approx(
        [np.sqrt(7.815)] * 2, rel=1e-3
    )
    assert within_95(np.stack([one[0], one[0]]), none)[0] == pytest.approx(1.96 * np.sqrt(2), 1e-3)


def test_a_radius_moves_the_panel_as_one_told_larger_does():
    record = straight_bend(WIDTH, RADIUS)
    form = formed(record, EDGE_MM)
    (cause,) = [k for k, kind in enumerate(form.doubt.kinds) if kind == "radius"]
    larger = form_of(straight_bend(WIDTH, 1.03 * RADIUS), EDGE_MM)
    true = laid(larger.places, form.solution.places)
    found = form.doubt.moves[cause]
    assert exact.rms(true) > 0.2
    assert share_of(found, true) == pytest.approx(1.0, abs=0.06)


def test_a_wider_band_turns_further():
    form = formed(straight_bend(WIDTH, RADIUS), EDGE_MM)
    moves = [k for k, kind in enumerate(form.doubt.kinds) if kind == "width"]
    off = np.sqrt(2) * 0.1  # of two lines
    wider = form_of(straight_bend(WIDTH, RADIUS * WIDTH / (WIDTH + off)), EDGE_MM)
    true = laid(wider.places, form.solution.places)
    found = form.doubt.moves[moves].sum(axis=0)  # all along at once
    assert share_of(found, true) == pytest.approx(1.0, abs=0.06)


def test_a_part_whose_bend_has_no_radius_is_open_and_its_band_named():
    told = formed(straight_bend(WIDTH, RADIUS), EDGE_MM)
    assert told.doubt.most_missed() is None
    assert not told.doubt.open.any()
    assert told.doubt.within_95.max() < OPEN_MM
    open_ = formed(straight_bend(WIDTH, None), EDGE_MM)
    assert open_.doubt.most_missed() == "B1"
    assert open_.doubt.open.mean() > 0.5
    assert open_.doubt.within_95.max() > 2 * OPEN_MM


def told_along(*radii):
    """A straight bend whose radius was told at places along it, (mm along, mm)."""
    record = straight_bend(WIDTH, None)
    places = [(along, False, radius) for along, radius in radii]
    return labelled(record, {}, {"L2": places}, {})


def test_between_two_radii_told_it_may_be_another_of_those_between():
    record = told_along((10.0, 50.0), (150.0, 64.0))
    (strip,) = strips_of(record)
    along = np.linspace(0.0, 160.0, 161)
    at = strip.placed(strip.path[np.round(along).astype(int)] + 10.0 * strip.out[0])
    changes = [share * at.radius for _, share in _strays(record.line("L2").radii, at, 160.0)]
    sigma = np.sqrt(np.square(changes).sum(axis=0))
    # Of 14 mm, less what two gauges miss; half way it is likeliest to be half of that.
    seen = np.sqrt(14.0**2 - 0.03**2 * (50.0**2 + 64.0**2))
    assert sigma[80] == pytest.approx(seen / np.sqrt(24), rel=0.06)
    assert sigma[[10, 150]] == pytest.approx([0.0, 0.0], abs=0.3)
    # Beyond the last it strays on, as a walk of 10 mm does.
    assert sigma[-1] == pytest.approx(seen / np.sqrt(6) * np.sqrt(10 / 140), rel=0.1)
    # What gauges miss anyway is no change.
    alike = told_along((10.0, 50.0), (150.0, 51.0))
    assert not list(_strays(alike.line("L2").radii, at, 160.0))


def test_what_lies_between_two_radii_is_a_cause_of_its_own():
    kinds = formed(told_along((10.0, 50.0), (150.0, 64.0)), EDGE_MM).doubt.kinds
    assert kinds.count("between") == 9 and kinds.count("radius") == 2


def test_a_third_radius_is_asked_for_where_it_would_gain_most():
    doubt = formed(told_along((10.0, 50.0), (60.0, 51.0), (150.0, 75.0)), EDGE_MM).doubt
    band, along = doubt.next_radius()
    assert band == "B1" and along == pytest.approx(105.0)
    # Where the gauges themselves are most of the doubt, no further one helps by much.
    little = formed(told_along((10.0, 50.0), (150.0, 54.0)), EDGE_MM).doubt
    assert "between" in little.kinds and little.next_radius() is None
