"""A record's panel in space."""

from collections.abc import Callable
from dataclasses import dataclass

from digitize.form.causes import causes_of
from digitize.form.doubt import Doubt, blunt_by, doubt_of
from digitize.form.known import Known, curved_parts, known_of
from digitize.form.mesh import Mesh, mesh_of
from digitize.form.solve import Solution, solved
from digitize.form.strips import strips_of
from digitize.record import Pattern
from digitize.shop import closed_trim

EDGE_MM = 6.0  # a tenth of a usual bend's radius: its chords lie within 0.1 mm of the arc
STAGES = ("net", "solving", "doubt")


@dataclass(frozen=True)
class Formed:
    """A record's panel in space: what it tells, the solution, and what that may be off by."""

    pattern: Pattern
    known: Known
    solution: Solution
    doubt: Doubt


def formed(
    pattern: Pattern, edge_mm: float = EDGE_MM, stage: Callable[[str], None] = lambda _: None
) -> Formed:
    """The panel inside a record's trim edge, in space, with what it may be off by.

    Parameters
    ----------
    edge_mm : length of the net's finest edges.
    stage : told each of STAGES as it begins.

    Raises
    ------
    TrimOpen
        If the trim edge does not close.
    """
    stage("net")
    mesh, known = net_of(pattern, edge_mm), known_of(pattern)
    stage("solving")
    solution = solved(mesh, known.shape)
    stage("doubt")
    causes = causes_of(pattern, known, solution.problem)
    blunt = blunt_by([part.fan for part in known.metal], mesh)
    return Formed(pattern, known, solution, doubt_of(solution, causes, blunt))


def form_of(pattern: Pattern, edge_mm: float = EDGE_MM) -> Solution:
    """The solution alone; raises TrimOpen."""
    return solved(net_of(pattern, edge_mm), known_of(pattern).shape)


def net_of(pattern: Pattern, edge_mm: float) -> Mesh:
    """The net inside a record's trim edge, fine where the panel bends or shrinks."""
    lines = [line for strip in strips_of(pattern) for line in (strip.path, strip.end())]
    return mesh_of(closed_trim(pattern), edge_mm, curved_parts(pattern), lines)
