"""What the user tells about a pattern: facts, each with its place on the paper, kept in order.

A fact says where it is in mm, not only by a line's id, so that it finds its line again on another
reading of the same paper. In a file a line may be named by its id alone (``"on": "L3"``); its place
is filled in when the fact is told.
"""

from collections.abc import Iterable
from typing import TYPE_CHECKING, Annotated, Any, Literal

from pydantic import AfterValidator, Discriminator, Field, Tag

from digitize.record.parts import (
    MOST_ALLOWANCE_MM,
    Flips,
    Line,
    Part,
    Point,
    Ring,
    Role,
    Sheet,
    Side,
    ToldUse,
)
from digitize.units import Unit


class _Said(Part):
    """Something said."""


class OnLine(_Said):
    """A line: what it was called, and places (mm) along the whole of it."""

    line: str = ""
    points: tuple[Point, ...] = ()
    closed: bool = False


if TYPE_CHECKING:
    NamedLine = OnLine
else:  # in a file its id alone will do
    NamedLine = OnLine | Annotated[str, AfterValidator(lambda name: OnLine(line=name))]


class _Fact(_Said):
    """``number`` and ``time`` (ISO 8601) are given to a fact when it is told."""

    number: int = 0
    time: str | None = None


class DrawLine(_Fact):
    """A line that was not read, through points (mm).

    ``there`` is the line that it is on a reading that has it: then that is told its role alone.
    """

    kind: Literal["draw"] = "draw"
    points: tuple[Point, ...] = Field(min_length=2)
    role: Role = "unknown"
    closed: bool = False
    there: NamedLine | None = None


class FollowPencil(_Fact):
    """A line read again along the pencil between two or more points (mm) near it.

    ``found`` is what was read there; on another reading it is read again. ``there`` as for a line
    that is drawn.
    """

    kind: Literal["follow"] = "follow"
    points: tuple[Point, ...] = Field(min_length=2)
    role: Role = "unknown"
    found: Line | None = None
    there: NamedLine | None = None


class EraseLine(_Fact):
    """A line that is none, or its stretch between two places."""

    kind: Literal["erase"] = "erase"
    on: NamedLine
    between: tuple[Point, Point] | None = None


class SplitLine(_Fact):
    """A line that is two, parted at a place."""

    kind: Literal["split"] = "split"
    on: NamedLine
    at: Point


class JoinLines(_Fact):
    """Two lines that are one, at their ends that lie nearest to each other."""

    kind: Literal["join"] = "join"
    on: NamedLine
    to: NamedLine


class MoveEnd(_Fact):
    """The end of a line near ``at`` lies at ``to``: the line is cut there, or goes on to it."""

    kind: Literal["move-end"] = "move-end"
    on: NamedLine
    at: Point
    to: Point


class CloseLine(_Fact):
    """A line that goes on from its last point to its first."""

    kind: Literal["close"] = "close"
    on: NamedLine


class TellRole(_Fact):
    """What a line is."""

    kind: Literal["role"] = "role"
    on: NamedLine
    role: Role


class RadiusHere(_Said):
    """A radius (mm) at a place; of the whole line without one."""

    at: Point | None = None
    radius: float = Field(gt=0)


class TellRadius(_Fact):
    """Radii along a line; none takes back what was told."""

    kind: Literal["radius"] = "radius"
    on: NamedLine
    radii: tuple[RadiusHere, ...] = ()


class TellWords(_Fact):
    """Words about a line, or for the writing at a place; none take them back."""

    kind: Literal["words"] = "words"
    on: NamedLine | None = None
    at: Point | None = None
    words: str = ""


class TellCut(_Fact):
    """A slit, and its lap line if it has one."""

    kind: Literal["cut"] = "cut"
    on: NamedLine
    lap_line: NamedLine | None = None


class TellFold(_Fact):
    """A fold's creases: the one in sight, and the other if it shows."""

    kind: Literal["fold"] = "fold"
    on: NamedLine
    other: NamedLine | None = None


class TellNoTuck(_Fact):
    """A slit or crease that is none: its marks are lines of unknown role."""

    kind: Literal["no-tuck"] = "no-tuck"
    on: NamedLine


class LapTold(_Said):
    """A lap (mm; negative where the slit opened) at a depth from the tip, mm."""

    depth: float = Field(gt=0)
    lap: float


class TellTakeUp(_Fact):
    """Laps measured by hand at a tuck, or gaps where it opened; none takes them back."""

    kind: Literal["take-up"] = "take-up"
    on: NamedLine
    laps: tuple[LapTold, ...] = ()


class TellOutline(_Fact):
    """The paper's edge."""

    kind: Literal["outline"] = "outline"
    points: Ring = Field(min_length=3)


class TellAllowance(_Fact):
    """Metal (mm) outside the trim edge along lines, or between two places on one; without lines,
    all round.
    """

    kind: Literal["allowance"] = "allowance"
    on: tuple[NamedLine, ...] = ()
    width: float = Field(ge=0, le=MOST_ALLOWANCE_MM)
    between: tuple[Point, Point] | None = None


class TellDatum(_Fact):
    """The point and direction from which sizes are given."""

    kind: Literal["datum"] = "datum"
    at: Point
    direction_deg: Annotated[float, Flips.TURN] = 0.0


class TellHole(_Fact):
    """A hole, its diameter in mm."""

    kind: Literal["hole"] = "hole"
    at: Point
    diameter: float = Field(gt=0)


class TellArea(_Fact):
    """An area to stretch, one with extra metal, or one where no shrinking goes."""

    kind: Literal["area"] = "area"
    boundary: Ring = Field(min_length=3)
    use: ToldUse


class TellAbout(_Fact):
    """The pattern itself; what is not said stays as it is."""

    kind: Literal["about"] = "about"
    name: str | None = None
    part: str | None = None
    reference: str | None = None
    side: Annotated[Side | None, Flips.SIDE] = None
    sheet: Sheet | None = None
    stock: str | None = None
    unit: Unit | None = None
    held_flat: bool | None = None


class TakeBack(_Fact):
    """A fact, by number, that counts no longer."""

    kind: Literal["take-back"] = "take-back"
    fact: int


class TellAgain(_Fact):
    """A fact that was taken back, and counts again."""

    kind: Literal["tell-again"] = "tell-again"
    fact: int


class OtherFact(_Fact):
    """A fact of a kind that a later version knows: it is kept, and does not count here."""

    kind: str


KINDS = frozenset(
    (
        "draw",
        "follow",
        "erase",
        "split",
        "join",
        "move-end",
        "close",
        "role",
        "radius",
        "words",
        "cut",
        "fold",
        "no-tuck",
        "take-up",
        "outline",
        "allowance",
        "datum",
        "hole",
        "area",
        "about",
        "take-back",
        "tell-again",
    )
)


def _tag(value: Any) -> str:
    kind = value.get("kind") if isinstance(value, dict) else getattr(value, "kind", None)
    return kind if isinstance(kind, str) and kind in KINDS else "other"


Told = Annotated[
    Annotated[DrawLine, Tag("draw")]
    | Annotated[FollowPencil, Tag("follow")]
    | Annotated[EraseLine, Tag("erase")]
    | Annotated[SplitLine, Tag("split")]
    | Annotated[JoinLines, Tag("join")]
    | Annotated[MoveEnd, Tag("move-end")]
    | Annotated[CloseLine, Tag("close")]
    | Annotated[TellRole, Tag("role")]
    | Annotated[TellRadius, Tag("radius")]
    | Annotated[TellWords, Tag("words")]
    | Annotated[TellCut, Tag("cut")]
    | Annotated[TellFold, Tag("fold")]
    | Annotated[TellNoTuck, Tag("no-tuck")]
    | Annotated[TellTakeUp, Tag("take-up")]
    | Annotated[TellOutline, Tag("outline")]
    | Annotated[TellAllowance, Tag("allowance")]
    | Annotated[TellDatum, Tag("datum")]
    | Annotated[TellHole, Tag("hole")]
    | Annotated[TellArea, Tag("area")]
    | Annotated[TellAbout, Tag("about")]
    | Annotated[TakeBack, Tag("take-back")]
    | Annotated[TellAgain, Tag("tell-again")]
    | Annotated[OtherFact, Tag("other")],
    Discriminator(_tag),
]


def standing(told: tuple[Told, ...]) -> tuple[Told, ...]:
    """The facts that count: those not taken back, or told again since."""
    gone: set[int] = set()
    for fact in told:
        if isinstance(fact, TakeBack) and fact.fact < fact.number:
            gone.add(fact.fact)
        elif isinstance(fact, TellAgain):
            gone.discard(fact.fact)
    return tuple(
        fact
        for fact in told
        if fact.number not in gone and not isinstance(fact, TakeBack | TellAgain)
    )


def steps_of(told: Iterable[Told]) -> tuple[int | None, int | None]:
    """The numbers of the fact that is the next to be taken back, and of the one to be told again.

    As an editor undoes and redoes: what was taken back last is told again first, until something
    new is told.
    """
    done: list[int] = []
    undone: list[int] = []
    for fact in told:
        if isinstance(fact, TakeBack):
            if fact.fact in done:
                done.remove(fact.fact)
                undone.append(fact.fact)
        elif isinstance(fact, TellAgain):
            if fact.fact in undone:
                undone.remove(fact.fact)
                done.append(fact.fact)
        else:
            done.append(fact.number)
            undone.clear()
    return (done[-1] if done else None), (undone[-1] if undone else None)


def numbered(facts: Iterable[Told], after: int = 0, time: str | None = None) -> tuple[Told, ...]:
    """Facts as they are told: each with the next number, and the time (ISO 8601)."""
    return tuple(
        fact.model_copy(update={"number": after + index, "time": time})
        for index, fact in enumerate(facts, start=1)
    )
