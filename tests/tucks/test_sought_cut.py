"""Cuts on dark paper, beside the lap lines that were drawn there in chalk."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.ndimage import gaussian_filter

from digitize.tucks.slits import TuckMarks
from digitize.tucks.sought_cut import cuts_on_dark
from tests.marks import curve_of

OUTLINE = np.array([[0, 0], [300, 0], [300, 250], [0, 250]], float)
GRAIN = gaussian_filter(np.random.default_rng(6).normal(0, 0.15, (1000, 1200)), 1.2)
TIP_Y, CHALK_Y = 100.0, 92.0  # the cut begins there, and its lap line later
LAP_AT_EDGE = 12.0


def lap_at(y):
    """In proportion to the depth, mm."""
    return LAP_AT_EDGE * np.clip(1.0 - y / TIP_Y, 0.0, None)


def chalk(points, width=0.9):
    return curve_of(points, 1.4 * width, width)


def lap_line(side=1.0, first=CHALK_Y):
    return chalk([[150.0 + side * lap_at(first), first], [150.0 + side * lap_at(1.0), 1.0]])


def lines(side=1.0, at=(20.0, 50.0)):
    """Lines that end at the lap line on its side of the cut, and at the cut on the other."""
    return [
        line
        for y in at
        for line in (
            chalk([[150.0 + side * (lap_at(y) + 100.0), y], [150.0 + side * lap_at(y), y]]),
            chalk([[150.0 - side * 100.0, y], [150.0, y]]),
        )
    ]


def paper(tone, side=1.0, shade=0.0):
    """How light a dark paper is, with grain, a cut of a tone up x = 150, and what is drawn."""

    def lightness_at(points):
        x, y = points[..., 0], points[..., 1]
        row, column = (np.clip(v * 4, 0, n).astype(int) for v, n in ((y, 999), (x, 1199)))
        hair = np.exp(-(((x - 150.0) / 0.3) ** 2)) * (y < TIP_Y)
        shaded = np.exp(-(((x - 150.0 + side * 2.5) / 1.5) ** 2)) * (y < TIP_Y)
        drawn = np.exp(-(((x - 150.0 - side * lap_at(y)) / 0.4) ** 2)) * (y < CHALK_Y)
        return GRAIN[row, column] + tone * hair - shade * shaded + 1.4 * drawn

    return lightness_at


@pytest.mark.parametrize("side", [1.0, -1.0])
@pytest.mark.parametrize("tone", [-0.12, 0.12])
def test_a_cut_is_found_beside_its_lap_line_where_it_is_darker_and_where_the_floor_shows(
    tone, side
):
    drawn = TuckMarks("slit", lap_line(side), None, 0.9)
    (found,), rest = cuts_on_dark([drawn], lines(side), OUTLINE, paper(tone, side, 0.03))
    assert found.second is drawn.main and found.sure > 0.95
    assert np.abs(found.main.points[:, 0] - 150.0).max() < 0.3
    assert found.main.points[0, 1] == pytest.approx(TIP_Y, abs=4.0)
    assert found.main.points[-1, 1] < 1.0
    assert np.sign(found.main.weight) == np.sign(tone)
    assert len(rest) == 4


def test_of_two_marks_the_lighter_is_the_lap_line_and_a_traced_part_of_the_cut_is_dropped():
    part = curve_of([[150, 40], [150, 0.5]], 0.2, 0.6)
    (found,), _ = cuts_on_dark(
        [TuckMarks("slit", part, lap_line(), 0.9)], lines(), OUTLINE, paper(0.12)
    )
    assert found.second.points[0] == pytest.approx(lap_line().points[0])
    assert found.main.length > 90.0 and found.sure > 0.95


def unsure(tuck, others, lightness_at):
    (found,), rest = cuts_on_dark([tuck], others, OUTLINE, lightness_at)
    assert found == replace(tuck, sure=0.5) and rest == tuple(others)


def test_a_tuck_beside_which_nothing_shows_is_unsure_as_is_a_fold():
    unsure(TuckMarks("slit", lap_line(), None, 0.9), lines(), paper(0.0))
    unsure(TuckMarks("slit", lap_line(), None, 0.9), [], paper(-0.12))
    unsure(TuckMarks("fold", lap_line(), None, 0.9), lines(), paper(-0.12))


def test_a_line_as_light_as_all_others_is_no_cut():
    unsure(TuckMarks("slit", lap_line(), None, 0.9), lines(), paper(1.4))


@pytest.mark.parametrize("ends_at", [0.5, -4.0])
def test_beside_a_slit_lines_end_at_it_or_at_its_lap_line(ends_at):
    """Not half way between the two; nor do they run on across the cut and end short of either."""
    elsewhere = [chalk([[50.0, y], [150.0, y]]) for y in (20.0, 50.0)] * (ends_at > 0) + [
        chalk([[250.0, y], [150.0 + ends_at * lap_at(y), y]]) for y in (20.0, 30.0, 50.0)
    ]
    unsure(TuckMarks("slit", lap_line(), None, 0.9), elsewhere, paper(-0.12))


def test_a_lap_line_of_which_only_the_outer_part_was_traced_by_itself_tells_no_tip():
    whole = curve_of([[150, 100], [150, 0.5]], 0.2, 0.6)
    unsure(TuckMarks("slit", whole, lap_line(first=50.0), 0.9), lines(), paper(-0.12))


@pytest.mark.parametrize(("long_mm", "most"), [(380.0, 3e6), (2600.0, 0)])
def test_beside_a_long_lap_line_no_more_ways_are_looked_at_than_beside_others(long_mm, most):
    asked = [0]

    def lightness_at(points):
        asked.append(points[..., 0].size)
        return 0.02 * np.sin(37.0 * points[..., 0] + 91.0 * points[..., 1])

    long = chalk([[0, 100], [long_mm, 140]])
    sheet = np.array([[0, 0], [2600, 0], [2600, 1500], [0, 1500]], float)
    (found,), _ = cuts_on_dark([TuckMarks("slit", long, None, 0.9)], lines(), sheet, lightness_at)
    assert found.sure == 0.5 and max(asked) <= most
