"""The record of one paper pattern, and its file.

Lengths are in mm, angles in degrees, times in ISO 8601. Coordinates are in the pattern
frame: x right, y up, looking at the marked face, origin at the lower left of the outline's
bounding box. Keys that this version does not know survive a read and a write.
"""

import itertools
import math
from typing import Literal

from pydantic import BaseModel, ConfigDict, ValidationError

Point = tuple[float, float]
Side = Literal["left", "right", "unknown"]
Role = Literal[
    "trim-edge", "radius-start", "radius-end", "form", "lap", "slit", "crease", "unknown"
]
TuckKind = Literal["slit", "fold", "spread"]
Evidence = Literal["lap-line", "line-break", "crease", "entered"]
ZoneKind = Literal["shrink", "stretch"]
By = Literal["proposed", "told"]


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


class CurvePiece(_Record):
    """A stretch of a line's curve by its points: of a line its two ends, of an arc its start, a
    point on it and its end, of a cubic its four Bezier control points.
    """

    kind: Literal["line", "arc", "cubic"]
    points: tuple[Point, ...]


class RadiusAt(_Record):
    """A radius (mm) told for a place so many mm along a line from its first point."""

    along: float
    radius: float


class Line(_Record):
    """A pencil line, slit or crease: a polyline in mm, and the same as smooth pieces.

    It runs through the middle of the mark, but where the mark was rubbed with the side of the lead
    (``rubbed`` is that share of its length) along its sharp side. ``confidence`` is how sure it is
    that this is a line at all. ``radius`` is the one told for all of it; ``radii`` those told
    for places along it.
    """

    id: str
    role: Role
    role_confidence: float
    role_by: By = "proposed"
    points: tuple[Point, ...]
    closed: bool = False
    stroke: Literal["solid", "dashed"] = "solid"
    colour: str = "#555555"
    ink: str = "black"
    width: float
    rubbed: float = 0.0
    radius: float | None = None
    radii: tuple[RadiusAt, ...] = ()
    note: str | None = None
    sigma: float
    confidence: float = 1.0
    pieces: tuple[CurvePiece, ...] = ()

    @property
    def length(self) -> float:
        """Length in mm."""
        return sum(math.dist(a, b) for a, b in itertools.pairwise(self.path))

    @property
    def path(self) -> tuple[Point, ...]:
        """The points from end to end; of a closed line, with the first again at the end."""
        return (*self.points, self.points[0]) if self.closed else self.points

    @property
    def is_tuck_mark(self) -> bool:
        """Whether it is a slit, a crease or a lap line: the paper's, not the metal's."""
        return self.role in ("slit", "lap", "crease")


class Station(_Record):
    """A lap measured at a depth from the tuck's tip, both in mm; a spread's lap is negative."""

    depth: float
    lap: float
    sigma: float
    evidence: Evidence


class LapAt(_Record):
    """The smooth lap at a depth from the tuck's tip, and its standard deviation, all in mm."""

    depth: float
    lap: float
    sigma: float


class LapShape(_Record):
    """How a tuck's lap grows: its slope changes between two depths (mm; None: to the paper's edge),
    from a tip that is either sharp, as a cone's point is, or soft.

    ``course``, of a tuck not sure by itself, is how fast the slope changes at the others, as
    (depth in mm, change in 1/mm); up to a factor its own is taken to be alike.
    """

    bend: tuple[float, float | None] = (0.0, None)
    tip: Literal["sharp", "soft"] = "soft"
    course: tuple[Point, ...] = ()


class Break(_Record):
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


class Tuck(_Record):
    """A slit or fold, with its lap along its depth.

    ``shape`` is how the lap is taken to grow. ``profile`` is the smooth lap from the tip to where
    the trim edge crosses, at ``depth_at_trim``;
    ``turn_deg`` is its slope there, the turn that the edge takes at this tuck, with its sigma.
    """

    id: str
    kind: TuckKind
    tip: Point
    slit: str
    lap_line: str | None
    stations: tuple[Station, ...]
    breaks: tuple[Break, ...] = ()
    shape: LapShape = LapShape()
    profile: tuple[LapAt, ...] = ()
    depth_at_trim: float = 0.0
    lap_at_trim: float = 0.0
    deficit_deg: float = 0.0
    turn_deg: float = 0.0
    turn_sigma_deg: float = 0.0


class ZoneStation(_Record):
    """Flat length, take-up (both mm) and shrink (a ratio) along one constant-depth curve."""

    depth: float
    flat_length: float
    take_up: float
    shrink: float


class Curvature(_Record):
    """Total curvature of the metal inside the trim edge of a zone, degrees, with sigmas.

    ``laps_deg`` is what the laps say, ``radii_deg`` what the radii told imply; None if none are.
    """

    laps_deg: float
    laps_sigma_deg: float
    radii_deg: float | None = None
    radii_sigma_deg: float | None = None


class Zone(_Record):
    """An area over which take-up has to be worked into the metal; ``peak_shrink`` is of stations,
    ``peak_local`` of any place in it.
    """

    id: str
    kind: ZoneKind
    boundary: tuple[Point, ...]
    tucks: tuple[str, ...]
    stations: tuple[ZoneStation, ...]
    peak_shrink: float
    peak_local: float = 0.0
    curvature: Curvature | None = None


class BandStation(_Record):
    """A place so many mm along a band: its width on the paper, which is arc length there (mm), the
    radius told (mm) and the angle turned (degrees).
    """

    along: float
    width: float
    radius: float | None = None
    turned_deg: float | None = None


class Band(_Record):
    """The strip between a radius start and the radius end lines across from it, by line ids."""

    id: str
    start: str
    ends: tuple[str, ...]
    stations: tuple[BandStation, ...]


class Note(_Record):
    """Small writing on the paper: where it stands, as a box (x min, y min, x max, y max)."""

    id: str
    box: tuple[float, float, float, float]
    text: str | None = None


class Sheet(_Record):
    """The sheet metal that the part is made of; thickness in mm."""

    material: Literal["steel", "aluminium"]
    thickness: float
    gauge: int | None = None


class Rectified(_Record):
    """The picture of the paper from straight above, ``rectified.jpg``: the place of its upper left
    pixel's centre, and the side of a pixel, mm.
    """

    left: float
    top: float
    mm_per_px: float


class Pattern(_Record):
    """The whole record of one paper pattern.

    ``closure_rms`` says how well the broken lines meet again when all tucks are closed, mm.
    """

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
    bands: tuple[Band, ...] = ()
    closure_rms: float | None = None
    sheet: Sheet | None = None
    rectified: Rectified | None = None
    notes: tuple[Note, ...] = ()
    warnings: tuple[str, ...] = ()

    model_config = ConfigDict(
        frozen=True,
        extra="allow",
        alias_generator=lambda name: "schema" if name == "schema_" else name,
        populate_by_name=True,
    )

    def tuck(self, identifier: str) -> Tuck:
        """The tuck with this id; KeyError if there is none."""
        for tuck in self.tucks:
            if tuck.id == identifier:
                return tuck
        raise KeyError(identifier)

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
        if fault["loc"] == ("schema",):
            raise PatternFileError(
                f"a pattern file of a later version, schema {fault['input']}, where this program "
                "reads schema 1: use a later one"
            ) from error
        place = ".".join(str(part) for part in fault["loc"]) or "the file"
        raise PatternFileError(f"not a pattern file: {place}: {fault['msg']}") from error
