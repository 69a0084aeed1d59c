"""Printed lines are told from drawn ones by their spacing, their look and how far they reach."""

import numpy as np
import pytest

from digitize.pencil.ruled import set_print_aside, spacing_of
from tests.marks import curve_of

PAPER = np.array([[0, 0], [200, 0], [200, 150], [0, 150]], float)


def ruled(spacing_mm, heading_deg=0.0, weight=0.1, high=(10.0, 140.0)):
    """Level lines over the paper, turned about its middle."""
    turn = np.radians(heading_deg)
    turned = np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])
    lines = [np.array([[10, y], [190, y]]) for y in np.arange(*high, spacing_mm)]
    return [curve_of((line - [100, 75]) @ turned + [100, 75], weight) for line in lines]


def pale(points):
    """The darkness of a paper that is all print."""
    return np.full(points.shape[:-1], 0.1)


DRAWN = curve_of([[20, 77.3], [180, 77.3]], weight=0.6)


@pytest.mark.parametrize("heading_deg", [0.0, 31.0, 90.0])
@pytest.mark.parametrize("spacing_mm", [5.0, 8.0])
def test_ruled_lines_are_set_aside_and_a_line_of_another_look_along_them_is_kept(
    heading_deg, spacing_mm
):
    kept, (ruling,) = set_print_aside([*ruled(spacing_mm, heading_deg), DRAWN], PAPER, pale)
    assert kept == (DRAWN,)
    assert ruling.spacing_mm == pytest.approx(spacing_mm, abs=0.05)
    off = (np.degrees(ruling.heading) - heading_deg + 90) % 180 - 90
    assert abs(off) < 0.1


def test_squares_are_print_both_ways_and_its_pieces_between_other_marks_too():
    piece = curve_of([[100, 75], [112, 75]], weight=0.1)
    slant = curve_of([[100, 70], [112, 82]], weight=0.1)
    # Hidden by what was drawn here and there.
    level, upright = ruled(5.0), ruled(5.0, 90.0)
    kept, rulings = set_print_aside([*level[:7], *level[9:], *upright, piece, slant], PAPER, pale)
    assert kept == (slant,) and len(rulings) == 2


def test_a_stretch_that_was_drawn_over_print_is_kept():
    lines = ruled(5.0)

    def darkness(points):
        on = (np.abs(points[..., 1] - lines[3].points[0, 1]) < 1) & (
            np.abs(points[..., 0] - 80) < 20
        )
        return np.where(on, 0.4, 0.1)

    (drawn,), (ruling,) = set_print_aside(lines, PAPER, darkness)
    assert ruling.spacing_mm == pytest.approx(5.0)
    assert drawn.points[[0, -1], 0] == pytest.approx([60, 100], abs=2.5)
    assert drawn.weight == pytest.approx(0.1 * 4, rel=0.05)


def test_hatching_and_lines_at_any_distance_are_no_print():
    hatched = ruled(5.0, high=(10.0, 60.0))
    assert set_print_aside(hatched, PAPER, pale) == (tuple(hatched), ())
    uneven = [
        curve_of([[10, y], [190, y]], 0.1) for y in (10, 15, 27.5, 36, 43, 57.5, 70, 81, 96, 118)
    ]
    assert set_print_aside(uneven, PAPER, pale) == (tuple(uneven), ())
    assert set_print_aside([], PAPER, pale) == ((), ())


def test_a_spacing_is_that_of_neighbours_even_where_the_sheet_bulges_and_some_are_missing():
    # 5 mm that grow by 1 % from line to line are out of phase by a whole spacing after 14.
    even = 5.0 * 1.01 ** np.arange(20)
    offsets = np.delete(np.cumsum(even), [4, 9, 10])
    assert spacing_of(offsets) == pytest.approx(np.median(even), rel=0.05)
    assert spacing_of(np.cumsum([5.0, 9.0, 7.2, 12.4, 6.1, 5.0, 8.3, 10.9, 6.9, 11.6])) is None


@pytest.mark.parametrize(("steps", "found"), [((1, 2, 1, 1, 1, 2, 1), False), ((1,) * 8, True)])
def test_a_spacing_that_some_of_many_would_have_by_chance_is_none(steps, found):
    # Any gap is in step with a spacing for 0.3 of its values. Of 91 spacings 91 * 0.3^7 = 0.020 fit
    # seven gaps by chance, and 91 * 0.3^8 = 0.006 fit eight.
    told = spacing_of(np.append(0.0, np.cumsum(6.5 * np.array(steps))))
    assert (told is not None) is found
