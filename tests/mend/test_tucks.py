"""Tucks told by hand on drawn paper: swapped back, made, and taken away, and measured again."""

import numpy as np
import pytest

from digitize.mend.picture import Picture
from digitize.mend.places import on_line
from digitize.record import (
    DrawLine,
    EraseLine,
    MoveEnd,
    TellCut,
    TellFold,
    TellNoTuck,
    TellRole,
    TellTakeUp,
    standing,
)
from tests.marks import record_of
from tests.pencil.test_pencil import paper_with
from tests.told import with_facts
from tests.tucks.test_tucks import OUTLINE, line_broken_at, slit_at


@pytest.fixture(scope="module")
def slit():
    """A record of one slit that laps by 12 mm at the paper's edge, 120 mm deep."""
    places = [(150, 12.0)]
    marks = [*slit_at(150, 12.0), *line_broken_at(30, places), *line_broken_at(60, places)]
    return record_of(marks, OUTLINE)


@pytest.fixture(scope="module")
def picture(slit):
    raster, _ = paper_with([line.points for line in slit.lines], size_mm=(300, 220))
    return Picture(raster, np.array(slit.outline))


def on(record, name):
    return on_line(record.line(name))


def swapped(record):
    """The record with its slit and lap line taken for one another, and no lap measured."""
    (tuck,) = record.tucks
    roles = {tuck.slit: "lap", tuck.lap_line: "slit"}
    lines = tuple(
        line.model_copy(update={"role": roles.get(line.id, line.role)}) for line in record.lines
    )
    wrong = tuck.model_copy(
        update={"slit": tuck.lap_line, "lap_line": tuck.slit, "stations": (), "unsure": True}
    )
    return record.model_copy(update={"lines": lines, "tucks": (wrong,)})


def test_a_cut_told_is_measured_as_one_that_was_read(slit, picture):
    (read,) = slit.tucks
    wrong = swapped(slit)
    cut = TellCut(on=on(slit, read.slit), lap_line=on(slit, read.lap_line))
    told = with_facts(wrong, cut, picture=lambda: picture)
    (tuck,) = told.tucks
    assert (tuck.id, tuck.slit, tuck.lap_line) == (read.id, read.slit, read.lap_line)
    assert not tuck.unsure
    assert told.line(read.slit).role == "slit" and told.line(read.lap_line).role == "lap"
    # 12 mm at the edge, 119.5 mm from the tip: 9 mm at the trim edge, 90 mm from it.
    assert tuck.lap_at_trim == pytest.approx(9.0, abs=0.3)
    assert len(told.zones) == 1


def test_the_role_of_one_mark_alone_is_enough_where_its_other_is_known(slit, picture):
    (read,) = slit.tucks
    told = with_facts(
        slit, TellRole(on=on(slit, read.lap_line), role="form"), picture=lambda: picture
    )
    assert told.tucks[0].lap_line is None
    assert {s.evidence for s in told.tucks[0].stations} <= {"line-break"}
    back = with_facts(
        told, TellRole(on=on(slit, read.lap_line), role="lap"), picture=lambda: picture
    )
    assert back.tucks[0].lap_line == read.lap_line
    assert back.tucks[0].lap_at_trim == pytest.approx(9.0, abs=0.3)


def test_a_tuck_that_is_none_leaves_its_marks_as_lines(slit):
    (read,) = slit.tucks
    told = with_facts(slit, TellNoTuck(on=on(slit, read.slit)))
    assert not told.tucks and not told.zones
    assert told.line(read.slit).role == told.line(read.lap_line).role == "unknown"


def test_a_slit_erased_takes_its_tuck_with_it(slit):
    (read,) = slit.tucks
    told = with_facts(slit, EraseLine(on=on(slit, read.slit)))
    assert not told.tucks
    assert told.line(read.lap_line).role == "unknown"


def test_a_slit_told_anew_makes_a_tuck_of_the_next_free_name(slit, picture):
    (read,) = slit.tucks
    bare = with_facts(slit, TellNoTuck(on=on(slit, read.slit)))
    backwards = bare.line(read.slit).model_copy(
        update={"points": bare.line(read.slit).points[::-1]}
    )
    lines = tuple(backwards if line.id == read.slit else line for line in bare.lines)
    turned = bare.model_copy(update={"lines": lines, "told": ()})
    cut = TellCut(on=on(slit, read.slit), lap_line=on(slit, read.lap_line))
    told = with_facts(turned, cut, picture=lambda: picture)
    (tuck,) = told.tucks
    assert tuck.id == "T1"
    # It runs from its tip, which lies inside the paper, to the edge, whichever way it was drawn.
    assert tuck.tip == pytest.approx((150, 120), abs=0.5)
    assert told.line(read.slit).points[0] == tuck.tip


def test_two_creases_are_one_fold(slit, picture):
    (read,) = slit.tucks
    fold = TellFold(on=on(slit, read.slit), other=on(slit, read.lap_line))
    told = with_facts(slit, fold, picture=lambda: picture)
    (tuck,) = told.tucks
    assert (tuck.kind, tuck.lap_line) == ("fold", None)
    assert told.line(read.slit).role == told.line(read.lap_line).role == "crease"
    # The lines break by 8.9 mm 90 mm from the tip, and say so whatever the creases say.
    deep = [s for s in tuck.stations if 70 < s.depth < 100]
    assert deep and all(s.evidence == "line-break" for s in deep)


def test_laps_by_hand_stand_beside_those_measured_and_gaps_make_a_spread(slit):
    (read,) = slit.tucks
    laps = TellTakeUp(on=on(slit, read.slit), laps=[{"depth": 50.0, "lap": 5.0}])
    told = with_facts(slit, laps).tucks[0]
    assert told.kind == "slit" and len(told.stations) == len(read.stations) + 1
    gaps = TellTakeUp(on=on(slit, read.slit), laps=[{"depth": 50.0, "lap": -5.0}])
    assert with_facts(slit, gaps).tucks[0].kind == "spread"


def test_without_a_picture_a_tuck_told_has_no_lap_and_no_figure_is_made_up(slit):
    (read,) = slit.tucks
    cut = TellCut(on=on(slit, read.slit), lap_line=on(slit, read.lap_line))
    told = with_facts(swapped(slit), cut)
    assert not told.tucks[0].stations and not told.zones
    assert len(standing(told.told)) == 1


def test_a_tuck_that_nothing_told_touches_keeps_what_was_measured(slit, picture):
    far = next(line for line in slit.lines if not line.is_tuck_mark)
    told = with_facts(slit, TellRole(on=on(slit, far.id), role="form"), picture=lambda: picture)
    assert told.tucks[0].stations == slit.tucks[0].stations


def test_a_line_erased_beside_a_slit_takes_its_breaks_with_it_and_what_was_entered_stays(
    slit, picture
):
    (read,) = slit.tucks
    entered = with_facts(
        slit, TellTakeUp(on=on(slit, read.slit), laps=[{"depth": 50.0, "lap": 5.0}])
    )
    name = read.breaks[0].lines[0]
    told = with_facts(entered, EraseLine(on=on(slit, name)), picture=lambda: picture)
    (tuck,) = told.tucks
    assert len(tuck.breaks) < len(read.breaks)
    assert all(name not in each.lines for each in tuck.breaks)
    assert [s.lap for s in tuck.stations if s.evidence == "entered"] == [5.0]
    assert {s.evidence for s in tuck.stations} == {"entered", "lap-line", "line-break"}
    unseen = with_facts(entered, EraseLine(on=on(slit, name))).tucks[0]
    assert {s.evidence for s in unseen.stations} == {"entered", "lap-line"}


def test_lines_that_run_across_a_cut_told_break_there(slit, picture):
    """Both lines that cross the slit were read as running on; told the cut, they are measured."""
    (read,) = slit.tucks
    bare = with_facts(slit, TellNoTuck(on=on(slit, read.slit)))
    pieces = [line for line in bare.lines if line.id not in (read.slit, read.lap_line)]
    whole = [
        DrawLine(points=((20.0, y), (280.0, y)), role="form", number=number)
        for number, y in ((90, 31.0), (91, 61.0))
    ]
    across = with_facts(bare, *(EraseLine(on=on_line(line)) for line in pieces), *whole)
    names = [line.id for line in across.lines if not line.is_tuck_mark and line.role == "form"]
    cut = TellCut(on=on(slit, read.slit), lap_line=on(slit, read.lap_line))
    told = with_facts(across.model_copy(update={"told": ()}), cut, picture=lambda: picture)
    parts = [line for line in told.lines if line.role == "form"]
    assert set(names) < {line.id for line in parts}
    # Cut at the slit and at its lap line; the scrap between, as wide as the lap, is no line.
    ends = sorted(x for line in parts for x in (line.points[0][0], line.points[-1][0]))
    # 8.9 mm at 31 and 5.9 at 61, for 12 mm in 119.5 that grow with the depth.
    assert [round(x) for x in ends if 100 < x < 200] == [150, 150, 156, 159]
    assert len({line.id for line in told.lines}) == len(told.lines)


def test_a_tuck_told_to_be_what_it_was_read_as_is_sure_and_keeps_its_laps(slit):
    (read,) = slit.tucks
    unsure = slit.model_copy(update={"tucks": (read.model_copy(update={"unsure": True}),)})
    cut = TellCut(on=on(slit, read.slit), lap_line=on(slit, read.lap_line))
    (tuck,) = with_facts(unsure, cut).tucks
    assert not tuck.unsure
    assert tuck.stations == read.stations and tuck.breaks == read.breaks


def test_a_slit_cut_short_without_a_picture_claims_no_lap(slit):
    (read,) = slit.tucks
    path = slit.line(read.slit).points
    fact = MoveEnd(on=on(slit, read.slit), at=path[0], to=path[len(path) // 4])
    (tuck,) = with_facts(slit, fact).tucks
    assert not tuck.stations and not tuck.breaks
    assert tuck.tip == pytest.approx(path[len(path) // 4], abs=0.01)


def folded(slit):
    """The record with its slit and lap line told to be a fold's two creases."""
    (read,) = slit.tucks
    return with_facts(slit, TellFold(on=on(slit, read.slit), other=on(slit, read.lap_line)))


def test_a_folds_other_crease_told_to_be_one_is_no_second_tuck(slit):
    fold = folded(slit)
    (read,) = slit.tucks
    other = on(fold, read.lap_line)
    (tuck,) = with_facts(fold, TellRole(on=other, role="crease")).tucks
    assert (tuck.slit, tuck.other_crease) == (read.slit, read.lap_line)
    assert not with_facts(fold, TellNoTuck(on=other)).tucks


def test_a_role_told_that_was_read_makes_its_tuck_sure(slit):
    (read,) = slit.tucks
    unsure = slit.model_copy(update={"tucks": (read.model_copy(update={"unsure": True}),)})
    for name, role in ((read.slit, "slit"), (read.lap_line, "lap")):
        (tuck,) = with_facts(unsure, TellRole(on=on(slit, name), role=role)).tucks
        assert not tuck.unsure and tuck.stations == read.stations


def test_a_spread_stays_one_when_its_marks_are_told(slit):
    (read,) = slit.tucks
    gaps = TellTakeUp(on=on(slit, read.slit), laps=[{"depth": 50.0, "lap": -5.0}])
    opened = with_facts(slit, gaps)
    (tuck,) = with_facts(opened, TellCut(on=on(slit, read.slit))).tucks
    assert tuck.kind == "spread"


def test_a_slit_drawn_is_a_tuck(slit, picture):
    (read,) = slit.tucks
    points = slit.line(read.slit).points
    bare = with_facts(slit, EraseLine(on=on(slit, read.slit)))
    drawn = DrawLine(points=(points[0], points[-1]), role="slit")
    (tuck,) = with_facts(bare, drawn, picture=lambda: picture).tucks
    assert tuck.slit == "M2" and tuck.tip == pytest.approx((150, 120), abs=0.5)


def test_lines_parted_by_one_fact_have_ids_of_their_own(slit):
    """A place that is two slits now: both part the two lines that cross them."""
    (read,) = slit.tucks
    bare = with_facts(slit, TellNoTuck(on=on(slit, read.slit)))
    path = bare.line(read.slit).points
    middle = len(path) // 2
    halves = [
        bare.line(read.slit).model_copy(update={"id": "L90", "points": path[:middle]}),
        bare.line(read.slit).model_copy(update={"id": "L91", "points": path[middle:]}),
    ]
    whole = on(bare, read.slit)
    rest = tuple(line for line in bare.lines if line.id not in (read.slit, read.lap_line))
    crossing = with_facts(
        bare.model_copy(update={"lines": (*halves, *rest), "told": ()}),
        DrawLine(points=((20.0, 80.0), (280.0, 80.0))),
        DrawLine(points=((20.0, 15.0), (280.0, 15.0))),
    )
    told = with_facts(crossing.model_copy(update={"told": ()}), TellRole(on=whole, role="slit"))
    ids = [line.id for line in told.lines]
    assert len(ids) == len(set(ids))
    assert sum(line.length for line in told.lines if not line.is_tuck_mark) == pytest.approx(
        sum(line.length for line in crossing.lines if line.id not in ("L90", "L91")), abs=1.0
    )


def test_what_is_told_of_a_line_that_was_struck_out_takes_that_back(slit, picture):
    (read,) = slit.tucks
    name = read.breaks[0].lines[0]
    lines = tuple(
        line.model_copy(update={"withdrawn": True, "role": "unknown"}) if line.id == name else line
        for line in slit.lines
    )
    bare = read.model_copy(
        update={"breaks": tuple(each for each in read.breaks if name not in each.lines)}
    )
    struck = slit.model_copy(update={"lines": lines, "tucks": (bare,)})
    other = bare.breaks[0].lines[0]
    again = EraseLine(on=on(slit, other))
    kept = with_facts(struck, again, picture=lambda: picture)
    assert kept.line(name).withdrawn and kept.line(name).group is None
    assert not any(name in each.lines for each in kept.tucks[0].breaks)
    told = with_facts(struck, TellRole(on=on(slit, name), role="form"), picture=lambda: picture)
    assert not told.line(name).withdrawn and told.line(name).group is not None
    # Its break measures the tuck again.
    assert any(name in each.lines for each in told.tucks[0].breaks)
