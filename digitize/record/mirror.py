"""The opposite-side part: the same pattern, flipped over."""

from collections.abc import Callable
from typing import Any, get_origin

from digitize.record.parts import Flips, Side
from digitize.record.pattern import Pattern
from digitize.record.places import Change, changed

OPPOSITE: dict[Side, Side] = {"left": "right", "right": "left", "unknown": "unknown"}


def mirrored(pattern: Pattern) -> Pattern:
    """The pattern reflected left to right within its own bounding box; ids stay the same."""
    width = max(x for x, _ in pattern.outline) + min(x for x, _ in pattern.outline)
    flipped = changed(pattern, Pattern, flipped_in(width))
    assert isinstance(flipped, Pattern)
    return flipped


def flipped_in(width: float) -> Change:
    """What becomes of places and turns reflected between 0 and ``width`` (mm)."""

    def flipped(flips: Flips, value: Any, parts: Callable[[Any], Any], kind: Any) -> Any:
        match flips:
            case Flips.PLACE:
                x, y = value
                return (round(width - x, 6), y)
            case Flips.BOX:
                x0, y0, x1, y1 = value
                return (round(width - x1, 6), y0, round(width - x0, 6), y1)
            case Flips.RING:
                return parts(value)[::-1]
            case Flips.TURN:
                return -value
            case Flips.SIDE:
                return OPPOSITE[value]
            case Flips.OWN:
                return () if get_origin(kind) is tuple else None
            case Flips.STAYS:
                return value

    return flipped
