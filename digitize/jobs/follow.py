"""Follow the pencil near places that are pointed out, to see a line before it is told."""

from collections.abc import Sequence
from pathlib import Path

import numpy as np

from digitize.errors import ToldError
from digitize.jobs.folder import load_pattern, picture_beside, record_path
from digitize.mend import follow_pencil
from digitize.record import FollowPencil, Point, Role

__all__ = ["FollowPencil", "followed"]


def followed(pattern: Path, points: Sequence[Point], role: Role = "unknown") -> FollowPencil:
    """The fact that a line runs along the pencil near points (mm), with the line that was found.

    The ridges of the whole paper are found when a pattern is first asked about, and kept: after
    that a line is followed while one looks.

    Raises
    ------
    NotRead, RecordError
    ToldError
        If the paper's picture is not kept, or there is no pencil near a point.
    """
    path = record_path(pattern)
    picture = picture_beside(path, load_pattern(path))
    if picture is None:
        raise ToldError("the picture of the paper is not kept, so no pencil can be followed")
    found = follow_pencil(np.array(points, float), picture, "", role, whole=True)
    return FollowPencil(points=tuple(points), role=role, found=found)
