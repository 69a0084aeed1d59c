"""The panel in space, from its paper's finished lengths and what is known of its bending.

In comes a record; out goes a net of triangles in space, and how well it holds. Open ``panel.py``
first.
"""

from digitize.form.known import shape_of
from digitize.form.mesh import Mesh, mesh_of
from digitize.form.panel import form_of, net_of
from digitize.form.shape import Shape
from digitize.form.solve import Solution, solved

__all__ = ["Mesh", "Shape", "Solution", "form_of", "mesh_of", "net_of", "shape_of", "solved"]
