"""What was told, replayed on a reading: the pattern is always the facts on what the photos gave."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np

from digitize.errors import ToldError
from digitize.mend import about, labels, lines, tucks
from digitize.mend.follow import follow_pencil
from digitize.mend.measured import measured_again
from digitize.mend.picture import PictureFor, no_picture
from digitize.mend.places import line_at, on_line
from digitize.record import (
    CloseLine,
    DrawLine,
    EraseLine,
    FollowPencil,
    JoinLines,
    MoveEnd,
    OtherFact,
    Pattern,
    SplitLine,
    TellAbout,
    TellAllowance,
    TellArea,
    TellCut,
    TellDatum,
    TellFold,
    TellHole,
    TellNoTuck,
    TellOutline,
    TellRadius,
    TellRole,
    TellTakeUp,
    TellWords,
    Told,
    standing,
)
from digitize.take_up import derived

STEPS: dict[type, Callable[[Pattern, Any], Pattern]] = {
    DrawLine: lines.drawn,
    FollowPencil: lines.followed,
    EraseLine: lines.erased,
    SplitLine: lines.split,
    JoinLines: lines.joined,
    MoveEnd: lines.end_moved,
    CloseLine: lines.closed,
    TellRole: labels.role_told,
    TellRadius: labels.radius_told,
    TellWords: labels.words_told,
    TellCut: tucks.cut_told,
    TellFold: tucks.fold_told,
    TellNoTuck: tucks.no_tuck_told,
    TellTakeUp: tucks.take_up_told,
    TellOutline: about.outline_told,
    TellAllowance: about.allowance_told,
    TellDatum: about.datum_told,
    TellHole: about.hole_told,
    TellArea: about.area_told,
    TellAbout: about.about_told,
}


@dataclass(frozen=True)
class Lost:
    """A fact that does not fit a reading, and why."""

    fact: Told
    why: str


@dataclass(frozen=True)
class Replayed:
    """A pattern: a reading and what was told about it; and what of that does not fit it."""

    pattern: Pattern
    lost: tuple[Lost, ...] = ()


def replayed(
    reading: Pattern,
    told: Sequence[Told],
    picture: PictureFor = no_picture,
    elsewhere: bool = False,
) -> Replayed:
    """The pattern that a reading and the facts told about it make, with all that follows.

    The same reading and facts give the same pattern.

    Parameters
    ----------
    reading : what the photos gave.
    told : facts in the order in which they were told, by number.
    picture : gives the paper from above, where laps are measured anew and pencil is followed; it is
        asked only if that is needed.
    elsewhere : the facts were told about another reading; a line that was drawn there because it
        had been lost, and was read here, is told its role alone.
    """
    reading, picture = tucks.with_other_creases(reading), lru_cache(1)(picture)
    pattern, lost = reading.model_copy(update={"told": ()}), []
    kept: list[Told] = []
    counting = {fact.number for fact in standing(tuple(told))}
    for fact in told:
        if fact.number in counting:
            try:
                fact, pattern = _step(pattern, fact, picture, elsewhere)
            except ToldError as error:
                lost.append(Lost(fact, str(error)))
        kept.append(fact)
    pattern = measured_again(tucks.with_tips(pattern), reading, picture)
    pattern = derived(pattern).model_copy(update={"told": tuple(kept)})
    return Replayed(pattern, tuple(lost))


def _step(
    pattern: Pattern, fact: Told, picture: PictureFor, elsewhere: bool
) -> tuple[Told, Pattern]:
    """A fact, with what was read for it, and the pattern with it; raises ToldError."""
    if isinstance(fact, OtherFact):
        raise ToldError("a later version of this program knows what it says; this one does not")
    if isinstance(fact, FollowPencil) and fact.found is None:
        seen = picture()
        if seen is None:
            raise ToldError("the picture of the paper is not kept, so no pencil can be followed")
        found = follow_pencil(np.array(fact.points), seen, lines.new_id(fact.number), fact.role)
        fact = fact.model_copy(update={"found": found})
    elif isinstance(fact, FollowPencil) and fact.found is not None:
        # Followed before it was told, it had no number yet.
        found = fact.found.model_copy(update={"id": lines.new_id(fact.number), "role": fact.role})
        fact = fact.model_copy(update={"found": found})
    after = STEPS[type(fact)](pattern, fact)
    if not isinstance(fact, FollowPencil | DrawLine):
        return fact, after
    new = after.line(lines.new_id(fact.number))
    there = lines.lying_there(pattern, new) if elsewhere else None
    if there is not None:
        fact = fact.model_copy(update={"there": on_line(there)})
    if fact.there is not None:
        new, after = line_at(pattern, fact.there), pattern
    if fact.role == "unknown" and fact.there is not None:
        return fact, after
    return fact, tucks.with_role(after, new, fact.role, fact.number)
