"""The whole job on one page: photos to marks, marks to a record.

In come photos and what was asked; out go the marks that were seen, and the record measured of them
with the raster it was read from; or, sooner, what a photo shows at a glance. Open ``pipeline.py``
first.
"""

from digitize.reading.given import asked_again, given_of
from digitize.reading.glance import Fault, Glance, glance_at
from digitize.reading.pipeline import (
    STAGES,
    Marks,
    Reading,
    measure,
    read_marks,
    read_pattern,
    solve_camera,
)
from digitize.reading.scene import Asked

__all__ = [
    "STAGES",
    "Asked",
    "Fault",
    "Glance",
    "Marks",
    "Reading",
    "asked_again",
    "given_of",
    "glance_at",
    "measure",
    "read_marks",
    "read_pattern",
    "solve_camera",
]
