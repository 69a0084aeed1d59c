import numpy as np
import pytest

from digitize.pattern import Station
from digitize.tucks.laps import lap_at, measure_laps
from digitize.tucks.slits import find_tucks
from digitize.tucks.zones import build_zones
from tests.pencil.test_pencil import curve_of

OUTLINE = np.array([[0, 0], [400, 0], [400, 300], [0, 300]], float)


def tucks_of(curves):
    """The tucks among curves on paper that shows nothing else."""
    return find_tucks(curves, OUTLINE, lambda points: np.zeros(points.shape[:-1]))


def slit_at(x, lap, with_lap_line=True, weight=0.6):
    """A slit from (x, 120) down to the edge, lapped to the right by ``lap`` at the edge."""
    marks = [curve_of([[x, 120], [x, 0.5]], weight)]
    if with_lap_line:
        marks.append(curve_of([[x, 119], [x + lap, 0.5]]))
    return marks


def line_broken_at(y, tucks):
    """A line across the paper at height y, broken at each tuck (x, lap at the edge)."""
    pieces, start = [], 20.0
    for x, lap in tucks:
        pieces.append(curve_of([[start, y], [x, y]]))
        start = x + lap * (120 - y) / 120
    pieces.append(curve_of([[start, y], [380, y]]))
    return pieces


def test_a_slit_and_its_lap_line():
    tucks = [(150, 12.0)]
    trim, other = line_broken_at(30, tucks), line_broken_at(60, tucks)
    found, rest = tucks_of([*slit_at(150, 12.0), *trim, *other])
    assert len(found) == 1 and len(rest) == 4
    profile = measure_laps(found[0], rest, trim)
    assert found[0].kind == "slit"
    assert profile.lap_at_trim == pytest.approx(9.0, abs=0.1)
    assert profile.deficit_deg == pytest.approx(np.degrees(2 * np.arcsin(9 / 180)), abs=0.1)
    assert {s.evidence for s in profile.stations} == {"lap-line", "line-break"}


def test_a_slit_without_a_lap_line_is_measured_from_the_broken_lines():
    tucks = [(150, 12.0)]
    trim, other = line_broken_at(30, tucks), line_broken_at(60, tucks)
    found, rest = tucks_of([*slit_at(150, 12.0, False), *trim, *other])
    profile = measure_laps(found[0], rest, trim)
    assert [s.evidence for s in profile.stations] == ["line-break"] * 2
    assert profile.lap_at_trim == pytest.approx(9.0, abs=0.1)


def test_a_fold_takes_up_twice_the_distance_between_its_creases():
    tucks = [(150, 12.0)]
    creases = [curve_of([[150, 120], [150, 0.5]], 0.1), curve_of([[150, 118], [156, 0.5]], 0.09)]
    trim, other = line_broken_at(30, tucks), line_broken_at(60, tucks)
    found, rest = tucks_of([*creases, *trim, *other])
    assert [marks.kind for marks in found] == ["fold"]
    assert measure_laps(found[0], rest, trim).lap_at_trim == pytest.approx(9.0, abs=0.1)


def test_a_line_running_off_the_paper_is_no_tuck():
    found, rest = tucks_of([curve_of([[150, 120], [150, 0.5]], 0.3)])
    assert not found and len(rest) == 1


def test_a_line_traced_across_a_tuck_is_cut_there():
    whole = curve_of([[20, 60], [380, 60]])
    _, rest = tucks_of([*slit_at(150, 12.0), whole, *line_broken_at(30, [(150, 12.0)])])
    ends = sorted(float(x) for c in rest for x, y in c.points[[0, -1]] if y > 50)
    assert ends == pytest.approx([20, 150, 156, 380], abs=1.0)


@pytest.mark.parametrize("power", [1.0, 2.0, 3.0])
def test_laps_follow_a_power_of_depth(power):
    stations = [
        Station(depth=d, lap=10 * (d / 100) ** power, sigma=0.1, evidence="lap-line")
        for d in range(30, 101, 10)
    ]
    for depth in (35.0, 64.0, 100.0):
        assert lap_at(stations, depth) == pytest.approx(10 * (depth / 100) ** power, rel=0.03)
    assert lap_at([], 50.0) == 0.0 and lap_at(stations, 0.0) == 0.0


def test_a_zone_adds_up_its_tucks():
    places = [(120, 8.0), (180, 12.0), (240, 8.0)]
    trim, other = line_broken_at(30, places), line_broken_at(60, places)
    marks = [m for x, lap in places for m in slit_at(x, lap)]
    tucks, rest = tucks_of([*marks, *trim, *other])
    laps = [measure_laps(tuck, rest, trim) for tuck in tucks]
    (zone,) = build_zones(tucks, laps)
    last = zone.stations[-1]
    assert zone.tucks == (0, 1, 2)
    assert last.take_up == pytest.approx(28 * 0.75, abs=0.2)
    assert last.flat_length == pytest.approx(180, abs=3)
    assert zone.peak_shrink == pytest.approx(21 / 180, abs=0.005)


def test_a_crease_seen_in_pieces_is_one_fold():
    tucks = [(150, 12.0)]
    pieces = [
        curve_of([[150, 120], [150, 80]], 0.1),
        curve_of([[150, 86], [150, 50]], 0.1),  # traced past the end of the first
        curve_of([[150, 40], [150, 30]], 0.1),  # fades before the paper's edge
        curve_of([[150.5, 110], [156, 0.5]], 0.09),
    ]
    trim, other = line_broken_at(30, tucks), line_broken_at(60, tucks)
    found, rest = tucks_of([*pieces, *trim, *other])
    assert [marks.kind for marks in found] == ["fold"]
    assert found[0].main.points[[0, -1]] == pytest.approx(np.array([[150, 120], [150, 0]]), abs=1.5)
    assert measure_laps(found[0], rest, trim).lap_at_trim == pytest.approx(9.0, abs=0.2)


def test_a_fold_is_measured_from_side_to_side_whichever_crease_is_seen():
    tucks = [(150, 12.0)]
    hidden = curve_of([[150, 120], [156, 0.5]], 0.1)
    trim, other = line_broken_at(30, tucks), line_broken_at(60, tucks)
    found, rest = tucks_of([hidden, *trim, *other])
    assert [marks.kind for marks in found] == ["fold"]
    assert measure_laps(found[0], rest, trim).lap_at_trim == pytest.approx(9.0, abs=0.3)


def test_a_lap_line_that_took_a_slits_first_stretch_gives_it_back():
    tucks = [(150, 12.0)]
    trunk, rest_of_slit = (
        curve_of([[150, 120], [150, 107]], 0.5),
        curve_of([[150, 106], [150, 0.5]], 0.6),
    )
    lap_line = curve_of([[150.8, 112], [162, 0.5]])
    trim, other = line_broken_at(30, tucks), line_broken_at(60, tucks)
    found, _ = tucks_of([trunk, rest_of_slit, lap_line, *trim, *other])
    assert [marks.kind for marks in found] == ["slit"]
    assert tuple(found[0].main.points[0]) == pytest.approx((150, 120))


def test_a_faint_line_that_another_crosses_on_the_way_to_the_edge_is_no_crease():
    faint = curve_of([[150, 200], [150, 120]], 0.1)
    found, rest = tucks_of([faint, *line_broken_at(30, []), curve_of([[20, 60], [380, 60]])])
    assert not found and len(rest) == 3


def test_a_gap_further_along_a_line_is_not_its_lap():
    tucks = [(150, 12.0)]
    trim, other = line_broken_at(30, tucks), line_broken_at(60, tucks)
    skipped = [other[0], curve_of([[156, 60], [160, 60]]), curve_of([[163, 60], [380, 60]])]
    found, rest = tucks_of([*slit_at(150, 12.0, False), *trim, *skipped])
    laps = [station.lap for station in measure_laps(found[0], rest, trim).stations]
    assert laps == pytest.approx([6.0, 9.0], abs=0.1)
