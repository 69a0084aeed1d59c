"""The panel in space, from its paper's finished lengths and what is known of its bending.

In comes a record; out go a net of triangles in space, how well it holds, and what its places may be
off by. Open ``panel.py`` first.
"""

from digitize.form.check import Check, Flow, check_of
from digitize.form.doubt import Doubt
from digitize.form.gauges import Face, Gauge, Template, gauges_of, templates_of
from digitize.form.known import shape_of
from digitize.form.lengths import Length, lengths_of
from digitize.form.lines import FormLine, lines_on
from digitize.form.lying import Frame, Sizes, frame_of, sizes_of
from digitize.form.mesh import Mesh, mesh_of
from digitize.form.panel import STAGES, Formed, form_of, formed, is_contradicted, net_of
from digitize.form.picture import FRONT, RIGHT, TOP, View, shaded, view_from
from digitize.form.rounds import uneven_rounds
from digitize.form.saddles import saddles_of
from digitize.form.shape import Shape
from digitize.form.solve import Solution, solved

__all__ = [
    "FRONT",
    "RIGHT",
    "STAGES",
    "TOP",
    "Check",
    "Doubt",
    "Face",
    "Flow",
    "FormLine",
    "Formed",
    "Frame",
    "Gauge",
    "Length",
    "Mesh",
    "Shape",
    "Sizes",
    "Solution",
    "Template",
    "View",
    "check_of",
    "form_of",
    "formed",
    "frame_of",
    "gauges_of",
    "is_contradicted",
    "lengths_of",
    "lines_on",
    "mesh_of",
    "net_of",
    "saddles_of",
    "shaded",
    "shape_of",
    "sizes_of",
    "solved",
    "templates_of",
    "uneven_rounds",
    "view_from",
]
