"""The paper's lines on the form."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from digitize.form.lying import normals_of
from digitize.form.marks import placed_on
from digitize.form.panel import Formed
from digitize.record import Role

Floats = NDArray[np.float64]


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
        at = placed_on(mesh, form.known.carried(np.array(line.path)))
        runs = _runs(at.of(mesh, lifted))
        if runs:
            found.append(FormLine(line.label, line.role, runs))
    return tuple(found)


def _runs(places: Floats) -> tuple[Floats, ...]:
    on = np.flatnonzero(np.isfinite(places[:, 0]))
    parts = np.split(on, np.flatnonzero(np.diff(on) > 1) + 1)
    return tuple(places[part] for part in parts if len(part) > 1)
