"""Lines told to run otherwise, by hand on a straight line 200 mm long and another beside it."""

import pytest
from shapely import LineString

from digitize.errors import ToldError
from digitize.mend import replayed
from digitize.mend.places import lines_named, on_line
from digitize.record import (
    CloseLine,
    DrawLine,
    EraseLine,
    JoinLines,
    MoveEnd,
    RadiusAt,
    SplitLine,
    TellWords,
    numbered,
)
from tests.mend.test_labels import bend
from tests.told import with_facts


def ends(line):
    return [tuple(round(v, 2) for v in line.points[k]) for k in (0, -1)]


def on(pattern, name):
    return on_line(pattern.line(name))


@pytest.fixture
def flat():
    """L1 from (20, 30) to (220, 30), with radii told at 50 and 150 mm; L2 60 mm above it."""
    pattern = bend()
    radii = (RadiusAt(along=50.0, radius=70.0), RadiusAt(along=150.0, radius=90.0))
    first = pattern.lines[0].model_copy(update={"radii": radii})
    return pattern.model_copy(update={"lines": (first, pattern.lines[1])})


def test_a_line_is_drawn_through_its_points(flat):
    told = with_facts(flat, DrawLine(points=((10, 10), (10, 110), (60, 110)), role="form"))
    line = told.line("M1")
    assert (line.role, line.role_by, line.closed) == ("form", "told", False)
    assert line.length == pytest.approx(150.0)
    assert line.sigma == 1.0  # pointed out by hand; common practice, no source
    ring = with_facts(flat, DrawLine(points=((10, 10), (10, 50), (40, 50)), closed=True))
    assert ring.line("M1").length == pytest.approx(40 + 30 + 50)


def test_a_line_too_short_to_be_one_is_refused(flat):
    with pytest.raises(AssertionError, match="at least 2 mm"):
        with_facts(flat, DrawLine(points=((10, 10), (10, 11))))


def test_a_line_erased_is_gone(flat):
    told = with_facts(flat, EraseLine(on=on(flat, "L1")))
    assert [line.id for line in told.lines] == ["L2"]


def test_a_stretch_erased_leaves_two_lines_with_what_was_told_along_them(flat):
    told = with_facts(flat, EraseLine(on=on(flat, "L1"), between=((100, 31), (80, 29))))
    left, right = told.line("L1"), told.line("M1")
    assert ends(left) == [(20, 30), (80, 30)]
    assert ends(right) == [(100, 30), (220, 30)]
    # At 50 mm from (20, 30) is (70, 30), on the left piece; at 150 is (170, 30), 70 from its start.
    assert [(s.along, s.radius) for s in left.radii] == [(50, 70)]
    assert [(s.along, s.radius) for s in right.radii] == [(70, 90)]
    assert right.role == "radius-start"


def test_a_stretch_at_an_end_leaves_one_line(flat):
    told = with_facts(flat, EraseLine(on=on(flat, "L1"), between=((20, 30), (60, 30))))
    assert [line.id for line in told.lines] == ["L1", "L2"]
    assert ends(told.line("L1")) == [(60, 30), (220, 30)]
    assert [s.along for s in told.line("L1").radii] == [10, 110]


def test_a_line_is_split_where_it_is_told(flat):
    told = with_facts(flat, SplitLine(on=on(flat, "L1"), at=(120, 33)))
    assert ends(told.line("L1")) == [(20, 30), (120, 30)]
    assert ends(told.line("M1")) == [(120, 30), (220, 30)]
    with pytest.raises(AssertionError, match="mm off it"):
        with_facts(flat, SplitLine(on=on(flat, "L1"), at=(120, 45)))
    with pytest.raises(AssertionError, match="ends there"):
        with_facts(flat, SplitLine(on=on(flat, "L1"), at=(21, 30)))


def test_two_lines_are_joined_at_their_near_ends(flat):
    halves = with_facts(flat, EraseLine(on=on(flat, "L1"), between=((100, 30), (110, 30))))
    for one, two in (("L1", "M1"), ("M1", "L1")):
        whole = with_facts(halves, JoinLines(on=on(halves, one), to=on(halves, two))).line(one)
        assert ends(whole) == [(20, 30), (220, 30)]
        assert [(s.along, s.radius) for s in whole.radii] == [(50, 70), (150, 90)]
    with pytest.raises(AssertionError, match="joined to itself"):
        with_facts(flat, JoinLines(on=on(flat, "L1"), to=on(flat, "L1")))


def test_an_end_is_led_on_or_cut_back(flat):
    on_to = with_facts(flat, MoveEnd(on=on(flat, "L1"), at=(219, 30), to=(250, 30)))
    assert ends(on_to.line("L1")) == [(20, 30), (250, 30)]
    back = with_facts(flat, MoveEnd(on=on(flat, "L1"), at=(22, 30), to=(70, 30)))
    assert ends(back.line("L1")) == [(70, 30), (220, 30)]
    assert [s.along for s in back.line("L1").radii] == [0, 100]
    with pytest.raises(AssertionError, match="nothing would be left"):
        with_facts(flat, MoveEnd(on=on(flat, "L1"), at=(22, 30), to=(220, 30)))


def test_a_line_is_closed_and_a_closed_one_opened_where_it_is_split_or_erased(flat):
    square = DrawLine(points=((10, 50), (50, 50), (50, 90), (10, 90)))
    drawn = with_facts(flat, square)
    ring = with_facts(drawn, CloseLine(on=on(drawn, "M1")))
    assert ring.line("M1").length == pytest.approx(160)
    opened = with_facts(ring, SplitLine(on=on(ring, "M1"), at=(30, 50)))
    assert ends(opened.line("M1")) == [(30, 50), (30, 50)]
    assert opened.line("M1").length == pytest.approx(160)
    cut = with_facts(ring, EraseLine(on=on(ring, "M1"), between=((20, 50), (40, 50))))
    assert {*ends(cut.line("M1"))} == {(40, 50), (20, 50)}
    assert cut.line("M1").length == pytest.approx(140)
    with pytest.raises(AssertionError, match="is closed"):
        with_facts(ring, MoveEnd(on=on(ring, "M1"), at=(10, 50), to=(0, 0)))


def test_a_line_that_is_nowhere_near_is_lost_with_its_place(flat):
    elsewhere = on(flat, "L1").model_copy(update={"points": ((20, 120), (220, 120))})
    with pytest.raises(AssertionError, match="no line lies there any more, near"):
        with_facts(flat, EraseLine(on=elsewhere))


def test_what_was_told_of_a_whole_line_goes_to_each_piece_it_is_in_now(flat):
    whole = on(flat, "L1")
    halves = with_facts(flat, EraseLine(on=whole, between=((100, 30), (110, 30))))
    told = with_facts(halves, EraseLine(on=whole))
    assert [line.id for line in told.lines] == ["L2"]


def test_smooth_pieces_follow_the_line(flat):
    told = with_facts(flat, MoveEnd(on=on(flat, "L1"), at=(22, 30), to=(70, 30)))
    (piece,) = told.line("L1").pieces
    assert LineString(piece.points).length == pytest.approx(150)


def test_wrong_names_are_met_with_those_that_are_like_them():
    grouped = with_facts(bend())
    with pytest.raises(ToldError, match=r"did you mean R1-start\? it has L1 L2"):
        lines_named(grouped, "r1-strat")
    assert [line.id for line in lines_named(grouped, "R1-START")] == ["L1"]
    assert [line.id for line in lines_named(bend(), " l2 ")] == ["L2"]


def test_a_line_drawn_on_one_reading_is_that_line_where_another_has_it(flat):
    along = numbered([DrawLine(points=((20, 30.4), (220, 30.4)), role="form")])
    there = replayed(flat, along, elsewhere=True).pattern
    assert [line.id for line in there.lines] == ["L1", "L2"]
    assert (there.line("L1").role, there.line("L1").role_by) == ("form", "told")
    # Told again on that reading, it stays so; and on a third that has lost it, it is drawn.
    assert replayed(flat, there.told).pattern == there
    without = flat.model_copy(update={"lines": flat.lines[1:]})
    (fact,) = there.told
    plain = fact.model_copy(update={"there": None})
    assert "M1" in {line.id for line in replayed(without, (plain,), elsewhere=True).pattern.lines}
    # A line of no role leaves the role to what was read.
    nameless = numbered([DrawLine(points=((20, 30.4), (220, 30.4)))])
    assert replayed(flat, nameless, elsewhere=True).pattern.line("L1").role_by == "proposed"
    beside = numbered([DrawLine(points=((20, 31.5), (220, 31.5)), role="form")])
    lines = replayed(flat, beside, elsewhere=True).pattern.lines
    assert [line.id for line in lines] == ["L1", "L2", "M1"]
    here = replayed(flat, along).pattern
    assert [line.id for line in here.lines] == ["L1", "L2", "M1"]


def test_a_stray_mark_beside_a_line_is_not_the_line(flat):
    """A mark of 30 mm was erased 1.5 mm beside L1; on a reading without it L1 stays whole."""
    stray = DrawLine(points=((60, 31.5), (90, 31.5)))
    marked = with_facts(flat, stray)
    erase = EraseLine(on=on(marked, "M1"))
    assert "M1" not in {line.id for line in with_facts(marked, erase).lines}
    (lost,) = replayed(flat, numbered([erase])).lost
    assert "no line lies there" in lost.why


@pytest.mark.parametrize(("beside", "stands"), [(1.6, False), (0.7, True)])
def test_words_told_of_a_short_mark_stand_on_a_long_line_only_if_the_mark_lay_on_it(
    flat, beside, stands
):
    """A mark beside 40 % of a line, which another reading does not show, is not that line."""
    first, second = (
        with_facts(flat, DrawLine(points=((x, y), (x + length, y))))
        for x, y, length in ((100, 200 + beside, 70), (100, 200, 175))
    )
    told = TellWords(on=on(first, "M1"), words="crown")
    replay = replayed(second, [*second.told, *numbered([told], len(second.told))])
    assert (replay.pattern.line("M1").note == "crown") is stands
    assert len(replay.lost) == (0 if stands else 1)


def test_of_a_ring_the_shorter_way_is_erased(flat):
    square = DrawLine(points=((10, 50), (50, 50), (50, 90), (10, 90)), closed=True)
    ring = with_facts(flat, square)
    # Its first point is (10, 50): 5 mm on either side of that are erased, and 150 mm stay.
    cut = with_facts(ring, EraseLine(on=on(ring, "M1"), between=((15, 50), (10, 55))))
    assert cut.line("M1").length == pytest.approx(150)


def test_what_was_told_of_either_of_two_lines_is_told_of_both_joined(flat):
    halves = with_facts(flat, EraseLine(on=on(flat, "L1"), between=((100, 30), (110, 30))))
    noted = with_facts(halves, TellWords(on=on(halves, "M1"), words="crown"))
    whole = with_facts(noted, JoinLines(on=on(noted, "L1"), to=on(noted, "M1")))
    assert whole.line("L1").note == "crown"
    both = with_facts(noted, TellWords(on=on(noted, "L1"), words="edge"))
    with pytest.raises(AssertionError, match="have a different note each"):
        with_facts(both, JoinLines(on=on(both, "L1"), to=on(both, "M1")))


def test_a_line_drawn_keeps_its_corners(flat):
    told = with_facts(flat, DrawLine(points=((10.3, 10), (40.7, 10), (40.7, 25.5), (90.2, 60))))
    line = told.line("M1")
    assert {(40.7, 10.0), (40.7, 25.5)} <= set(line.points)
    assert [piece.kind for piece in line.pieces] == ["line"] * 3
