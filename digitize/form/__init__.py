"""The panel in space, from its paper's finished lengths and what is known of its bending.

In comes what is known of a shape, at places of the paper; out goes a net of triangles in space, and
how well it holds. Open ``solve.py`` first.
"""

from digitize.form.mesh import Mesh, mesh_of
from digitize.form.shape import Shape
from digitize.form.solve import Solution, solved

__all__ = ["Mesh", "Shape", "Solution", "mesh_of", "solved"]
