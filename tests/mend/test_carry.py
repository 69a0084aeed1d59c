import numpy as np

from digitize.mend import fact_about_take_up, replayed
from digitize.mend.carry import as_read, carried_over, facts_in
from digitize.mend.places import on_line
from digitize.record import Line, Pattern, Sheet, TellAbout, TellDatum, TellWords
from digitize.remarks import about_lost
from tests.marks import record_of
from tests.told import labelled, with_facts, with_spread
from tests.tucks.test_tucks import OUTLINE, line_broken_at, slit_at


def line(identifier, ends, role="form", points=None):
    """A line of a record: straight, a point every mm or so, or through given points."""
    a, b = np.array(ends, float)
    share = np.linspace(0, 1, max(int(np.linalg.norm(b - a)), 2))[:, None]
    dots = tuple(map(tuple, a + share * (b - a) if points is None else points))
    return Line(id=identifier, role=role, role_confidence=0.6, points=dots, width=0.5, sigma=0.05)


def pattern(turn_deg=0.0, shift=(0.0, 0.0), names=("L1", "L2", "L3")):
    """A lopsided sheet with three lines, turned and shifted."""
    c, s = np.cos(np.radians(turn_deg)), np.sin(np.radians(turn_deg))

    def moved(points):
        return np.array(points, float) @ np.array([[c, s], [-s, c]]) + shift

    outline = moved([[0, 0], [400, 0], [400, 180], [250, 300], [0, 300]])
    places = ([[30, 30], [370, 30]], [[30, 90], [370, 90]], [[60, 120], [200, 250]])
    roles = ("trim-edge", "radius-start", "form")
    lines = zip(names, places, roles, strict=True)
    return Pattern(
        name="p",
        outline=tuple(map(tuple, outline)),
        lines=tuple(line(n, moved(p), r) for n, p, r in lines),
    )


def test_what_was_told_goes_to_the_same_lines_whatever_they_are_called():
    old = labelled(
        pattern(),
        {"L3": "unknown"},
        {"L2": ((0.0, False, 50.0), (340.0, False, 90.0))},
        {"L3": "crown"},
    )
    carried = carried_over(old, pattern(turn_deg=40, shift=(9, 9), names=("L7", "L5", "L6")))
    new = carried.pattern
    assert new.line("L6").role == "unknown" and new.line("L6").role_by == "told"
    assert new.line("L6").note == "crown"
    assert [s.radius for s in new.line("L5").radii] == [50, 90]
    assert new.line("L7").role_by == "proposed" and not carried.lost


def test_a_line_that_is_gone_is_named():
    old = labelled(pattern(), {}, {}, {"L3": "crown"})
    new = pattern()
    new = new.model_copy(update={"lines": new.lines[:2]})
    (remark,) = about_lost(carried_over(old, new).lost)
    assert "L3" in remark.words and "no line lies there" in remark.words


def run_back(record, identifier):
    """The record with a line drawn from its other end."""
    lines = tuple(
        each.model_copy(update={"points": each.points[::-1]}) if each.id == identifier else each
        for each in record.lines
    )
    return record.model_copy(update={"lines": lines})


def test_radii_told_along_a_line_stay_at_their_places_when_it_is_traced_from_its_other_end():
    old = labelled(pattern(), {}, {"L2": ((10.0, False, 50.0), (200.0, False, 90.0))}, {})
    same = carried_over(old, pattern(turn_deg=40, shift=(9, 9))).pattern
    assert [(s.along, s.radius) for s in same.line("L2").radii] == [(10, 50), (200, 90)]
    # Of 340 mm: 10 from one end is 330 from the other.
    back = carried_over(old, run_back(pattern(turn_deg=40, shift=(9, 9)), "L2")).pattern
    assert [(round(s.along, 2), s.radius) for s in back.line("L2").radii] == [(140, 90), (330, 50)]


def test_a_radius_told_for_a_whole_line_goes_with_it():
    old = labelled(pattern(), {}, {"L2": 60.0}, {})
    carried = carried_over(old, pattern(turn_deg=-70, names=("L2", "L3", "L1")))
    assert carried.pattern.line("L3").radius == 60 and carried.pattern.line("L2").radius is None
    assert carried.pattern.line("L3").role_by == "proposed" and not carried.lost


def test_a_line_of_which_only_a_piece_is_left_is_lost():
    old = labelled(pattern(), {"L3": "unknown"}, {}, {})
    new = pattern()
    piece = new.line("L3").model_copy(update={"points": new.line("L3").points[:60]})
    new = new.model_copy(update={"lines": (*new.lines[:2], piece)})
    carried = carried_over(old, new)
    assert [each.fact.on.line for each in carried.lost] == ["L3"]
    assert carried.pattern.line("L3").role_by == "proposed"


def test_the_sheet_is_that_of_the_part_whatever_else_was_told():
    sheet = Sheet(material="aluminium", thickness=1.5)
    old = with_facts(pattern(), TellAbout(sheet=sheet))
    assert carried_over(old, pattern(turn_deg=40)).pattern.sheet == sheet


def turned(record, degrees, shift):
    """A record with slits as it is read from a photo taken from elsewhere."""
    c, s = np.cos(np.radians(degrees)), np.sin(np.radians(degrees))

    def at(points):
        return tuple(map(tuple, (np.array(points) @ [[c, s], [-s, c]] + shift).tolist()))

    lines = tuple(
        each.model_copy(update={"points": at(each.points), "pieces": ()}) for each in record.lines
    )
    tucks = tuple(each.model_copy(update={"tip": at([each.tip])[0]}) for each in record.tucks)
    moved = {"outline": at(record.outline), "lines": lines, "tucks": tucks, "zones": ()}
    return record.model_copy(update=moved)


def test_a_spread_is_told_again_of_the_same_slit_with_what_was_entered_alone():
    places = [(120, 8.0), (160, 12.0)]
    marks = [mark for x, lap in places for mark in slit_at(x, lap)]
    read = record_of([*marks, *line_broken_at(30, places), *line_broken_at(60, places)], OUTLINE)
    old = with_spread(read, "T2", [(100.0, 6.0), (40.0, 2.0)])
    # The new reading found the same slits, called otherwise, and fewer laps along them.
    one, two = turned(read, 130.0, (50.0, -20.0)).tucks
    tucks = (
        two.model_copy(update={"id": "T1", "stations": two.stations[:2]}),
        one.model_copy(update={"id": "T2"}),
    )
    new = turned(read, 130.0, (50.0, -20.0)).model_copy(update={"tucks": tucks})
    carried = carried_over(old, new)
    spread, slit = carried.pattern.tucks
    assert (spread.kind, slit.kind) == ("spread", "slit")
    assert not carried.lost
    entered = [(s.depth, s.lap) for s in spread.stations if s.evidence == "entered"]
    assert entered == [(40, -2), (100, -6)]
    assert len(spread.stations) == 4 and len(slit.stations) == len(one.stations)
    depths = [station.depth for station in spread.stations]
    assert depths == sorted(depths)
    # What follows is worked out anew: it opened, by the gap told for about that depth.
    assert spread.lap_at_trim < -4


def test_a_spread_whose_slit_is_gone_is_counted():
    places = [(120, 8.0), (160, 12.0)]
    marks = [mark for x, lap in places for mark in slit_at(x, lap)]
    read = record_of([*marks, *line_broken_at(30, places)], OUTLINE)
    old = with_spread(read, "T2", [(40.0, 2.0)])
    new = read.model_copy(update={"tucks": read.tucks[:1]})
    carried = carried_over(old, new)
    assert [each.fact.kind for each in carried.lost] == ["take-up"]
    assert [tuck.kind for tuck in carried.pattern.tucks] == ["slit"]


def test_a_datums_direction_turns_with_the_paper():
    old = with_facts(pattern(), TellDatum(at=(30.0, 90.0), direction_deg=10.0))
    new = carried_over(old, pattern(turn_deg=40, shift=(9, 9))).pattern
    assert abs(new.datum.direction_deg - 50.0) < 0.1
    # (30, 90) turned by 40 degrees, and moved by (9, 9).
    assert np.hypot(new.datum.at[0] - (-25.87), new.datum.at[1] - 97.23) < 0.3


def test_a_line_told_near_another_is_not_both():
    """Two lines 1.5 mm apart: what is told of one is of that one alone."""
    near = line("L9", [[30, 91.5], [370, 91.5]], "form")
    both = pattern().model_copy(update={"lines": (*pattern().lines, near)})
    told = with_facts(both, TellWords(on=on_line(near), words="crown"))
    assert [each.id for each in told.lines if each.note] == ["L9"]


def test_a_record_of_before_facts_were_kept_gives_the_facts_that_it_carries():
    read = record_of([*slit_at(150, 12.0), *line_broken_at(30, [(150, 12.0)])], OUTLINE)
    edge = next(each.id for each in read.lines if not each.is_tuck_mark)
    told = labelled(read, {edge: "form"}, {edge: 60.0}, {edge: "crown"})
    told = with_facts(told, fact_about_take_up(told, "T1", [(50.0, -4.0)]))
    earlier = told.model_copy(update={"told": ()})
    plain = as_read(earlier)
    (tuck,) = plain.tucks
    assert tuck.kind == "slit" and tuck.stations == read.tucks[0].stations
    assert plain.line(edge).note is None and plain.line(edge).radius is None
    again = replayed(plain, facts_in(earlier)).pattern
    assert again.model_copy(update={"told": ()}) == earlier
    assert [len(t.stations) for t in again.tucks] == [len(read.tucks[0].stations) + 1]


def test_what_was_told_of_a_piece_is_told_of_the_whole_line_that_it_lies_on():
    """L2 was read as 60 mm of its 340 once; what was told then is told of all of it now."""
    piece = line("L2", [[100, 90], [160, 90]], "radius-start")
    old = pattern().model_copy(update={"lines": (pattern().lines[0], piece, pattern().lines[2])})
    told = with_facts(old, TellWords(on=on_line(piece), words="crown"))
    assert carried_over(told, pattern(turn_deg=40)).pattern.line("L2").note == "crown"
    beside = line("L2", [[100, 91.5], [160, 91.5]], "radius-start")
    old = pattern().model_copy(update={"lines": (pattern().lines[0], beside, pattern().lines[2])})
    told = with_facts(old, TellWords(on=on_line(beside), words="crown"))
    assert [each.fact.kind for each in carried_over(told, pattern(turn_deg=40)).lost] == ["words"]
