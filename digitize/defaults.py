"""What holds where nothing else is said, and what may be said.

It loads nothing, so that a command's help is there at once.
"""

from pathlib import Path
from typing import Final

ROLES: Final = (
    "trim-edge",
    "radius-start",
    "radius-end",
    "form",
    "lap",
    "slit",
    "crease",
    "unknown",
)
FORMATS = ("svg", "dxf", "pdf", "a4", "letter", "job", "job-letter")  # of drawings
MEASURABLE_MM = (135.0, 165.0)  # what a rule of 150 mm may measure on a print
TOLERANCE_MM = 0.8  # of a reading: about 1/32 in; common practice, no source
SAME_MM = 1.6  # between two patterns: about 1/16 in; common practice, no source
BENCH, DRAWER = Path.home() / "pattern-bench", Path.home() / "pattern-drawer"
PORT = 8417
