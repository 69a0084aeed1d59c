import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from digitize.record import LapShape, Line, Pattern, Station, Tuck
from digitize.take_up.smooth_laps import LapCurve, lap_curve, with_laps


def stations_of(lap, depths, sigma=0.05, evidence="lap-line"):
    return [Station(depth=d, lap=float(lap(d)), sigma=sigma, evidence=evidence) for d in depths]


@pytest.mark.parametrize("power", [1.0, 2.0, 3.0])
def test_a_smooth_lap_follows_a_power_of_depth(power):
    def lap(depth):
        return 10 * (depth / 100) ** power

    tip = "sharp" if power == 1 else "soft"
    curve = lap_curve(stations_of(lap, range(30, 121, 10)), LapShape(tip=tip))
    depths = np.array([35.0, 64.0, 100.0])
    laps, sigmas = curve.at(depths)
    assert laps == pytest.approx(lap(depths), abs=0.05)
    assert (sigmas < 0.1).all()
    slopes, _ = curve.slope_at(np.array([100.0]))
    assert slopes == pytest.approx(10 * power / 100, rel=0.02)


def test_a_lap_beyond_a_bend_goes_on_straight():
    def lap(depth):
        return 0.001 * min(depth, 60.0) ** 2 + 0.12 * max(depth - 60.0, 0.0)

    sparse = stations_of(lap, (58, 85), 0.2, "line-break")
    slope, sigma = lap_curve(sparse, LapShape(bend=(0.0, 60.0))).slope_at(np.array([85.0]))
    assert slope == pytest.approx(0.12, abs=0.01)
    loose, loose_sigma = lap_curve(sparse, LapShape()).slope_at(np.array([85.0]))
    assert sigma < loose_sigma and abs(loose - 0.12) > abs(slope - 0.12)


def test_one_station_that_is_far_off_hardly_moves_the_lap():
    good = stations_of(lambda d: 0.1 * d, range(30, 121, 10))
    bad = Station(depth=75.0, lap=9.0, sigma=0.2, evidence="line-break")
    before, sigma = lap_curve(good, LapShape(tip="sharp")).at(np.array([75.0]))
    after, after_sigma = lap_curve([*good, bad], LapShape(tip="sharp")).at(np.array([75.0]))
    assert after == pytest.approx(before, abs=0.05)
    # Nor does it make the others any surer than they are.
    assert after_sigma > 0.9 * sigma


def test_without_stations_there_is_no_lap():
    laps, _ = lap_curve([], LapShape()).at(np.array([10.0, 50.0]))
    assert laps == pytest.approx([0.0, 0.0])


def test_the_stated_band_holds_the_lap_as_often_as_it_says():
    rng = np.random.default_rng(3)
    held = []
    for _ in range(300):
        bend = rng.uniform(5e-4, 2e-3)
        depths = np.arange(30.0, 121, 10)
        off = np.linalg.cholesky(np.exp(-np.abs(depths[:, None] - depths) / 20.0))
        seen = bend * depths**2 / 2 + 0.07 * off @ rng.standard_normal(len(depths))
        stations = [
            Station(depth=d, lap=w, sigma=0.07, evidence="lap-line")
            for d, w in zip(depths, seen, strict=True)
        ]
        at = np.array([55.0, 85.0, 115.0])
        laps, sigmas = lap_curve(stations, LapShape()).at(at)
        held += list(np.abs(laps - bend * at**2 / 2) < 1.96 * sigmas)
    assert np.mean(held) == pytest.approx(0.95, abs=0.03)


def softly(depth, factor):
    """The last two thirds of each lap grow as metal does that curves only there."""
    return factor * 4e-4 * max(depth - 30.0, 0.0) ** 2


def tuck_beside(number, stations, kind="slit"):
    """A slit and its tuck, 120 mm deep, 40 mm on from the one before."""
    slit = Line(
        id=f"L{number}",
        role="slit",
        role_confidence=1.0,
        points=((40.0 * number, 0.0), (40.0 * number, 120.0)),
        width=0.5,
        sigma=0.05,
    )
    return slit, Tuck(
        id=f"T{number}",
        kind=kind,
        tip=slit.points[0],
        slit=slit.id,
        lap_line=None,
        stations=tuple(stations),
    )


def pattern_of(pairs):
    sheet = ((0.0, 0.0), (400.0, 0.0), (400.0, 150.0), (0.0, 150.0))
    lines, tucks = zip(*pairs, strict=True)
    return Pattern(name="p", outline=sheet, lines=lines, tucks=tucks)


def test_a_tuck_that_few_lines_break_at_takes_the_course_of_the_others():
    def tuck(number, factor, depths, evidence):
        return tuck_beside(number, stations_of(lambda d: softly(d, factor), depths, 0.1, evidence))

    many = range(30, 121, 10)
    pairs = [tuck(1, 1.0, many, "lap-line"), tuck(2, 1.2, many, "lap-line")]
    pairs.append(tuck(3, 1.1, (70, 120), "line-break"))
    likened = with_laps(pattern_of(pairs)).tuck("T3")
    alone = with_laps(pattern_of(pairs[2:])).tuck("T3")
    true = np.degrees(2 * 1.1 * 4e-4 * 90)
    assert likened.shape.course and not alone.shape.course
    assert likened.turn_deg == pytest.approx(true, abs=0.3)
    assert abs(alone.turn_deg - true) > 2 * abs(likened.turn_deg - true)
    assert likened.turn_sigma_deg < alone.turn_sigma_deg


def test_gaps_told_with_a_rule_say_more_together_than_each_alone():
    rng = np.random.default_rng(3)
    together, alone = [], []
    for _ in range(5):
        bends = rng.uniform(6e-4, 1.2e-3, 6)  # of metal that curves alike all along each tuck
        pairs = []
        for number, bend in enumerate(bends, start=1):
            stations = [
                Station(
                    depth=depth,
                    lap=-bend * depth**2 + rng.normal(0, 0.3),
                    sigma=0.3,
                    evidence="entered",
                )
                for depth in (45.0, 60.0, 75.0, 90.0, 105.0, 120.0)
            ]
            pairs.append(tuck_beside(number, stations, "spread"))
        true = -np.degrees(2 * bends * 120)
        turns = np.array([tuck.turn_deg for tuck in with_laps(pattern_of(pairs)).tucks])
        together += list(turns - true)
        turns = np.array([with_laps(pattern_of([pair])).tucks[0].turn_deg for pair in pairs])
        alone += list(turns - true)
    assert np.mean(np.square(together)) < 0.7 * np.mean(np.square(alone))


def test_a_lap_sums_its_slope_up_and_that_its_changes():
    """Two nodes of 10 mm: a slope of 0.1 at the tip, then 0.01 and 0.02 more for every mm."""
    covariance = np.array([[4e-4, -1e-5, 0.0], [-1e-5, 1e-6, 0.0], [0.0, 0.0, 4e-6]])
    curve = LapCurve(np.array([5.0, 15.0]), 10.0, np.array([0.1, 0.01, 0.02]), covariance, 1.0, 0.0)
    depths = np.array([4.0, 20.0, 25.0])
    laps, sigmas = curve.at(depths)
    slopes, slope_sigmas = curve.slope_at(depths)
    # 0.1 * 4 + 0.01 * 4^2 / 2; then 2 + 0.01 * (10^2 / 2 + 10 * 10) + 0.02 * 10^2 / 2; and as the
    # slope no longer changes, 5 mm on with 0.4.
    assert laps == pytest.approx([0.48, 4.5, 6.5])
    assert slopes == pytest.approx([0.14, 0.4, 0.4])
    # Variances of 4 a + 8 b: 16 * 4e-4 + 2 * 32 * -1e-5 + 64 * 1e-6 = 0.005824; of 20 a + 150 b +
    # 50 c: 0.16 - 0.06 + 0.0225 + 0.01; and of the slopes a + 4 b, a + 10 b + 10 c.
    assert sigmas[:2] ** 2 == pytest.approx([0.005824, 0.1325])
    assert slope_sigmas[:2] ** 2 == pytest.approx([3.36e-4, 7e-4])


def sigma_of_nine(evidence, sigma=0.3):
    """What nine stations close together leave open of the lap there."""
    depths = np.linspace(99.6, 100.4, 9)
    stations = stations_of(lambda d: 10.0, depths, sigma, evidence)
    return float(lap_curve(stations, LapShape(tip="sharp")).at(np.array([100.0]))[1][0])


def test_nine_lines_say_three_times_as_much_as_one():
    # The standard error of a mean: sigma over the root of the count.
    assert sigma_of_nine("line-break") == pytest.approx(0.1, rel=0.02)


@pytest.mark.parametrize("evidence", ["lap-line", "crease"])
def test_along_one_mark_many_places_say_hardly_more_than_one(evidence):
    assert sigma_of_nine(evidence) == pytest.approx(0.3, rel=0.03)


def test_a_soft_tip_begins_level():
    # Sigma of its slope is 0.01 before anything is measured, and no lap makes it less sure.
    curve = lap_curve(stations_of(lambda d: 5.0, [100.0], 0.1), LapShape(tip="soft"))
    slope, sigma = curve.slope_at(np.array([0.0]))
    assert sigma[0] <= 0.0101 and abs(slope[0]) < 0.02


def test_a_lap_short_of_a_bend_hardly_begins():
    def lap(depth):
        return 0.002 * max(depth - 60.0, 0.0) ** 2

    single, at = stations_of(lap, [110], 0.2, "line-break"), np.array([60.0, 110.0])
    told, loose = (lap_curve(single, LapShape(bend=bend)) for bend in ((60.0, None), (0.0, None)))
    assert told.at(at)[0][0] < 0.5 < 1.0 < loose.at(at)[0][0]
    # Its slope there is 0.004 * 50.
    assert told.slope_at(at)[0][1] == pytest.approx(0.2, abs=0.03)
    assert loose.slope_at(at)[0][1] < 0.15


def test_where_little_is_read_the_lap_is_less_sure():
    stations = stations_of(lambda d: 0.001 * d**2, (40, 50, 60), 0.1, "line-break")
    far = Station(depth=120.0, lap=14.4, sigma=1.0, evidence="line-break")
    _, (near, between, end) = lap_curve([*stations, far], LapShape()).at(np.array([50, 90, 120.0]))
    assert near < 0.1 < between < end < 1.0


LAPS = st.lists(st.floats(0.5, 30.0), min_size=2, max_size=8)


def at_steps(laps, factor=1.0, sigma=0.02):
    """Stations 12 mm apart from 24 mm on, with laps multiplied by a factor."""
    return [
        Station(depth=24.0 + 12 * k, lap=factor * lap, sigma=sigma, evidence="line-break")
        for k, lap in enumerate(laps)
    ]


@settings(max_examples=15, deadline=None, derandomize=True)
@given(laps=LAPS, tip=st.sampled_from(["soft", "sharp"]))
def test_paper_that_opens_is_the_reverse_of_paper_that_laps(laps, tip):
    depths = np.linspace(0, 130, 27)
    lapped, opened = (lap_curve(at_steps(laps, s), LapShape(tip=tip)) for s in (1.0, -1.0))
    assert opened.at(depths)[0] == pytest.approx(-lapped.at(depths)[0], abs=1e-9)
    assert opened.at(depths)[1] == pytest.approx(lapped.at(depths)[1], rel=1e-6)
    assert opened.slope_at(depths)[0] == pytest.approx(-lapped.slope_at(depths)[0], abs=1e-9)


@settings(max_examples=15, deadline=None, derandomize=True)
@given(slope=st.floats(0.02, 0.2), bend=st.floats(0.0, 1e-3), factor=st.floats(0.3, 3.0))
def test_laps_scale_with_the_stations(slope, bend, factor):
    """A lap twice as wide all along is read twice as wide everywhere between, and its slope too."""
    depths = np.arange(24.0, 110.0, 12.0)
    laps = slope * depths + bend * depths**2
    between = np.array([30.0, 66.0, 102.0])
    once, scaled = (lap_curve(at_steps(laps, f), LapShape(tip="sharp")) for f in (1.0, factor))
    assert scaled.at(between)[0] == pytest.approx(factor * once.at(between)[0], abs=0.03)
    assert once.at(between)[0] == pytest.approx(slope * between + bend * between**2, abs=0.03)
    wider = scaled.slope_at(between)[0]
    assert wider == pytest.approx(factor * once.slope_at(between)[0], abs=0.005)


def test_what_lines_scatter_is_not_taken_for_bends_of_the_metal():
    """Of a straight lap, the simplest course that the stations allow is the likeliest."""
    rng = np.random.default_rng(1)
    depths, off = np.arange(20.0, 121, 10), []
    for _ in range(20):
        laps = 0.1 * depths + rng.normal(0, 0.3, len(depths))
        stations = [
            Station(depth=d, lap=lap, sigma=0.3, evidence="line-break")
            for d, lap in zip(depths, laps, strict=True)
        ]
        slopes, sigmas = lap_curve(stations, LapShape(tip="sharp")).slope_at(depths[[4, -1]])
        off.append((slopes - 0.1) / sigmas)
        # Two stations at the end alone, 10 mm apart, would leave 0.3 * sqrt(2) / 10 = 0.042 open.
        assert sigmas[1] < 0.02 and sigmas[0] < 0.005
    assert np.sqrt(np.mean(np.square(off))) < 1.2


def test_the_surer_another_tuck_is_of_its_turn_the_more_its_course_counts():
    """The sure one bends beyond 30 mm, the loosely read one short of that, and by far more."""

    def early(depth):
        return 3e-3 * min(depth, 30.0) ** 2 + 0.18 * max(depth - 30.0, 0.0)

    sure = stations_of(lambda d: softly(d, 1.0), range(10, 121, 10), 0.05, "line-break")
    loose = stations_of(early, range(10, 121, 10), 1.0, "line-break")
    few = stations_of(lambda d: softly(d, 1.2), (80, 120), 0.1, "line-break")
    pairs = [tuck_beside(k, found) for k, found in enumerate((sure, loose, few), start=1)]
    course = np.array(with_laps(pattern_of(pairs)).tuck("T3").shape.course)
    bends = [course[mask, 1].mean() for mask in (course[:, 0] < 25, course[:, 0] > 60)]
    assert bends[0] < 0.5 * bends[1]
    # Slope changes by 2 * 1.2 * 4e-4 for every mm.
    assert bends[1] == pytest.approx(9.6e-4, rel=0.3)


def test_two_stations_of_one_mark_at_one_depth_say_what_one_of_them_says():
    once = stations_of(lambda d: 0.1 * d, range(30, 121, 10))
    twice = sorted([*once, once[4]], key=lambda station: station.depth)
    at = np.array([70.0, 120.0])
    for one, two in zip(
        lap_curve(once, LapShape(tip="sharp")).at(at),
        lap_curve(twice, LapShape(tip="sharp")).at(at),
        strict=True,
    ):
        assert two == pytest.approx(one, abs=1e-9)


def test_what_all_stations_are_off_by_together_no_number_of_them_takes_away():
    def sigma(common):
        stations = [
            Station(depth=d, lap=0.1 * d, sigma=0.2, evidence="lap-line", common=common)
            for d in np.arange(80.0, 160.0, 2.0)
        ]
        return float(lap_curve(stations, LapShape()).at(np.array([120.0]))[1][0])

    # Far from the tip, where the lap is nothing, it is as unsure as that, and a little more.
    assert 0.19 < sigma(0.19) < 0.2
    assert sigma(0.0) < 0.17
