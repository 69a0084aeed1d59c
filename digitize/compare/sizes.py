"""By how much two readings' sizes may differ from each other.

What a reading states holds the print of its cards. Two readings by the same cards share its error,
which then makes no difference between them. But a print may be off otherwise across the sheet than
along it, so that a card which lies turned in the second reading brings some of it back. With
strains e and f along a card's sides, the strains of two readings between which it is turned by d
differ by (e - f) sin d along one direction and by as much the other way square to it, the
eigenvalues of diag(e, f) less the same turned by d. Each known to p, e - f is known to the root of
2 times p: with the card turned by a right angle, one print is no better than two.
"""

from dataclasses import dataclass

import numpy as np

from digitize.plane import Placement
from digitize.record import Pattern, Scale


@dataclass(frozen=True)
class SizeDoubt:
    """Two readings are together within ``mm`` (95 %) of each other's size, where the print of
    ``shared_cards``, by number, was left out; of true size, where there are none.
    """

    mm: float
    shared_cards: tuple[int, ...] = ()


def size_doubt(pattern: Pattern, other: Pattern, placement: Placement | None) -> SizeDoubt:
    """How far the sizes of two patterns may be apart.

    Parameters
    ----------
    placement : lays the other on the pattern; None where cards may have been printed anew between
        the readings, whatever their numbers.
    """
    own, its = pattern.scale, other.scale
    if own and its and placement and own.print_doubt and its.print_doubt and _one_print(own, its):
        share = max(own.print_doubt.relative, its.print_doubt.relative)
        turned = np.sqrt(2) * share * _sine_of_turn(own, its, placement)
        parts = own.print_doubt.accuracy_beside_mm, its.print_doubt.accuracy_beside_mm
        reach = max(_reach(pattern), _reach(other))
        numbers = tuple(sorted(card.number for card in own.cards))
        return SizeDoubt(float(np.hypot.reduce([*parts, turned * reach])), numbers)
    return SizeDoubt(float(np.hypot.reduce([s.accuracy_mm if s else 0.0 for s in (own, its)])))


def _one_print(own: Scale, its: Scale) -> bool:
    """Whether both were read by the same cards, taken to be of the same size."""
    assert own.print_doubt and its.print_doubt
    cards, others = ({(card.number, card.paper) for card in each.cards} for each in (own, its))
    return (
        cards == others
        and own.print_correction == its.print_correction
        and own.print_doubt.measured == its.print_doubt.measured
    )


def _sine_of_turn(own: Scale, its: Scale, placement: Placement) -> float:
    """The sine of the angle by which a card lies turned at most, the other laid on the pattern.

    Half a turn changes nothing.
    """
    laid = np.arctan2(placement.matrix[1, 0], placement.matrix[0, 0])
    before = {card.number: card.turn_deg for card in own.cards}
    turns = [np.radians(card.turn_deg - before[card.number]) + laid for card in its.cards]
    return float(np.abs(np.sin(turns)).max())


def _reach(pattern: Pattern) -> float:
    """How far the outline lies from its middle at most, mm: the record's size is fitted over it."""
    outline = np.array(pattern.outline)
    return float(np.linalg.norm(outline - outline.mean(axis=0), axis=1).max())
