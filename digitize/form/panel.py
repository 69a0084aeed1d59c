"""A record's panel in space."""

from collections.abc import Callable
from dataclasses import dataclass

from digitize.form.causes import causes_of
from digitize.form.doubt import Doubt, blunt_by, doubt_of
from digitize.form.known import Known, curved_parts, known_of
from digitize.form.mesh import Mesh, mesh_of
from digitize.form.rounds import UnevenRound, uneven_rounds
from digitize.form.solve import Solution, solved
from digitize.form.strips import strips_of
from digitize.record import Pattern
from digitize.shop import closed_trim
from digitize.take_up import contradicted_by, untucked_stretches, zones_and_fans

EDGE_MM = 6.0  # a tenth of a usual bend's radius: its chords lie within 0.1 mm of the arc
STAGES = ("net", "solving", "doubt")


@dataclass(frozen=True)
class Formed:
    """A record's panel in space.

    Attributes
    ----------
    known : what the record tells; doubt : what the solution may be off by, if all of it holds.
    uneven : zones taken to be of revolution whose laps say that they are not.
    holds : whether lengths and bending fit each other, and nothing says that a tuck was missed.
    """

    pattern: Pattern
    known: Known
    solution: Solution
    doubt: Doubt
    uneven: tuple[UnevenRound, ...]
    holds: bool


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
    uneven = uneven_rounds(zones_and_fans(pattern))
    holds = solution.holds and not uneven and not is_contradicted(pattern)
    return Formed(pattern, known, solution, doubt_of(solution, causes, blunt), uneven, holds)


def is_contradicted(pattern: Pattern) -> bool:
    """Whether a record's radii ask for more or less than its tucks take up."""
    zones = any(contradicted_by(zone.curvature) is not None for zone in pattern.zones)
    return zones or bool(untucked_stretches(pattern))


def form_of(pattern: Pattern, edge_mm: float = EDGE_MM) -> Solution:
    """The solution alone; raises TrimOpen."""
    return solved(net_of(pattern, edge_mm), known_of(pattern).shape)


def net_of(pattern: Pattern, edge_mm: float) -> Mesh:
    """The net inside a record's trim edge, fine where the panel bends or shrinks."""
    lines = [line for strip in strips_of(pattern) for line in (strip.path, strip.end())]
    return mesh_of(closed_trim(pattern), edge_mm, curved_parts(pattern), lines)
