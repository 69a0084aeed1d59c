"""What users write on the command line: lengths in mm or inches, and what is said of lines."""

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


def line_and_words(words: str) -> tuple[str, str]:
    """A line's id and what is said about it, ``L3=…``; ValueError if it is none."""
    identifier, equals, said = words.partition("=")
    if not equals or not identifier.strip():
        raise ValueError(words)
    return identifier.strip(), said.strip()


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


def gaps(words: str) -> list[tuple[float | None, float]]:
    """A spread's gap, or gaps ``GAP@DEPTH`` with commas; nothing for ``none``.

    A depth is from the tuck's tip; without one the gap is at the trim edge. ValueError if it is
    none of these.
    """
    if words.strip() == "none":
        return []
    found: list[tuple[float | None, float]] = []
    for station in words.split(","):
        gap, at, depth = station.strip().partition("@")
        found.append((length_mm(depth) if at else None, length_mm(gap)))
    return found


def radii(words: str) -> float | tuple[tuple[float, bool, float], ...]:
    """One radius, or stations ``RADIUS@PLACE`` with commas; ValueError if it is none.

    A place is mm along the line from its first point, or a share of its length with ``%``.
    """
    if "@" not in words:
        return length_mm(words)
    stations = []
    for station in words.split(","):
        radius, _, place = station.strip().partition("@")
        share = place.endswith("%")
        at = float(place.removesuffix("%").removesuffix("mm"))
        stations.append((at / 100 if share else at, share, length_mm(radius)))
    return tuple(stations)
