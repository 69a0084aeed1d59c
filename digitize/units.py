"""Lengths and sizes as people write them: read from words, and put into words."""

from fractions import Fraction

INCH_MM = 25.4


def length_mm(words: str) -> float:
    """A length: ``76``, ``76mm``, ``3in``, ``3-1/4in``.

    Raises
    ------
    ValueError
        If it is none, or not more than nothing.
    """
    words = words.strip()
    number = words.removesuffix("in")
    unit = INCH_MM if number != words else 1.0
    parts = number.removesuffix("mm").strip().split("-")
    try:
        length = float(sum(Fraction(part.strip()) for part in parts)) * unit
    except ZeroDivisionError as error:
        raise ValueError(words) from error
    if length <= 0:
        raise ValueError(f"{words}: a length has to be more than nothing")
    return length


def sheet_size(words: str) -> tuple[str, tuple[float, float]]:
    """A stock sheet's size as written, and in mm: ``1250x2500``, ``4ftx8ft``, ``48inx96in``.

    ValueError if it is none.
    """
    sides = [side.strip() for side in words.lower().split("x")]
    if len(sides) != 2:
        raise ValueError(words)
    in_mm = [
        length_mm(side.removesuffix("ft")) * (12 * INCH_MM if side.endswith("ft") else 1.0)
        for side in sides
    ]
    return words.strip(), (in_mm[0], in_mm[1])


def in_thirty_seconds(length_mm: float) -> str:
    """A length to the nearest 1/32 inch, as a rule has it: ``9/32``, ``1 3/32``."""
    whole, part = divmod(round(abs(length_mm) / INCH_MM * 32), 32)
    sign = "-" if length_mm < 0 and (whole or part) else ""
    if not part:
        return f"{sign}{whole}"
    return f"{sign}{whole} {part}/32" if whole else f"{sign}{part}/32"


def in_both(length_mm: float) -> str:
    """A length in mm and, where there is any, to the nearest 1/32 inch: ``7.4 (9/32)``."""
    if abs(length_mm) < 0.05:
        return "-"
    inches = in_thirty_seconds(length_mm)
    return f"{length_mm:.1f}" + ("" if inches == "0" else f" ({inches})")
