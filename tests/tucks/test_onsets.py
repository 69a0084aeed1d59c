import numpy as np
import pytest
from shapely import LineString, Point

from digitize.tucks.crease_ends import carried_to_edge, carried_to_tip
from digitize.tucks.ends import line_ends
from digitize.tucks.laps import measure_laps
from digitize.tucks.onsets import _paler_mm, is_open_at, where_begun
from digitize.tucks.slits import TuckMarks, find_tucks
from tests.marks import blank, curve_of

CUT = curve_of([[0, 0], [0, 120]], 0.5)
LINES = [curve_of([[-60, 80], [0, 80]]), curve_of([[0, 80], [60, 80]])]  # traced on over the lap


def bar(away, width, height):
    return height * np.clip((width / 2 - np.abs(away)) / 0.5 + 0.5, 0, 1)


def drawn(lap_mm, skips=()):
    """A cut up the y axis, and a line across it that begins again a lap further to the right.

    ``skips`` are stretches (from, to) along x where the pencil left nothing.
    """

    def darkness_at(points):
        x, y = points[..., 0], points[..., 1]
        tone = 0.8 + 0.2 * np.sin(2 * np.pi * x / 3.1)
        for first, last in ((0.0, lap_mm), *skips):
            tone = np.where((x > first) & (x < last), 0.0, tone)
        noise = np.random.default_rng(5).normal(0, 0.01, x.shape)
        return bar(x, 0.6, 0.6) + tone * bar(y - 80, 0.6, 0.2) + noise

    return darkness_at


@pytest.mark.parametrize("lap_mm", [1.8, 2.5, 3.5])
def test_a_line_traced_on_over_a_narrow_lap_begins_beyond_it(lap_mm):
    reading = measure_laps(TuckMarks("slit", CUT, None), 0.0, LINES, drawn(lap_mm))
    (station,) = reading.stations
    assert station.lap == pytest.approx(lap_mm, abs=0.35)
    assert station.sigma > 0.3


def test_where_something_paler_lies_before_a_line_half_of_it_is_in_doubt():
    clear = drawn(6.0)

    def darkness_at(points):
        x, y = points[..., 0], points[..., 1]
        return clear(points) + 0.45 * ((x > 3.0) & (x < 6.0)) * bar(y - 80, 0.6, 0.2)

    begun, doubted = (
        where_begun(line_ends(CUT, LINES), CUT, LINES, d) for d in (clear, darkness_at)
    )
    (sharp,) = (end for end in begun if end.side < 0)
    (pale,) = (end for end in doubted if end.side < 0)
    assert (sharp.across, pale.across) == pytest.approx((6.0, 3.0), abs=0.35)
    assert sharp.sigma == pytest.approx(0.35, abs=0.1)
    # It begins 3 mm further if that is none of it: 1.5 mm beside the usual 0.35.
    assert pale.sigma == pytest.approx(np.hypot(0.35, 1.5), abs=0.25)


def test_on_coarse_paper_a_line_may_have_begun_where_less_than_half_shows():
    clear = drawn(6.0)
    # Grain in which what is half as dark as the line tells nothing by itself.
    grain = np.random.default_rng(7).normal(0, 0.1, (1000, 1000))

    def coarse(points):
        return clear(points) + grain[tuple(np.int64(np.moveaxis(points, -1, 0) * 7) % 1000)]

    def set_down_softly(points):
        x, y = points[..., 0], points[..., 1]
        return coarse(points) + 0.3 * ((x > 3.0) & (x < 6.0)) * bar(y - 80, 0.6, 0.2)

    sharp, soft = (
        next(e for e in where_begun(line_ends(CUT, LINES), CUT, LINES, d) if e.side < 0)
        for d in (coarse, set_down_softly)
    )
    assert (sharp.across, soft.across) == pytest.approx((6.0, 6.0), abs=0.35)
    # Half of what is in doubt is a sigma.
    assert sharp.doubt == 0.0
    assert soft.across - 2 * soft.doubt < 3.2


def test_how_much_earlier_a_paler_line_may_have_begun():
    before = np.append(np.zeros(30), np.full(40, 0.1))  # the last 4 mm are pale
    # 0.4 mm of darkness is a quarter of 0.3 over 0.4 / 0.075 = 5.33 mm.
    assert _paler_mm(before, 0.3, 0.02) == pytest.approx(5.3)
    # By chance it is 3 * 0.15 * sqrt(0.5 * 4) = 0.64 mm over 4 mm, and more over more.
    assert _paler_mm(before, 0.3, 0.15) == 0.0
    assert _paler_mm(before[:0], 0.3, 0.02) == 0.0


@pytest.mark.parametrize("slant_deg", [30, -30])
def test_a_line_that_crosses_aslant_begins_further_along_its_own_way(slant_deg):
    slope = np.tan(np.radians(slant_deg))
    lines = [
        curve_of([[-60, 80 - 60 * slope], [0, 80]]),
        curve_of([[0, 80], [60, 80 + 60 * slope]]),
    ]

    def darkness_at(points):
        x, y = points[..., 0], points[..., 1]
        tone = np.where((x > 0) & (x < 3.0), 0.0, 0.8 + 0.2 * np.sin(2 * np.pi * x / 3.1))
        noise = np.random.default_rng(5).normal(0, 0.01, x.shape)
        away = (y - 80 - slope * x) * np.cos(np.radians(slant_deg))
        return bar(x, 0.6, 0.6) + tone * bar(away, 0.6, 0.2) + noise

    begun = where_begun(line_ends(CUT, lines), CUT, lines, darkness_at)
    (end,) = (end for end in begun if end.side < 0)
    assert end.across == pytest.approx(3.0, abs=0.35)
    assert end.depth == pytest.approx(80 + 3.0 * slope, abs=0.3)


@pytest.mark.parametrize("lap_mm", [1.8, 2.5])
def test_the_shade_beside_a_cut_is_not_taken_for_the_line(lap_mm):
    clear = drawn(lap_mm)

    def darkness_at(points):
        shade = 0.25 * np.clip(1.5 - np.abs(points[..., 0]), 0, 1)
        return clear(points) + shade

    (station,) = measure_laps(TuckMarks("slit", CUT, None), 0.0, LINES, darkness_at).stations
    assert station.lap == pytest.approx(lap_mm, abs=0.35)


@pytest.mark.parametrize(("left_mm", "right_mm"), [(1.5, 0.8), (0.2, 2.0), (1.1, 1.1)])
def test_a_lone_crease_lies_anywhere_in_its_bare_paper(left_mm, right_mm):
    crease = curve_of([[0, 0], [0, 120]], 0.1)

    def darkness_at(points):
        x, y = points[..., 0], points[..., 1]
        bare = (x > -left_mm) & (x < right_mm)
        noise = np.random.default_rng(5).normal(0, 0.01, x.shape)
        return bar(x, 0.6, 0.08) + np.where(bare, 0.0, bar(y - 80, 0.6, 0.25)) + noise

    (station,) = measure_laps(TuckMarks("fold", crease, None), 0.0, LINES, darkness_at).stations
    assert station.lap == pytest.approx(left_mm + right_mm, abs=0.35)


def test_a_line_that_runs_on_over_the_cut_stays_as_it_is():
    ends = line_ends(CUT, LINES)
    assert where_begun(ends, CUT, LINES, drawn(0.0)) == ends
    assert where_begun(ends, CUT, LINES, blank) == ends


def test_a_gap_no_longer_than_the_pencil_skips_elsewhere_is_in_doubt():
    ends = line_ends(CUT, LINES)
    skipping = drawn(2.5, skips=((9.0, 12.0), (20.0, 23.5)))
    begun = where_begun(ends, CUT, LINES, skipping)
    assert [end.across for end in begun] == [end.across for end in ends]
    (gap,) = (end for end in begun if end.side < 0)
    # From where the cut may hide it, 0.75 mm, to 2.5 mm: half of that.
    assert gap.doubt == pytest.approx(0.9, abs=0.15)
    marks = TuckMarks("slit", CUT, None)
    assert not measure_laps(marks, 0.0, LINES, skipping).stations


def test_a_gap_does_not_count_as_the_lines_own_skip():
    long = drawn(7.0, skips=((20.0, 22.0),))

    def darkness_at(points):  # smudged where it leaves the cut
        x, y = points[..., 0], points[..., 1]
        return long(points) + 0.6 * ((x > 0.0) & (x < 2.25)) * bar(y - 80, 0.6, 0.2)

    begun = where_begun(line_ends(CUT, LINES), CUT, LINES, darkness_at)
    (end,) = (end for end in begun if end.side < 0)
    assert end.across == pytest.approx(7.0, abs=0.35)


def test_a_flap_that_stands_off_and_shades_the_paper_hides_no_lap():
    clear = drawn(6.0)

    def darkness_at(points):
        return clear(points) + 0.2 * np.clip(1 - np.abs(points[..., 0]) / 5.0, 0, 1)

    begun = where_begun(line_ends(CUT, LINES), CUT, LINES, darkness_at)
    (end,) = (end for end in begun if end.side < 0)
    assert end.across == pytest.approx(6.0, abs=0.4)


def test_a_line_that_sets_in_softly_may_have_begun_before_it_shows():
    lines = [LINES[0], curve_of([[8.0, 80], [60, 80]])]

    def softly(over_mm, grain):
        def darkness_at(points):
            x, y = points[..., 0], points[..., 1]
            tone = np.clip((x - 8.0) / over_mm, 0, 1) * (x > 8.0)
            noise = np.random.default_rng(5).normal(0, grain, x.shape)
            return bar(x, 0.6, 0.6) + np.where(x < 0, 1.0, tone) * bar(y - 80, 0.6, 0.3) + noise

        return darkness_at

    def doubt(over_mm, grain):
        begun = where_begun(line_ends(CUT, lines), CUT, lines, softly(over_mm, grain))
        (end,) = (end for end in begun if end.side < 0)
        assert end.sigma == 0.22
        return end.doubt

    assert doubt(0.05, 0.1) < 0.05
    # The mean of five places across, seen together with a sigma of 8 places along, leaves
    # sqrt(1 / 5 / (2 sqrt(pi) 8)) = 0.084 of the grain, and three times that may be pencil: of a
    # tenth 0.0252, which is 0.117 of what the line comes to over its width, 0.72 of 0.3. It comes
    # to four fifths over 4.8 mm, less the 0.67 seen together; 0.117 / (0.8 - 0.117) of such a way
    # lies before it, and half of that is a sigma.
    assert doubt(6.0, 0.1) == pytest.approx((4.8 - 0.67) * 0.117 / 0.683 / 2, rel=0.1)
    assert doubt(6.0, 0.01) < doubt(6.0, 0.1) / 5


def test_a_lap_line_drawn_aside_to_the_cut_says_nothing_there():
    depth = np.arange(20.0, 116.0)
    lap = 0.07 * depth
    lap[(depth > 45) & (depth < 55)] = 1.0
    second = curve_of(np.column_stack([lap, depth]), 0.2)
    stations = measure_laps(TuckMarks("slit", CUT, second), 0.0, [], blank).stations
    assert {s.depth for s in stations} >= {80.0, 90.0, 100.0, 110.0}
    for station in stations:
        assert station.lap == pytest.approx(0.07 * station.depth - 0.3, abs=0.1)


def test_a_lap_that_falls_off_towards_the_edge_is_believed():
    depth = np.arange(20.0, 116.0)
    second = curve_of(np.column_stack([4.0 * np.sin(depth / 40.0), depth]), 0.2)
    stations = measure_laps(TuckMarks("slit", CUT, second), 0.0, [], blank).stations
    assert {s.depth for s in stations} >= {80.0, 90.0, 100.0, 110.0}


@pytest.mark.parametrize("traced_from_mm", [8.0, 0.5, -3.0])
@pytest.mark.parametrize("sets_in_mm", [1.5, 2.5, 3.5])
def test_a_crease_begins_where_its_darkness_sets_in(traced_from_mm, sets_in_mm):
    def darkness_at(points):
        x, y = points[..., 0], points[..., 1]
        noise = np.random.default_rng(6).normal(0, 0.02, x.shape)
        return bar(x, 0.6, 0.1) * np.clip(y / sets_in_mm, 0.0, 1.0) + noise

    traced = curve_of([[0, traced_from_mm], [0, 100]], 0.1)
    found = carried_to_tip(traced, darkness_at)
    assert found.points[0] == pytest.approx([0, sets_in_mm / 4], abs=0.5)
    assert np.diff(found.points[:, 1]).min() > 0


def test_the_tip_of_a_crease_that_hardly_shows_stays_where_it_was_traced():
    def darkness_at(points):
        return np.random.default_rng(6).normal(0, 0.02, points.shape[:-1])

    traced = curve_of([[0, 8], [0, 100]], 0.1)
    assert carried_to_tip(traced, darkness_at) is traced


def test_a_gap_traced_over_near_the_tip_is_no_lap_out_of_proportion_to_a_deeper_one():
    lines = [*LINES, curve_of([[-60, 20], [0, 20]]), curve_of([[0, 20], [60, 20]])]

    def darkness_at(points):
        shallow = points + np.array([0.0, 60.0])
        return np.maximum(drawn(1.8)(points), drawn(3.0)(shallow))

    stations = measure_laps(TuckMarks("slit", CUT, None), 0.0, lines, darkness_at).stations
    assert [round(s.depth) for s in stations] == [80]


def test_a_fading_crease_runs_out_over_a_line_that_was_traced_across_its_fold():
    outline = np.array([[-150, 0], [150, 0], [150, 200], [-150, 200]], float)
    crease = curve_of([[0, 130], [0, 70]], 0.1)
    edge_line = curve_of([[-100, 40], [100, 40]])
    rest = [curve_of([[-100, 170], [100, 170]]), curve_of([[-100, 185], [100, 185]])]

    def darkness_at(points):
        x, y = points[..., 0], points[..., 1]
        noise = np.random.default_rng(7).normal(0, 0.01, x.shape)
        return np.where(np.abs(x) > 2.0, bar(y - 40, 0.6, 0.3), 0.0) + noise

    (fold,), _ = find_tucks([crease, edge_line, *rest], outline, darkness_at)
    assert fold.kind == "fold"
    assert fold.main.points[-1] == pytest.approx([0, 0], abs=1.5)
    reading = measure_laps(fold, 0.0, pieces_of(edge_line), darkness_at)
    assert [s.lap for s in reading.stations] == [pytest.approx(4.0, abs=0.6)]
    # On paper where the line runs on, the faint mark is no fold.
    through = find_tucks(
        [crease, edge_line, *rest], outline, lambda p: bar(p[..., 1] - 40, 0.6, 0.3)
    )
    assert not through[0]


def pieces_of(line):
    """A line cut in two at the y axis."""
    middle = len(line.points) // 2
    return [
        curve_of(line.points[: middle + 1]),
        curve_of(line.points[middle:]),
    ]


def test_a_crease_lost_in_tracing_is_carried_to_the_edge_along_its_bend():
    ring = LineString([[-100, 0], [100, 0], [100, 150], [-100, 150], [-100, 0]])

    def course(y):
        return 3.0 * (np.clip(70.0 - y, 0, None) / 70.0) ** 2

    def darkness_at(points):
        x, y = points[..., 0], points[..., 1]
        noise = np.random.default_rng(8).normal(0, 0.02, x.shape)
        return bar(x - course(y), 0.6, 0.1) + noise

    traced = curve_of([[0, 130], [0, 70]], 0.1)
    found = carried_to_edge(traced, ring, darkness_at).points
    assert found[-1, 1] == pytest.approx(0.0, abs=1.5)
    assert np.abs(found[:, 0] - course(found[:, 1])).max() < 0.3
    straight = carried_to_edge(traced, ring, blank).points
    assert np.abs(straight[:, 0]).max() < 1e-9
    assert len(straight) == len(traced.points) + 1  # nothing that could be measured on the way


@pytest.mark.parametrize(("gap_mm", "is_open"), [(3.0, True), (0.0, False)])
def test_a_short_line_tells_whether_it_is_open_with_nothing_to_compare(gap_mm, is_open):
    """Of 19 mm there is no place far enough from its middle to know how its pencil skips."""
    short = curve_of([[-9.5, 80], [9.5, 80]])
    seen = drawn(0.0, [(-gap_mm / 2, gap_mm / 2)])

    def uncut(points):
        return seen(points) - bar(points[..., 0], 0.6, 0.6)

    assert is_open_at(short, Point(0, 80), uncut) == is_open


def test_a_line_is_led_back_as_far_as_pencil_too_faint_to_trace_shows():
    lines = [curve_of([[-60, 80], [0, 80]]), curve_of([[9, 80], [60, 80]])]  # traced from 9 mm on
    clear = drawn(9.0)

    def darkness_at(points):
        x, y = points[..., 0], points[..., 1]
        return clear(points) + 0.15 * ((x > 5.0) & (x < 9.0)) * bar(y - 80, 0.6, 0.4)

    begun = where_begun(line_ends(CUT, lines), CUT, lines, darkness_at)
    (end,) = (end for end in begun if end.side < 0)
    assert end.across == pytest.approx(5.0, abs=1.3)
    assert end.depth == pytest.approx(80.0, abs=0.1)
    # Half of the way back, beside what is usual where a line ends.
    assert end.sigma == pytest.approx(np.hypot(0.22, (9.0 - end.across) / 2), abs=0.01)


def test_a_line_with_bare_paper_before_it_stays_as_it_was_traced():
    lines = [curve_of([[-60, 80], [0, 80]]), curve_of([[9, 80], [60, 80]])]
    begun = where_begun(line_ends(CUT, lines), CUT, lines, drawn(9.0))
    (end,) = (end for end in begun if end.side < 0)
    assert end.across == pytest.approx(9.0, abs=0.01)
