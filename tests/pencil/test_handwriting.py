"""Writing taken as a whole from drawn paper, and the clean picture of it."""

import numpy as np
import pytest

from digitize.pencil.curves import fit_curves
from digitize.pencil.handwriting import handwriting, whole_writing
from digitize.pencil.ridges import find_ridges
from digitize.pencil.strokes import find_strokes
from digitize.pencil.thresholds import NOTE_EDGE_MM
from tests.marks import curve_of
from tests.pencil.test_pencil import paper_with
from tests.pencil.test_writing import letters

HIGH = 12.0
WORD = letters("LHA", (80.0, 60.0), HIGH)


@pytest.fixture(scope="module")
def ridges():
    line = np.array([[20.0, 30.0], [180.0, 30.0]])
    raster, outline = paper_with([*WORD, line])
    return find_ridges(raster, outline)


def test_a_word_of_which_one_letter_is_known_is_taken_as_a_whole(ridges):
    first = WORD[0].min(axis=0), np.concatenate(WORD[:2]).max(axis=0)
    (whole,) = whole_writing([(*first[0], *first[1])], (), ridges)
    low, high = np.concatenate(WORD).min(axis=0), np.concatenate(WORD).max(axis=0)
    assert whole == pytest.approx((*(low - NOTE_EDGE_MM), *(high + NOTE_EDGE_MM)), abs=1.5)


def test_a_line_of_the_pattern_is_never_taken_for_a_letter(ridges):
    strokes = fit_curves(find_strokes(ridges), ridges, paper_with(WORD)[0])
    (first, *_) = whole_writing([(80.0, 60.0, 86.0, 72.0)], strokes, ridges)
    assert first == pytest.approx((78.5, 58.5, 87.5, 73.5), abs=0.01)


def test_the_picture_is_dark_where_the_pencil_went_and_white_elsewhere(ridges):
    """The letter L: a column at its left, a row along its foot, nothing at its upper right."""
    picture = handwriting((78.0, 58.0, 88.0, 74.0), (), ridges)
    rows, columns = picture.shape
    assert rows / columns == pytest.approx(16 / 10, abs=0.05)
    step = 10 / columns
    dark = picture < 128
    assert dark[:, int(1.5 / step) : int(2.5 / step)].any(axis=1).mean() > 0.6
    foot = int((74 - 60 - 0.5) / step), int((74 - 60 + 0.6) / step)
    assert dark[foot[0] : foot[1], int(2 / step) : int(8 / step)].any(axis=0).mean() > 0.9
    assert (picture[: rows // 2, columns // 2 :] == 255).all()


def test_bare_paper_is_white(ridges):
    assert (handwriting((120.0, 100.0, 140.0, 110.0), (), ridges) > 200).all()


def test_a_line_that_crosses_the_writing_is_left_out_of_its_picture(ridges):
    around = (60.0, 28.0, 70.0, 32.0)
    line = curve_of([[20.0, 30.0], [180.0, 30.0]])
    assert (handwriting(around, (), ridges) < 128).any()
    assert (handwriting(around, (line,), ridges) == 255).mean() > 0.95


def test_words_on_one_line_are_one_and_those_on_another_line_are_not():
    left, right = letters("LH", (30.0, 60.0), 8.0), letters("A", (64.0, 60.0), 8.0)
    above = letters("E", (34.0, 78.0), 8.0)
    ridges = find_ridges(*paper_with([*left, *right, *above]))
    (whole,) = whole_writing([(30.0, 60.0, 43.0, 68.0)], (), ridges)
    assert whole[2] > 68.0
    assert whole[3] < 74.0
