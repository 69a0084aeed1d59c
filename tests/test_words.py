"""Words that act on terminals, or are no letters, are shown and never act."""

import pytest

from digitize.words import printable


@pytest.mark.parametrize(
    ("words", "shown"),
    [
        ("roof corner, 3 1/4\N{DOUBLE PRIME}", "roof corner, 3 1/4\N{DOUBLE PRIME}"),
        ("red\x1b[31m", r"red\x1b[31m"),
        ("two\nlines\tand\r\nmore", "two lines and  more"),
        ("\x00\x07", r"\x00\x07"),
        ("name\udcff", r"name\udcff"),  # a byte 255 in a file's name
        ("turned \u202e round", r"turned \u202e round"),  # right to left from here on
    ],
)
def test_what_cannot_be_shown_is_escaped_and_the_rest_stays(words, shown):
    assert printable(words) == shown
    assert printable(shown) == shown
