import math
from dataclasses import replace

import numpy as np
import pytest

from digitize.tucks.pressed import _tip_of, fold_in, shown_along
from digitize.tucks.slits import find_tucks
from tests.marks import curve_of
from tests.tucks.paper import drawn
from tests.tucks.test_wedges import HEIGHTS, LONGEST_MM, OUTLINE, parted, wedges_in

TIP = np.array([200.0, 120.0])


def slope(x, y, end, lighter):
    """A crease from the tip to (end, 0): lighter on one side than the paper, darker beyond."""
    aside = x - TIP[0] - (end - TIP[0]) * (TIP[1] - y) / TIP[1]
    shape = aside / 0.5 * np.exp(0.5 - (aside / 0.5) ** 2 / 2)
    return np.where(y < TIP[1], lighter * shape, 0.0)


def folded(in_sight, hidden, contrast=0.01):
    """Paper whose lines a fold parted, with creases that end so at its edge, opposite slopes."""

    def laid(x, y):
        return slope(x, y, in_sight, contrast) - slope(x, y, hidden, contrast)

    lines = parted()
    return lines, drawn(lines, laid)


@pytest.mark.parametrize(("in_sight", "far"), [(200.0, 212.0), (212.0, 200.0)])
def test_the_crease_in_sight_lies_where_the_light_tells(in_sight, far):
    lines, darkness_at = folded(in_sight, 206.0)
    (wedge,) = wedges_in(lines, OUTLINE, darkness_at, [], LONGEST_MM)
    main, second, sure = fold_in(wedge, darkness_at)
    assert main.points[-1] == pytest.approx([in_sight, 0.0], abs=0.8)
    # A crease half as plain as the paper's noise tells its tip to 6 mm (sigma, of 25 papers).
    assert main.points[0] == pytest.approx(TIP, abs=12.0)
    assert second is not None
    assert second.points[-1] == pytest.approx([(in_sight + far) / 2, 0.0], abs=0.8)
    assert sure > 0.95


@pytest.mark.parametrize(("contrast", "tip_y"), [(0.03, 120.0), (0.0, 135.0)])
def test_the_tip_is_where_the_crease_begins_to_show_if_it_shows(contrast, tip_y):
    lines = []
    for y in HEIGHTS:  # each break is 1.5 mm too wide, as for a tip 15 mm further in
        lines += [curve_of([[20, y], [199.25, y]])]
        lines += [curve_of([[200.75 + 0.1 * (TIP[1] - y), y], [380, y]])]

    def laid(x, y):
        return slope(x, y, 200.0, contrast) - slope(x, y, 206.0, contrast)

    darkness_at = drawn(lines, laid)
    (wedge,) = wedges_in(lines, OUTLINE, darkness_at, [], LONGEST_MM)
    main, _, _ = fold_in(wedge, darkness_at)
    assert main.points[0] == pytest.approx([200.0, tip_y], abs=5.0)


def test_how_far_off_a_tip_is_that_breaks_tell():
    (wedge,) = wedges_in(parted(), OUTLINE, drawn(parted()), [], LONGEST_MM)
    moved = replace(wedge, tip=wedge.tip + np.array([0.25, -5.0]))
    tip, sigma_mm = _tip_of(moved)
    # Breaks 4, 7 and 10 mm wide at depths of 40, 70 and 100 mm, each off by 0.8 mm: the line's
    # root is off by 0.8 / 0.1 * sqrt(1 / 3 + 70^2 / 1800).
    assert tip == pytest.approx(TIP, abs=0.4)
    assert sigma_mm == pytest.approx(8.0 * math.sqrt(1 / 3 + 4900 / 1800), rel=0.01)


def test_without_light_either_side_may_be_the_one():
    lines = parted()
    darkness_at = drawn(lines)
    (wedge,) = wedges_in(lines, OUTLINE, darkness_at, [], LONGEST_MM)
    _, second, sure = fold_in(wedge, darkness_at)
    assert sure < 0.8
    assert second is None


def test_odds_of_a_side_grow_with_the_square_of_what_it_shows(monkeypatch):
    (wedge,) = wedges_in(parted(), OUTLINE, drawn(parted()), [], LONGEST_MM)
    shown = {0: 4.0, 1: 3.5}

    def told(tip, end, darkness_at, from_share=0.0):
        side = int(np.argmin(np.linalg.norm(wedge.edges - end, axis=1)))
        return type("Crease", (), {"shows": shown[side], "end": end})()

    monkeypatch.setattr("digitize.tucks.pressed.shown_along", told)
    monkeypatch.setattr("digitize.tucks.pressed._tip_seen", lambda wedge, side, tip, *_: tip)
    # Chi-square of two degrees: (16 - 12.25) / 2 = 1.875, and 1 / (1 + exp(-1.875)) = 0.8670.
    assert fold_in(wedge, None)[2] == pytest.approx(0.8670, abs=1e-4)
    shown.update({0: 1.0})
    assert fold_in(wedge, None)[2] == pytest.approx(
        1 / (1 + math.exp(-(12.25 - 2 * math.log(100)) / 2))
    )
    shown.update({1: 2.9})
    assert fold_in(wedge, None)[2] == 0.5


@pytest.mark.parametrize(("tip", "end"), [((200.5, 120.0), 200.5), ((200.0, 120.0), 201.2)])
def test_a_crease_is_found_a_little_aside_or_aslant(tip, end):
    _, darkness_at = folded(200.0, 206.0, 0.03)
    found = shown_along(np.array(tip), np.array([end, 0.0]), darkness_at)
    assert found.end == pytest.approx([200.0, 0.0], abs=0.48)


def test_a_way_over_bare_paper_shows_what_chance_does():
    darkness_at = drawn(parted())
    tip = np.array([100.0, 120.0])
    shows = [shown_along(tip, np.array([x, 0.0]), darkness_at).shows for x in (60.0, 80.0, 95.0)]
    assert max(shows) < 3.7


def test_the_tip_is_where_breaks_come_to_nothing():
    # Widths 4, 7 and 10 at depths of 40, 70 and 100 from (200, 120): nothing at depth 0.
    lines = parted()
    (wedge,) = wedges_in(lines, OUTLINE, drawn(lines), [], LONGEST_MM)
    moved = type(wedge)(wedge.tip + np.array([0.25, -5.0]), wedge.edges, wedge.gaps, wedge.off_mm)
    main, _, _ = fold_in(moved, drawn(lines))
    assert main.points[0] == pytest.approx(TIP, abs=0.4)


@pytest.mark.parametrize(("aside_mm", "sure"), [(0.6, False), (9.0, True)])
def test_a_fold_is_unsure_where_pencil_runs_along_what_shows(aside_mm, sure):
    lines, darkness_at = folded(200.0, 206.0, 0.03)
    x = 200.0 - aside_mm
    beside = curve_of([[x, 18], [x, 52], [x - 15, 85]])
    (fold,), _ = find_tucks([*lines, beside], OUTLINE, darkness_at)
    assert fold.kind == "fold" and (fold.sure > 0.8) == sure
