"""Facts in words, for a list of what was told."""

from collections.abc import Iterator
from functools import partial

from digitize.record import (
    DrawLine,
    EraseLine,
    FollowPencil,
    JoinLines,
    OnLine,
    TakeBack,
    TellAbout,
    TellAgain,
    TellAllowance,
    TellArea,
    TellCut,
    TellDatum,
    TellFold,
    TellHole,
    TellRadius,
    TellRole,
    TellTakeUp,
    TellWords,
    Told,
)
from digitize.shop import sheet_words
from digitize.units import Unit, length_in_words

OTHERS = {
    "split": "is two lines",
    "move-end": "ends elsewhere",
    "close": "is closed",
    "no-tuck": "is no tuck",
    "outline": "the paper's edge",
}


def in_words(fact: Told, unit: Unit = "mm") -> str:
    """A fact as a line of words, lengths in the user's unit first.

    Lines go by what they were called when it was told.
    """
    length = partial(length_in_words, unit=unit)
    on = getattr(fact, "on", None)
    name = on.line if isinstance(on, OnLine) else ""
    match fact:
        case DrawLine() | FollowPencil():
            way = "drawn" if isinstance(fact, DrawLine) else "read along the pencil"
            return f"M{fact.number}: {fact.role} line {way}"
        case EraseLine():
            return f"{name}: erased" if fact.between is None else f"{name}: a stretch erased"
        case JoinLines():
            return f"{name}: goes on as {fact.to.line}"
        case TellRole():
            return f"{name}: is {fact.role}"
        case TellRadius():
            radii = ", ".join(length(each.radius) for each in fact.radii)
            return f"{name}: radius {radii}" if radii else f"{name}: no radius"
        case TellWords():
            where = name or "the writing"
            return f"{where}: {fact.words}" if fact.words else f"{where}: no words"
        case TellCut():
            return f"{name}: is a slit" + (
                f", its lap line {fact.lap_line.line}" if fact.lap_line else ""
            )
        case TellFold():
            return f"{name}: is a fold" + (f" with {fact.other.line}" if fact.other else "")
        case TellTakeUp():
            laps = [
                f"{'laps' if each.lap >= 0 else 'opened'} by {length(abs(each.lap))}, "
                f"{length(each.depth, decimals=0)} from its tip"
                for each in fact.laps
            ]
            return f"{name}: {'; '.join(laps) or 'as measured'}"
        case TellAllowance():
            lines = " ".join(each.line for each in fact.on) or "all round"
            return f"{lines}: {length(fact.width)} to spare"
        case TellDatum():
            return f"datum, {fact.direction_deg:g} degrees"
        case TellHole():
            return f"hole, diameter {length(fact.diameter)}"
        case TellArea():
            return f"area: {fact.use}"
        case TellAbout():
            return ", ".join(_about(fact))
        case TakeBack():
            return f"{fact.fact} taken back"
        case TellAgain():
            return f"{fact.fact} told again"
        case _:
            words = OTHERS.get(fact.kind, fact.kind)
            return f"{name}: {words}" if name else words


def _about(fact: TellAbout) -> Iterator[str]:
    """What is told about the pattern itself, each in words."""
    for key in ("name", "part", "reference", "side", "stock"):
        said = getattr(fact, key)
        if said is not None:
            yield f"{key} {said}"
    if fact.sheet is not None:
        yield f"sheet {sheet_words(fact.sheet)}"
    if fact.unit is not None:
        yield "lengths in inches" if fact.unit == "inch" else "lengths in mm"
    if fact.held_flat is not None:
        yield "paper held flat" if fact.held_flat else "paper not held flat"
