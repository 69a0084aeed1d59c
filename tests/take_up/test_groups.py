"""Pieces of lines that are one on the metal."""

import pytest

from digitize.record import Break, mirrored
from digitize.take_up.derived import brought_up, derived
from digitize.take_up.groups import with_groups
from tests.mend.test_carry import line
from tests.take_up.slits import pattern_with, slit_of, tuck_in

# A trim edge that breaks at two upright slits: to the right of each it goes on 5 mm further. The
# piece between them was drawn from right to left; on the left it turns a corner.
SLITS = [slit_of("S1", (100, 0), (100, 90)), slit_of("S2", (200, 0), (200, 90))]
LEFT = line("L1", [(10, 50), (100, 50)], "trim-edge")
MIDDLE = line("L2", [(200, 50), (105, 50)], "trim-edge")
RIGHT = line("L3", [(205, 50), (300, 50)], "trim-edge")
SIDE = line("L4", [(10, 50.2), (10, -80)], "trim-edge")
FORM = line("L5", [(20, 10), (100, 20)], "form")
OTHER = line("L6", [(105, 20), (180, 10)], "unknown")


def tuck_of(slit, *pairs):
    breaks = tuple(Break(lines=pair, depth=50.0, lap=5.0, along=0.0) for pair in pairs)
    return tuck_in(slit, 50.0, lambda d: 0.1 * d, breaks=breaks)


def grouped(lines, *pairs_of_tucks):
    tucks = [tuck_of(slit, *pairs) for slit, pairs in zip(SLITS, pairs_of_tucks, strict=False)]
    return with_groups(pattern_with(SLITS, tucks, lines))


def test_what_tucks_and_corners_part_is_one_in_order():
    record = grouped(
        [LEFT, MIDDLE, RIGHT, SIDE, FORM, OTHER], [("L1", "L2"), ("L5", "L6")], [("L2", "L3")]
    )
    edge, form, other = record.groups
    assert (edge.id, edge.role, edge.closed) == ("E1", "trim-edge", False)
    # From the end of L4 below, up and round the corner, and on to the right.
    assert [(piece.line, piece.reversed) for piece in edge.pieces] == [
        ("L4", True),
        ("L1", False),
        ("L2", True),
        ("L3", False),
    ]
    # A line does not go on as one of another role.
    assert [(g.id, [p.line for p in g.pieces]) for g in (form, other)] == [
        ("F1", ["L5"]),
        ("U1", ["L6"]),
    ]
    assert record.line("L3").group == "E1" and record.line("S1").group is None


def test_an_edge_that_comes_round_to_itself_is_closed():
    # From beyond the second slit round below the paper to before the first.
    round_about = line("L4", [(205, 50), (10, 50)], "trim-edge", [(205, 50), (110, -90), (10, 50)])
    record = grouped([LEFT, MIDDLE, round_about], [("L1", "L2")], [("L2", "L4")])
    (edge,) = record.groups
    assert edge.closed and len(edge.pieces) == 3
    ring = line("L1", [(0, 0), (9, 0)], "form", [(0, 0), (9, 0), (9, 9)]).model_copy(
        update={"closed": True}
    )
    (alone,) = with_groups(pattern_with([], [], [ring])).groups
    assert alone.closed and [piece.line for piece in alone.pieces] == ["L1"]


@pytest.mark.parametrize("order", [("L5", "L6"), ("L6", "L5")])
def test_a_radius_ends_with_the_number_it_starts_with(order):
    starts = [
        line("L1", [(0, 0), (90, 0)], "radius-start"),
        line("L2", [(0, 100), (90, 100)], "radius-start"),
    ]
    ends = {
        "L5": line("L5", [(0, 120), (90, 120)], "radius-end"),
        "L6": line("L6", [(0, 20), (90, 20)], "radius-end"),
    }
    record = brought_up(pattern_with([], [], [*starts, *(ends[name] for name in order)]))
    # Without bands their numbers come in order.
    assert {g.id for g in record.groups} == {"R1-start", "R2-start", "R3-end", "R4-end"}
    record = derived(record)
    names = {piece.line: group.id for group in record.groups for piece in group.pieces}
    assert names == {"L1": "R1-start", "L2": "R2-start", "L6": "R1-end", "L5": "R2-end"}


def test_the_other_sides_groups_are_the_same():
    record = grouped([LEFT, MIDDLE, RIGHT], [("L1", "L2")], [("L2", "L3")])
    assert with_groups(mirrored(record)).groups == record.groups


def test_a_line_that_was_struck_out_is_a_piece_of_none_though_it_meets_one():
    struck = SIDE.model_copy(update={"role": "unknown", "withdrawn": True})
    record = grouped([LEFT, MIDDLE, struck, OTHER], [("L1", "L2")])
    assert [group.id for group in record.groups] == ["E1", "U1"]
    assert record.line("L4").group is None and record.line("L6").group == "U1"
