import numpy as np
import pytest
from shapely import LineString

from digitize.tucks.partner import begun_fold, both_creases
from digitize.tucks.slits import find_tucks
from tests.marks import curve_of

DEPTH_MM = 140.0


def folded(*places):
    """Paper creased along ways that leave the y axis at the origin, each ``aside(y)`` of it."""

    def darkness_at(points):
        x, y = points[..., 0], points[..., 1]
        noise = np.random.default_rng(3).normal(0, 0.03, x.shape)
        creases = [0.1 * np.exp(-(((x - aside(y)) / 0.5) ** 2)) for aside in places]
        return np.where(y > 0, np.sum(creases, axis=0), 0.0) + noise

    return darkness_at


def straight(y):
    return np.zeros_like(y)


def hidden(y):
    return 0.5 * 0.11 * np.clip(y - 30.0, 0.0, None)


def course_of(aside):
    y = np.arange(0.0, DEPTH_MM + 1.0)
    return curve_of(np.column_stack([aside(y), y]), 0.1)


def slid(y):
    over = np.clip((y - 50.0) / 50.0, 0.0, 1.0)
    return hidden(y) * over**2 * (3 - 2 * over)


def strays_from(curve, aside, beyond_mm):
    x, y = curve.points[curve.points[:, 1] > beyond_mm].T
    return np.abs(x - aside(y)).max()


def test_what_slid_from_one_crease_to_the_other_is_both():
    found = both_creases([course_of(slid)], folded(straight, hidden))
    main, second = sorted(found, key=lambda crease: abs(crease.points[-1, 0]))
    assert strays_from(main, straight, 0.0) < 0.5
    assert strays_from(second, hidden, 60.0) < 0.5


def test_a_crease_traced_right_gets_the_one_that_was_not_traced():
    found = both_creases([course_of(straight)], folded(straight, hidden))
    main, second = sorted(found, key=lambda crease: abs(crease.points[-1, 0]))
    assert strays_from(main, straight, 0.0) < 0.25
    assert strays_from(second, hidden, 60.0) < 0.5
    # What was too faint to be traced well is known less well: 0.07 and 0.3 mm together.
    assert (main.sigma, second.sigma) == pytest.approx((0.3081, 0.3081), abs=1e-4)


@pytest.mark.parametrize("blot", [None, (-8.0, 100.0)])
def test_a_crease_alone_has_no_partner(blot):
    paper = folded(straight)

    def darkness_at(points):
        if blot is None:
            return paper(points)
        return paper(points) + 0.6 * (np.linalg.norm(points - np.array(blot), axis=-1) < 4.0)

    alone = [course_of(straight)]
    assert both_creases(alone, darkness_at) is alone


@pytest.mark.parametrize("creases", [(straight, hidden), (straight,), ()])
def test_a_fold_of_which_only_the_beginning_was_traced(creases):
    ring = LineString([[-200, -60], [200, -60], [200, DEPTH_MM], [-200, DEPTH_MM], [-200, -60]])
    trunk = curve_of([[0, 0], [0, 60]], 0.1)
    found = begun_fold(trunk, [], ring, lambda curve: True, folded(*creases))
    if len(creases) < 2:
        assert found is None
    else:
        main, second = found
        assert strays_from(main, straight, 10.0) < 0.5
        assert strays_from(second, hidden, 60.0) < 0.8
        cut = curve_of([[1, 0], [1, DEPTH_MM]], 0.6)
        assert begun_fold(trunk, [cut], ring, lambda curve: True, folded(*creases)) is None


def test_a_short_crease_stays_as_it_was_traced():
    short = [curve_of([[0, 0], [0, 15]], 0.1)]
    assert both_creases(short, folded(straight, hidden)) is short


def drawn_aside(y):
    return 1.2 * np.exp(-(((y - 80.0) / 12.0) ** 2))


def test_one_of_two_that_was_drawn_aside_is_sought_again():
    pair = [course_of(drawn_aside), course_of(hidden)]
    found = both_creases(pair, folded(straight, hidden))
    main, second = sorted(found, key=lambda crease: abs(crease.points[-1, 0]))
    assert strays_from(main, straight, 60.0) < 0.5
    assert strays_from(second, hidden, 60.0) < 0.5


def hooked(y):
    """Drawn aside by 1.2 mm where it meets the paper's edge."""
    return hidden(y) + 1.2 * np.clip((y - 128.0) / 12.0, 0.0, None)


def test_what_a_trace_does_at_the_papers_edge_moves_no_crease():
    pair = [course_of(straight), course_of(hooked)]
    found = both_creases(pair, folded(straight, hidden))
    second = max(found, key=lambda crease: abs(crease.points[-1, 0]))
    assert strays_from(second, hidden, 60.0) < 0.5


def up_to_the_edge(points):
    """Places on paper whose edge is at y = 0 as seen from the tip of a fold at y = DEPTH_MM."""
    return np.stack([points[..., 0], DEPTH_MM - points[..., 1]], axis=-1)


@pytest.mark.parametrize("places", [(straight, hidden), (straight,)])
def test_where_as_many_lines_run_on_as_break_a_second_crease_tells_a_fold(places):
    paper = folded(*places)
    outline = np.array([[-150, 0], [150, 0], [150, 200], [-150, 200]], float)
    crease = curve_of([[0, DEPTH_MM], [0, 0.5]], 0.1)
    broken = [curve_of([[-100, 40], [0, 40]]), curve_of([[7, 40], [100, 40]])]
    through = curve_of([[-100, 70], [100, 70]])
    rest = [curve_of([[-100, 170], [100, 170]]), curve_of([[-100, 185], [100, 185]])]

    def darkness_at(points):
        return paper(up_to_the_edge(points)) + 0.3 * (np.abs(points[..., 1] - 70.0) < 0.3)

    found, _ = find_tucks([crease, *broken, through, *rest], outline, darkness_at)
    assert [marks.kind for marks in found] == ["fold"] * (len(places) - 1)
    assert all(marks.second is not None for marks in found)
