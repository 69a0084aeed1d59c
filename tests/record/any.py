"""Records of any content that their types allow, to try what holds for all of them."""

import types
import typing
from functools import partial
from typing import Annotated, Any

from annotated_types import Ge, Gt, MinLen
from hypothesis import strategies
from pydantic import BaseModel

from digitize.record import Pattern

# A file keeps every digit; turned over, places are kept to a millionth of a mm.
NUMBERS = strategies.integers(-900_000, 900_000).map(lambda thousandths: thousandths / 1000)
WORDS = strategies.text("aLé1 \n", max_size=4)


def any_of(kind: Any) -> strategies.SearchStrategy:
    """Values of a field's type; each part of the record with a key that nobody knows."""
    origin, parts = typing.get_origin(kind), typing.get_args(kind)
    if origin is Annotated:
        return any_of(parts[0])
    if origin in (typing.Union, types.UnionType):
        return strategies.one_of([any_of(part) for part in parts])
    if origin is typing.Literal:
        return strategies.sampled_from(parts)
    if origin is tuple and parts[1:] == (Ellipsis,):
        return strategies.lists(any_of(parts[0]), max_size=3).map(tuple)
    if origin is tuple:
        return strategies.tuples(*map(any_of, parts))
    if isinstance(kind, type) and issubclass(kind, BaseModel):
        hints = typing.get_type_hints(kind, include_extras=True)
        fields = {
            name: any_of(hints[name]).filter(partial(_is_allowed, field.metadata))
            for name, field in kind.model_fields.items()
        }
        return strategies.builds(kind, **fields, later=strategies.integers())
    return {
        float: NUMBERS,
        int: strategies.integers(0, 9999),
        bool: strategies.booleans(),
        str: WORDS,
        type(None): strategies.none(),
    }[kind]


def _is_allowed(metadata: list[Any], value: Any) -> bool:
    """Whether a value keeps to the least length or size that its field asks for."""
    for each in metadata:
        if isinstance(each, MinLen) and len(value) < each.min_length:
            return False
        if isinstance(each, Gt) and not value > each.gt:
            return False
        if isinstance(each, Ge) and not value >= each.ge:
            return False
    return True


def any_pattern() -> strategies.SearchStrategy[Pattern]:
    """Records whose outline has at least a place."""
    return any_of(Pattern).filter(lambda pattern: pattern.outline)
