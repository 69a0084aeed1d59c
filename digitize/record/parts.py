"""The parts of a record: lines, tucks, zones and all else that a pattern has.

Lengths are in mm, angles in degrees, times in ISO 8601. Coordinates are in the pattern
frame: x right, y up, looking at the marked face, origin at the lower left of the outline's
bounding box. Keys that this version does not know survive a read and a write.
"""

import itertools
import math
from enum import Enum
from typing import Annotated, Literal, Self

from pydantic import BaseModel, ConfigDict, Field, ValidationInfo, field_validator, model_validator

from digitize.record.strictly import refuse_unbounded
from digitize.words import printable


class Flips(Enum):
    """What a field's values become when the pattern is turned over; see ``record/mirror.py``.

    Every tuple of bare numbers in the record says which it is.
    """

    PLACE = "a place in mm: reflected left to right"
    RING = "places round an area, counter-clockwise: reflected, and run the other way round"
    BOX = "x min, y min, x max, y max in mm: reflected"
    TURN = "an angle counter-clockwise: the other way"
    SIDE = "left becomes right"
    OWN = "belongs to this side's paper alone: gone"
    STAYS = "numbers that are no places: as they are"


FURTHEST_MM = 20_000.0  # from the origin: no panel is larger
Coordinate = Annotated[float, Field(ge=-FURTHEST_MM, le=FURTHEST_MM)]
Point = Annotated[tuple[Coordinate, Coordinate], Flips.PLACE]
Ring = Annotated[tuple[Point, ...], Flips.RING]
Box = Annotated[tuple[Coordinate, Coordinate, Coordinate, Coordinate], Flips.BOX]
MOST_ALLOWANCE_MM = 1000.0
MOST = 1e6  # of any number in a record: mm, degrees, pixels of a picture's side, facts
LONGEST_WORDS, LONGEST_PICTURE = 5_000, 4_000_000
Share = Annotated[float, Field(ge=0, le=1)]
Positive = Annotated[float, Field(gt=0)]
AtLeastNought = Annotated[float, Field(ge=0)]
Side = Literal["left", "right", "unknown"]
Role = Literal[
    "trim-edge", "radius-start", "radius-end", "form", "lap", "slit", "crease", "unknown"
]
TuckKind = Literal["slit", "fold", "spread"]
Evidence = Literal["lap-line", "line-break", "crease", "entered"]
ZoneKind = Literal["shrink", "stretch"]
Hidden = Literal["bright", "dark", "blurred", "faint"]
By = Literal["proposed", "told"]
ToldUse = Literal["stretch", "extra-metal", "no-shrink"]
AreaUse = Literal[ToldUse, "hatched"]
Severity = Literal["note", "warning", "stop"]


class Part(BaseModel):
    """A part of the record: frozen, and it keeps the keys that it does not know."""

    model_config = ConfigDict(frozen=True, extra="allow", allow_inf_nan=False)

    @field_validator("*")
    @classmethod
    def _within_reason(cls, value: object, about: ValidationInfo) -> object:
        """Words go into drawings and onto terminals: none of their signs may act there."""
        if isinstance(value, str):
            longest = LONGEST_PICTURE if about.field_name == "picture" else LONGEST_WORDS
            if len(value) > longest:
                raise ValueError(f"has more than {longest} letters")
            return printable(value)
        if isinstance(value, float | int) and abs(value) > MOST:
            raise ValueError("is more than any pattern has")
        return value

    @model_validator(mode="after")
    def _can_be_written_again(self) -> Self:
        if self.model_extra:
            refuse_unbounded(self.model_extra)
        return self


class Source(Part):
    """One photo that the pattern was read from."""

    photo: str
    sha256: str
    width_px: int
    height_px: int
    camera: str | None = None
    taken: str | None = None


class CardSeen(Part):
    """A scale card and its place: centre (mm) and turn (degrees) in the pattern frame."""

    number: int
    paper: str
    corners: int
    centre: Point
    turn_deg: Annotated[float, Flips.TURN]


class PrintCorrection(Part):
    """Factors from the card's nominal size to its size as measured with a rule."""

    x: float = 1.0
    y: float = 1.0


class Check(Part):
    """A taped distance: between which marks, what was taped and read, and by how much (95 %) the
    two may differ; whether it was used in the solution.
    """

    between: tuple[str, str]
    taped_mm: float
    read_mm: float
    limit_mm: float
    used: bool = False


class PrintDoubt(Part):
    """How far the size of the cards' print may be off (95 %, a share), whether a rule or a tape
    told it, and what ``accuracy_mm`` would be if it were known: readings by the same cards share
    the print's error, and only the rest is between them.
    """

    relative: float
    measured: bool
    accuracy_beside_mm: float


class AccuracyLine(Part):
    """A line along which points are within so many mm (95 %) of true size."""

    within: float
    points: tuple[Point, ...]


class Scale(Part):
    """How the photo was brought to true size, and how well.

    ``accuracy_mm`` is the 95 % radius at the outline's worst point after the best rigid fit:
    the root sum of squares of the three parts named beside it. ``held_flat``: the user said that
    the paper was weighted or pinned flat all round, and the part for flatness goes by that.
    ``print_doubt`` is None in records of 0.2.0 and before.
    """

    cards: tuple[CardSeen, ...]
    reprojection_px: float
    print_correction: PrintCorrection
    accuracy_mm: float
    accuracy_cards_mm: float
    accuracy_print_mm: float
    accuracy_flatness_mm: float
    held_flat: bool = False
    cards_left_out: tuple[int, ...] = ()
    checks: tuple[Check, ...] = ()
    print_doubt: PrintDoubt | None = None
    accuracy_lines: tuple[AccuracyLine, ...] = ()


class CurvePiece(Part):
    """A stretch of a line's curve by its points: of a line its two ends, of an arc its start, a
    point on it and its end, of a cubic its four Bezier control points.
    """

    kind: Literal["line", "arc", "cubic"]
    points: tuple[Point, ...]


class RadiusAt(Part):
    """A radius (mm) told for a place so many mm along a line from its first point."""

    along: float
    radius: Positive


class Line(Part):
    """A pencil line, slit or crease: a polyline in mm, and the same as smooth pieces.

    It runs through the middle of the mark, but where the mark was rubbed with the side of the lead
    (``rubbed`` is that share of its length) along its sharp side. ``confidence`` is how sure it is
    that this is a line at all. ``group`` is the line on the metal that it is a piece of. ``radius``
    is the one told for all of it; ``radii`` those told for places along it. ``withdrawn`` is a line
    that was struck out on the paper: kept, but nothing is measured from it or follows from it.
    """

    id: str
    role: Role
    group: str | None = None
    role_confidence: Share
    role_by: By = "proposed"
    points: tuple[Point, ...]
    closed: bool = False
    stroke: Literal["solid", "dashed", "ticks"] = "solid"
    colour: str = "#555555"
    ink: str = "black"
    width: AtLeastNought
    rubbed: Share = 0.0
    radius: Positive | None = None
    radii: tuple[RadiusAt, ...] = ()
    note: str | None = None
    sigma: AtLeastNought
    confidence: Share = 1.0
    withdrawn: bool = False
    pieces: tuple[CurvePiece, ...] = ()

    @property
    def label(self) -> str:
        """Its id, and the line on the metal that it is of, as drawings have them."""
        return f"{self.id} {self.group}" if self.group else self.id

    @property
    def length(self) -> float:
        """Length in mm."""
        return sum(math.dist(a, b) for a, b in itertools.pairwise(self.path))

    @property
    def path(self) -> tuple[Point, ...]:
        """The points from end to end; of a closed line, with the first again at the end."""
        return (*self.points, *self.points[:1]) if self.closed else self.points

    @property
    def is_tuck_mark(self) -> bool:
        """Whether it is a slit, a crease or a lap line: the paper's, not the metal's."""
        return self.role in ("slit", "lap", "crease")

    @property
    def is_of_metal(self) -> bool:
        """Whether it is a line of the metal: no mark of a tuck, and not struck out."""
        return not (self.is_tuck_mark or self.withdrawn)


class GroupPiece(Part):
    """A line of a group, and whether the group runs from its last point to its first."""

    line: str
    reversed: bool = False


class LineGroup(Part):
    """One line on the metal: the pieces into which tucks and corners part it, in order.

    ``closed`` says that the last goes on as the first.
    """

    id: str
    role: Role
    pieces: tuple[GroupPiece, ...]
    closed: bool = False


class Station(Part):
    """A lap measured at a depth from the tuck's tip, both in mm; a spread's lap is negative.

    ``common`` is the part of ``sigma`` that all stations of one mark share.
    """

    depth: float
    lap: float
    sigma: float
    evidence: Evidence
    common: float = 0.0


class LapAt(Part):
    """The smooth lap at a depth from the tuck's tip, and its standard deviation, all in mm."""

    depth: float
    lap: float
    sigma: float


class LapShape(Part):
    """How a tuck's lap grows: its slope changes between two depths (mm; None: to the paper's edge),
    from a tip that is either sharp, as a cone's point is, or soft.

    ``course``, of a tuck not sure by itself, is how fast the slope changes at the others, as
    (depth in mm, change in 1/mm); up to a factor its own is taken to be alike.
    """

    bend: Annotated[tuple[float, float | None], Flips.STAYS] = (0.0, None)
    tip: Literal["sharp", "soft"] = "soft"
    course: tuple[Annotated[tuple[float, float], Flips.STAYS], ...] = ()


class Break(Part):
    """A line that stops at a tuck, and the one as which it goes on: their ids.

    ``depth`` is where they meet when the tuck is closed and ``lap`` how far the line jumps.
    The closure error is what keeps the two ends apart then: ``across`` the tuck and ``along`` it.
    All in mm.
    """

    lines: tuple[str, str]
    depth: float
    lap: float
    across: float = 0.0
    along: float


class Tuck(Part):
    """A slit or fold, with its lap along its depth.

    ``shape`` is how the lap is taken to grow. ``profile`` is the smooth lap from the tip to where
    the trim edge crosses, at ``depth_at_trim``;
    ``turn_deg`` is its slope there, the turn that the edge takes at this tuck, with its sigma.
    ``slit`` is the cut, or a fold's crease in sight; a fold has no lap line, and may have another
    crease. ``unsure`` is a tuck whose marks may be the other way about, or none: no zone counts it.
    """

    id: str
    kind: TuckKind
    tip: Point
    slit: str
    lap_line: str | None
    other_crease: str | None = None
    stations: tuple[Station, ...]
    breaks: tuple[Break, ...] = ()
    shape: LapShape = LapShape()
    profile: tuple[LapAt, ...] = ()
    depth_at_trim: float = 0.0
    lap_at_trim: float = 0.0
    deficit_deg: float = 0.0
    turn_deg: float = 0.0
    turn_sigma_deg: float = 0.0
    unsure: bool = False

    @property
    def label(self) -> str:
        """Its name and its lap at the trim edge, as drawings have them."""
        return f"{self.id} {self.lap_at_trim:.1f} mm{'?' if self.unsure else ''}"

    @property
    def marks(self) -> tuple[str, ...]:
        """The ids of its lines: the cut or crease first."""
        return tuple(name for name in (self.slit, self.lap_line, self.other_crease) if name)


class ZoneStation(Part):
    """Flat length, take-up (both mm) and shrink (a ratio) along one constant-depth curve."""

    depth: float
    flat_length: float
    take_up: float
    shrink: float


class Curvature(Part):
    """Total curvature of the metal inside the trim edge of a zone, degrees, with sigmas.

    ``laps_deg`` is what the laps say, ``radii_deg`` what the radii told imply; None if none are.
    """

    laps_deg: float
    laps_sigma_deg: float
    radii_deg: float | None = None
    radii_sigma_deg: float | None = None


class Zone(Part):
    """An area over which take-up has to be worked into the metal; ``peak_shrink`` is of stations,
    ``peak_local`` of any place in it.
    """

    id: str
    kind: ZoneKind
    boundary: Ring
    tucks: tuple[str, ...]
    stations: tuple[ZoneStation, ...]
    peak_shrink: float
    peak_local: float = 0.0
    curvature: Curvature | None = None


class BandStation(Part):
    """A place so many mm along a band: its width on the paper, which is arc length there (mm), the
    radius told (mm) and the angle turned (degrees).
    """

    along: float
    width: float
    radius: float | None = None
    turned_deg: float | None = None


class Band(Part):
    """The strip between a radius start and the radius end lines across from it, by line ids."""

    id: str
    start: str
    ends: tuple[str, ...]
    stations: tuple[BandStation, ...]


class Note(Part):
    """Writing on the paper: where it stands, as a box (x min, y min, x max, y max).

    ``picture`` shows it, upright and filling the box: a PNG, dark on white, in base64 (RFC 4648).
    ``text`` is what the user says that it says: nothing is guessed.
    """

    id: str
    box: Box
    text: str | None = None
    picture: str | None = None


class Sheet(Part):
    """The sheet metal that the part is made of; thickness in mm."""

    material: Literal["steel", "aluminium"]
    thickness: Positive
    gauge: int | None = None


class Rectified(Part):
    """The picture of the paper from straight above, ``rectified.jpg``: the place of its upper left
    pixel's centre, and the side of a pixel, mm; its width and height in pixels.
    """

    left: float
    top: float
    mm_per_px: Positive
    size_px: Annotated[tuple[int, int] | None, Flips.STAYS] = None


class Remark(Part):
    """Something to be known about the pattern, and what to do about it.

    Attributes
    ----------
    kind : what sort of thing it is, in a word or two; see ``remarks/``.
    words : a line for the user.
    severity : ``note`` where it is allowed for, ``warning`` where a figure or a place has to be
        looked at, ``stop`` where nothing should be cut before it is settled.
    about : ids of the lines, tucks, zones or bands that it is about; cards by number.
    at : its place, if it has one.
    """

    kind: str
    words: str
    severity: Severity = "warning"
    about: tuple[str, ...] = ()
    at: Point | None = None


class Unseen(Part):
    """An area of the paper where no photo would show a usual pencil line, and what hides it:
    ``bright`` (burnt out), ``dark``, ``blurred`` or ``faint`` (pencil drowns in the grain).
    """

    boundary: Ring
    reason: Hidden


class Allowance(Part):
    """Metal (mm) outside the trim edge, told for lines of it by id, or for the stretch of one
    between two places; without lines, for the rest.
    """

    lines: tuple[str, ...] = ()
    width: Annotated[float, Field(ge=0, le=MOST_ALLOWANCE_MM)]
    between: tuple[Point, Point] | None = None


class Datum(Part):
    """A point and a direction (degrees counter-clockwise from x) from which sizes are given."""

    at: Point
    direction_deg: Annotated[float, Flips.TURN] = 0.0


class Hole(Part):
    """A hole to be drilled or punched: its centre and diameter, mm."""

    id: str
    at: Point
    diameter: Positive


class Area(Part):
    """An area told: to be stretched, with extra metal, or where no shrinking goes beyond. Or one
    that was read: ``hatched`` on the paper, for what only the user knows.
    """

    id: str
    use: AreaUse
    boundary: Ring
