"""The drawn papers' tucks close as paper does."""

import numpy as np
import pytest
from scipy.spatial import cKDTree
from shapely import LineString, Point

from tests.bench.marks_letters import LETTERS, WORDS
from tests.bench.marks_paper import TrueTuck, broken, draw_paper


def tuck(lower: int = 1, growth: float = 1.0, parted: float = 0.0) -> TrueTuck:
    """A cut from (0, 0) up to (0, 100) whose lap is 20 mm at its end."""
    cut = np.column_stack([np.zeros(101), np.arange(101.0)])
    return TrueTuck("slit", cut, lower, 20.0, growth, parted)


def test_a_cone_of_20_mm_in_100_turns_by_11_478_degrees():
    distance = np.array([25.0, 50.0])
    assert tuck().lap(50.0) == pytest.approx(10)
    assert np.degrees(tuck().turn(distance)) == pytest.approx(11.4783, abs=1e-4)
    landing = tuck().landing(distance)
    assert np.linalg.norm(landing - [[0, 25], [0, 50]], axis=1) == pytest.approx([5, 10])
    # Up the cut, the lower flap lies to the left: at negative x; 50 sin 11.478 and 50 cos 11.478.
    assert landing[1] == pytest.approx([-9.9499, 49.0], abs=1e-4)
    assert tuck(-1).landing(distance)[1] == pytest.approx([9.9499, 49.0], abs=1e-4)


def test_a_lap_that_grows_faster_than_a_cone_is_less_half_way():
    assert tuck(growth=1.3).lap(50.0) == pytest.approx(20 * 0.5**1.3)
    assert tuck(growth=1.3).lap(100.0) == pytest.approx(20)


def test_a_parted_slit_has_its_gap_between_its_edges():
    parted = tuck(parted=2.0)
    place = np.array([50.0])
    edges = parted.upper_edge(place)[0], parted.landing(place, share=0.0)[0]
    assert edges[0] - edges[1] == pytest.approx([1.0, 0.0], abs=1e-3)
    gone_on = parted.landing(place)[0] - edges[1]
    assert np.linalg.norm(gone_on) == pytest.approx(10, abs=1e-6)


@pytest.mark.parametrize("lower", [1, -1])
def test_a_line_across_a_tuck_joins_itself_when_the_flap_is_turned_back(lower):
    flat = np.column_stack([np.arange(-80.0, 81.0), np.full(161, 60.0)])
    first, second = broken(flat, [tuck(lower)])
    pieces = {first.end: first.points[::-1], second.start: second.points}  # both from the tuck out
    upper, onward = pieces["upper"], pieces["lower"]
    assert upper[0] == pytest.approx([0, 60])
    assert onward[0] == pytest.approx([-lower * 11.9399, 58.8], abs=1e-4)
    angle = -lower * 2 * np.arcsin(0.1)
    back = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
    closed = onward @ back.T
    assert closed[0] == pytest.approx([0, 60], abs=1e-6)
    ways = [(line[1] - line[0]) / np.linalg.norm(line[1] - line[0]) for line in (upper, closed)]
    assert ways[0] == pytest.approx(-ways[1], abs=0.01)


def test_a_lap_line_stands_off_its_cut_by_the_lap_and_half_a_pencil():
    paper = draw_paper(2)
    drawn = [each for each in paper.tucks if each.lap_line is not None and each.parted_mm == 0]
    assert drawn
    for each in drawn:
        edge = each.landing(np.arange(0.3, 0.95, 0.001) * each.reach)
        middle = each.lap_line[len(each.lap_line) // 3 : -len(each.lap_line) // 5]
        nearest = edge[cKDTree(edge).query(middle)[1]]
        cut = LineString(each.cut)
        beyond = [
            cut.distance(Point(p)) - cut.distance(Point(q))
            for p, q in zip(middle, nearest, strict=True)
        ]
        assert 0.15 < np.mean(beyond) < 0.5


def test_every_letter_that_may_be_written_has_a_shape():
    written = set("".join(WORDS)) | set("".join(str(number) for number in range(1, 20)))
    assert written - {" "} <= set(LETTERS)
