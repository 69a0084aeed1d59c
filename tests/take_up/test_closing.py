import itertools

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from digitize.plane import length_of
from digitize.record import Break, Station, Tuck
from digitize.take_up.closing import _on_grid, closed_zones, disagreements_of
from digitize.take_up.zones import with_zones, zones_and_fans
from tests.take_up.slits import pattern_with, slit_of, tuck_in

HEIGHT = 100.0
XS = (60.0, 160.0)


def closed(upper="left", by_lap_lines=True, tips=(0.0, 30.0), slopes=(0.1, 0.2)):
    """Two slits at XS from heights ``tips``; a level line breaks there at HEIGHT.

    The flap named lies above, its edge is the slit; on the lower one the line goes on a lap away.
    """
    side = 1.0 if upper == "left" else -1.0
    slits, marks, tucks, ends = [], [], [], [30.0]
    offs = ((0.3, 0.4), (-0.5, 1.2))
    for k, (x, tip, slope, off) in enumerate(zip(XS, tips, slopes, offs, strict=True), start=1):
        lap = slope * (HEIGHT - tip)
        slits.append(slit_of(f"S{k}", (x, tip), (x, 150)))
        marks.append(slit_of(f"L{k}", (x, tip), (x + side * slope * (150 - tip), 150), "lap"))
        ends += [x, x + lap] if upper == "left" else [x - lap, x]
        found = Break(
            lines=(f"P{k}", f"P{k + 1}"), depth=HEIGHT - tip, lap=lap, across=off[0], along=off[1]
        )
        tucks.append(
            tuck_in(
                slits[-1],
                HEIGHT - tip,
                lambda d, slope=slope: slope * d,
                lap_line=marks[-1].id if by_lap_lines else None,
                breaks=(found,),
            )
        )
    pairs = zip([*ends, 200.0][::2], [*ends, 200.0][1::2], strict=True)
    pieces = [
        slit_of(f"P{k}", (a, HEIGHT), (b, HEIGHT), "form") for k, (a, b) in enumerate(pairs, 1)
    ]
    struck = pieces[1].model_copy(update={"id": "P9", "role": "unknown", "withdrawn": True})
    lines = [*(marks if by_lap_lines else []), *pieces, struck]
    record = with_zones(pattern_with(slits, tucks, lines))
    (zone,) = closed_zones(record, zones_and_fans(record))
    return zone


@pytest.mark.parametrize(("upper", "joints"), [("left", (72.0, 162.0)), ("right", (62.0, 148.0))])
def test_broken_lines_are_slid_together(upper, joints):
    """24 mm are taken up in all: the first piece slides 12 mm onward, the last 12 mm back."""
    zone = closed(upper)
    assert [name for name, _ in zone.lines] == ["P1", "P2", "P3"]
    one, two, three = (points for _, points in zone.lines)
    for before, after, joint in ((one, two, joints[0]), (two, three, joints[1])):
        assert before[-1] == pytest.approx([joint, HEIGHT], abs=0.1)
        assert after[0] == pytest.approx([joint, HEIGHT], abs=0.1)
    assert one[0] == pytest.approx([42, HEIGHT], abs=0.1)
    assert three[-1] == pytest.approx([188, HEIGHT], abs=0.1)


@pytest.mark.parametrize("by_lap_lines", [True, False])
@pytest.mark.parametrize(("upper", "joints"), [("left", (72.0, 162.0)), ("right", (62.0, 148.0))])
def test_a_seam_runs_where_the_upper_flap_s_edge_comes_to_lie(upper, joints, by_lap_lines):
    """From its tip to the trim edge, through where the broken lines meet."""
    zone = closed(upper, by_lap_lines)
    for seam, joint, tip in zip(zone.seams, joints, (0.0, 30.0), strict=True):
        assert seam[-1] == pytest.approx([joint, HEIGHT], abs=0.1)
        assert seam[0, 1] == pytest.approx(tip, abs=0.1)


@settings(max_examples=6, deadline=None, derandomize=True)
@given(
    tips=st.tuples(st.floats(0.0, 50.0), st.floats(0.0, 50.0)),
    slopes=st.tuples(st.floats(0.03, 0.3), st.floats(0.03, 0.3)),
    upper=st.sampled_from(["left", "right"]),
)
def test_whatever_their_tips_and_laps_closed_tucks_join_the_lines_that_they_broke(
    tips, slopes, upper
):
    zone = closed(upper, True, tips, slopes)
    pieces = [points for _, points in zone.lines]
    # The curves of equal depth are level only where both tips are; so they meet nearly.
    for before, after in itertools.pairwise(pieces):
        assert np.linalg.norm(before[-1] - after[0]) < 0.3
    drawn = sum(length_of(points) for points in pieces)
    taken = sum(slope * (HEIGHT - tip) for tip, slope in zip(tips, slopes, strict=True))
    assert drawn == pytest.approx(170 - taken, abs=0.3)


def test_what_is_left_open_is_told_where_the_lines_meet():
    zone = closed()
    (first, place, apart), (second, there, wider) = zone.breaks
    assert (first, second) == ("T1", "T2")
    assert place == pytest.approx([72, HEIGHT], abs=0.1)
    assert there == pytest.approx([162, HEIGHT], abs=0.1)
    assert (apart, wider) == (pytest.approx(0.5), pytest.approx(1.3))  # 3-4-5 and 5-12-13


def tuck_read(broken, depth=50.0, kind="slit"):
    """A tuck whose lap line says 2, 8 and 10 mm at 20, 60 and 100 mm, and a line that breaks."""
    marks = [
        Station(depth=d, lap=lap, sigma=sigma, evidence="lap-line")
        for d, lap, sigma in ((20.0, 2.0, 0.3), (60.0, 8.0, 0.4), (100.0, 10.0, 0.3))
    ]
    other = Station(depth=depth, lap=broken, sigma=0.3, evidence="line-break")
    slit = slit_of("S1", (0, 0), (0, 120))
    tuck = Tuck(id="T1", kind=kind, tip=(0, 0), slit="S1", lap_line=None, stations=(*marks, other))
    return pattern_with([slit], [tuck])


@pytest.mark.parametrize("off", [1.6, -1.6])
def test_witnesses_three_sigmas_apart_disagree(off):
    # Between 2 and 8 mm, three quarters on: 6.5. Sigma is that of 0.3 and 0.4, 0.5 mm.
    (found,) = disagreements_of(tuck_read(6.5 + off))
    assert (found.depth, found.broken) == (50.0, 6.5 + off)
    assert found.marked == pytest.approx(6.5)


@pytest.mark.parametrize(
    ("broken", "depth", "kind"),
    [(7.9, 50.0, "slit"), (9.0, 10.0, "slit"), (14.0, 110.0, "slit"), (9.0, 50.0, "spread")],
    ids=["within three sigmas", "before the marks", "beyond the marks", "a spread"],
)
def test_witnesses_that_do_not_contradict_each_other_are_let_be(broken, depth, kind):
    assert disagreements_of(tuck_read(broken, depth, kind)) == ()


def test_a_place_a_rounding_error_beyond_the_grid_is_one_at_its_edge():
    places = np.arange(12.0).reshape(3, 2, 2)
    onto = _on_grid(np.array([0.0, 5.0, 10.0]), np.array([0.0, 1.0]), places)
    assert onto(np.array([[-3e-14, 1.0 + 3e-14]]))[0] == pytest.approx([2.0, 3.0], abs=1e-9)
    assert onto(np.array([[7.5, 0.5]]))[0] == pytest.approx([7.0, 8.0])
