"""The drawings that a record is drawn as, and what their files are called."""

from typing import TYPE_CHECKING

from digitize.defaults import FORMATS
from digitize.keep import file_name

if TYPE_CHECKING:
    from digitize.record import Side

__all__ = ["ENDINGS", "FORMATS", "FORM_FILES", "drawing_name", "drawing_names", "file_name"]

ENDINGS = {
    "a4": "-a4.pdf",
    "letter": "-letter.pdf",
    "job": "-job.pdf",
    "job-letter": "-job-letter.pdf",
}

FORM_FILES = tuple(
    f"{stem}{side}.{ending}"
    for side in ("", ".mirrored")
    for stem, endings in (("form", ("glb", "stl", "svg", "png", "pdf")), ("gauges", ("pdf", "dxf")))
    for ending in endings
)


def drawing_name(name: str, side: "Side", each: str) -> str:
    """The file name of a pattern's drawing in one of FORMATS."""
    return f"{file_name(name)}-{side}{ENDINGS.get(each, '.' + each)}"


def drawing_names(name: str, side: "Side") -> tuple[str, ...]:
    """The file names of all of a pattern's drawings for a side."""
    return tuple(drawing_name(name, side, each) for each in FORMATS)
