"""Where everything on a scale card is, in mm from the sheet's centre (x right, y up).

A card is a frame of checker cells, two cells wide, along the sheet's printable edges. The
corners between its cells are what is measured. Eight coded markers inside the frame say which
card it is and which way it lies; any two of them are enough. The cells are small, so that the
card is half black and half white everywhere and does not pull the camera's exposure. The frame
is open half way up both sides, where the cross rule runs out to its 6 inch marks.
"""

from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

from digitize.units import INCH_MM

SHEETS_MM = {
    "a4": (210.0, 297.0),  # ISO 216:2007, table 1
    "letter": (215.9, 279.4),  # ANSI/ASME Y14.1, size A: 8.5 x 11 in
}
CELL_MM = 12.0
COLUMNS = 16
ROWS = {"a4": 23, "letter": 21}
FRAME_CELLS = 2
MARKER_MM = 24.0
MARKER_MODULES = 7  # a 5 x 5 code and its border
DICTIONARY = "DICT_5X5_1000"
MARKERS_A_CARD = 8
HIGHEST_NUMBER = 1000 // (MARKERS_A_CARD * len(SHEETS_MM))
RULE_MM = 150.0
RULE_INCH_MM = 6 * INCH_MM


@dataclass(frozen=True)
class CardLayout:
    """One card's geometry.

    Attributes
    ----------
    sheet_mm : sheet width and height.
    cells_mm : (N, 2) lower-left corners of the black cells.
    corners_mm : (M, 2) the checker corners that are measured; a row's index names the corner.
    marker_centres_mm : (8, 2) centres of the coded markers, by slot.
    """

    paper: str
    sheet_mm: tuple[float, float]
    cells_mm: NDArray[np.float64]
    corners_mm: NDArray[np.float64]
    marker_centres_mm: NDArray[np.float64]

    def marker_corners_mm(self, slot: int) -> NDArray[np.float64]:
        """(4, 2) the marker's corners in the order in which OpenCV reports them."""
        half = MARKER_MM / 2
        offsets = np.array([[-half, half], [half, half], [half, -half], [-half, -half]])
        return np.asarray(self.marker_centres_mm[slot] + offsets)


@cache
def card_layout(paper: str) -> CardLayout:
    """The layout for ``"a4"`` or ``"letter"``."""
    rows = ROWS[paper]
    left, bottom = -COLUMNS * CELL_MM / 2, -rows * CELL_MM / 2

    def printed(column: int, row: int) -> bool:
        beside = column < FRAME_CELLS or column >= COLUMNS - FRAME_CELLS
        above = row < FRAME_CELLS or row >= rows - FRAME_CELLS
        return above or (beside and row != rows // 2)

    cells = [
        (left + column * CELL_MM, bottom + row * CELL_MM)
        for row in range(rows)
        for column in range(COLUMNS)
        if printed(column, row) and (column + row) % 2 == 0
    ]
    corners = [
        (left + column * CELL_MM, bottom + row * CELL_MM)
        for row in range(1, rows)
        for column in range(1, COLUMNS)
        if all(printed(column - i, row - j) for i in (0, 1) for j in (0, 1))
    ]
    outer = -bottom - FRAME_CELLS * CELL_MM - 4.0 - MARKER_MM / 2
    centres = [(x, y) for y in (outer, 34.0, -34.0, -outer) for x in (-56.0, 56.0)]
    return CardLayout(
        paper, SHEETS_MM[paper], np.array(cells), np.array(corners), np.array(centres)
    )


def marker_identifier(number: int, paper: str, slot: int) -> int:
    """The dictionary id of the marker in ``slot`` of card ``number`` (from 1)."""
    sheet = list(SHEETS_MM).index(paper)
    return ((number - 1) * len(SHEETS_MM) + sheet) * MARKERS_A_CARD + slot


def card_of_marker(identifier: int) -> tuple[int, str, int] | None:
    """Card number, paper and slot of a dictionary id; None if no card carries it."""
    block, slot = divmod(identifier, MARKERS_A_CARD)
    number, sheet = block // len(SHEETS_MM) + 1, block % len(SHEETS_MM)
    if number > HIGHEST_NUMBER:
        return None
    return number, list(SHEETS_MM)[sheet], slot
