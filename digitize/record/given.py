"""What was known beside the photos when they were read: with it they can be read again the same."""

from typing import Annotated

from digitize.record.parts import Flips, Part, Positive, Role

Pixel = Annotated[tuple[float, float], Flips.STAYS]


class TapeGiven(Part):
    """A taped distance: between two marks, each a card's number or a cross's pixel in the first
    photo.
    """

    marks: tuple[int | Pixel, int | Pixel]
    taped_mm: Positive


class Given(Part):
    """What was known.

    ``camera`` is the text of the kept camera's file, ``paper_px`` the paper's corners in the first
    photo, ``inks`` what lines of each ink are. The print's size and whether the paper was held
    flat stand with the scale.
    """

    camera: str | None = None
    tapes: tuple[TapeGiven, ...] = ()
    tapes_used: bool = False
    tolerance_mm: Positive | None = None
    paper_px: tuple[Pixel, ...] = ()
    inks: tuple[tuple[str, Role], ...] = ()
