"""The printed card, measured on its page as a steel rule would."""

from functools import cache

import numpy as np
import pypdfium2
import pytest

from digitize.card.layout import RULE_MM, card_layout
from digitize.card.sheet import card_pdf

PX_PER_MM = 12.0


def page_of(paper="a4", **stretch):
    return pypdfium2.PdfDocument(card_pdf([3], paper, **stretch))[0]


@cache
def ink_of(paper="a4", **stretch):
    """How black each pixel of a page is (H, W), 0 to 1."""
    grey = page_of(paper, **stretch).render(scale=25.4 / 72 * PX_PER_MM, grayscale=True).to_numpy()
    return 1 - grey.reshape(grey.shape[:2]) / 255.0


def marks_along(ink, offset_mm, along=0, paper="a4"):
    """Middles of marks met in running along the sheet's x (0) or y (1), mm from its centre.

    The run is ``offset_mm`` beside the centre line: above it, or to the left of it.
    """
    if along:
        ink = np.rot90(ink, -1)  # the sheet's y to the right, its left side up
    # A page is drawn on whole pixels: its mm is a little more than asked.
    px_per_mm = ink.shape[1] / card_layout(paper).sheet_mm[along]
    middle = ink.shape[0] / 2 - offset_mm * PX_PER_MM
    row = ink[int(middle)]
    edges = np.flatnonzero(np.diff(np.concatenate([[0], row > 0.3, [0]])))
    pairs = edges.reshape(-1, 2)
    weighed = [np.average(np.arange(a, b), weights=row[a:b]) for a, b in pairs]
    return (np.array(weighed) + 0.5 - ink.shape[1] / 2) / px_per_mm


def ticks(marks, reach):
    return marks[np.abs(marks) < reach]


# How far the rules' lines stand off the middle, and the other two that cross them.
BESIDE, CROSSED_BY = (3.5, 13.0), ([-13.0, 13.0], [-3.5, 3.5])


@pytest.mark.parametrize("along", [0, 1])
def test_both_rules_have_a_tick_each_centimetre_of_150_mm(along):
    marks = ticks(marks_along(ink_of(), BESIDE[along] + 1, along), 80)
    wanted = np.sort([*np.arange(-75.0, 76, 10), *CROSSED_BY[along]])
    assert marks == pytest.approx(wanted, abs=0.03)
    assert marks[-1] - marks[0] == pytest.approx(RULE_MM, abs=0.05)


@pytest.mark.parametrize("along", [0, 1])
def test_both_rules_have_a_tick_each_inch_of_six(along):
    # 25.4 mm by the international agreement of 1959.
    marks = ticks(marks_along(ink_of(), -BESIDE[along] - 1, along), 94)
    wanted = np.sort([*(25.4 * np.arange(7) - 60), *CROSSED_BY[along]])
    assert marks == pytest.approx(wanted, abs=0.03)


@pytest.mark.parametrize("paper", ["a4", "letter"])
@pytest.mark.parametrize("along", [0, 1])
def test_no_end_of_one_rule_can_be_taken_for_one_of_the_other(paper, along):
    millimetres, inches = (
        ticks(marks_along(ink_of(paper), side * (BESIDE[along] + 1), along, paper), 94)
        for side in (1, -1)
    )
    ends = [(marks.min(), marks.max()) for marks in (millimetres, inches)]
    assert np.abs(np.subtract(*ends)).min() > 10
    # And nothing but the crossing lines lies on the line between them.
    between = ticks(marks_along(ink_of(paper), BESIDE[along] - 1.2, along, paper), 71)
    assert set(np.round(between, 1)) == set(CROSSED_BY[along]) | set(centre_marks(along))


def centre_marks(along):
    """The centre's cross, where the run across meets it."""
    return [] if along else [0.0]


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_the_card_says_which_two_lengths_to_measure_and_marks_their_ends(paper):
    words = page_of(paper).get_textpage().get_text_range()
    for said in ("Measure two lengths", "1 across: 150 mm", "2 along: 150 mm", "--measured-x (1)"):
        assert said in words
    assert words.count("6 in") == 3 and words.count("150 mm") == 6


def test_the_cards_middle_is_marked_by_a_cross():
    ink = ink_of()
    middle = np.array(ink.shape) // 2
    reach = int(1.5 * PX_PER_MM)
    for step in ((0, reach), (0, -reach), (reach, 0), (-reach, 0)):
        row, column = middle + step
        assert ink[row - 2 : row + 3, column - 2 : column + 3].max() > 0.5
        assert ink[row - 12 : row - 6, column - 12 : column - 6].max() < 0.1


def test_a_print_is_stretched_each_way_by_its_own_factor():
    ink = ink_of(stretch_x=1.02, stretch_y=0.97)
    across, along = (
        ticks(marks_along(ink, (BESIDE[way] + 1) * (0.97, 1.02)[way], way), 80) for way in (0, 1)
    )
    assert np.ptp(across) == pytest.approx(153.0, abs=0.05)
    assert np.ptp(along) == pytest.approx(145.5, abs=0.05)


@pytest.mark.parametrize(("paper", "size"), [("a4", (210, 297)), ("letter", (215.9, 279.4))])
def test_a_page_is_as_large_as_its_sheet(paper, size):
    points = page_of(paper).get_size()
    assert np.array(points) * 25.4 / 72 == pytest.approx(size, abs=0.01)


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_black_and_white_meet_crosswise_at_every_corner(paper):
    ink = ink_of(paper)
    corners = card_layout(paper).corners_mm
    for way in (1, -1):
        tones = [
            ink[
                np.round(ink.shape[0] / 2 - (corners[:, 1] + y) * PX_PER_MM).astype(int),
                np.round(ink.shape[1] / 2 + (corners[:, 0] + x) * PX_PER_MM).astype(int),
            ]
            for x, y in ((0.3, 0.3 * way), (-0.3, -0.3 * way))
        ]
        assert tones[0] == pytest.approx(tones[1], abs=0.01)
        assert set(np.round(tones[0])) == {0.0, 1.0}
