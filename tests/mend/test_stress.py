"""What holds of any facts told in any order, on a record of lines and a slit."""

import json
import math

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings, strategies

from digitize.mend import moved, placed, replayed
from digitize.mend.places import on_line
from digitize.plane import Placement, rotation
from digitize.record import (
    CloseLine,
    DrawLine,
    EraseLine,
    JoinLines,
    MoveEnd,
    SplitLine,
    TakeBack,
    TellAbout,
    TellAgain,
    TellAllowance,
    TellArea,
    TellCut,
    TellDatum,
    TellFold,
    TellHole,
    TellNoTuck,
    TellOutline,
    TellRadius,
    TellRole,
    TellTakeUp,
    TellWords,
    from_json,
    numbered,
    standing,
    to_json,
)
from tests.marks import record_of
from tests.tucks.test_tucks import OUTLINE, line_broken_at, slit_at

ROLES = ("trim-edge", "radius-start", "radius-end", "form", "lap", "slit", "crease", "unknown")
READING = record_of(
    [
        *slit_at(120, 8.0),
        *slit_at(200, 12.0),
        *line_broken_at(30, [(120, 8.0), (200, 12.0)]),
        *line_broken_at(60, [(120, 8.0), (200, 12.0)]),
    ],
    OUTLINE,
)
SOME = settings(max_examples=250, deadline=None, suppress_health_check=list(HealthCheck))
places = strategies.tuples(
    strategies.integers(0, 300).map(float), strategies.integers(0, 200).map(float)
)
lines = strategies.sampled_from(READING.lines).map(on_line)
lengths = strategies.integers(1, 200).map(float)
words = strategies.text("aé ½\n", max_size=4)


def some_facts():
    """Facts of every kind about the record's lines and any places, fitting or not."""
    build = strategies.builds
    return strategies.one_of(
        build(DrawLine, points=strategies.lists(places, min_size=2, max_size=4).map(tuple)),
        build(EraseLine, on=lines, between=strategies.none() | strategies.tuples(places, places)),
        build(SplitLine, on=lines, at=places),
        build(JoinLines, on=lines, to=lines),
        build(MoveEnd, on=lines, at=places, to=places),
        build(CloseLine, on=lines),
        build(TellRole, on=lines, role=strategies.sampled_from(ROLES)),
        build(
            TellRadius,
            on=lines,
            radii=strategies.lists(
                strategies.fixed_dictionaries({"at": places, "radius": lengths}), max_size=2
            ).map(tuple),
        ),
        build(TellWords, on=lines, words=words),
        build(TellCut, on=lines, lap_line=strategies.none() | lines),
        build(TellFold, on=lines, other=strategies.none() | lines),
        build(TellNoTuck, on=lines),
        build(
            TellTakeUp,
            on=lines,
            laps=strategies.lists(
                strategies.fixed_dictionaries(
                    {"depth": lengths, "lap": strategies.integers(-20, 20).map(float)}
                ),
                max_size=2,
            ).map(tuple),
        ),
        build(TellOutline, points=strategies.just(READING.outline[:3])),
        build(TellAllowance, on=strategies.lists(lines, max_size=2).map(tuple), width=lengths),
        build(TellDatum, at=places, direction_deg=lengths),
        build(TellHole, at=places, diameter=lengths),
        build(
            TellArea,
            boundary=strategies.just(((1.0, 1.0), (9.0, 1.0), (9.0, 9.0))),
            use=strategies.just("stretch"),
        ),
        build(TellAbout, name=words, unit=strategies.sampled_from(("mm", "inch"))),
    )


many = strategies.lists(some_facts(), max_size=6).map(numbered)


def made(told):
    """The pattern that facts make, as its file has it."""
    return to_json(replayed(READING, told).pattern)


@SOME
@given(many)
def test_facts_give_the_same_pattern_again_from_their_file(told):
    pattern = replayed(READING, told).pattern
    text = to_json(pattern)
    again = from_json(text)
    assert made(again.told) == text
    assert "NaN" not in text and "Infinity" not in text
    values = json.loads(text)
    assert all(
        math.isfinite(v) for line in values["lines"] for point in line["points"] for v in point
    )


@SOME
@given(many)
def test_what_fits_is_there_and_what_does_not_is_named(told):
    result = replayed(READING, told)
    assert result.pattern.told == told
    lost = {each.fact.number for each in result.lost}
    assert lost <= {fact.number for fact in told}
    assert all(each.why and "\n" not in each.why[:10] for each in result.lost)


@SOME
@given(many)
def test_no_line_is_lost_that_nobody_erased_or_joined(told):
    result = replayed(READING, told)
    lost = {each.fact.number for each in result.lost}
    taken = [
        fact for fact in told if isinstance(fact, EraseLine | JoinLines) and fact.number not in lost
    ]
    gone = {line.id for line in READING.lines} - {line.id for line in result.pattern.lines}
    assert len(gone) <= 2 * len(taken)
    ids = [line.id for line in result.pattern.lines]
    assert len(ids) == len(set(ids))
    for tuck in result.pattern.tucks:
        assert {tuck.slit} | ({tuck.lap_line} - {None}) <= set(ids)
        assert all(set(found.lines) <= set(ids) for found in tuck.breaks)


@SOME
@given(many, strategies.data())
def test_taking_back_is_exact_and_so_is_telling_again(told, data):
    if not told:
        return
    number = data.draw(strategies.integers(1, len(told)))
    last = len(told)
    back = (*told, TakeBack(number=last + 1, fact=number))
    again = (*back, TellAgain(number=last + 2, fact=number))

    def without_told(facts):
        return to_json(replayed(READING, facts).pattern.model_copy(update={"told": ()}))

    rest = tuple(fact for fact in told if fact.number != number)
    assert standing(back) == rest
    assert without_told(back) == without_told(rest)
    assert without_told(again) == without_told(told)


def test_a_fact_on_another_reading_lies_where_the_paper_does():
    quarter = Placement(
        rotation(math.pi / 2), np.array([100.0, 0.0]), np.zeros(2), np.zeros((3, 3))
    )
    fact = TellDatum(at=(10.0, 20.0), direction_deg=15.0)
    there = moved(fact, quarter)
    # A quarter turn counter-clockwise takes (10, 20) to (-20, 10), and the shift to (80, 10).
    assert there.at == pytest.approx((80.0, 10.0))
    assert there.direction_deg == pytest.approx(105.0)
    role = moved(TellRole(on=on_line(READING.lines[0]), role="form"), quarter)
    (x, y), (u, v) = READING.lines[0].points[0], role.on.points[0]
    assert (u, v) == pytest.approx((100 - y, x), abs=0.01)


def test_a_fact_may_name_its_line_a_group_or_a_tuck():
    (one,) = placed(READING, TellRole(on="l1", role="form"))
    assert one.on == on_line(READING.line("L1"))
    group = READING.groups[0]
    several = placed(READING, TellRole(on=group.id.lower(), role="form"))
    assert [fact.on.line for fact in several] == [piece.line for piece in group.pieces]
    (cut,) = placed(READING, TellNoTuck(on="T1"))
    assert cut.on.line == READING.tuck("T1").slit
    (spare,) = placed(READING, TellAllowance(on=(group.id,), width=5.0))
    assert [on.line for on in spare.on] == [piece.line for piece in group.pieces]
