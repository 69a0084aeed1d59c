"""Lengths as people write them."""

import pytest

from digitize.units import in_both, in_thirty_seconds, length_mm, sheet_size


@pytest.mark.parametrize(
    ("words", "mm"),
    [
        ("76", 76.0),
        (" 76 mm ", 76.0),
        ("3in", 76.2),
        ("3-1/4in", 82.55),  # 3.25 * 25.4
        ("5/16in", 7.9375),
        ("0.5in", 12.7),
        ("2-1/2mm", 2.5),
    ],
)
def test_a_length_is_read_as_it_is_written(words, mm):
    assert length_mm(words) == pytest.approx(mm, abs=1e-12)


@pytest.mark.parametrize("words", ["", "x", "0", "0in", "-3", "1/0in", "3 in wide"])
def test_what_is_no_length_is_refused(words):
    with pytest.raises(ValueError):
        length_mm(words)


def test_a_stock_sheet_keeps_its_sides_in_order():
    assert sheet_size("1250x2500") == ("1250x2500", (1250.0, 2500.0))
    assert sheet_size(" 4ftx96in ") == ("4ftx96in", (pytest.approx(1219.2), pytest.approx(2438.4)))
    with pytest.raises(ValueError):
        sheet_size("1250")


@pytest.mark.parametrize(
    ("mm", "inches"),
    [
        (7.14, "9/32"),  # 7.14 / 25.4 * 32 = 8.995
        (7.5, "9/32"),  # 9.45, nearer to 9 than to 10
        (7.6, "10/32"),  # 9.57
        (1.6, "2/32"),
        (27.8, "1 3/32"),
        (25.4, "1"),
        (-27.8, "-1 3/32"),
        (0.3, "0"),
        (-0.3, "0"),
    ],
)
def test_inches_go_to_the_nearest_thirty_second(mm, inches):
    assert in_thirty_seconds(mm) == inches


def test_both_units_stand_side_by_side_where_there_is_something_to_say():
    assert in_both(7.44) == "7.4 (9/32)"
    assert in_both(0.3) == "0.3"
    assert in_both(0.04) == "-" and in_both(-0.06) == "-0.1"
