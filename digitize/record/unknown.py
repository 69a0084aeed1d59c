"""Keys that this version does not know, kept when a part of the record is worked out anew."""

from collections.abc import Callable, Sequence
from functools import cache
from typing import Any, TypeVar, get_args

from pydantic import BaseModel

from digitize.record.parts import Band, Zone

Part = TypeVar("Part", bound=BaseModel)
# Their ids are given anew each time: these are the same if they are about the same.
SAME_BY: dict[type[BaseModel], Callable[[Any], Any]] = {
    Zone: lambda zone: zone.tucks,
    Band: lambda band: band.start,
}


def with_unknown_keys(new: Part, old: Part) -> Part:
    """The new state of a part of the record, with the keys of the old one that nobody knows.

    Of several parts each finds its own by id, a zone by its tucks, a band by its radius start, what
    has no id by its place among as many.
    """
    if new is old:
        return new
    update: dict[str, Any] = {
        key: value
        for key, value in (old.model_extra or {}).items()
        if key not in (new.model_extra or {})
    }
    for name in _holders(type(new)):
        own, before = getattr(new, name), getattr(old, name)
        if isinstance(own, BaseModel) and isinstance(before, type(own)):
            update[name] = with_unknown_keys(own, before)
        elif _are_parts(own) and _are_parts(before):
            update[name] = _each(own, before)
    return new.model_copy(update=update) if update else new


@cache
def _holders(kind: type[BaseModel]) -> tuple[str, ...]:
    """The fields of a part that may hold others."""
    return tuple(name for name, field in kind.model_fields.items() if _holds(field.annotation))


def _holds(annotation: object) -> bool:
    """Whether a type is a part's, or made of others of which one is."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return True
    return any(_holds(each) for each in get_args(annotation))


def _are_parts(value: object) -> bool:
    return isinstance(value, tuple) and len(value) > 0 and isinstance(value[0], BaseModel)


def _each(new: Sequence[BaseModel], old: Sequence[BaseModel]) -> tuple[BaseModel, ...]:
    kind = type(new[0])
    same = SAME_BY.get(kind) or ((lambda part: part.id) if "id" in kind.model_fields else None)
    if same is None:
        if len(new) != len(old):
            return tuple(new)
        return tuple(with_unknown_keys(a, b) for a, b in zip(new, old, strict=True))
    before = {same(part): part for part in old}
    return tuple(
        with_unknown_keys(part, before[same(part)]) if same(part) in before else part
        for part in new
    )
