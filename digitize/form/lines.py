"""The paper's lines on the form."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from digitize.form.lying import normals_of
from digitize.form.marks import placed_on
from digitize.form.panel import Formed
from digitize.record import Role

Floats = NDArray[np.float64]
ACROSS_MM = 0.5  # no flap of paper stretches by as much between two places


@dataclass(frozen=True)
class FormLine:
    """A line of the metal: its label and role, and runs (N, 3) of places on the form, mm."""

    name: str
    role: Role
    runs: tuple[Floats, ...]


def lines_on(form: Formed, lift_mm: float = 0.0) -> tuple[FormLine, ...]:
    """The record's lines of the metal on the form; what lies off the trim edge is left out.

    Parameters
    ----------
    lift_mm : how far over the marked face they stand.
    """
    mesh = form.solution.mesh
    normals, areas = normals_of(form.solution.places, mesh.triangles)
    at_corners = np.zeros_like(form.solution.places)
    for corner in range(3):
        np.add.at(at_corners, mesh.triangles[:, corner], areas[:, None] * normals)
    at_corners /= np.linalg.norm(at_corners, axis=1, keepdims=True)
    lifted = form.solution.places + lift_mm * at_corners
    found = []
    for line in form.pattern.lines:
        if not line.is_of_metal:
            continue
        path = np.array(line.path)
        at = placed_on(mesh, with_own_ends(path, form.known.carried(path)))
        runs = _runs(at.of(mesh, lifted))
        if runs:
            found.append(FormLine(line.label, line.role, runs))
    return tuple(found)


def with_own_ends(path: Floats, carried: Floats) -> Floats:
    """A line's places (N, 2) as carried to the net, its ends on the same flap as the rest.

    An end that lies on the cut itself may have gone with the flap across it: it then lies as far
    from the next place as it does on the paper.

    Parameters
    ----------
    path : (N, 2) the line on the paper, mm.
    """
    found = carried.copy()
    for end, beside in ((0, 1), (-1, -2)):
        flat = path[end] - path[beside]
        if np.linalg.norm(carried[end] - carried[beside]) > np.linalg.norm(flat) + ACROSS_MM:
            found[end] = carried[beside] + flat
    return found


def _runs(places: Floats) -> tuple[Floats, ...]:
    on = np.flatnonzero(np.isfinite(places[:, 0]))
    parts = np.split(on, np.flatnonzero(np.diff(on) > 1) + 1)
    return tuple(places[part] for part in parts if len(part) > 1)
