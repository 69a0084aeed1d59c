"""The slip in a kept revision: what it can be found by, without reading the record."""

import json
from dataclasses import asdict, dataclass, fields

SLIP, THUMBNAIL = "slip.json", "thumbnail.jpg"


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

    @property
    def about(self) -> str:
        """The part and the customer's reference, as far as they are given."""
        return ", ".join(words for words in (self.part, self.reference) if words)


def slip_text(slip: Slip) -> str:
    """The text of ``slip.json``."""
    return json.dumps(asdict(slip), indent=2, ensure_ascii=False) + "\n"


def slip_in(content: str | bytes) -> Slip:
    """The slip in a file; ValueError if it holds none. Unknown keys are passed over."""
    values = json.loads(content)
    if not isinstance(values, dict):
        raise ValueError("no object")
    known = {field.name for field in fields(Slip)}
    given = {key: value for key, value in values.items() if key in known}
    for key in ("notes", "photos"):
        given[key] = tuple(given.get(key, ()))
    try:
        return Slip(**given)
    except TypeError as error:
        raise ValueError(str(error)) from error
