"""What each line is for, from where it lies."""

import numpy as np
import pytest

from digitize.lines.roles import propose_roles
from tests.marks import curve_of

OUTLINE = np.array([[0, 0], [400, 0], [400, 300], [0, 300]], float)
TRIM = curve_of([[20, 20], [380, 20], [380, 280], [20, 280], [20, 20.5]])


def upright(x, tip_y=100.0):
    """A tuck's points, from its tip down to the paper's lower edge."""
    return curve_of([[x, tip_y], [x, 0.5]]).points


def roles_of(lines, tucks):
    """The proposals for lines inside the trim edge."""
    trim, *others = propose_roles([TRIM, *lines], OUTLINE, tucks)
    assert trim.role == "trim-edge"
    return others


@pytest.mark.parametrize("turned", [False, True])
def test_without_tucks_the_outer_line_of_a_pair_is_where_the_radius_ends(turned):
    pair = [curve_of([[25, 60], [375, 60]]), curve_of([[25, 120], [375, 120]])]
    pair = [curve.reversed() for curve in pair] if turned else pair
    assert [role.role for role in roles_of(pair, [])] == ["radius-end", "radius-start"]
    assert [role.role for role in roles_of(pair[::-1], [])] == ["radius-start", "radius-end"]


def test_two_lines_closer_than_any_bend_are_no_pair():
    pair = [curve_of([[25, 60], [375, 60]]), curve_of([[25, 63.5], [375, 63.5]])]
    assert [role.role for role in roles_of(pair, [])] == ["form", "form"]


@pytest.mark.parametrize("turned", [False, True])
def test_a_line_that_tucks_break_is_a_radius_end_and_one_along_their_tips_a_start(turned):
    broken = [curve_of([[60, 60], [200, 60]]), curve_of([[205, 60], [340, 60]])]
    aslant = curve_of([[203, 70], [260, 127]])  # broken too, but beside no trim edge
    tips = curve_of([[60, 110], [340, 110]])
    lines = [*broken, aslant, tips]
    lines = [curve.reversed() for curve in lines] if turned else lines
    roles = roles_of(lines, [upright(200)])
    assert [role.role for role in roles] == ["radius-end", "radius-end", "form", "radius-start"]


def test_a_line_that_goes_on_a_whole_lap_from_a_slit_is_broken_by_it():
    # 12 mm from the cut at a depth of 70 mm.
    (role,) = roles_of([curve_of([[212, 30], [340, 30]])], [upright(200)])
    assert role.role == "radius-end"


@pytest.mark.parametrize(
    ("tucks", "role"), [((100, 200, 300), "form"), ((100, 130), "radius-start")]
)
def test_a_line_that_passes_fewer_than_half_the_tips_is_no_radius_start(tucks, role):
    (found,) = roles_of([curve_of([[45, 105], [150, 105]])], [upright(x) for x in tucks])
    assert found.role == role


@pytest.mark.parametrize(("onward", "role"), [((330, 60), "radius-end"), ((252, 140), "form")])
def test_a_line_that_goes_straight_on_from_a_radius_end_is_one_with_less_confidence(onward, role):
    broken = curve_of([[100, 60], [200, 60]])
    beyond = curve_of([[220, 60], onward])
    first, second = roles_of([broken, beyond], [upright(200)])
    assert (first.role, first.confidence) == ("radius-end", 0.98)
    assert second.role == role
    assert second.confidence == 0.93  # 0.95 of 0.98; of a form line by itself, too


def test_the_more_of_a_line_runs_beside_the_trim_edge_the_surer_its_role_is():
    # Two thirds of it do; then it turns inwards at 45 degrees.
    bent = curve_of([[200, 60], [80, 60], [37.6, 102.4]])
    (role,) = roles_of([bent], [upright(200)])
    assert role.role == "radius-end"
    assert role.confidence == pytest.approx(0.8 + 0.18 * 2 / 3, abs=0.02)


def test_an_ink_that_the_user_has_given_a_role_has_it_wherever_it_lies():
    (role,) = propose_roles([TRIM], OUTLINE, [], {"black": "form"})
    assert (role.role, role.by) == ("form", "told")
