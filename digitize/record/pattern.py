"""The record of one paper pattern.

Lengths are in mm, angles in degrees, times in ISO 8601. Coordinates are in the pattern
frame: x right, y up, looking at the marked face, origin at the lower left of the outline's
bounding box. Keys that this version does not know survive a read and a write.
"""

from typing import Annotated, Literal

from pydantic import ConfigDict, computed_field, model_validator

from digitize.record.given import Given
from digitize.record.parts import (
    Allowance,
    Area,
    Band,
    Datum,
    Flips,
    Hole,
    Line,
    LineGroup,
    Note,
    Part,
    Point,
    Rectified,
    Remark,
    Ring,
    Scale,
    Sheet,
    Side,
    Source,
    Tuck,
    Unseen,
    Zone,
)
from digitize.record.told import Told
from digitize.units import Unit


class Pattern(Part):
    """The whole record of one paper pattern.

    ``written_by`` is the version of the program that wrote the file; ``given`` what was known
    beside the photos, None in records of before. ``closure_rms`` says how well
    the broken lines meet again when all tucks are closed, mm. ``outline_unsure`` are the stretches
    of the outline that no photo bears out. ``unseen`` are areas where lines may be missing, and
    what was found there is not sure. ``told`` is what the user said, in order, replayed on what the
    photos gave. ``warnings`` are the remarks' words:
    versions before 0.2 know no others.
    """

    schema_: Literal[1] = 1
    written_by: str | None = None
    units: Literal["mm"] = "mm"
    name: str
    side: Annotated[Side, Flips.SIDE] = "unknown"
    sources: tuple[Source, ...] = ()
    scale: Scale | None = None
    given: Annotated[Given | None, Flips.OWN] = None
    outline: Ring
    outline_unsure: tuple[tuple[Point, ...], ...] = ()
    unseen: tuple[Unseen, ...] = ()
    lines: tuple[Line, ...] = ()
    groups: tuple[LineGroup, ...] = ()
    tucks: tuple[Tuck, ...] = ()
    zones: tuple[Zone, ...] = ()
    bands: tuple[Band, ...] = ()
    closure_rms: float | None = None
    sheet: Sheet | None = None
    part: str | None = None
    reference: str | None = None
    stock: str | None = None
    unit: Unit = "mm"
    allowances: tuple[Allowance, ...] = ()
    datum: Datum | None = None
    holes: tuple[Hole, ...] = ()
    areas: tuple[Area, ...] = ()
    rectified: Annotated[Rectified | None, Flips.OWN] = None
    notes: tuple[Note, ...] = ()
    remarks: tuple[Remark, ...] = ()
    told: Annotated[tuple[Told, ...], Flips.OWN] = ()

    model_config = ConfigDict(
        frozen=True,
        extra="allow",
        alias_generator=lambda name: "schema" if name == "schema_" else name,
        populate_by_name=True,
    )

    @model_validator(mode="after")
    def _words_become_remarks(self) -> "Pattern":
        """A record of a version before 0.2 has its remarks as words alone."""
        words = (self.model_extra or {}).pop("warnings", None)
        if "remarks" not in self.model_fields_set and isinstance(words, list | tuple):
            said = tuple(Remark(kind="earlier", words=each) for each in words)
            object.__setattr__(self, "remarks", said)
        return self

    @computed_field  # type: ignore[prop-decorator]
    @property
    def warnings(self) -> tuple[str, ...]:
        """The words of the remarks."""
        return tuple(remark.words for remark in self.remarks)

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
