"""Curves laid through marks that are known by formula: where they end, and how sure they are."""

from dataclasses import dataclass

import numpy as np
import pytest

from digitize.floor.raster import Raster
from digitize.pencil.curves import fit_curves
from digitize.pencil.gaps import join_dashes, split_at_laps
from digitize.pencil.repair import bridge_skips
from digitize.pencil.ridges import find_crests, find_ridges, paper_mask
from digitize.pencil.trace import Stroke
from tests.pencil.test_pencil import paper_with

GREY = Raster(-20.0, 130.0, 0.3, np.full((500, 200, 3), 128, np.uint8))


@dataclass(frozen=True)
class Paper:
    """Darkness by formula, in place of a picture's."""

    darkness: object
    light: bool = False

    def darkness_at(self, points):
        return self.darkness(points[..., 0], points[..., 1])


def stroke(first, last, strength=20.0):
    """A stroke from one place to another, a point every 0.4 mm."""
    first, last = np.array(first, float), np.array(last, float)
    count = round(float(np.linalg.norm(last - first)) / 0.4) + 1
    points = first + np.linspace(0, 1, count)[:, None] * (last - first)
    return Stroke(points, np.full(count, strength))


def mark(away, half=0.4):
    """A pencil's mark by the distance from its middle."""
    return 0.5 * np.clip((half - np.abs(away)) / 0.5 + 0.5, 0, 1)


def test_a_lines_sigma_is_that_of_its_places_and_of_the_pencils_own_edge():
    """By block, 101 mm / 50, the mark lies somewhere else, with a sigma of 0.15 mm."""
    aside = np.random.default_rng(15).normal(0, 0.15, 50)

    def darkness(x, y):
        return mark(x - aside[np.clip(y / 2.02, 0, 49).astype(int)])

    (curve,) = fit_curves([stroke((0, 0), (0, 101))], Paper(darkness), GREY)
    # 52 places settle a line's 2 freedoms: 0.15 times the root of 2 / 52 is 0.0294; and 0.03.
    assert curve.sigma == pytest.approx(np.hypot(0.0294, 0.03), abs=0.002)


def test_a_sure_line_is_no_surer_than_a_pencils_edge_is_sharp():
    (curve,) = fit_curves([stroke((0, 0), (0, 100))], Paper(lambda x, y: mark(x)), GREY)
    assert curve.sigma == pytest.approx(0.03, abs=0.001)
    assert curve.weight == pytest.approx(0.5 * 0.8, abs=0.02)  # as dark, as wide


@pytest.mark.parametrize("turned", [False, True])
def test_either_end_is_brought_to_where_the_darkness_ends(turned):
    """Traced 2.5 mm short of the one end, and 2 mm past the other."""

    def darkness(x, y):
        return mark(x) * (y > 0) * (y < 90)

    traced = stroke((0, 2.5), (0, 92))
    if turned:
        traced = Stroke(traced.points[::-1], traced.strength)
    (curve,) = fit_curves([traced], Paper(darkness), GREY)
    assert sorted(curve.points[[0, -1], 1]) == pytest.approx([0.0, 90.0], abs=0.5)


@pytest.mark.parametrize("place", [0.31, -0.22])
def test_a_curve_lies_on_its_mark_wherever_it_was_traced(place):
    (curve,) = fit_curves([stroke((0, 0), (0, 100))], Paper(lambda x, y: mark(x - place)), GREY)
    assert curve.points[:, 0] == pytest.approx(np.full(len(curve.points), place), abs=0.02)
    # A picture's blur, which this mark has not, is taken off: 2.355 * 0.9 * 0.3 = 0.636 mm.
    assert curve.width == pytest.approx(np.sqrt(0.8**2 - 0.636**2), abs=0.1)


def lapped(x, y):
    """A line along x that is bare from 48 to 53 mm, and a cut across it at 48."""
    return np.where((x > 48) & (x < 53), 0.0, mark(y)) + mark(x - 48, 0.2)


def test_a_line_traced_over_a_lap_is_cut_at_both_its_sides():
    line, cut = stroke((0, 0), (110, 0)), stroke((48, -30), (48, 30))
    pieces = split_at_laps([line, cut], Paper(lapped))
    ends = sorted(x for piece in pieces for x in piece.points[[0, -1], 0] if abs(x - 48) > 1e-6)
    assert len(pieces) == 3
    assert ends == pytest.approx([0, 48, 53, 110], abs=0.8)
    assert ends[2] - ends[1] == pytest.approx(5.0, abs=1.0)


@pytest.mark.parametrize("cut_at", [48.0, 53.0])
def test_a_lap_is_one_whichever_of_its_sides_the_cut_is_on(cut_at):
    def darkness(x, y):
        return np.where((x > 48) & (x < 53), 0.0, mark(y))

    line, cut = stroke((0, 0), (110, 0)), stroke((cut_at, -30), (cut_at, 30))
    assert len(split_at_laps([line, cut], Paper(darkness))) == 3
    assert len(split_at_laps([line], Paper(darkness))) == 1  # 5 mm: a pencil may skip as much


@pytest.mark.parametrize(
    ("crossed", "bare", "count"), [(False, True, 1), (True, True, 2), (True, False, 1)]
)
def test_a_gap_that_a_mark_crosses_is_bridged_only_if_no_bare_paper_shows_in_it(
    crossed, bare, count
):
    def darkness(x, y):
        return np.where((x > 50) & (x < 53.5) & bare, 0.0, mark(y))

    strokes = [stroke((0, 0), (50, 0)), stroke((53.5, 0), (110, 0))]
    across = [stroke((51.5, -30), (51.5, 30))] if crossed else []
    assert len(bridge_skips([*strokes, *across], Paper(darkness))) == count + len(across)


def test_a_gap_longer_than_a_pencil_skips_stays_however_long_its_line_is():
    def darkness(x, y):
        return np.where((x > 50) & (x < 58), 0.0, mark(y))

    strokes = [stroke((0, 0), (50, 0)), stroke((58, 0), (110, 0))]
    assert len(bridge_skips(strokes, Paper(darkness))) == 2


@pytest.mark.parametrize(("dashes", "dashed"), [((8.5, 8.5), True), ((5.0, 12.0), False)])
def test_a_line_traced_in_one_go_is_dashed_if_its_dashes_are_alike(dashes, dashed):
    """Of 5 and 12 mm by turns the standard deviation is 0.41 of the mean; 0.35 is the most."""

    def darkness(x, y):
        at = x % (sum(dashes) + 6.0)
        bare = (at > dashes[0]) & (at < dashes[0] + 3.0) | (at > sum(dashes) + 3.0)
        return np.where(bare, 0.0, mark(y))

    (line,) = join_dashes([stroke((0, 0), (112, 0))], Paper(darkness))
    assert line.dashed == dashed


@pytest.mark.parametrize(("x", "y"), [(23.17, 61.3), (24.05, 60.86)])
def test_crests_lie_on_the_middle_of_their_line_to_a_fraction_of_a_pixel(x, y):
    line = np.array([[x, 15], [x, 105]]), np.array([[40, y], [140, y]])
    crests = find_crests(find_ridges(*paper_with(line, width=0.5, grain=0.5)))
    on_first, on_second = crests.places[:, 0] < 30, crests.places[:, 0] > 45
    plain = crests.strengths > 20
    assert np.median(crests.places[on_first & plain, 0]) == pytest.approx(x, abs=0.06)
    assert np.median(crests.places[on_second & plain, 1]) == pytest.approx(y, abs=0.06)


def test_a_mask_keeps_its_margin_off_the_papers_edge():
    raster = Raster(0.25, 99.75, 0.5, np.zeros((200, 300, 3), np.uint8))
    inside = paper_mask(raster, np.array([[20, 10], [120, 10], [120, 90], [20, 90]]), 5.0)
    assert inside.sum() * 0.25 == pytest.approx(90 * 70, rel=0.02)
