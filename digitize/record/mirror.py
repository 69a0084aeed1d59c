"""The opposite-side part: the same pattern, flipped over.

Which fields are places is told by their types (``Flips`` in ``record/pattern.py``), so that none
can be forgotten: a tuple of bare numbers that does not say what it is cannot be mirrored.
"""

import types
from typing import Annotated, Any, Union, get_args, get_origin

from pydantic import BaseModel

from digitize.record.pattern import Flips, Pattern, Side

OPPOSITE: dict[Side, Side] = {"left": "right", "right": "left", "unknown": "unknown"}
UNIONS = (Union, types.UnionType)


def mirrored(pattern: Pattern) -> Pattern:
    """The pattern reflected left to right within its own bounding box; ids stay the same."""
    width = max(x for x, _ in pattern.outline) + min(x for x, _ in pattern.outline)
    flipped = _flipped(pattern, Pattern, width)
    assert isinstance(flipped, Pattern)
    return flipped


def _flipped(value: Any, kind: Any, width: float) -> Any:
    """A value of a field's type ``kind``, reflected between 0 and ``width`` (mm)."""
    if value is None:
        return None
    if get_origin(kind) is Annotated:
        inner, *marks = get_args(kind)
        flips = next((mark for mark in marks if isinstance(mark, Flips)), None)
        return _flipped(value, inner, width) if flips is None else _as(flips, value, inner, width)
    if get_origin(kind) in UNIONS:
        (kind,) = (each for each in get_args(kind) if each is not type(None))
        return _flipped(value, kind, width)
    if get_origin(kind) is tuple:
        own, *rest = get_args(kind)
        if any(_is_number(each) for each in (own, *rest)):
            raise TypeError(f"{kind}: does not say what becomes of it when it is flipped over")
        kinds = [own] * len(value) if rest == [Ellipsis] else [own, *rest]
        return tuple(_flipped(each, of, width) for each, of in zip(value, kinds, strict=True))
    if isinstance(value, BaseModel):
        update = {
            name: _flipped(getattr(value, name), _type_of(field), width)
            for name, field in type(value).model_fields.items()
        }
        return value.model_copy(update=update)
    return value


def _is_number(kind: Any) -> bool:
    """Whether a type is a bare number, or one that may be missing."""
    return kind is float or (get_origin(kind) in UNIONS and float in get_args(kind))


def _type_of(field: Any) -> Any:
    """A field's type with its marks, which the model keeps apart."""
    kind = field.annotation
    for mark in field.metadata:
        if isinstance(mark, Flips):
            kind = Annotated[kind, mark]
    return kind


def _as(flips: Flips, value: Any, inner: Any, width: float) -> Any:
    match flips:
        case Flips.PLACE:
            x, y = value
            return (round(width - x, 6), y)
        case Flips.BOX:
            x0, y0, x1, y1 = value
            return (round(width - x1, 6), y0, round(width - x0, 6), y1)
        case Flips.RING:
            return _flipped(value, inner, width)[::-1]
        case Flips.TURN:
            return -value
        case Flips.SIDE:
            return OPPOSITE[value]
        case Flips.OWN:
            return None
        case Flips.STAYS:
            return value
