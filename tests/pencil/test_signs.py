"""Numbers in circles and arrows are notes; holes with a crossed middle, and corners, are lines."""

from dataclasses import replace

import numpy as np
import pytest
import shapely
from shapely import LineString

from digitize.pencil.signs import signs_among
from tests.marks import blank, curve_of
from tests.pencil.test_pencil import arc


def circle(radius, stop=360.0):
    return curve_of(arc(radius, 0, stop, (50, 50)))


ONE = curve_of([[47, 45], [48, 54]])
SEVEN = curve_of([[51, 54], [55, 54], [52, 45]])


@pytest.mark.parametrize(
    ("radius", "stop", "sign"), [(9, 360, True), (9, 320, True), (9, 220, False), (35, 360, False)]
)
def test_a_circle_round_a_number_is_a_sign_with_all_within_it(radius, stop, sign):
    far = curve_of([[80, 20], [140, 30]])
    marks = [far, circle(radius, stop), ONE, SEVEN]
    assert signs_among(marks, blank).tolist() == ([1, 2, 3] if sign else [])


def test_a_number_of_one_stroke_in_a_circle_is_a_sign_with_what_lies_on_the_circle():
    again = curve_of(arc(9.3, 350, 395, (50, 50)))
    marks = [circle(9), ONE, again]
    assert signs_among(marks, blank).tolist() == [0, 1, 2]
    dot = curve_of([[49, 50], [51, 50]])  # a hole's middle
    assert signs_among([circle(9), dot], blank).tolist() == []


def test_a_circle_of_several_strokes_round_a_number_is_a_sign():
    pieces = [curve_of(arc(9, a, b, (50, 50))) for a, b in ((0, 130), (125, 250), (245, 355))]
    assert signs_among([*pieces, ONE, SEVEN], blank).tolist() == [0, 1, 2, 3, 4]
    assert signs_among([*pieces[:2], ONE, SEVEN], blank).tolist() == []
    assert signs_among(pieces, blank).tolist() == []


def test_a_circle_that_a_hand_made_oval_in_two_strokes_is_a_sign():
    oval = np.array([50, 50]) + arc(9, 20, 380, (0, 0)) * [1.18, 0.82]
    one, two = curve_of(oval[:160]), curve_of(oval[155:])
    assert signs_among([one, two, ONE, SEVEN], blank).tolist() == [0, 1, 2, 3]
    assert signs_among([one, ONE, SEVEN], blank).tolist() == []


def test_what_runs_across_a_circle_is_no_piece_of_it():
    pieces = [curve_of(arc(9, a, b, (50, 50))) for a, b in ((0, 130), (245, 355))]
    ways = [np.array([np.cos(turn), np.sin(turn)]) for turn in np.radians([160, 190, 220])]
    across = [curve_of([50 + 7.5 * way, 50 + 10.5 * way]) for way in ways]
    along = [curve_of([50 + 9 * way + 2 * way[::-1] * [k, -k] for k in (-1, 1)]) for way in ways]
    assert signs_among([*pieces, *across, ONE, SEVEN], blank).tolist() == []
    assert signs_among([*pieces, *along, ONE, SEVEN], blank).tolist() == list(range(7))


@pytest.mark.parametrize(("turn_deg", "sign"), [(20, False), (45, False), (90, True), (150, True)])
def test_a_rounded_side_that_goes_on_in_other_lines_is_no_circle_but_one_lines_lead_to_is(
    turn_deg, sign
):
    side = curve_of(arc(9, -80, 80, (50, 50)))
    words = [curve_of(arc(9.5, a, a + 35, (50, 50))) for a in (125, 185)]
    marks = [side, *words, ONE, SEVEN]
    for tip, way in ((side.points[-1], 170 - turn_deg), (side.points[0], 190 + turn_deg)):
        ahead = np.array([np.cos(np.radians(way)), np.sin(np.radians(way))])
        marks.append(curve_of([tip + ahead, tip + 31 * ahead]))
    assert signs_among(marks, blank).tolist() == (list(range(5)) if sign else [])


def inked(*marks, paler=1.0):
    """Paper that is dark within 0.6 mm of some marks, of all but the first a share as dark."""
    paths = [LineString(mark.points) for mark in marks]
    tones = np.where(np.arange(len(marks)) > 0, 0.8 * paler, 0.8)

    def darkness_at(points):
        places = shapely.points(points)
        on = np.array([shapely.distance(path, places) < 0.6 for path in paths])
        return np.max(on * np.reshape(tones, (-1, *[1] * (on.ndim - 1))), axis=0)

    return darkness_at


SPECKS = [curve_of([[x, 52], [x + 1, 52]]) for x in (46, 50, 54)]
CROSS = [curve_of([[46, 50], [54, 50]]), curve_of([[50, 46], [50, 54]])]


@pytest.mark.parametrize(
    ("within", "sign"), [([SEVEN], True), ([ONE], True), (CROSS, False), (SPECKS, False)]
)
def test_a_number_that_was_not_traced_is_dark_within_its_circle(within, sign):
    ring = circle(9)
    assert signs_among([ring], inked(ring, *within)).tolist() == ([0] if sign else [])


def test_a_hole_and_one_whose_middle_is_crossed_are_lines():
    assert signs_among([circle(9)], blank).tolist() == []
    cross = [curve_of([[44, 50], [56, 50]]), curve_of([[50, 44], [50, 56]])]
    assert signs_among([circle(9), *cross], blank).tolist() == []
    oval = curve_of(arc(10, 0, 360, (0, 0)) * [1.5, 0.7] + 50)
    assert signs_among([oval, ONE, SEVEN], blank).tolist() == []
    through = curve_of([[20, 52], [90, 48]])
    assert signs_among([circle(9), through, ONE], blank).tolist() == []


def arrow(turn_deg, barb_mm=7.0, other_deg=None, shaft_mm=40.0):
    """A shaft to the right and two barbs, turned so far from the way back."""
    tip = np.array([shaft_mm, 0.0])
    marks = [curve_of([[0, 0], tip])]
    for angle in (turn_deg, -turn_deg if other_deg is None else other_deg):
        way = np.radians(180 + angle)
        marks.append(curve_of([tip, tip + barb_mm * np.array([np.cos(way), np.sin(way)])]))
    return marks


@pytest.mark.parametrize(
    ("marks", "sign"),
    [
        (arrow(30), True),
        (arrow(30)[::-1], True),
        ([mark.reversed() for mark in arrow(30)], True),
        (arrow(90), False),
        (arrow(150), False),
        (arrow(30, other_deg=45), False),
        (arrow(30, barb_mm=30), False),
        (arrow(30, shaft_mm=120), False),
        (arrow(30)[:2], False),
    ],
)
def test_an_arrow_has_a_barb_on_either_side_of_its_tip(marks, sign):
    assert signs_among(marks, blank).tolist() == ([0, 1, 2] if sign else [])


def test_an_arrow_from_a_line_is_no_sign_but_one_that_points_at_a_line_is():
    for x, sign in ((-3.0, []), (44.0, [0, 1, 2])):
        line = curve_of([[x, -40], [x, 40]])
        assert signs_among([*arrow(30), line], blank).tolist() == sign
    beside = curve_of([[-10, 20], [60, 20]])
    assert signs_among([*arrow(30), beside], blank).tolist() == [0, 1, 2]


def test_an_arrow_whose_barb_was_not_traced_shows_it_all_the_same():
    shaft, *barbs = arrow(35)
    for marks in ([shaft, *barbs], [shaft.reversed(), *barbs]):
        assert signs_among(marks[:2], inked(*marks)).tolist() == [0]
    # Of a curved shaft's barbs one lies closer to it, and is as long.
    tip, ways = np.array([40.0, 0.0]), np.radians([180 + 60, 180 - 22])
    uneven = [curve_of([tip, tip + 7 * np.array([np.cos(w), np.sin(w)])]) for w in ways]
    assert signs_among([shaft], inked(shaft, *uneven)).tolist() == [0]
    one_sided, square, forked = (
        [shaft, barbs[0]],
        arrow(90),
        [*arrow(35), *(replace(b, points=b.points - [15.0, 0.0]) for b in barbs)],  # feathers
    )
    for marks in (one_sided, square, forked):
        assert signs_among(marks[:1], inked(*marks)).tolist() == []
        assert signs_among(marks[:1], inked(*marks, paler=0.3)).tolist() == []
    curved = curve_of(np.column_stack([np.arange(0.0, 41.0), np.linspace(-4.0, 0.0, 41) ** 2 / 4]))
    assert signs_among([curved], inked(curved)).tolist() == []


@pytest.mark.parametrize(("noise", "sign"), [(0.02, [0]), (0.12, [])])
def test_barbs_flicked_paler_than_the_shaft_are_barbs_where_the_paper_shows_them(noise, sign):
    shaft, *barbs = arrow(35)
    dark = inked(shaft, *barbs, paler=0.3)
    rng = np.random.default_rng(8)

    def darkness_at(points):
        return dark(points) + rng.normal(0.0, noise, points.shape[:-1])

    assert signs_among([shaft], darkness_at).tolist() == sign


@pytest.mark.parametrize("corner_mm", [0.0, 3.0])
def test_a_box_round_a_number_is_no_circle(corner_mm):
    """Its corners stand off the circle through its sides by no more than a hand's circle does."""
    box = shapely.box(40 + corner_mm, 41 + corner_mm, 60 - corner_mm, 59 - corner_mm)
    ring = shapely.get_coordinates(box.buffer(corner_mm).exterior)
    halves = [curve_of(ring[: len(ring) // 2 + 1]), curve_of(ring[len(ring) // 2 :])]
    for marks in ([curve_of(ring)], halves):
        assert signs_among([*marks, ONE, SEVEN], blank).tolist() == []


def test_what_is_printed_about_a_line_is_no_head_of_it():
    shaft = arrow(35)[0]
    print_mm = 5.0

    def darkness_at(points):
        apart = np.abs(np.mod(points - [2.4, 2.5], print_mm) - print_mm / 2)
        squares = 0.3 * (apart.max(axis=-1) > print_mm / 2 - 0.4)
        return np.maximum(squares, inked(*arrow(35), paler=0.35)(points))

    assert signs_among([shaft], darkness_at).tolist() == []


@pytest.mark.parametrize(("on_mm", "sign"), [(30.0, []), (3.0, [0])])
def test_a_line_that_goes_on_beyond_its_trace_is_no_arrow(on_mm, sign):
    """An arrow's tip may not be traced either, but is near."""
    shaft, *barbs = arrow(35)
    onward = curve_of([[40, 0], [40 + on_mm, 0]])
    assert signs_among([shaft], inked(shaft, *barbs, onward, paler=0.35)).tolist() == sign
