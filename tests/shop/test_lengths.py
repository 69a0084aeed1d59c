"""Lengths of lines that tucks part, worked by hand."""

import pytest

from digitize.record import Break, LineGroup, Pattern
from digitize.shop.lengths import group_lengths
from tests.draw.lopsided import line, tuck


def of(*laps):
    """A line of 100 and 50 mm, and another of 40; breaks between the first two lap by so much."""
    lines = (
        line("L1", "form", [(0, 0), (100, 0)]),
        line("L2", "form", [(108, 0), (158, 0)]),
        line("L3", "trim-edge", [(0, 40), (40, 40)]),
        line("L4", "slit", [(100, 20), (100, -20)]),
    )
    groups = (
        LineGroup(id="F1", role="form", pieces=({"line": "L1"}, {"line": "L2"})),
        LineGroup(id="E1", role="trim-edge", pieces=({"line": "L3"},)),
    )
    tucks = tuple(
        tuck(
            f"T{k}", "L4", (100, 20), breaks=(Break(lines=("L1", "L2"), depth=9, lap=lap, along=0),)
        )
        for k, lap in enumerate(laps)
    )
    pattern = Pattern(
        name="p", outline=((0, 0), (9, 0), (9, 9)), lines=lines, groups=groups, tucks=tucks
    )
    return {each.group.id: (each.paper, each.finished) for each in group_lengths(pattern)}


@pytest.mark.parametrize(
    ("laps", "expected"),
    [
        ((), (150, 150)),
        ((8.0,), (158, 150)),  # 8 mm lie under the other flap: the metal there is shrunk away
        ((-6.0,), (150, 156)),  # the paper opened by 6 mm: as much is let in
        ((8.0, -6.0), (158, 156)),
    ],
)
def test_a_line_across_tucks_is_as_much_longer_flat_as_they_take_up(laps, expected):
    found = of(*laps)
    assert found["F1"] == pytest.approx(expected)
    assert found["E1"] == pytest.approx((40, 40))  # no tuck parts it
