"""Lengths, sizes and days as people write them."""

from datetime import date

import pytest
from hypothesis import given, strategies

from digitize.units import (
    NotALength,
    day,
    in_both,
    in_thirty_seconds,
    length_in_words,
    length_mm,
    sheet_size,
)


@pytest.mark.parametrize(
    ("words", "mm"),
    [
        ("76", 76.0),
        (" 76 mm ", 76.0),
        ("82mm", 82.0),
        ("8.2 cm", 82.0),
        ("8,2 cm", 82.0),
        ("1.2m", 1200.0),
        ("3in", 76.2),
        ('1"', 25.4),
        ("3-1/4in", 82.55),  # 3.25 * 25.4
        ('3 1/4"', 82.55),
        ("3¼″", 82.55),
        ("3 ¼ in", 82.55),
        ("¾”", 19.05),  # 0.75 * 25.4
        ("3.25 in", 82.55),
        ("3,25 inches", 82.55),
        ("3 1/4 IN.", 82.55),
        ("5/16in", 7.9375),
        ("5 / 16 in", 7.9375),
        (".5in", 12.7),
        ("2-1/2mm", 2.5),
        ("1' 2 3/8\"", 365.125),  # 14.375 * 25.4
        ("1′2⅜″", 365.125),
        ("1ft 2in", 355.6),
        ("1' 2", 355.6),
        ("4ft", 1219.2),
        ("3''", 76.2),
        ("7.4 (9/32)", 7.4),
    ],
)
def test_a_length_is_read_as_it_is_written(words, mm):
    assert length_mm(words) == pytest.approx(mm, abs=1e-9)


def test_a_bare_number_is_in_the_users_own_unit():
    assert length_mm("3 1/4", "inch") == pytest.approx(82.55)
    assert length_mm("3", "inch") == pytest.approx(76.2)
    assert length_mm("82 mm", "inch") == 82.0


@pytest.mark.parametrize("words", ["3/4", "3 1/4", "¾"])
def test_a_bare_fraction_is_asked_back_where_a_bare_number_is_mm(words):
    with pytest.raises(NotALength, match="has no unit"):
        length_mm(words)


@pytest.mark.parametrize(
    "words",
    [
        "",
        "x",
        "0",
        "0in",
        "-3",
        "1/0in",
        "3 in wide",
        "3in 4in",
        "3mm 4in",
        "1' 2mm",
        "1e9",
        "1e999999999",
        "9" * 5000,
        "nan",
        "inf",
        "1,000,000 mm",
        "٣ in x",
        "200 m",
    ],
)
def test_what_is_no_length_is_refused(words):
    with pytest.raises(NotALength):
        length_mm(words)


@pytest.mark.parametrize(
    ("words", "mm"),
    [
        ("1250x2500", (1250.0, 2500.0)),
        ("1250 x 2500", (1250.0, 2500.0)),
        ("1250×2500 mm", (1250.0, 2500.0)),
        ("4x8ft", (1219.2, 2438.4)),
        ("4' x 8'", (1219.2, 2438.4)),
        ("35x28in", (889.0, 711.2)),
        (" 4ftx96in ", (1219.2, 2438.4)),
        ('48 1/2" x 96"', (1231.9, 2438.4)),
    ],
)
def test_a_size_keeps_its_sides_in_order(words, mm):
    assert sheet_size(words) == (words.strip(), pytest.approx(mm))


@pytest.mark.parametrize("words", ["1250", "1x2x3", "axb", "1250x"])
def test_what_is_no_size_is_refused(words):
    with pytest.raises(NotALength):
        sheet_size(words)


@pytest.mark.parametrize(
    ("words", "iso"),
    [
        ("2026", "2026"),
        ("2026-11", "2026-11"),
        ("2026-11-25", "2026-11-25"),
        ("yesterday", "2026-11-24"),
        ("last week", "2026-11-18"),
        ("2 months ago", "2026-09-25"),
        ("3 November 2026", "2026-11-03"),
    ],
)
def test_a_day_is_read_as_it_is_said(words, iso):
    assert day(words, date(2026, 11, 25)) == iso


@pytest.mark.parametrize(
    "words",
    [
        "",
        "2026-13",
        "2026-02-30",
        pytest.param("whenever", marks=pytest.mark.slow),  # in every language that it may be
        "x" * 99,
    ],
)
def test_what_is_no_day_is_refused(words):
    with pytest.raises(ValueError):
        day(words, date(2026, 11, 25))


@pytest.mark.parametrize(
    ("mm", "inches"),
    [
        (7.14, "9/32"),  # 7.14 / 25.4 * 32 = 8.995
        (7.5, "9/32"),  # 9.45, nearer to 9 than to 10
        (7.6, "5/16"),  # 9.57: ten
        (1.6, "1/16"),
        (12.6, "1/2"),  # 15.87: sixteen
        (27.8, "1 3/32"),
        (25.4, "1"),
        (-27.8, "-1 3/32"),
        (0.3, "0"),
        (-0.3, "0"),
    ],
)
def test_inches_go_to_the_nearest_thirty_second(mm, inches):
    assert in_thirty_seconds(mm) == inches


def test_the_users_own_unit_comes_first():
    assert length_in_words(82.55, "mm") == "82.5 mm (3 1/4 in)"  # 3.25 x 25.4
    assert length_in_words(82.55, "inch") == "3 1/4 in (82.5 mm)"
    assert length_in_words(0.3, "inch") == length_in_words(0.3, "mm") == "0.3 mm"


def test_both_units_stand_side_by_side_where_there_is_something_to_say():
    assert in_both(7.44) == "7.4 (9/32)"
    assert in_both(0.3) == "0.3"
    assert in_both(7.44, "inch") == "9/32 (7.4)"
    assert in_both(12.7, "inch") == "1/2 (12.7)"  # never 16/32
    assert in_both(0.04) == "-" and in_both(-0.06) == "-0.1"


@given(strategies.floats(0.06, 5000))
def test_what_is_printed_is_read(mm):
    assert length_mm(in_both(mm)) == pytest.approx(mm, abs=0.051)
    inches = in_thirty_seconds(mm)
    if inches != "0":
        assert length_mm(f"{inches} in") == pytest.approx(mm, abs=25.4 / 64 + 1e-9)
        assert length_mm(inches, "inch") == pytest.approx(mm, abs=25.4 / 64 + 1e-9)


@pytest.mark.parametrize("words", ["\u00bd257 '", "21\u00bd8 mm", "3\u00bc1/2 in", "\u00bd\u00bd"])
def test_a_fraction_does_not_grow_together_with_what_follows_it(words):
    with pytest.raises(NotALength):
        length_mm(words)
    assert length_mm("3\u00bd in") == length_mm('3 \u00bd"') == pytest.approx(88.9)
