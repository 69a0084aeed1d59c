import pytest

from digitize.shop.metal import sheet_of
from digitize.shop.shrink import shrink_tables
from digitize.take_up import zones_and_fans
from digitize.take_up.zones import with_zones
from tests.take_up.slits import staggered


def rows_of(sheet=None, unit="mm"):
    """The table of slits 100, 70 and 120 mm deep that lap by 10, 14 and 6 mm at the trim edge."""
    tucks = tuple(
        tuck.model_copy(update={"lap_at_trim": lap})
        for tuck, lap in zip(staggered().tucks, (10.0, 14.0, 6.0), strict=True)
    )
    record = with_zones(staggered(sheet=sheet).model_copy(update={"tucks": tucks, "unit": unit}))
    (table,) = shrink_tables(record, zones_and_fans(record))
    return table


def test_what_is_taken_fades_from_the_trim_edge_to_each_tucks_own_tip():
    table = rows_of()
    # The deepest of 120 mm in steps of 25, the least that leaves no more than five.
    assert table.distances == (0, 25, 50, 75, 100)
    first, second, third = table.rows
    assert [first.tuck, second.tuck, third.tuck] == ["T1", "T2", "T3"]
    assert first.taken == pytest.approx([10, 7.5, 5, 2.5, 0], abs=0.03)
    assert second.taken == pytest.approx([14, 9, 4, 0, 0], abs=0.03)
    assert third.taken == pytest.approx([6, 4.75, 3.5, 2.25, 1], abs=0.03)
    assert [row.fades for row in table.rows] == [100, 70, 120]


def test_who_works_in_inches_finds_even_inches_over_the_columns():
    table = rows_of(unit="inch")
    # 120 mm are 4.7 in: in steps of one inch they take five columns.
    assert table.distances == pytest.approx((0, 25.4, 50.8, 76.2, 101.6))
    assert table.rows[0].taken[2] == pytest.approx(10 * (1 - 50.8 / 100), abs=0.03)


def test_a_tuck_s_shrink_is_its_lap_over_the_width_it_belongs_to():
    # Half the spacing of 50 mm and of 100 mm to either side.
    table = rows_of()
    assert [row.width for row in table.rows] == pytest.approx([50, 75, 100], abs=0.01)
    assert [row.shrink for row in table.rows] == pytest.approx([0.2, 14 / 75, 0.06], abs=1e-4)
    assert {row.thickness for row in table.rows} == {None}


def test_shrunk_metal_is_thicker_by_what_its_length_lost():
    # 1.2 mm of metal shrunk by a fifth of its length are 1.2 / 0.8 = 1.5 mm.
    rows = rows_of(sheet_of("steel 1.2 mm")).rows
    assert rows[0].thickness == pytest.approx(1.5, abs=0.001)
    assert rows[2].thickness == pytest.approx(1.2 / 0.94, abs=0.001)
