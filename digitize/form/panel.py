"""A record's panel in space."""

from digitize.form.known import curved_parts, shape_of
from digitize.form.mesh import Mesh, mesh_of
from digitize.form.solve import Solution, solved
from digitize.form.strips import strips_of
from digitize.record import Pattern
from digitize.shop import closed_trim

EDGE_MM = 6.0  # a tenth of a usual bend's radius: its chords lie within 0.1 mm of the arc


def form_of(pattern: Pattern, edge_mm: float = EDGE_MM) -> Solution:
    """The panel inside a record's trim edge, in space.

    Parameters
    ----------
    edge_mm : length of the net's finest edges.

    Raises
    ------
    TrimOpen
        If the trim edge does not close.
    """
    return solved(net_of(pattern, edge_mm), shape_of(pattern))


def net_of(pattern: Pattern, edge_mm: float) -> Mesh:
    """The net inside a record's trim edge, fine where the panel bends or shrinks."""
    lines = [line for strip in strips_of(pattern) for line in (strip.path, strip.end())]
    return mesh_of(closed_trim(pattern), edge_mm, curved_parts(pattern), lines)
