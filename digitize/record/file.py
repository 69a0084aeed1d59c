"""The record's file, ``pattern.json``."""

import json
from collections.abc import Callable, Iterable, Mapping

from pydantic import TypeAdapter, ValidationError

from digitize import __version__
from digitize.errors import RecordError
from digitize.record.pattern import Pattern
from digitize.record.sound import fault_in
from digitize.record.told import OtherFact, Told

SCHEMA = 1
_FACTS: TypeAdapter[tuple[Told, ...]] = TypeAdapter(tuple[Told, ...])


def to_json(pattern: Pattern) -> str:
    """The text of ``pattern.json``: UTF-8, two-space indent, keys in the schema's order."""
    written = pattern.model_copy(update={"written_by": __version__})
    return written.model_dump_json(by_alias=True, indent=2) + "\n"


def from_json(text: str) -> Pattern:
    """Read the text of a ``pattern.json``.

    Raises
    ------
    RecordError
        If the text is no pattern of schema 1, or one that does not hang together; the message
        names the first fault.
    """
    try:
        pattern = Pattern.model_validate_json(text)
    except ValidationError as error:
        fault = error.errors()[0]
        if fault["loc"] == ("schema",):
            raise RecordError(
                f"a pattern file of a later version, schema {fault['input']}, where this program "
                f"reads schema {SCHEMA}: use a later one"
            ) from error
        place = ".".join(str(part) for part in fault["loc"]) or "the file"
        raise RecordError(f"not a pattern file: {place}: {fault['msg']}") from error
    unsound = fault_in(pattern)
    if unsound is not None:
        raise RecordError(f"not a pattern file: {unsound}")
    return pattern


def facts_from_json(text: str) -> tuple[Told, ...]:
    """Read the text of a file of facts, a list of them.

    Raises
    ------
    RecordError
        If it is none; the message names the first fault.
    """
    return _facts(lambda: _FACTS.validate_json(text))


def facts_of(values: Iterable[Told | Mapping[str, object]]) -> tuple[Told, ...]:
    """Facts from facts or what a file would hold of them; raises RecordError."""
    return _facts(lambda: _FACTS.validate_python(tuple(values)))


def _facts(read: Callable[[], tuple[Told, ...]]) -> tuple[Told, ...]:
    try:
        facts = read()
    except ValidationError as error:
        fault = error.errors()[0]
        place = " ".join(str(part) for part in fault["loc"]) or "the file"
        raise RecordError(f"not a file of facts: {place}: {fault['msg']}") from error
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
