"""Facts told by a line's id, given their place on the paper."""

from digitize.mend.places import line_at, lines_named, on_line, tuck_named
from digitize.record import Line, OnLine, Pattern, Told


def placed(pattern: Pattern, fact: Told) -> tuple[Told, ...]:
    """A fact with the place of each line it names; of a line group's name, one for each piece.

    A tuck's name stands for its slit. Raises ToldError where nothing is so called.
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
    return tuple(
        fact.model_copy(update={**update, "on": on_line(line)})
        for line in _named(pattern, single["on"].line)
    )


def _named(pattern: Pattern, words: str) -> tuple[Line, ...]:
    if any(tuck.id.lower() == words.strip().lower() for tuck in pattern.tucks):
        return (pattern.line(tuck_named(pattern, words).slit),)
    return lines_named(pattern, words)
