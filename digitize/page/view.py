"""What a browser is given of a pattern: the record's own keys, and words for its figures."""

from functools import lru_cache
from typing import Any

from digitize.errors import DigitizeError, NotKept
from digitize.jobs.tell import in_words, place_of
from digitize.page.bench import Bench
from digitize.record import Line, Pattern, Sheet, TakeBack, TellAgain, Tuck, standing, steps_of
from digitize.units import Unit, length_in_words

# What the command line's options are called on the page.
ON_THE_PAGE = {
    "--measured-x": "the rule across a card",
    "--measured-y": "the rule along it",
    "--held-flat": "the box for weights or pins",
    "--paper": "Show where the paper is",
    "--revise": "the box that says so",
    "with --kept": "as the same part:",
    "another --name": "another name",
    "digitize photo": "the reading",
    "digitize keep": "Keep",
    "digitize take": "Put on the bench",
}
SHOWN = {
    "name", "side", "outline", "outline_unsure", "unseen", "groups", "zones", "bands",
    "unit", "part", "reference", "sheet", "notes", "remarks", "rectified", "holes", "areas",
}  # fmt: skip
LINE_SHOWN = {
    "id", "role", "role_confidence", "role_by", "group", "points", "closed", "stroke", "radius",
    "radii", "note", "withdrawn", "confidence",
}  # fmt: skip
TUCK_SHOWN = {
    "id", "kind", "tip", "slit", "lap_line", "other_crease", "unsure", "lap_at_trim",
}  # fmt: skip


def on_the_page(words: str) -> str:
    """Words that speak of the command line's options, as the page has them."""
    for option, here in ON_THE_PAGE.items():
        words = words.replace(option, here)
    return words


def pattern_view(
    pattern: Pattern, version: str, picture: str | None, photos: bool
) -> dict[str, Any]:
    """All that the page shows of a pattern, as JSON has it; lengths in mm, and in words.

    Parameters
    ----------
    picture : the version of the paper's picture; None if it is not kept.
    photos : whether the photos that it was read from are kept.
    """
    undo, redo = steps_of(pattern.told)
    shown = pattern.model_dump(mode="json", include=SHOWN)
    for remark in shown["remarks"]:
        remark["words"] = on_the_page(remark["words"])
    return {
        **shown,
        "version": version,
        "rectified": shown["rectified"] if picture else None,
        "picture": picture,
        "photos": photos,
        "sheet_words": _sheet(pattern.sheet),
        "accuracy_mm": pattern.scale.accuracy_mm if pattern.scale else None,
        "lines": [_line(line, pattern.unit) for line in pattern.lines],
        "tucks": [_tuck(tuck, pattern.unit) for tuck in pattern.tucks],
        "facts": _facts(pattern),
        "undo": undo,
        "redo": redo,
    }


def bench_view(bench: Bench) -> list[dict[str, Any]]:
    """A row for each pattern on the bench."""
    rows: list[dict[str, Any]] = []
    for name in bench.names():
        try:
            version = bench.version(name)
            rows.append({"id": name, "version": version, **_row(bench, name, version)})
        except NotKept:
            continue  # it was taken away meanwhile
        except DigitizeError as error:
            rows.append({"id": name, "name": name, "wrong": str(error)})
    return rows


@lru_cache(10_000)
def _row(bench: Bench, name: str, version: str) -> dict[str, Any]:
    """What the bench shows of a pattern; read once for each of its versions."""
    pattern, _ = bench.pattern(name)
    severities = [remark.severity for remark in pattern.remarks]
    return {
        "picture": bench.picture_version(name) is not None,
        "name": pattern.name,
        "side": pattern.side,
        "part": pattern.part,
        "size": [round(max((at[axis] for at in pattern.outline), default=0)) for axis in (0, 1)],
        "tucks": len(pattern.tucks),
        "warnings": sum(each != "note" for each in severities),
        "stops": severities.count("stop"),
    }


def _sheet(sheet: Sheet | None) -> str:
    """A sheet as it can be written again."""
    if sheet is None:
        return ""
    size = f"{sheet.gauge} ga" if sheet.gauge else f"{sheet.thickness:g} mm"
    return f"{sheet.material} {size}"


def _line(line: Line, unit: Unit) -> dict[str, Any]:
    return {
        **line.model_dump(mode="json", include=LINE_SHOWN),
        "length": length_in_words(line.length, unit),
        "radius_words": [
            {"along": each.along, "words": length_in_words(each.radius, unit)}
            for each in line.radii
        ]
        or ([{"along": None, "words": length_in_words(line.radius, unit)}] if line.radius else []),
    }


def _tuck(tuck: Tuck, unit: Unit) -> dict[str, Any]:
    return {
        **tuck.model_dump(mode="json", include=TUCK_SHOWN),
        "lap": length_in_words(tuck.lap_at_trim, unit),
        "stations": [
            {
                "depth": length_in_words(each.depth, unit),
                "lap": length_in_words(each.lap, unit),
                "evidence": each.evidence,
            }
            for each in tuck.stations
        ],
    }


def _facts(pattern: Pattern) -> list[dict[str, Any]]:
    counting = {fact.number for fact in standing(pattern.told)}
    return [
        {
            "number": fact.number,
            "words": in_words(fact, pattern.unit),
            "at": place_of(fact),
            "counts": fact.number in counting,
        }
        for fact in pattern.told
        if not isinstance(fact, TakeBack | TellAgain)
    ]
