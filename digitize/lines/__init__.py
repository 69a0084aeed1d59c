"""The pattern's lines, once the tucks are known: where they meet, and what each is for.

In come the curves that are no part of a tuck; out go whole lines, and a role proposed for each.
Open ``junctions.py`` first, ``roles.py`` for the roles,
``entries.py`` for curves as the record has them.
"""

from digitize.lines.entries import curve_of, line_of, points_of, shape_of
from digitize.lines.junctions import meet_at_corners, meet_at_tees
from digitize.lines.roles import NOTHING_TOLD, RoleProposal, propose_roles
from digitize.lines.traces import without_traces

__all__ = [
    "NOTHING_TOLD",
    "RoleProposal",
    "curve_of",
    "line_of",
    "meet_at_corners",
    "meet_at_tees",
    "points_of",
    "propose_roles",
    "shape_of",
    "without_traces",
]
