"""The scale card: where everything on it is, its print, and finding it in a photo.

In comes a grey picture, or numbers of cards to print; out go the cards seen with their corners in
pixels and how sharp the picture is there, or a PDF at true size. Open ``layout.py`` first.
"""

from digitize.card.find import FoundCard, find_cards, why_no_card
from digitize.card.layout import CELL_MM, HIGHEST_NUMBER, RULE_MM, SHEETS_MM, card_layout
from digitize.card.sharpness import blur_mm
from digitize.card.sheet import card_pdf

__all__ = [
    "CELL_MM",
    "HIGHEST_NUMBER",
    "RULE_MM",
    "SHEETS_MM",
    "FoundCard",
    "blur_mm",
    "card_layout",
    "card_pdf",
    "find_cards",
    "why_no_card",
]
