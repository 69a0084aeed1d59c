"""Write scale cards to print."""

from pathlib import Path

from digitize.card import HIGHEST_NUMBER, RULE_MM, SHEETS_MM, card_pdf
from digitize.errors import WrongOption
from digitize.jobs.disk import write_all

__all__ = ["HIGHEST_NUMBER", "write_cards"]


def write_cards(
    out: Path,
    *,
    count: int = 4,
    first: int = 1,
    sheet: str = "a4",
    measured_x: float | None = None,
    measured_y: float | None = None,
) -> None:
    """Write scale cards as a PDF, a page each.

    Parameters
    ----------
    first : number of the first card.
    sheet : ``a4`` or ``letter``.
    measured_x, measured_y : what the 150 mm rules of an earlier print measured, across and along
        the sheet; the new print makes up for it.

    Raises
    ------
    WrongOption, NotWritten
    """
    if sheet not in SHEETS_MM:
        raise WrongOption(f"--sheet {sheet}: cards come on {' or '.join(SHEETS_MM)}")
    if first + count - 1 > HIGHEST_NUMBER:
        raise WrongOption(f"card numbers end at {HIGHEST_NUMBER}; ask for fewer or start lower")
    stretch_x, stretch_y = (RULE_MM / (rule or RULE_MM) for rule in (measured_x, measured_y))
    write_all({out: card_pdf(range(first, first + count), sheet, stretch_x, stretch_y)})
