"""The panel in space, from its paper's finished lengths and what is known of its bending.

In comes a record; out go a net of triangles in space, how well it holds, and what its places may be
off by. Open ``panel.py`` first.
"""

from digitize.form.doubt import Doubt
from digitize.form.known import shape_of
from digitize.form.mesh import Mesh, mesh_of
from digitize.form.panel import STAGES, Formed, form_of, formed, net_of
from digitize.form.shape import Shape
from digitize.form.solve import Solution, solved

__all__ = [
    "STAGES",
    "Doubt",
    "Formed",
    "Mesh",
    "Shape",
    "Solution",
    "form_of",
    "formed",
    "mesh_of",
    "net_of",
    "shape_of",
    "solved",
]
