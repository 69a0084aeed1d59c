"""What is told about the whole pattern, by hand."""

import pytest

from digitize.mend.places import on_line
from digitize.record import (
    EraseLine,
    JoinLines,
    Note,
    Remark,
    SplitLine,
    TellAbout,
    TellAllowance,
    TellArea,
    TellDatum,
    TellHole,
    TellOutline,
    TellWords,
    mirrored,
)
from tests.mend.test_labels import bend
from tests.told import with_facts


def test_the_part_is_told_and_what_is_not_told_stays():
    named = with_facts(bend(), TellAbout(name="sill", part="caravan", unit="inch"))
    told = with_facts(named, TellAbout(side="left", reference="K-12"))
    assert (told.name, told.part, told.unit) == ("sill", "caravan", "inch")
    assert (told.side, told.reference) == ("left", "K-12")


def test_one_photo_held_flat_is_sixfold_as_flat(corner):
    """The paper stands off the floor by 3 mm at most, or 0.5 where it is held (95 %)."""
    scale = corner.scale.model_copy(
        update={
            "accuracy_mm": 5.0,
            "accuracy_cards_mm": 4.0,
            "accuracy_print_mm": 0.0,
            "accuracy_flatness_mm": 3.0,
        }
    )
    pattern = corner.model_copy(update={"scale": scale, "sources": corner.sources[:1]})
    held = with_facts(pattern, TellAbout(held_flat=True)).scale
    assert held.held_flat
    assert held.accuracy_flatness_mm == 0.5
    # The root of 4^2 + 0.5^2.
    assert held.accuracy_mm == pytest.approx(4.031, abs=1e-3)
    back = with_facts(with_facts(pattern, TellAbout(held_flat=True)), TellAbout(held_flat=False))
    assert back.scale.accuracy_mm == pytest.approx(5.0, abs=1e-3)


def trimmed():
    """Two trim edges, 200 mm long."""
    lines = tuple(line.model_copy(update={"role": "trim-edge"}) for line in bend().lines)
    return bend().model_copy(update={"lines": lines})


def test_an_allowance_goes_with_its_line_and_is_of_the_trim_edge_alone():
    pattern = trimmed()
    first, second = (on_line(line) for line in pattern.lines)
    told = with_facts(pattern, TellAllowance(on=(first,), width=60.0))
    halves = with_facts(told, SplitLine(on=first, at=(120, 30)))
    assert halves.allowances[0].lines == ("L1", "M2")
    gone = with_facts(told, EraseLine(on=first))
    assert not gone.allowances
    joined = with_facts(told, JoinLines(on=second, to=first))
    assert joined.allowances[0].lines == ("L2",)
    with pytest.raises(AssertionError, match="metal to spare lies along a trim edge"):
        with_facts(bend(), TellAllowance(on=(on_line(bend().lines[0]),), width=60.0))


def test_an_allowance_takes_the_place_of_one_told_for_the_same_lines():
    pattern = trimmed()
    first, second = (on_line(line) for line in pattern.lines)
    told = with_facts(
        pattern,
        TellAllowance(width=25.0),
        TellAllowance(on=(first, second), width=10.0),
        TellAllowance(on=(first,), width=12.0),
        TellAllowance(width=30.0),
    )
    assert [(each.lines, each.width) for each in told.allowances] == [
        (("L2",), 10.0),
        (("L1",), 12.0),
        ((), 30.0),
    ]


def test_datum_holes_and_areas_are_kept_and_turn_over_with_the_paper():
    told = with_facts(
        bend(),
        TellDatum(at=(10, 20), direction_deg=30.0),
        TellHole(at=(50, 60), diameter=6.0),
        TellArea(boundary=((0, 0), (30, 0), (30, 40)), use="stretch"),
        TellDatum(at=(11, 21), direction_deg=40.0),
    )
    assert (told.datum.at, told.datum.direction_deg) == ((11, 21), 40)
    assert [(hole.id, hole.at, hole.diameter) for hole in told.holes] == [("H2", (50, 60), 6)]
    assert [(area.id, area.use) for area in told.areas] == [("A3", "stretch")]
    other = mirrored(told)  # 400 mm wide
    assert (other.datum.at, other.datum.direction_deg) == ((389, 21), -40)
    assert other.holes[0].at == (350, 60)
    assert other.areas[0].boundary == ((370, 40), (370, 0), (400, 0))
    assert not other.told


def test_the_papers_edge_told_is_sure():
    unsure = bend().model_copy(update={"outline_unsure": (((0, 0), (10, 0)),)})
    told = with_facts(unsure, TellOutline(points=((0, 0), (300, 0), (300, 150))))
    assert told.outline == ((0, 0), (300, 0), (300, 150)) and not told.outline_unsure


def test_words_go_to_the_writing_nearest_to_their_place():
    notes = (Note(id="N1", box=(10, 10, 40, 20)), Note(id="N2", box=(10, 40, 40, 50)))
    pattern = bend().model_copy(update={"notes": notes})
    told = with_facts(pattern, TellWords(at=(38, 42), words="R 100"))
    assert [note.text for note in told.notes] == [None, "R 100"]
    assert [n.text for n in with_facts(told, TellWords(at=(38, 42))).notes] == [None, None]
    with pytest.raises(AssertionError, match="no writing near 200, 100"):
        with_facts(pattern, TellWords(at=(200, 100), words="x"))


def test_what_the_photos_left_open_is_not_said_once_it_is_told(corner):
    said = tuple(
        Remark(kind=kind, words=kind) for kind in ("flatness-unseen", "outline-unsure", "accuracy")
    )
    pattern = corner.model_copy(update={"remarks": said})
    held = with_facts(pattern, TellAbout(held_flat=True))
    assert [remark.kind for remark in held.remarks] == ["outline-unsure"]
    told = with_facts(pattern, TellOutline(points=pattern.outline))
    assert [remark.kind for remark in told.remarks] == ["flatness-unseen", "accuracy"]


def test_an_allowance_between_places_is_of_the_line_that_they_lie_on():
    pattern = trimmed()
    both = tuple(on_line(line) for line in pattern.lines)
    told = with_facts(pattern, TellAllowance(on=both, width=40.0, between=((50, 91), (90, 89))))
    (stretch,) = told.allowances
    assert (stretch.lines, stretch.width) == (("L2",), 40.0)
    with pytest.raises(AssertionError, match="mm off it"):
        with_facts(pattern, TellAllowance(on=both, width=40.0, between=((50, 91), (90, 60))))
    with pytest.raises(AssertionError, match="say which"):
        with_facts(pattern, TellAllowance(width=40.0, between=((50, 91), (90, 89))))


def test_stock_that_is_no_size_is_refused():
    assert with_facts(bend(), TellAbout(stock="4x8ft")).stock == "4x8ft"
    with pytest.raises(AssertionError, match="stock big: is no size"):
        with_facts(bend(), TellAbout(stock="big"))
