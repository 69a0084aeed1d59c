"""What was told about a pattern, carried over to a new reading of the same paper."""

import math
from collections.abc import Callable, Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from digitize.compare import same_paper
from digitize.mend.picture import PictureFor, no_picture
from digitize.mend.places import on_line
from digitize.mend.replay import Lost, Replayed, replayed
from digitize.plane import Placement, laid_on, places_along
from digitize.record import (
    DrawLine,
    Flips,
    FollowPencil,
    LapTold,
    Pattern,
    RadiusAt,
    RadiusHere,
    TellAbout,
    TellOutline,
    TellRadius,
    TellRole,
    TellTakeUp,
    TellWords,
    Told,
    changed,
    numbered,
)

Floats = NDArray[np.float64]
OTHER_EDGE = "the paper's edge was told of other photos: look at it in these"


def carried_over(old: Pattern, new: Pattern, picture: PictureFor = no_picture) -> Replayed:
    """The new reading with all that was told about the old pattern, found again by its place.

    Where the paper's edge runs was said of the old photos: of others it is not told again.
    """
    said = old.told or facts_in(old)
    same = [each.sha256 for each in old.sources] == [each.sha256 for each in new.sources]
    told = tuple(fact for fact in said if same or not isinstance(fact, TellOutline))
    lost = tuple(Lost(fact, OTHER_EDGE) for fact in said if fact not in told)
    if told and new.lines:
        onto = laid_on(same_paper(old), same_paper(new))
        told = tuple(moved(fact, onto) for fact in told)
    made = replayed(new, told, picture, elsewhere=True)
    return Replayed(made.pattern, (*made.lost, *lost))


def moved(fact: Told, onto: Placement) -> Told:
    """A fact with its places where they lie on another reading; what was read for it is gone."""
    turn = math.degrees(math.atan2(onto.matrix[1, 0], onto.matrix[0, 0]))

    def there(flips: Flips, value: Any, parts: Callable[[Any], Any], kind: Any) -> Any:
        match flips:
            case Flips.PLACE:
                x, y = onto(np.array([value]))[0].tolist()
                return (round(x, 3), round(y, 3))
            case Flips.RING:
                return parts(value)
            case Flips.TURN:
                return round(value + turn, 6)
            case _:
                return value

    if isinstance(fact, FollowPencil):
        fact = fact.model_copy(update={"found": None, "there": None})
    elif isinstance(fact, DrawLine):
        fact = fact.model_copy(update={"there": None})
    placed: Told = changed(fact, type(fact), there)
    return placed


def facts_in(pattern: Pattern) -> tuple[Told, ...]:
    """The facts that a record of before they were kept apart carries in its lines and tucks."""
    facts: list[Told] = []
    for line in pattern.lines:
        on = on_line(line)
        if line.role_by == "told" and line.role not in ("slit", "lap", "crease"):
            facts.append(TellRole(on=on, role=line.role))
        if line.radius is not None:
            facts.append(TellRadius(on=on, radii=(RadiusHere(radius=line.radius),)))
        elif line.radii:
            path = np.array(line.path)
            facts.append(TellRadius(on=on, radii=_radii_of(path, line.radii)))
        if line.note is not None:
            facts.append(TellWords(on=on, words=line.note))
    for tuck in pattern.tucks:
        entered = tuple(
            LapTold(depth=station.depth, lap=station.lap)
            for station in tuck.stations
            if station.evidence == "entered"
        )
        if entered:
            facts.append(TellTakeUp(on=on_line(pattern.line(tuck.slit)), laps=entered))
    if pattern.sheet is not None:
        facts.append(TellAbout(sheet=pattern.sheet))
    return numbered(facts)


def as_read(pattern: Pattern) -> Pattern:
    """A record of before facts were kept apart, without what was told about it.

    What role a line had been read as is not known any more: it keeps the one told, as proposed.
    """
    lines = tuple(
        line.model_copy(update={"radius": None, "radii": (), "note": None, "role_by": "proposed"})
        for line in pattern.lines
    )
    tucks = tuple(
        tuck.model_copy(
            update={
                "stations": tuple(s for s in tuck.stations if s.evidence != "entered"),
                "kind": ("fold" if pattern.line(tuck.slit).role == "crease" else "slit")
                if tuck.kind == "spread"
                else tuck.kind,
            }
        )
        for tuck in pattern.tucks
    )
    return pattern.model_copy(update={"lines": lines, "tucks": tucks, "sheet": None, "told": ()})


def _radii_of(path: Floats, radii: Sequence[RadiusAt]) -> tuple[RadiusHere, ...]:
    places = places_along(path, np.array([each.along for each in radii]))
    return tuple(
        RadiusHere(at=(round(x, 3), round(y, 3)), radius=each.radius)
        for (x, y), each in zip(places.tolist(), radii, strict=True)
    )
