"""What a browser asks for, read and held within limits: nothing that comes in is trusted."""

import json
from collections.abc import Mapping
from typing import Any

from starlette.requests import Request

from digitize.defaults import MEASURABLE_MM
from digitize.errors import WrongOption
from digitize.units import NotALength, Unit, length_mm

MOST_JSON = 2_000_000
MOST_PLACES, FURTHEST_MM = 1000, 1e5
LONGEST_NUMBER = 9
SIDES = ("left", "right", "unknown")


def photo_in(request: Request) -> int:
    """The number of a photo in the address; 0, which is none, if it is no number."""
    return whole_number(request.path_params["photo"], 0, 10**LONGEST_NUMBER) or 0


def unit_in(request: Request) -> Unit:
    """The unit that bare numbers are in."""
    return "inch" if request.query_params.get("unit") == "inch" else "mm"


async def json_in(request: Request) -> dict[str, Any]:
    """What a request holds; raises WrongOption if it is no JSON, or too much."""
    content = b""
    async for part in request.stream():
        content += part
        if len(content) > MOST_JSON:
            raise WrongOption("too much was told at once")
    try:
        value = json.loads(content or b"{}")
        json.dumps(value, ensure_ascii=False).encode()  # what is no text cannot be kept
    except (ValueError, RecursionError):
        raise WrongOption("what was sent is no JSON") from None
    if not isinstance(value, dict):
        raise WrongOption("what was sent is no JSON object")
    return value


def places_in(value: Any) -> list[tuple[float, float]]:
    """Places in mm, two or more; raises WrongOption."""
    try:
        places = [(float(x), float(y)) for x, y in value]
    except (TypeError, ValueError, OverflowError):
        raise WrongOption("places are pairs of numbers") from None
    if not 2 <= len(places) <= MOST_PLACES or not all(
        abs(c) < FURTHEST_MM for at in places for c in at
    ):
        raise WrongOption("a line has from two to a thousand places, on the paper")
    return places


def whole_number(words: str | None, low: int, high: int) -> int | None:
    """A whole number, brought within limits; None if it is none."""
    if not words or not words.isdecimal() or len(words) > LONGEST_NUMBER:
        return None
    return min(max(int(words), low), high)


def text_in(asked: Mapping[str, Any], key: str, longest: int = 200) -> str:
    """Words under a key, none if it is missing; raises WrongOption."""
    value = asked.get(key, "")
    if not isinstance(value, str) or len(value) > longest:
        raise WrongOption(f"{key}: give up to {longest} letters")
    return value.strip()


def reading_asked(asked: Mapping[str, Any]) -> dict[str, Any]:
    """How photos are to be read, as the page asks for it; raises WrongOption."""
    side = text_in(asked, "side") or "unknown"
    if side not in SIDES:
        raise WrongOption(f"side: {', '.join(SIDES)}")
    rules = [text_in(asked, key) for key in ("measured_x", "measured_y")]
    measured = None
    if any(rules):
        try:
            measured = tuple(length_mm(words or "150") for words in rules)
        except NotALength as error:
            raise WrongOption(f"a 150 mm rule: {error}; write it like 149.6") from None
        if not all(MEASURABLE_MM[0] <= each <= MEASURABLE_MM[1] for each in measured):
            raise WrongOption("a card's 150 mm rule measures nearer to 150")
    return {
        "name": text_in(asked, "name", 80) or "pattern",
        "side": side,
        "held_flat": asked.get("held_flat") is True,
        "measured_mm": measured,
        "paper_px": tuple(places_in(asked["paper_px"])) if asked.get("paper_px") else (),
    }
