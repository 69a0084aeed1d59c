"""Records of any content that their types allow, to try what holds for all of them."""

import types
import typing
from functools import partial
from typing import Annotated, Any

from annotated_types import Ge, Gt, Le, MinLen
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
        bounds = [each for info in parts[1:] for each in getattr(info, "metadata", [info])]
        return _within(bounds) if parts[0] is float else any_of(parts[0])
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
            name: _within(field.metadata)
            if hints[name] is float
            else any_of(hints[name]).filter(partial(_is_allowed, field.metadata))
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


def _within(bounds: list[Any]) -> strategies.SearchStrategy[float]:
    """Numbers that a field's bounds allow."""
    low = next((each.ge for each in bounds if isinstance(each, Ge)), -900)
    above = next((each.gt + 0.001 for each in bounds if isinstance(each, Gt)), low)
    high = next((each.le for each in bounds if isinstance(each, Le)), 900)
    return strategies.integers(round(1000 * max(low, above)), round(1000 * high)).map(
        lambda thousandths: thousandths / 1000
    )


def _is_allowed(metadata: list[Any], value: Any) -> bool:
    """Whether a value keeps to the least length that its field asks for."""
    return all(len(value) >= each.min_length for each in metadata if isinstance(each, MinLen))


def any_pattern() -> strategies.SearchStrategy[Pattern]:
    """Records whose outline has at least a place."""
    return any_of(Pattern).filter(lambda pattern: pattern.outline)
