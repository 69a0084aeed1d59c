"""The record of one paper pattern, and its file.

Lengths are in mm, angles in degrees, times in ISO 8601. Coordinates are in the pattern
frame: x right, y up, looking at the marked face, origin at the lower left of the outline's
bounding box. Keys that this version does not know survive a read and a write.
"""

from typing import Literal

from pydantic import BaseModel, ConfigDict, ValidationError

Point = tuple[float, float]
Side = Literal["left", "right", "unknown"]
Role = Literal[
    "trim-edge", "radius-start", "radius-end", "form", "lap", "slit", "crease", "unknown"
]
TuckKind = Literal["slit", "fold", "spread"]
Evidence = Literal["lap-line", "line-break", "entered"]
ZoneKind = Literal["shrink", "stretch"]


class PatternFileError(ValueError):
    """A pattern file that cannot be read; the message is meant for the user."""


class _Record(BaseModel):
    model_config = ConfigDict(frozen=True, extra="allow")


class Source(_Record):
    """One photo that the pattern was read from."""

    photo: str
    sha256: str
    width_px: int
    height_px: int
    camera: str | None = None
    taken: str | None = None


class CardSeen(_Record):
    """A scale card and its place: centre (mm) and turn (degrees) in the pattern frame."""

    number: int
    paper: str
    corners: int
    centre: Point
    turn_deg: float


class PrintCorrection(_Record):
    """Factors from the card's nominal size to its size as measured with a rule."""

    x: float = 1.0
    y: float = 1.0


class Check(_Record):
    """A taped distance: between which marks, what was taped and read, and by how much (95 %) the
    two may differ; whether it was used in the solution.
    """

    between: tuple[str, str]
    taped_mm: float
    read_mm: float
    limit_mm: float
    used: bool = False


class Scale(_Record):
    """How the photo was brought to true size, and how well.

    ``accuracy_mm`` is the 95 % radius at the outline's worst point after the best rigid fit:
    the root sum of squares of the three parts named beside it.
    """

    cards: tuple[CardSeen, ...]
    reprojection_px: float
    print_correction: PrintCorrection
    accuracy_mm: float
    accuracy_cards_mm: float
    accuracy_print_mm: float
    accuracy_flatness_mm: float
    cards_left_out: tuple[int, ...] = ()
    checks: tuple[Check, ...] = ()


class Line(_Record):
    """A pencil line, slit or crease: a polyline through the middle of the mark, in mm."""

    id: str
    role: Role
    role_confidence: float
    points: tuple[Point, ...]
    closed: bool = False
    stroke: Literal["solid", "dashed"] = "solid"
    colour: str = "#555555"
    width: float
    radius: float | None = None
    sigma: float


class Station(_Record):
    """A lap measured at a depth from the tuck's tip, both in mm."""

    depth: float
    lap: float
    sigma: float
    evidence: Evidence


class Tuck(_Record):
    """A slit or fold, with its lap along its depth."""

    id: str
    kind: TuckKind
    tip: Point
    slit: str
    lap_line: str | None
    stations: tuple[Station, ...]
    deficit_deg: float
    lap_at_trim: float


class ZoneStation(_Record):
    """Flat length, take-up (both mm) and shrink (a ratio) along one constant-depth curve."""

    depth: float
    flat_length: float
    take_up: float
    shrink: float


class Zone(_Record):
    """An area over which take-up has to be worked into the metal."""

    id: str
    kind: ZoneKind
    boundary: tuple[Point, ...]
    tucks: tuple[str, ...]
    stations: tuple[ZoneStation, ...]
    peak_shrink: float


class Note(_Record):
    """Small writing on the paper: where it stands, as a box (x min, y min, x max, y max)."""

    id: str
    box: tuple[float, float, float, float]
    text: str | None = None


class Pattern(_Record):
    """The whole record of one paper pattern."""

    schema_: Literal[1] = 1
    units: Literal["mm"] = "mm"
    name: str
    side: Side = "unknown"
    sources: tuple[Source, ...] = ()
    scale: Scale | None = None
    outline: tuple[Point, ...]
    lines: tuple[Line, ...] = ()
    tucks: tuple[Tuck, ...] = ()
    zones: tuple[Zone, ...] = ()
    notes: tuple[Note, ...] = ()
    warnings: tuple[str, ...] = ()

    model_config = ConfigDict(
        frozen=True,
        extra="allow",
        alias_generator=lambda name: "schema" if name == "schema_" else name,
        populate_by_name=True,
    )

    def line(self, identifier: str) -> Line:
        """The line with this id; KeyError if there is none."""
        for line in self.lines:
            if line.id == identifier:
                return line
        raise KeyError(identifier)


def to_json(pattern: Pattern) -> str:
    """The text of ``pattern.json``: UTF-8, two-space indent, keys in the schema's order."""
    return pattern.model_dump_json(by_alias=True, indent=2) + "\n"


def from_json(text: str) -> Pattern:
    """Read the text of a ``pattern.json``.

    Raises
    ------
    PatternFileError
        If the text is no pattern of schema 1; the message names the first fault.
    """
    try:
        return Pattern.model_validate_json(text)
    except ValidationError as error:
        fault = error.errors()[0]
        place = ".".join(str(part) for part in fault["loc"]) or "the file"
        raise PatternFileError(f"not a pattern file: {place}: {fault['msg']}") from error
