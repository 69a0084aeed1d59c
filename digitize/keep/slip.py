"""The slip in a kept revision: what it can be found by, without reading the record."""

import json
from collections.abc import Mapping
from dataclasses import asdict, dataclass, field, fields

from digitize.words import printable

SLIP, THUMBNAIL = "slip.json", "thumbnail.jpg"
LARGEST_BYTES = 2_000_000
# Least and most of each number: papers in mm, whole lines and tucks.
NUMBERS = {
    "width_mm": (0.0, 20_000.0),
    "height_mm": (0.0, 20_000.0),
    "accuracy_mm": (0.0, 1e6),
    "lines": (0, 5_000),
    "tucks": (0, 5_000),
}


@dataclass(frozen=True)
class Slip:
    """What is written on a revision's slip.

    Attributes
    ----------
    reference, part : the customer's reference, and the vehicle or part, as the user gives them.
    notes : the words of the record's notes, and what was said when it was kept.
    width_mm, height_mm : of the paper.
    kept : when, ISO 8601.
    photos : SHA-256 of the photos that the record was read from.
    accuracy_mm : points are within this of true size (95 %).
    more : what a later version has written beside these, kept as it is.
    """

    name: str
    side: str
    kept: str
    width_mm: float
    height_mm: float
    reference: str = ""
    part: str = ""
    notes: tuple[str, ...] = ()
    taken: str = ""
    photos: tuple[str, ...] = ()
    lines: int = 0
    tucks: int = 0
    accuracy_mm: float | None = None
    more: Mapping[str, object] = field(default_factory=dict)

    @property
    def about(self) -> str:
        """The part and the customer's reference, as far as they are given."""
        return ", ".join(words for words in (self.part, self.reference) if words)


def slip_text(slip: Slip) -> str:
    """The text of ``slip.json``."""
    values = asdict(slip)
    more = values.pop("more")
    return json.dumps({**values, **more}, indent=2, ensure_ascii=False) + "\n"


def slip_in(content: str | bytes) -> Slip:
    """The slip in a file; ValueError if it holds none, or what no slip says.

    Read by hand, as pydantic takes longer to load than finding may take.
    """
    if len(content) > LARGEST_BYTES:
        raise ValueError(f"has more than {LARGEST_BYTES} bytes")
    try:
        values = json.loads(content, parse_constant=_no_number)
        json.dumps(values, indent=2)  # as it will be written again
    except RecursionError as error:
        raise ValueError("no object") from error
    if not isinstance(values, dict):
        raise ValueError("no object")
    known = {each.name for each in fields(Slip)} - {"more"}
    given = {key: value for key, value in values.items() if key in known}
    for key, value in given.items():
        given[key] = _fitting(key, value)
    try:
        return Slip(**given, more={key: values[key] for key in values.keys() - known})
    except TypeError as error:
        raise ValueError(str(error)) from error


def _no_number(words: str) -> float:
    raise ValueError(f"{words}: is no number")


def _fitting(key: str, value: object) -> object:
    """A value of a slip, its words printable; ValueError if it is none that can stand there."""
    if key in ("notes", "photos"):
        if isinstance(value, list | tuple) and all(isinstance(each, str) for each in value):
            return tuple(map(printable, value))
    elif key in NUMBERS:
        low, most = NUMBERS[key]
        if value is None and key == "accuracy_mm":
            return None
        whole = int if key in ("lines", "tucks") else int | float
        if isinstance(value, whole) and not isinstance(value, bool) and low <= value <= most:
            return value
    elif isinstance(value, str):
        return printable(value)
    raise ValueError(f"{key}: is not what stands there on a slip")
