"""Lines of an SVG whose points are written at once: one by one they would take most of its time."""

import numpy as np
from numpy.typing import NDArray
from pydantic_core import to_json
from svgwrite.shapes import Polyline

Floats = NDArray[np.float64]


class OpenRun(Polyline):  # type: ignore[misc]
    """An open line of an SVG through points (N, 2)."""

    def __init__(self, points: Floats, **looks: object) -> None:
        super().__init__(**looks)
        self._written = to_json(points.tolist()).decode()[2:-2].replace("],[", " ")

    def points_to_string(self, points: object) -> str:
        """Each point's x,y with blanks between, in as few digits as tell it."""
        return self._written


class ClosedRun(OpenRun):
    """A closed one."""

    elementname = "polygon"
