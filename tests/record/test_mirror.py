"""The other side by hand: an asymmetric record of every kind of thing that has a place."""

import typing
from typing import Annotated

import numpy as np
import pytest
from pydantic import BaseModel

from digitize.record import (
    CardSeen,
    CurvePiece,
    LapShape,
    Line,
    Note,
    Pattern,
    PrintCorrection,
    PrintDoubt,
    RadiusAt,
    Rectified,
    Remark,
    Scale,
    Tuck,
    Zone,
    mirrored,
)
from digitize.record.mirror import flipped_in
from digitize.record.parts import Flips, Point
from digitize.record.places import changed


def test_the_other_side_is_the_exact_reflection(corner):
    other = mirrored(corner)
    width = max(x for x, _ in corner.outline)
    assert (corner.side, other.side) == ("left", "right")
    for line, twin in zip(corner.lines, other.lines, strict=True):
        assert line.id == twin.id and line.role == twin.role
        assert np.allclose(np.array(line.points) * [-1, 1] + [width, 0], twin.points, atol=1e-5)
    assert [t.lap_at_trim for t in other.tucks] == [t.lap_at_trim for t in corner.tucks]


def test_mirrored_twice_is_the_same(corner):
    as_it_was = corner.model_copy(update={"rectified": None})
    assert mirrored(mirrored(corner)) == as_it_was


def lopsided():
    """A paper from x = 10 to x = 110: whatever lies at x comes to lie at 120 - x."""
    arc = CurvePiece(kind="arc", points=((20.0, 5.0), (33.37, 9.0), (50.0, 5.0)))
    return Pattern(
        name="wing",
        side="left",
        outline=((10.0, 0.0), (110.0, 0.0), (60.0, 80.0)),
        scale=Scale(
            cards=(
                CardSeen(number=2, paper="A4", corners=40, centre=(30.0, -20.0), turn_deg=25.0),
            ),
            reprojection_px=0.2,
            print_correction=PrintCorrection(x=1.01, y=0.99),
            accuracy_mm=0.5,
            accuracy_cards_mm=0.3,
            accuracy_print_mm=0.4,
            accuracy_flatness_mm=0.0,
            print_doubt=PrintDoubt(relative=0.005, measured=False, accuracy_beside_mm=0.3),
        ),
        lines=(
            Line(
                id="L1",
                role="radius-start",
                role_confidence=0.9,
                points=((20.0, 5.0), (33.37, 9.0), (50.0, 5.0)),
                width=0.5,
                sigma=0.1,
                radii=(RadiusAt(along=4.0, radius=30.0),),
                pieces=(arc,),
            ),
        ),
        tucks=(
            Tuck(
                id="T1",
                kind="slit",
                tip=(40.0, 60.0),
                slit="L1",
                lap_line=None,
                stations=(),
                shape=LapShape(bend=(5.0, 30.0), course=((5.0, 0.001), (30.0, 0.002))),
                turn_deg=3.0,
            ),
        ),
        zones=(
            Zone(
                id="Z1",
                kind="shrink",
                boundary=((20.0, 0.0), (60.0, 0.0), (20.0, 30.0)),
                tucks=("T1",),
                stations=(),
                peak_shrink=0.05,
            ),
        ),
        rectified=Rectified(left=-3.0, top=90.0, mm_per_px=0.2),
        notes=(Note(id="N1", box=(20.0, 5.0, 50.0, 15.0)),),
        remarks=(Remark(kind="blur", words="soft", at=(25.0, 7.0)), Remark(kind="x", words="y")),
    )


def test_every_place_comes_to_lie_as_far_from_the_other_edge():
    other = mirrored(lopsided())
    assert other.side == "right" and other.name == "wing"
    # Round an area the order is turned about, so that it stays counter-clockwise.
    assert other.outline == ((60.0, 80.0), (10.0, 0.0), (110.0, 0.0))
    assert other.zones[0].boundary == ((100.0, 30.0), (60.0, 0.0), (100.0, 0.0))
    # Along a line it is kept: what is told along it stays where it is told.
    assert other.lines[0].points == ((100.0, 5.0), (86.63, 9.0), (70.0, 5.0))
    assert other.lines[0].pieces[0].points == other.lines[0].points
    assert other.lines[0].radii == lopsided().lines[0].radii
    assert other.tucks[0].tip == (80.0, 60.0)
    assert other.notes[0].box == (70.0, 5.0, 100.0, 15.0)
    assert other.remarks[0].at == (95.0, 7.0) and other.remarks[1].at is None


def test_a_card_lies_mirrored_and_turned_the_other_way():
    (card,) = mirrored(lopsided()).scale.cards
    assert card.centre == (90.0, -20.0) and card.turn_deg == -25.0


def test_numbers_that_are_no_places_stay_as_they_are():
    tuck, scale = mirrored(lopsided()).tucks[0], mirrored(lopsided()).scale
    assert tuck.shape == lopsided().tucks[0].shape and tuck.turn_deg == 3.0
    assert (scale.print_correction.x, scale.print_correction.y) == (1.01, 0.99)
    assert scale.print_doubt == lopsided().scale.print_doubt


def test_the_picture_of_this_side_is_not_the_other_sides():
    assert mirrored(lopsided()).rectified is None


@pytest.mark.parametrize(
    "kind",
    [
        tuple[float, float],
        tuple[float, ...],
        tuple[float],
        tuple[str, float],
        tuple[float | None, ...],
        tuple[tuple[float, float], ...],
        tuple[float, float] | None,
    ],
)
def test_bare_numbers_that_do_not_say_what_they_are_cannot_be_flipped(kind):
    value = ((1.0, 2.0),) if "tuple[tuple" in str(kind) else (1.0, 2.0)
    with pytest.raises(TypeError, match="flipped over"):
        changed(value, kind, flipped_in(120.0))


def test_a_place_beside_words_is_flipped():
    assert changed(((30.0, 4.0), "left"), tuple[Point, str], flipped_in(120.0)) == (
        (90.0, 4.0),
        "left",
    )


def parts_of(kind, seen):
    """Every type that a record's type is made of, marked ones as they are."""
    if typing.get_origin(kind) is Annotated and any(
        isinstance(mark, Flips) and mark is not Flips.RING for mark in typing.get_args(kind)[1:]
    ):
        return
    if isinstance(kind, type) and issubclass(kind, BaseModel):
        if kind not in seen:
            seen.add(kind)
            for hint in typing.get_type_hints(kind, include_extras=True).values():
                yield from parts_of(hint, seen)
        return
    yield kind
    if typing.get_origin(kind) is not typing.Literal:
        for part in typing.get_args(kind):
            yield from parts_of(part, seen)


def test_all_numbers_side_by_side_in_the_record_say_what_becomes_of_them():
    """Also those of parts that no record at hand has."""
    kinds = list(parts_of(Pattern, set()))
    assert tuple[Point, ...] in kinds
    for kind in kinds:
        if typing.get_origin(kind) in (tuple, list, set, dict):
            assert float not in typing.get_args(kind), kind
