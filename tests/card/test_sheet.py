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


def marks_along(ink, offset_mm, along=0):
    """Middles of marks met in running along the sheet's x (0) or y (1), mm from its centre.

    The run is ``offset_mm`` beside the centre line: above it, or to the left of it.
    """
    if along:
        ink = np.rot90(ink, -1)  # the sheet's y to the right, its left side up
    middle = ink.shape[0] / 2 - offset_mm * PX_PER_MM
    row = ink[int(middle)]
    edges = np.flatnonzero(np.diff(np.concatenate([[0], row > 0.3, [0]])))
    pairs = edges.reshape(-1, 2)
    weighed = [np.average(np.arange(a, b), weights=row[a:b]) for a, b in pairs]
    return (np.array(weighed) + 0.5 - ink.shape[1] / 2) / PX_PER_MM


def ticks(marks, reach):
    return marks[np.abs(marks) < reach]


@pytest.mark.parametrize("along", [0, 1])
def test_both_rules_have_a_tick_each_centimetre_of_150_mm(along):
    marks = ticks(marks_along(ink_of(), 1.0, along), 80)
    # Between -5 and 5 the run meets the other rule's line.
    assert marks == pytest.approx(np.sort([*np.arange(-75.0, 76, 10), 0.0]), abs=0.03)
    assert marks[-1] - marks[0] == pytest.approx(RULE_MM, abs=0.05)
    assert "150 mm" in page_of().get_textpage().get_text_range()


@pytest.mark.parametrize("along", [0, 1])
def test_both_rules_have_a_tick_each_inch_of_six(along):
    # 25.4 mm by the international agreement of 1959.
    marks = ticks(marks_along(ink_of(), -1.0, along), 80)
    assert marks == pytest.approx(25.4 * np.arange(-3, 4), abs=0.03)


def test_a_print_is_stretched_each_way_by_its_own_factor():
    ink = ink_of(stretch_x=1.02, stretch_y=0.97)
    across, along = (ticks(marks_along(ink, 1.0, way), 80) for way in (0, 1))
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
