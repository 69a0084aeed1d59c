"""Facts told by a line's id, given their place on the paper."""

from digitize.errors import ToldError
from digitize.mend.places import line_at, lines_named, on_line, piece_at, tuck_named
from digitize.record import (
    EraseLine,
    Line,
    MoveEnd,
    OnLine,
    Pattern,
    SplitLine,
    TellRadius,
    TellRole,
    TellWords,
    Told,
)


def placed(pattern: Pattern, fact: Told) -> tuple[Told, ...]:
    """A fact with the place of each line it names; of a line group's name, one for each piece.

    A tuck's name stands for its slit.

    Raises
    ------
    ToldError
        If nothing is so called.
    """
    single = {
        name: value
        for name in type(fact).model_fields
        if isinstance(value := getattr(fact, name), OnLine) and not value.points
    }
    several = getattr(fact, "on", None)
    update: dict[str, object] = {}
    if isinstance(several, tuple):
        update["on"] = tuple(
            on_line(line)
            for on in several
            for line in (_named(pattern, on.line) if not on.points else (line_at(pattern, on),))
        )
    for name, value in single.items():
        if name != "on":
            update[name] = on_line(_named(pattern, value.line)[0])
    if "on" not in single:
        return (fact.model_copy(update=update),)
    lines = _named(pattern, single["on"].line)
    if len(lines) > 1:
        lines = _meant(fact, lines, single["on"].line)
    return tuple(fact.model_copy(update={**update, "on": on_line(line)}) for line in lines)


def _meant(fact: Told, lines: tuple[Line, ...], name: str) -> tuple[Line, ...]:
    """Which of a group's lines a fact is about: all, or the one on which its place lies."""
    if isinstance(fact, SplitLine | MoveEnd):
        return (piece_at(lines, fact.at),)
    if isinstance(fact, EraseLine) and fact.between is not None:
        return (piece_at(lines, fact.between[0]),)
    if isinstance(fact, TellRole | TellWords | TellRadius | EraseLine):
        return lines
    raise ToldError(f"{name}: is {len(lines)} lines: name the one of them that is meant")


def _named(pattern: Pattern, words: str) -> tuple[Line, ...]:
    if any(tuck.id.lower() == words.strip().lower() for tuck in pattern.tucks):
        return (pattern.line(tuck_named(pattern, words).slit),)
    return lines_named(pattern, words)
