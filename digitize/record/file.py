"""The record's file, ``pattern.json``."""

import json
from collections.abc import Callable, Iterable, Mapping

from pydantic import TypeAdapter

from digitize import __version__
from digitize.errors import RecordError
from digitize.record.pattern import Pattern
from digitize.record.sound import fault_in
from digitize.record.strictly import Unfit, later_schema, strictly
from digitize.record.told import OtherFact, Told

SCHEMA = 1
MOST_FACTS = 5_000  # in a file
_PATTERN: TypeAdapter[Pattern] = TypeAdapter(Pattern)
_FACTS: TypeAdapter[tuple[Told, ...]] = TypeAdapter(tuple[Told, ...])


def to_json(pattern: Pattern) -> str:
    """The text of ``pattern.json``: UTF-8, two-space indent, keys in the schema's order."""
    written = pattern.model_copy(update={"written_by": __version__})
    return written.model_dump_json(by_alias=True, indent=2) + "\n"


def from_json(text: str | bytes) -> Pattern:
    """Read the text of a ``pattern.json``.

    Raises
    ------
    RecordError
        If the text is no pattern of schema 1, or one that does not hang together; the message
        names the first fault.
    """
    try:
        pattern = strictly(_PATTERN, text)
    except Unfit as fault:
        later = later_schema(text, "schema", SCHEMA)
        if later:
            raise RecordError(
                f"a pattern file of a later version ({later}), where this one reads schema {SCHEMA}"
            ) from fault
        raise RecordError(f"not a pattern file: {fault}") from fault
    unsound = fault_in(pattern)
    if unsound is not None:
        raise RecordError(f"not a pattern file: {unsound}")
    return pattern


def facts_from_json(text: str | bytes) -> tuple[Told, ...]:
    """Read the text of a file of facts, a list of them.

    Raises
    ------
    RecordError
        If it is none; the message names the first fault.
    """
    return _facts(lambda: strictly(_FACTS, text))


def facts_of(values: Iterable[Told | Mapping[str, object]]) -> tuple[Told, ...]:
    """Facts from facts or what a file would hold of them; raises RecordError."""
    said = [each if isinstance(each, Mapping) else each.model_dump() for each in values]
    try:
        return facts_from_json(json.dumps(said, allow_nan=True))
    except (TypeError, ValueError, RecursionError) as error:
        raise RecordError(f"not a file of facts: {error}") from error


def _facts(read: Callable[[], tuple[Told, ...]]) -> tuple[Told, ...]:
    try:
        facts = read()
    except Unfit as fault:
        raise RecordError(f"not a file of facts: {fault}") from fault
    if len(facts) > MOST_FACTS:
        raise RecordError(f"not a file of facts: has {len(facts)}, and more than {MOST_FACTS}")
    for number, fact in enumerate(facts):
        where = f"not a file of facts: {number}"
        if isinstance(fact, OtherFact):
            raise RecordError(f"{where}: no fact is of kind {fact.kind}")
        for key in fact.model_extra or {}:
            raise RecordError(f"{where} {fact.kind}: nothing in it is called {key}")
    return facts


def schema_text() -> str:
    """The JSON Schema (draft 2020-12) of ``pattern.json``."""
    schema = Pattern.model_json_schema(by_alias=True, mode="serialization")
    described = {"$schema": "https://json-schema.org/draft/2020-12/schema", **schema}
    return json.dumps(described, indent=2) + "\n"
