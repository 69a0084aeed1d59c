"""What a browser is given of a pattern: the record's own keys, and words for its figures."""

from typing import Any

from digitize.errors import DigitizeError
from digitize.jobs.tell import in_words, place_of
from digitize.page.bench import Bench
from digitize.record import Line, Pattern, TakeBack, TellAgain, Tuck, standing, steps_of
from digitize.units import Unit, length_in_words

# What the command line's options are called on the page.
ON_THE_PAGE = {
    "--measured-x": "the rule across a card",
    "--measured-y": "the rule along it",
    "--held-flat": "the box for weights or pins",
    "--paper": "Show where the paper is",
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


def pattern_view(pattern: Pattern, version: str, picture: bool, photos: bool) -> dict[str, Any]:
    """All that the page shows of a pattern, as JSON has it; lengths in mm, and in words.

    Parameters
    ----------
    picture, photos : whether the paper's picture, and the photos that it was read from, are kept
        beside it.
    """
    undo, redo = steps_of(pattern.told)
    shown = pattern.model_dump(mode="json", include=SHOWN)
    for remark in shown["remarks"]:
        for option, words in ON_THE_PAGE.items():
            remark["words"] = remark["words"].replace(option, words)
    return {
        **shown,
        "version": version,
        "rectified": shown["rectified"] if picture else None,
        "photos": photos,
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
            pattern, version = bench.pattern(name)
        except DigitizeError as error:
            rows.append({"id": name, "name": name, "wrong": str(error)})
            continue
        severities = [remark.severity for remark in pattern.remarks]
        rows.append(
            {
                "id": name,
                "version": version,
                "picture": bench.has_picture(name),
                "name": pattern.name,
                "side": pattern.side,
                "part": pattern.part,
                "size": [round(max(at[axis] for at in pattern.outline)) for axis in (0, 1)],
                "lines": len(pattern.lines),
                "tucks": len(pattern.tucks),
                "warnings": sum(each != "note" for each in severities),
                "stops": severities.count("stop"),
            }
        )
    return rows


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
            "words": in_words(fact),
            "at": place_of(fact),
            "counts": fact.number in counting,
        }
        for fact in pattern.told
        if not isinstance(fact, TakeBack | TellAgain)
    ]
