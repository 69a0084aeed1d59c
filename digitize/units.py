"""Lengths, sizes and dates as people write them: read from words, and put into words."""

import re
import unicodedata
from datetime import date, datetime, timedelta
from fractions import Fraction
from typing import Literal

INCH_MM = 25.4
FOOT_MM = 12 * INCH_MM
LONGEST_MM = 100_000.0  # nothing that is worked here is longer
MOST_LETTERS = 60
Unit = Literal["mm", "inch"]
MM_OF: dict[str, float] = {
    "mm": 1.0,
    "cm": 10.0,
    "m": 1000.0,
    '"': INCH_MM,
    "in": INCH_MM,
    "inch": INCH_MM,
    "inches": INCH_MM,
    "'": FOOT_MM,
    "ft": FOOT_MM,
    "foot": FOOT_MM,
    "feet": FOOT_MM,
}
# As other keyboards and other hands have them.
SIGNS = str.maketrans(
    {"″": '"', "“": '"', "”": '"', "„": '"', "′": "'", "’": "'", "‘": "'", "⁄": "/", "×": "x"}
    | dict.fromkeys("−–—‐‑", "-")
    | dict.fromkeys("\u00a0\u2009\u202f", " ")
)
NUMBER = r"(?:\d+[ -]+\d+ */ *\d+|\d+ */ *\d+|\d+(?:[.,]\d+)?|[.,]\d+)"
UNITS = r"(?:mm|cm|m|inches|inch|in|''|\"|'|feet|foot|ft)"
PART = re.compile(rf"\s*({NUMBER})\s*({UNITS})?\.?\s*", re.IGNORECASE)
IN_BOTH = re.compile(r"(.*\d)\s*\(\d[^()]*\)\s*$")  # as tables here have it: 7.4 (9/32)


class NotALength(ValueError):
    """Words that are no length; its text says why."""


def length_mm(words: str, unit: Unit = "mm") -> float:
    """A length in mm: ``3 1/4"``, ``3-1/4in``, ``1' 2 3/8"``, ``82``, ``8.2 cm``, ``3,25 in``.

    Parameters
    ----------
    unit : what a bare number is in.

    Raises
    ------
    NotALength
        If it is none, is not more than nothing, or is a bare fraction where a bare number is mm.
    """
    plain = _plain(words)
    if both := IN_BOTH.fullmatch(plain):
        plain = both[1]
    total, place, before = 0.0, 0, ""
    while place < len(plain):
        found = PART.match(plain, place)
        if found is None or not found[0]:
            raise NotALength("is no length")
        number, named = found[1], (found[2] or "").lower().replace("''", '"')
        if place and MM_OF.get(before) != FOOT_MM:
            raise NotALength("is more than one length")
        if not named:
            # After feet come inches.
            named = '"' if place else _bare(number, unit)
        elif place and MM_OF[named] != INCH_MM:
            raise NotALength("is more than one length")
        total += _value(number) * MM_OF[named]
        place, before = found.end(), named
    if not 0 < total <= LONGEST_MM:
        raise NotALength("has to be more than nothing, and less than 100 m")
    return total


def sheet_size(words: str, unit: Unit = "mm") -> tuple[str, tuple[float, float]]:
    """A sheet's size as written, and in mm: ``1250x2500``, ``4x8ft``, ``35 x 28 in``, ``4' x 8'``.

    A unit after the second side alone is of both; ``unit`` is what bare numbers are in. Raises
    NotALength.
    """
    sides = _plain(words).lower().split("x")
    if len(sides) != 2:
        raise NotALength("is no size of two sides")
    named = re.search(rf"({UNITS})\.?\s*$", sides[1], re.IGNORECASE)
    if named is not None and re.fullmatch(rf"\s*{NUMBER}\s*", sides[0]):
        sides[0] += named[1]
    return words.strip(), (length_mm(sides[0], unit), length_mm(sides[1], unit))


def day(words: str, today: date | None = None) -> str:
    """A day, month or year as ISO 8601 has it: ``2026``, ``2026-11``, ``yesterday``, ``last week``.

    Parameters
    ----------
    today : the day that it is; this one, if not given.

    Raises
    ------
    ValueError
        If it is none.
    """
    plain = words.strip()
    if re.fullmatch(r"\d{4}(-\d{2}(-\d{2})?)?", plain):
        date.fromisoformat((plain + "-01-01")[:10] if len(plain) < 10 else plain)
        return plain
    if len(plain) > MOST_LETTERS:
        raise ValueError(words)
    import dateparser  # loads much, and is asked seldom

    now = datetime.combine(today or date.today(), datetime.min.time())
    if plain.lower() == "last week":
        return (now - timedelta(days=7)).date().isoformat()
    found = dateparser.parse(plain, settings={"RELATIVE_BASE": now, "PREFER_DATES_FROM": "past"})
    if found is None:
        raise ValueError(words)
    return str(found.date().isoformat())


def in_thirty_seconds(length_mm: float) -> str:
    """A length to the nearest 1/32 inch, as a rule has it: ``9/32``, ``1 1/2``."""
    size = Fraction(round(abs(length_mm) / INCH_MM * 32), 32)
    whole, part = divmod(size, 1)
    sign = "-" if length_mm < 0 and size else ""
    if not part:
        return f"{sign}{whole}"
    return f"{sign}{whole} {part}" if whole else f"{sign}{part}"


def length_in_words(length_mm: float, unit: Unit, decimals: int = 1) -> str:
    """A length in the user's unit and, beside it, in the other: ``82.6 mm (3 1/4 in)``; of what is
    less than 1/64 inch no inches are said.

    Parameters
    ----------
    decimals : of the mm.
    """
    metric, inches = f"{length_mm:.{decimals}f} mm", f"{in_thirty_seconds(length_mm)} in"
    if inches == "0 in":
        return metric
    first, second = (inches, metric) if unit == "inch" else (metric, inches)
    return f"{first} ({second})"


def in_both(length_mm: float, unit: Unit = "mm") -> str:
    """A length in the user's unit and in the other, as tables have it: ``7.4 (9/32)``.

    In mm first, inches are left out where there is not 1/64 of one; in inches first, it is
    ``9/32 (7.4)``.
    """
    if abs(length_mm) < 0.05:
        return "-"
    inches = in_thirty_seconds(length_mm)
    if unit == "inch":
        return f"{inches} ({length_mm:.1f})"
    return f"{length_mm:.1f}" + ("" if inches == "0" else f" ({inches})")


def _plain(words: str) -> str:
    """Words with the signs of a plain keyboard; a fraction's own sign becomes its digits."""
    if len(words) > MOST_LETTERS:
        raise NotALength("is no length")
    opened = "".join(
        f" {unicodedata.normalize('NFKC', sign)} " if unicodedata.category(sign) == "No" else sign
        for sign in words
    )
    return opened.translate(SIGNS).strip()


def _bare(number: str, unit: Unit) -> str:
    if unit == "inch":
        return "in"
    if "/" in number:
        raise NotALength(f'has no unit: {number}" or {number} mm?')
    return "mm"


def _value(number: str) -> float:
    """The value of ``3``, ``3.25``, ``3,25``, ``1/4``, ``3 1/4`` or ``3-1/4``."""
    whole, _, fraction = re.sub(r" */ *", "/", number).replace("-", " ").rpartition(" ")
    try:
        return float(Fraction(whole.strip() or "0") + Fraction(fraction.replace(",", ".")))
    except ZeroDivisionError:
        raise NotALength("is a part of nothing") from None
