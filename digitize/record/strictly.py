"""How files of JSON are read that anyone may have written: nothing is taken for what it is not."""

import codecs
import json
import math
from collections.abc import Mapping
from typing import TypeVar

from pydantic import TypeAdapter, ValidationError

from digitize.words import printable

Kind = TypeVar("Kind")
MOST_MB = 100  # a million points in a record's own lines take no more
LONGEST_FAULT, DEEPEST = 200, 50


class Unfit(ValueError):
    """A text that does not hold what it should; its text says where and why, in one line."""


def strictly(kind: TypeAdapter[Kind], text: str | bytes) -> Kind:
    """What the text of a JSON file holds, by the types of ``kind``; words are no numbers.

    Raises
    ------
    Unfit
    """
    content = text.encode("utf-8", "surrogatepass") if isinstance(text, str) else text
    content = content.removeprefix(codecs.BOM_UTF8)
    if len(content) > MOST_MB * 1e6:
        size = len(content) / 1e6
        raise Unfit(f"the file: has {size:.0f} MB, and more than {MOST_MB} are not read")
    try:
        return kind.validate_json(content, strict=True)
    except ValidationError as error:
        fault = error.errors(include_url=False, include_context=False)[0]
        place = ".".join(str(part) for part in fault["loc"]) or "the file"
        raise Unfit(printable(f"{place}: {fault['msg']}")[:LONGEST_FAULT]) from error


def refuse_unbounded(value: object, deeper: int = DEEPEST) -> None:
    """Raises ValueError if there is a number in it that JSON cannot have, or it is nested too deep.

    What nobody knows in a file is written again as it was: this could not be.
    """
    if isinstance(value, float) and not math.isfinite(value):
        raise ValueError("a number in it is none")
    if isinstance(value, Mapping | list | tuple):
        if not deeper:
            raise ValueError("is nested too deep")
        for each in value.values() if isinstance(value, Mapping) else value:
            refuse_unbounded(each, deeper - 1)


def later_schema(content: str | bytes, key: str, known: int) -> str | None:
    """Of which later schema a file says that it is, and by what it was written; None if of none.

    ``key`` is where it says so; ``known`` what this program knows. In words: ``schema 2, written by
    0.9``.
    """
    try:
        said = json.loads(content)
        schema, by = said.get(key), said.get("written_by")
    except (ValueError, AttributeError, RecursionError):
        return None
    if type(schema) is not int or schema <= known:
        return None
    version = printable(by)[:40] if isinstance(by, str) else "a later version"
    return f"schema {printable(str(schema))[:20]}, written by {version} of this program"
