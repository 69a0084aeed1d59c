from dataclasses import replace

import numpy as np
import pytest

from digitize.tucks.creases import from_common_tip
from digitize.tucks.laps import measure_laps
from digitize.tucks.slits import find_tucks
from tests.marks import blank, curve_of, record_of
from tests.tucks.paper import drawn

OUTLINE = np.array([[0, 0], [400, 0], [400, 300], [0, 300]], float)


def tucks_of(curves):
    """The tucks among curves on paper that shows nothing else."""
    return find_tucks(curves, OUTLINE, blank)


def tuck_of(curves):
    """The only tuck in the record of a paper with these marks."""
    (tuck,) = record_of(curves, OUTLINE).tucks
    return tuck


def slit_at(x, lap, with_lap_line=True, weight=0.6):
    """A slit from (x, 120) down to the edge, lapped to the right by ``lap`` at the edge."""
    marks = [curve_of([[x, 120], [x, 0.5]], weight, 0.4)]
    if with_lap_line:
        # The pencil led along the flap's edge stood off it by half of its width.
        marks.append(curve_of([[x + 0.3, 119], [x + lap + 0.3, 0.5]]))
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
    marks = [*slit_at(150, 12.0), *trim, *other]
    found, rest = tucks_of(marks)
    assert len(found) == 1 and len(rest) == 4
    tuck = tuck_of(marks)
    turn = np.arctan2(12, 120)  # a lone tuck closes about its tip
    assert tuck.kind == "slit"
    assert tuck.deficit_deg == pytest.approx(np.degrees(turn), abs=0.1)
    assert tuck.lap_at_trim == pytest.approx(2 * 90 * np.sin(turn / 2), abs=0.05)
    assert {s.evidence for s in tuck.stations} == {"lap-line", "line-break"}


def test_a_lap_line_that_goes_no_further_than_the_trim_edge():
    tucks = [(150.3, 12.0)]  # traced up to the lap line's middle
    trim, other = line_broken_at(30, tucks), line_broken_at(60, tucks)
    lap_line = curve_of([[151.3, 110], [159.3, 30]])
    tuck = tuck_of([*slit_at(150, 12.0, False), lap_line, *trim, *other])
    assert tuck.lap_line is not None
    assert tuck.lap_at_trim == pytest.approx(9.0, abs=0.1)


@pytest.mark.parametrize(("height", "read"), [(110, False), (30, True)])
def test_a_line_that_runs_on_near_the_tip_says_nothing_of_the_lap_at_the_edge(height, read):
    cut = curve_of([[150, 120], [150, 0.5]], 0.6)
    (marks,), lines = tucks_of([cut, *line_broken_at(height, [(150, 0.0)])])
    reading = measure_laps(marks, 0.0, lines, blank)
    assert bool(reading.stations) == read


@pytest.mark.parametrize(("height", "found"), [(105, 1), (60, 0)])
def test_a_line_that_runs_on_near_the_tip_says_nothing_against_a_cut(height, found):
    # No darker than the lines: what breaks there makes it a tuck.
    cut = curve_of([[150, 120], [150, 0.5]], 0.3, 0.6)
    lines = [*line_broken_at(30, [(150, 12.0)]), curve_of([[20, height], [380, height]])]
    assert len(tucks_of([cut, *lines])[0]) == found


def test_a_slit_without_a_lap_line_is_measured_from_the_broken_lines():
    tucks = [(150, 12.0)]
    trim, other = line_broken_at(30, tucks), line_broken_at(60, tucks)
    tuck = tuck_of([*slit_at(150, 12.0, False), *trim, *other])
    assert [s.evidence for s in tuck.stations] == ["line-break"] * 2
    assert tuck.lap_at_trim == pytest.approx(9.0, abs=0.1)


def test_a_fold_takes_up_twice_the_distance_between_its_creases():
    tucks = [(150, 12.0)]
    creases = [curve_of([[150, 120], [150, 0.5]], 0.1), curve_of([[150, 118], [156, 0.5]], 0.09)]
    trim, other = line_broken_at(30, tucks), line_broken_at(60, tucks)
    tuck = tuck_of([*creases, *trim, *other])
    assert tuck.kind == "fold"
    assert tuck.lap_at_trim == pytest.approx(9.0, abs=0.1)
    creased = {s.depth: s.lap for s in tuck.stations if s.evidence == "crease"}
    assert creased[60.0] == pytest.approx(6.0, abs=0.1)


def test_a_line_running_off_the_paper_is_no_tuck():
    found, rest = tucks_of([curve_of([[150, 120], [150, 0.5]], 0.3)])
    assert not found and len(rest) == 1


def test_a_line_traced_across_a_tuck_is_cut_there():
    whole = curve_of([[20, 60], [380, 60]])
    _, rest = tucks_of([*slit_at(150, 12.0), whole, *line_broken_at(30, [(150, 12.0)])])
    ends = sorted(float(x) for c in rest for x, y in c.points[[0, -1]] if y > 50)
    assert ends == pytest.approx([20, 150, 156, 380], abs=1.0)


def test_a_crease_seen_in_pieces_is_one_fold():
    tucks = [(150, 12.0)]
    pieces = [
        curve_of([[150, 120], [150, 80]], 0.1),
        curve_of([[150, 86], [150, 50]], 0.1),  # traced past the end of the first
        curve_of([[150, 40], [150, 30]], 0.1),  # fades before the paper's edge
        curve_of([[150.5, 110], [156, 0.5]], 0.09),
    ]
    trim, other = line_broken_at(30, tucks), line_broken_at(60, tucks)
    found, _ = tucks_of([*pieces, *trim, *other])
    assert [marks.kind for marks in found] == ["fold"]
    assert found[0].main.points[[0, -1]] == pytest.approx(np.array([[150, 120], [150, 0]]), abs=1.5)
    assert tuck_of([*pieces, *trim, *other]).lap_at_trim == pytest.approx(9.0, abs=0.2)


def test_a_fold_is_measured_from_side_to_side_whichever_crease_is_seen():
    tucks = [(150, 12.0)]
    hidden = curve_of([[150, 120], [156, 0.5]], 0.1)
    trim, other = line_broken_at(30, tucks), line_broken_at(60, tucks)
    tuck = tuck_of([hidden, *trim, *other])
    assert tuck.kind == "fold" and tuck.lap_at_trim == pytest.approx(9.0, abs=0.3)


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


@pytest.mark.parametrize("sagitta", [1.4, 1.8, 2.2, 2.6])
def test_a_faint_line_too_bent_for_a_crease_keeps_its_ends(sagitta):
    along = np.linspace(0, 1, 80)
    bent = np.column_stack([100 + 80 * along, 150 + 4 * sagitta * along * (1 - along)])
    others = [curve_of([[20, y], [380, y]], 0.5) for y in (60, 90)]
    (line,) = (c for c in tucks_of([curve_of(bent, 0.1), *others])[1] if c.length < 100)
    assert sorted(line.points[[0, -1], 0]) == pytest.approx([100, 180], abs=0.5)


def test_a_gap_further_along_a_line_is_not_its_lap():
    tucks = [(150, 12.0)]
    trim, other = line_broken_at(30, tucks), line_broken_at(60, tucks)
    skipped = [other[0], curve_of([[156, 60], [160, 60]]), curve_of([[163, 60], [380, 60]])]
    tuck = tuck_of([*slit_at(150, 12.0, False), *trim, *skipped])
    laps = [station.lap for station in tuck.stations]
    assert laps == pytest.approx([6.0, 9.0], abs=0.1)


def test_a_line_drawn_on_over_the_papers_edge_is_no_slit():
    datum = curve_of([[200, 250], [200, 0.5]], 0.3)
    across = [curve_of([[20, y], [380, y]], 0.3) for y in (30, 60, 90)]
    found, rest = tucks_of([datum, *across])
    assert not found and len(rest) == 4


def test_a_slit_that_opened_shows_no_break_but_is_darker_than_the_lines():
    cut = curve_of([[200, 250], [200, 0.5]], 0.7, width=0.4)
    across = [curve_of([[20, y], [380, y]], 0.3) for y in (30, 60, 90)]
    found, rest = tucks_of([cut, *across])
    assert [marks.kind for marks in found] == ["slit"] and len(rest) == 6


def test_a_closed_line_is_cut_where_it_begins_too():
    turn = np.linspace(0, 2 * np.pi, 500, endpoint=False)
    ring = replace(
        curve_of(np.column_stack([200 + 90 * np.cos(turn), 150 + 90 * np.sin(turn)])), closed=True
    )
    cut = curve_of([[240, 150.1], [399.5, 150.1]], 0.7, width=0.4)  # over the ring's own seam
    found, rest = tucks_of([cut, ring, curve_of([[30, 280], [370, 280]])])
    assert len(found) == 1 and not any(curve.closed for curve in rest)


@pytest.mark.parametrize("beyond", [[[150, 29]], [[155, 30.5], [150.5, 29]]])
def test_a_slit_broken_by_the_trim_edge_is_still_one_slit(beyond):
    """Its further part may begin with a hook along the line that breaks it."""
    tucks = [(150, 12.0)]
    pieces = [curve_of([[150, 120], [150, 32]], 0.5), curve_of([*beyond, [150, 0.5]], 0.5)]
    lap_line = curve_of([[150.2, 118], [162, 0.5]])
    trim, other = line_broken_at(30, tucks), line_broken_at(60, tucks)
    found, _ = tucks_of([*pieces, lap_line, *trim, *other])
    assert len(found) == 1 and found[0].second is not None
    assert found[0].main.length == pytest.approx(119.5, abs=1.0)


@pytest.mark.parametrize("with_lap_lines", [False, True])
def test_a_forked_slit_is_a_tuck_for_each_branch(with_lap_lines):
    first = curve_of([[200, 130], [200, 90], [182, 0.5]], 0.6, width=0.4)
    second = curve_of([[201, 88], [228, 0.5]], 0.6, width=0.4)

    def line(y, one, two):
        left, right = 200 - (90 - y) / 5, 201 + (88 - y) * 27 / 88
        ends = [(20, left), (left + one, right), (right + two, 380)]
        return [curve_of([[start, y], [stop, y]]) for start, stop in ends]

    marks = [first, second, *line(30, 6, 8), *line(60, 3, 3.5)]
    if with_lap_lines:
        marks.append(curve_of([[200, 125], [200, 90], [197, 60], [194, 30], [190.5, 0.5]]))
        marks.append(curve_of([[202, 85], [213.1, 60], [226.8, 30], [240, 0.5]]))
    found, rest = tucks_of(marks)
    assert [tuple(tuck.main.points[0].round()) for tuck in found] == [(200, 130), (201, 88)]
    assert [round(tuck.main.points[-1, 0]) for tuck in found] == [182, 228]
    assert [tuck.second is not None for tuck in found] == [with_lap_lines] * 2
    assert len(rest) == 6
    laps = [max(s.lap for s in tuck.stations) for tuck in record_of(marks, OUTLINE).tucks]
    assert all(4.0 < lap < 13.0 for lap in laps)


@pytest.mark.parametrize("drawn_between", [False, True])
def test_a_line_traced_over_bare_paper_makes_no_fork_of_a_cut_and_its_lap_line(drawn_between):
    """Its pencil stops at the lap line and goes on at the cut, 7 mm on; the trace runs through."""
    cut = curve_of([[200, 130], [200, 0.5]], 0.6, width=0.4)
    lap_line = curve_of([[200.9, 123.5], [216, 0.5]], 0.7, width=0.6)
    traced = curve_of([[20, 70], [380, 70]], 0.5)
    ends = [curve_of([[20, 70], [200, 70]]), curve_of([[207.4, 70], [380, 70]])]
    other = [curve_of([[20, 30], [200, 30]]), curve_of([[212.4, 30], [380, 30]])]
    pencil = [cut, lap_line, *other, *([traced] if drawn_between else ends)]
    found, _ = find_tucks([cut, lap_line, traced, *other], OUTLINE, drawn(pencil))
    assert len(found) == (2 if drawn_between else 1)
    assert drawn_between or found[0].second is not None


def test_a_shade_between_a_cut_and_its_lap_line_is_no_line_that_runs_on():
    """A third as dark as the trace that was led over it: on coarse paper that may be its grain."""
    cut = curve_of([[200, 130], [200, 0.5]], 0.6, width=0.4)
    lap_line = curve_of([[200.9, 123.5], [216, 0.5]], 0.7, width=0.6)
    traced = curve_of([[20, 70], [380, 70]], 0.5)
    ends = [curve_of([[20, 70], [200, 70]]), curve_of([[207.4, 70], [380, 70]])]
    other = [curve_of([[20, 30], [200, 30]]), curve_of([[212.4, 30], [380, 30]])]

    def dirt(x, y):
        return 0.26 * ((x > 200) & (x < 207.4) & (np.abs(y - 70) < 0.4))

    paper = drawn([cut, lap_line, *other, *ends], dirt, noise=0.3)
    (slit,), _ = find_tucks([cut, lap_line, traced, *other], OUTLINE, paper)
    assert slit.second is not None


def test_a_cut_that_shows_late_and_its_lap_line_are_one_tuck():
    """Both run to the edge from a tip at 125, where neither is seen; 4.1 mm apart at 95."""
    cut = curve_of([[196.4, 95], [185, 0.5]], 0.6, width=0.4)
    lap_line = curve_of([[200.5, 118], [200.5, 0.5]], 0.7)
    lines = [
        line
        for y in (30, 60)
        for line in (
            curve_of([[20, y], [196.4 - 11.4 * (95 - y) / 94.5, y]]),
            curve_of([[200.5, y], [380, y]]),
        )
    ]
    (slit,), rest = tucks_of([cut, lap_line, *lines])
    assert slit.kind == "slit" and slit.second is not None and len(rest) == 4


@pytest.mark.parametrize("apart", [0.0, 40.0])
def test_a_lap_line_whose_cut_is_lost_before_the_edge_is_unsure(apart):
    """The cut goes beneath tape at 50; some line further off is none."""
    lap_line = curve_of([[201, 118], [213, 0.5]], 0.7, 0.4)
    cut = curve_of([[200 - apart, 125], [200 - apart, 50]], 0.3, 0.4)
    lines = [curve_of([[220, y], [380, y]]) for y in (30, 60, 90, 200)]
    (slit,), rest = tucks_of([lap_line, cut, *lines])
    assert (slit.second, len(rest)) == (None, 5)
    assert slit.sure == (0.5 if apart == 0 else 1.0)


@pytest.mark.parametrize("slant_deg", [0, 30])
def test_a_line_that_crosses_aslant_is_broken_along_its_own_way(slant_deg):
    slope = np.tan(np.radians(slant_deg))

    def line(x0, x1, shift):  # beyond the tuck the line goes on 9 mm further, turned back
        x = np.array([x0, x1], float)
        return curve_of(np.column_stack([x + shift, 60 + slope * (x - 150)]))

    before, after = line(20, 150, 0.0), line(150, 380, 9.0)
    tuck = tuck_of([curve_of([[150, 120], [150, 0.5]], 0.6), before, after])
    assert tuck.breaks[0].lap == pytest.approx(9.0, abs=0.35)
    assert abs(tuck.breaks[0].along) < 1.0


def test_a_slit_that_stops_short_of_any_line_is_one_and_a_tear_is_none():
    lines = [curve_of([[20, y], [380, y]], 0.3) for y in (60, 90)]
    cut = curve_of([[200, 40], [200, 0.5]], 0.7, width=0.4)
    ragged = np.column_stack([300 + 3 * np.sin(np.linspace(0, 9, 40)), np.linspace(40, 0.5, 40)])
    found, _ = tucks_of([*lines, cut, curve_of(ragged, 0.7, width=0.4)])
    assert [float(marks.main.points[0, 0]) for marks in found] == [pytest.approx(200, abs=0.5)]
    record = record_of([*lines, cut], OUTLINE)
    assert [tuck.kind for tuck in record.tucks] == ["slit"] and not record.zones


def test_a_second_crease_that_is_seen_late_is_no_fold_of_its_own():
    tucks = [(150, 24.0)]
    creases = [curve_of([[150, 120], [150, 0.5]], 0.1), curve_of([[156, 60], [162, 0.5]], 0.09)]
    trim, other = line_broken_at(30, tucks), line_broken_at(60, tucks)
    tuck = tuck_of([*creases, *trim, *other])
    assert tuck.kind == "fold" and tuck.lap_at_trim == pytest.approx(18.0, abs=0.3)


def test_a_crease_hardly_paler_than_faint_lines_is_still_its_partner_s():
    """It fades before the edge; the other is seen only where it stands off well."""
    tucks = [(150, 24.0)]
    creases = [curve_of([[150, 120], [150, 8]], 0.14), curve_of([[155, 70], [162, 0.5]], 0.1)]
    lines = [replace(line, weight=0.2) for y in (30, 60) for line in line_broken_at(y, tucks)]
    (fold,), rest = tucks_of([*creases, *lines])
    assert fold.kind == "fold" and len(rest) == len(lines)
    assert fold.main.points[0] == pytest.approx([150, 120], abs=0.5)


def test_a_cut_drawn_aside_where_its_lap_line_parts_goes_straight_to_the_tip():
    along = np.arange(25.0, 101.0)
    drawn_aside = 0.9 * np.exp(-(along - 25.0) / 4.0)
    cut = curve_of(np.column_stack([along, drawn_aside]))
    lap_line = curve_of([(0, 0), (25, 0.3), (40, 1.5), (70, 8), (100, 18)])
    whole = from_common_tip(cut, lap_line)
    assert np.abs(whole.points[:, 1]).max() < 0.1
    assert whole.points[0] == pytest.approx([0.0, 0.0])
    assert (np.diff(whole.points[:, 0]) > 0).all()


def test_a_cut_that_bends_at_its_tip_is_followed_there():
    cut = curve_of([(25, 0), (100, 0)])
    lap_line = curve_of([(0, 8), (10, 3), (25, 0.2), (60, 6), (100, 15)])
    whole = from_common_tip(cut, lap_line)
    assert whole.points[0] == pytest.approx([0.0, 8.0])
    assert np.abs(whole.points[:, 1] - 3)[np.abs(whole.points[:, 0] - 10).argmin()] < 0.5


def test_a_common_stretch_that_comes_back_to_its_own_begin_leads_nowhere():
    common = [[0, 0], [0, 3], [0, 0]]
    second = replace(
        curve_of([[0, 0], [9, 90]]),
        points=np.array([*common, *([2.0 + k / 10, 20.0 + k] for k in range(9, 70))], float),
    )
    main = curve_of([[0.5, 20], [0, 100]])
    assert np.isfinite(from_common_tip(main, second).points).all()
