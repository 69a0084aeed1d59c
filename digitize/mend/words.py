"""Facts in words, for a list of what was told."""

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

OTHERS = {
    "split": "is two lines",
    "move-end": "ends elsewhere",
    "close": "is closed",
    "no-tuck": "is no tuck",
    "outline": "the paper's edge",
}


def in_words(fact: Told) -> str:
    """A fact as a line of words; lines go by what they were called when it was told."""
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
            radii = ", ".join(f"{each.radius:g}" for each in fact.radii)
            return f"{name}: radius {radii} mm" if radii else f"{name}: no radius"
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
            laps = ", ".join(f"{each.lap:g} at {each.depth:.0f}" for each in fact.laps)
            return f"{name}: laps by {laps} mm" if laps else f"{name}: as measured"
        case TellAllowance():
            lines = " ".join(each.line for each in fact.on) or "all round"
            return f"{lines}: {fact.width:g} mm to spare"
        case TellDatum():
            return f"datum, {fact.direction_deg:g} degrees"
        case TellHole():
            return f"hole of {fact.diameter:g} mm"
        case TellArea():
            return f"area: {fact.use}"
        case TellAbout():
            said = fact.model_dump(exclude_none=True, exclude={"number", "time", "kind"})
            return ", ".join(f"{key} {value}" for key, value in said.items())
        case TakeBack():
            return f"{fact.fact} taken back"
        case TellAgain():
            return f"{fact.fact} told again"
        case _:
            words = OTHERS.get(fact.kind, fact.kind)
            return f"{name}: {words}" if name else words
