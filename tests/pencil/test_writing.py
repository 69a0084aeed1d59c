"""What is writing and what a line, told from drawn paper and from marks by themselves."""

from dataclasses import replace

import numpy as np
import pytest

from digitize.pencil.curves import fit_curves
from digitize.pencil.ridges import find_ridges
from digitize.pencil.strokes import find_strokes
from digitize.pencil.writing import (
    LINKED,
    links_of,
    looks_of,
    set_writing_aside,
    surely_lines,
    tall_writing,
)
from tests.marks import blank, curve_of
from tests.pencil.test_pencil import paper_with


def read(raster, outline):
    """Lines, and the boxes of writing."""
    ridges = find_ridges(raster, outline)
    marks = fit_curves(find_strokes(ridges), ridges, raster)
    return set_writing_aside(marks, ridges.darkness_at)


def word(at_mm, long_mm, tall_mm):
    """Letters run together, as loops of a pen that goes on to the right."""
    turn = np.linspace(0, 2 * np.pi * long_mm / (0.6 * tall_mm), 60 * round(long_mm / tall_mm) + 60)
    x = np.linspace(0, long_mm, len(turn)) + 0.3 * tall_mm * np.sin(turn)
    return np.stack([at_mm[0] + x, at_mm[1] + tall_mm * (1 - np.cos(turn)) / 2], axis=1)


BOWL = [[0.4 - 0.3 * np.cos(t), 0.25 + 0.25 * np.sin(t)] for t in np.linspace(0, 2 * np.pi, 30)]
LETTERS = {  # strokes on a field as tall as 1
    "L": ([[0, 1], [0, 0]], [[0, 0], [0.5, 0]]),
    "H": ([[0, 0], [0, 1]], [[0, 0.5], [0.6, 0.5]], [[0.6, 1], [0.6, 0]]),
    "A": ([[0, 0], [0.35, 1]], [[0.35, 1], [0.7, 0]], [[0.15, 0.4], [0.55, 0.4]]),
    "4": ([[0.4, 1], [0, 0.35]], [[0, 0.35], [0.6, 0.35]], [[0.42, 0.7], [0.42, 0]]),
    "E": ([[0, 0], [0, 1]], *([[0, y], [0.5, y]] for y in (0, 0.5, 1))),
    "6": ([[0.5, 1], [0.25, 0.8], [0.1, 0.5], [0.1, 0.25]], BOWL),
}


def letters(words, at_mm, tall_mm):
    """The strokes of tall letters beside one another."""
    return [
        np.array(stroke) * tall_mm + at_mm + [1.1 * tall_mm * index, 0]
        for index, letter in enumerate(words)
        for stroke in LETTERS[letter]
    ]


def stripes(points):
    """Darkness that comes and goes along x, half of each 4 mm: by itself, a row of strokes."""
    return np.where(points[..., 0] % 4 < 2, 1.0, 0.0)


LINE = np.array([[20, 30], [130, 30]], float)


def test_small_writing_becomes_a_note_and_no_line():
    letters = [np.array([[40 + 5 * i, 60], [42 + 5 * i, 67], [44 + 5 * i, 60]]) for i in range(4)]
    lines, notes = read(*paper_with([*letters, LINE]))
    assert len(lines) == 1 and len(notes) == 1
    assert 37 < notes[0][0] < 42 and 57 < notes[0][1] < 62


@pytest.mark.parametrize("beside_mm", [2.5, 5.0])
def test_a_short_line_close_to_writing_stays_one(beside_mm):
    """On five papers of other grain: on one it may be taken for writing."""
    line = np.array([[40, 60], [70, 60]], float)
    strokes = [line, LINE, word((40, 60 + beside_mm), 30, 5)]
    papers = [read(*paper_with(strokes, seed=seed)) for seed in range(5)]
    kept = [
        notes
        for lines, notes in papers
        if [each.length for each in sorted(lines, key=lambda c: c.length)]
        == pytest.approx([30.5, 110.5], abs=1.0)
    ]
    assert len(kept) >= 4 and all(kept)
    lows, highs = ([note[k] for notes in kept for note in notes] for k in (1, 3))
    assert np.median(lows) > 60 and np.median(highs) < 72


def test_a_line_through_a_word_stays_one_and_letters_read_as_one_stroke_are_none():
    through = np.array([[20, 62], [130, 62]], float)
    lines, _ = read(*paper_with([through, word((50, 60), 30, 5)]))
    assert [each.length > 100 for each in lines] == [True]
    # As the tracer finds it: a stroke along a row of letters, and one along a line.
    along = curve_of([[40, 70], [75, 70]], width=1.0)
    lines, notes = set_writing_aside([along], stripes)
    assert not lines and notes == ((39.0, 69.0, 76.0, 71.0),)
    lines, notes = set_writing_aside([along], lambda p: (np.abs(p[..., 1] - 70) < 0.6) * 1.0)
    assert lines == (along,) and not notes


def test_a_crease_is_no_writing_however_uneven_it_looks():
    crease = replace(curve_of([[40, 70], [75, 70]], width=1.0), sheen=1.0)
    assert set_writing_aside([crease], stripes) == ((crease,), ())
    speck = replace(curve_of([[40, 70], [48, 70]], width=1.0), sheen=1.0)
    assert set_writing_aside([speck], stripes) == ((), ())


def test_a_line_of_10_mm_by_itself_is_kept_and_a_speck_is_not():
    short, speck = np.array([[40, 60], [51, 60]], float), np.array([[90, 80], [95, 80]], float)
    lines, notes = read(*paper_with([short, speck, LINE]))
    assert sorted(round(each.length) for each in lines) == [12, 111] and not notes


@pytest.mark.parametrize(("long_mm", "kept"), [(9.0, True), (8.0, False)])
def test_a_mark_by_itself_as_long_as_a_short_arrow_is_a_line(long_mm, kept):
    short = curve_of([[40, 70], [40 + long_mm, 70]])
    lines, notes = set_writing_aside([short], lambda p: (np.abs(p[..., 1] - 70) < 0.5) * 1.0)
    assert lines == ((short,) if kept else ()) and not notes


def test_of_a_line_traced_on_into_writing_over_bare_paper_the_line_is_kept():
    def darkness_at(points):
        x, y = points[..., 0], np.abs(points[..., 1] - 70)
        return (((x < 62) & (y < 0.5)) | ((x > 65) & (x % 3 < 1.5) & (y < 5))) * 1.0

    along = curve_of([[40, 70], [100, 70]])
    assert surely_lines([along], darkness_at)[0] < 0.4
    lines, notes = set_writing_aside([along], darkness_at)
    assert len(lines) == 1 and lines[0].points[[0, -1], 0] == pytest.approx([40, 62], abs=0.4)
    assert len(notes) == 1 and 63 < notes[0][0] < 66 and notes[0][2] > 98


@pytest.mark.parametrize(("first", "kept"), [(50.0, True), (55.0, False)])
def test_a_part_that_ran_on_into_writing_is_a_line_if_it_were_one_by_itself(first, kept):
    """12 mm and 7 mm of it, from a line that it starts at; there 5 mm would do for a whole mark."""

    def darkness_at(points):
        x, y = points[..., 0], np.abs(points[..., 1] - 70)
        along = ((x > first) & (x < 62) & (y < 0.5)) | ((x > 65) & (x % 3 < 1.5) & (y < 5))
        return (along | (np.abs(x - first) < 0.5)) * 1.0

    upright, along = curve_of([[first, 10], [first, 130]]), curve_of([[first, 70], [100, 70]])
    lines, _ = set_writing_aside([upright, along], darkness_at)
    assert len(lines) == 1 + kept


def test_two_words_apart_or_with_a_line_between_are_two_notes():
    line = np.array([[20, 60], [130, 60]], float)
    words = [word((50, 62.5), 20, 5), word((50, 52.5), 20, 5), word((100, 90), 20, 5)]
    lines, notes = read(*paper_with([line, *words]))
    assert len(lines) == 1 and len(notes) == 3


@pytest.mark.parametrize(("words", "tall_mm"), [("A4", 14), ("H6", 40), ("LH", 30), ("AE", 58)])
def test_tall_letters_are_a_note_and_no_lines(words, tall_mm):
    line = np.array([[8, 10], [145, 10]], float)
    lines, notes = read(*paper_with([line, *letters(words, (20, 30), tall_mm)]))
    assert [each.length > 100 for each in lines] == [True]
    assert len(notes) >= 1


def test_windows_side_by_side_and_marks_that_only_cross_are_no_letters():
    def ring(x):
        corners = np.array([[x, 40], [x + 30, 40], [x + 30, 60], [x, 60], [x, 40]], float)
        return [curve_of(corners[k : k + 2]) for k in range(4)]

    assert not len(tall_writing([*ring(20), *ring(60)], blank))
    crosses = [
        curve_of(ends)
        for x in (20.0, 45.0)
        for ends in ([[x, 50], [x + 16, 50]], [[x + 8, 42], [x + 8, 58]])
    ]
    assert not len(tall_writing(crosses, blank))
    # A bar more each, and they may well be letters; but not so far apart.
    bars = [curve_of([[x, 58], [x + 16, 58]]) for x in (20.0, 45.0)]
    assert len(tall_writing([*crosses, *bars], blank)) == 6
    # As far as a word is from the next, or a word from its number, they are yet.
    for away_mm, count in ((6.0, 6), (30.0, 0)):
        away = np.array([away_mm, 0.0])
        apart = [curve_of(c.points + away * (c.points[0, 0] > 40)) for c in (*crosses, *bars)]
        assert len(tall_writing(apart, blank)) == count


def test_frames_round_other_marks_are_no_letters():
    def frame(x):
        corners = [[x, 40], [x + 30, 40], [x + 30, 60], [x, 60], [x, 40]]
        sides = [curve_of(corners[k : k + 2]) for k in range(4)]
        return [*sides, curve_of([[x + 15, 60], [x + 15, 64]])]

    frames = [*frame(20.0), *frame(60.0)]
    assert len(tall_writing(frames, blank)) == 10
    within = [curve_of([[x, 48], [x + 5, 52]]) for x in (30.0, 70.0)]
    assert not len(tall_writing([*frames, *within], blank))

    def with_words(points, tall_mm):
        """Frames and words in them, of which no stroke was traced."""
        x, y = (points[..., 0] - 20) % 40, points[..., 1]
        on_frame = np.maximum(np.abs(x - 15) - 15, np.abs(y - 50) - 10)
        words = (np.abs(x - 15) < 10) & (np.abs(y - 50) < tall_mm / 2) & (x % 2 < 0.8)
        return ((np.abs(on_frame) < 0.4) | words) * 1.0

    assert not len(tall_writing(frames, lambda points: with_words(points, 14.0)))
    assert len(tall_writing(frames, lambda points: with_words(points, 4.0))) == 10


def test_writing_on_both_sides_of_a_line_is_two_notes():
    line = curve_of([[20, 60], [130, 60]])
    words = [
        curve_of([[x, 60 + side * 2.0], [x, 60 + side * 6.5]])
        for side in (1, -1)
        for x in (40.0, 42.0, 44.0)
    ]
    lines, notes = set_writing_aside([line, *words], lambda p: (np.abs(p[..., 1] - 60) < 0.6) * 1.0)
    assert lines == (line,) and len(notes) == 2
    _, notes = set_writing_aside(words, lambda p: (np.abs(p[..., 1] - 60) < 0.6) * 1.0)
    assert len(notes) == 1


def test_looks_are_those_worked_out_by_hand():
    straight = curve_of([[0, 50], [40, 50]], width=0.5)
    looks = looks_of([straight], stripes)[0]
    # Half dark, half bare: deviation and mean are both a half. All places beside a dark one are
    # as dark as it, and half of all places are.
    assert looks == pytest.approx([np.log(40), 1.0, 0.5, 0.0, np.log(0.5)], abs=0.03)
    arc = [[10 * np.sin(t), 10 * np.cos(t)] for t in np.linspace(0, np.pi, 200)]
    assert looks_of([curve_of(arc)], stripes)[0][3] == pytest.approx(0.1, abs=0.005)
    dashed = curve_of([[0, 50], [40, 50]])
    dashed = replace(dashed, dashed=True)
    assert looks_of([dashed], stripes)[0][1] == pytest.approx(0.0, abs=0.05)


def test_a_mark_is_linked_by_its_ends_to_long_lines_alone():
    line, stem, far = (
        curve_of([[0, 0], [40, 0]]),
        curve_of([[20, 1], [20, 9]]),
        curve_of([[20, 12], [20, 20]]),
    )
    # The stem ends at a line of full length, the line at nothing, and of the two apart by 3 mm
    # neither at the other.
    assert links_of([line, stem, far], np.array([0.8, 0.5, 0.5])) == pytest.approx([0, 0.8, 0])
    assert links_of([line, stem.reversed()], np.array([0.8, 0.5])) == pytest.approx([0, 0.8])
    half = curve_of([[15, 0], [25, 0]])
    assert links_of([half, stem], np.array([0.8, 0.5]))[1] == pytest.approx(0.4, abs=0.01)


def test_the_score_is_the_logistic_function_of_its_parts():
    stem = curve_of([[20, 1], [20, 11]], width=1.0)
    sure, linked = surely_lines([stem], lambda points: np.ones(points.shape[:-1]))
    # Dark all over: nothing uneven, all of its sides dark; no turn, and the logarithm of 1 is 0.
    total = LINKED.constant + LINKED.length * np.log(10) + LINKED.beside
    assert linked == 0 and sure == pytest.approx(1 / (1 + np.exp(-total)), rel=1e-3)


def test_no_marks_are_no_writing():
    assert set_writing_aside([], stripes) == ((), ())
