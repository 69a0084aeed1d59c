"""Values of the record in another frame: every place and turn in them changed, the rest as it is.

Which fields are places is told by their types (``Flips`` in ``parts.py``), so that none can be
forgotten: a tuple of bare numbers that does not say what it is cannot be changed.
"""

import types
from collections.abc import Callable
from typing import Annotated, Any, Union, get_args, get_origin

from pydantic import BaseModel

from digitize.record.parts import Flips

UNIONS = (Union, types.UnionType)
# What becomes of a value that is so marked; given too: the parts in it changed, and its bare type.
Change = Callable[[Flips, Any, Callable[[Any], Any], Any], Any]


def changed(value: Any, kind: Any, how: Change) -> Any:
    """A value of a field's type ``kind`` with all that is marked in it changed.

    Raises
    ------
    TypeError
        If bare numbers in it do not say what they are.
    """
    if value is None:
        return None
    if get_origin(kind) is Annotated:
        inner, *marks = get_args(kind)
        flips = next((mark for mark in marks if isinstance(mark, Flips)), None)
        if flips is None:
            return changed(value, inner, how)
        return how(flips, value, lambda part: changed(part, inner, how), inner)
    if isinstance(value, BaseModel):
        update = {
            name: changed(getattr(value, name), _type_of(field), how)
            for name, field in type(value).model_fields.items()
        }
        return value.model_copy(update=update)
    if get_origin(kind) in UNIONS:
        kinds = [each for each in get_args(kind) if each is not type(None)]
        return changed(value, kinds[0], how) if len(kinds) == 1 else value
    if get_origin(kind) is tuple:
        own, *rest = get_args(kind)
        if any(_is_number(each) for each in (own, *rest)):
            raise TypeError(f"{kind}: does not say what becomes of it when it is flipped over")
        kinds = [own] * len(value) if rest == [Ellipsis] else [own, *rest]
        return tuple(changed(each, of, how) for each, of in zip(value, kinds, strict=True))
    return value


def _is_number(kind: Any) -> bool:
    """Whether a type is a bare number, or one that may be missing."""
    if get_origin(kind) is Annotated:
        return _is_number(get_args(kind)[0])
    return kind is float or (get_origin(kind) in UNIONS and any(map(_is_number, get_args(kind))))


def _type_of(field: Any) -> Any:
    """A field's type with its marks, which the model keeps apart."""
    kind = field.annotation
    for mark in field.metadata:
        if isinstance(mark, Flips):
            kind = Annotated[kind, mark]
    return kind
