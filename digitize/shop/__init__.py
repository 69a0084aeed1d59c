"""What the metal needs: the blank, its stock and mass, punch points, the shrink tables.

In come a record and what ``take_up`` found; out go shapes and tables in mm. Open ``blank.py``
first.
"""

from digitize.shop.blank import (
    ALLOWANCE_MM,
    STOCK_MM,
    Blank,
    StockChoice,
    blank_of,
    closed_trim,
    stock_for,
)
from digitize.shop.lengths import GroupLength, group_lengths
from digitize.shop.metal import sheet_of, sheet_words
from digitize.shop.punch import PunchedLine, punch_points
from digitize.shop.shrink import ShrinkTable, shrink_tables

__all__ = [
    "ALLOWANCE_MM",
    "STOCK_MM",
    "Blank",
    "GroupLength",
    "PunchedLine",
    "ShrinkTable",
    "StockChoice",
    "blank_of",
    "closed_trim",
    "group_lengths",
    "punch_points",
    "sheet_of",
    "sheet_words",
    "shrink_tables",
    "stock_for",
]
