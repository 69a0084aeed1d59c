"""Does the form hold together? Lengths against radii, total curvature, and the flow along bands."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from shapely import Polygon, contains_xy

from digitize.form.lying import normals_of
from digitize.form.marks import placed_on
from digitize.form.panel import Formed
from digitize.form.strips import Strip
from digitize.record import Zone
from digitize.take_up import Jump, jumps_of

Floats = NDArray[np.float64]
FLOW_MM, BESIDE_MM = 10.0, 8.0


@dataclass(frozen=True)
class Turned:
    """A zone's total curvature, degrees: by its laps, by the radii told (None if none), and on the
    form.
    """

    zone: str
    laps_deg: float
    laps_sigma_deg: float
    radii_deg: float | None
    form_deg: float


@dataclass(frozen=True)
class Flow:
    """A band along its radius start.

    Attributes
    ----------
    band, start : their ids.
    along : (N,) mm; radius : told there, nan where it is not; angle_deg, form_deg : turned there,
        by width over radius, and on the form.
    jumps : kinks and flats.
    """

    band: str
    start: str
    along: Floats
    radius: Floats
    angle_deg: Floats
    form_deg: Floats
    jumps: tuple[Jump, ...]


@dataclass(frozen=True)
class Check:
    """How a form holds together.

    Attributes
    ----------
    strain : (F,) by how much lengths miss those wanted, of each triangle, RMS.
    bending : (F,) by how much curvature misses that wanted, in units of what it may be off by.
    """

    strain: Floats
    bending: Floats
    turned: tuple[Turned, ...]
    flows: tuple[Flow, ...]


def check_of(form: Formed) -> Check:
    """How a form holds together."""
    solution, pattern = form.solution, form.pattern
    strain = np.sqrt(np.square(solution.strains[solution.mesh.sides]).mean(axis=1))
    sigma = form.known.shape.bend_sigma(solution.mesh.middles())
    bending = np.abs(solution.bends / sigma).max(axis=1)
    turned = tuple(
        Turned(
            zone.id,
            zone.curvature.laps_deg,
            zone.curvature.laps_sigma_deg,
            zone.curvature.radii_deg,
            curvature_in(form, zone),
        )
        for zone in pattern.zones
        if zone.curvature
    )
    jumps = jumps_of(pattern.bands)
    flows = tuple(
        _flow(form, strip, tuple(jump for jump in jumps if jump.band == strip.band))
        for strip in form.known.strips
    )
    return Check(strain, bending, turned, flows)


def curvature_in(form: Formed, zone: Zone) -> float:
    """Total curvature of the form inside a zone, degrees: what the angles about its corners lack
    (the Gauss-Bonnet theorem on triangles).
    """
    mesh, places = form.solution.mesh, form.solution.places
    corners = places[mesh.triangles]
    lacking = np.full(len(mesh.paper), 2 * np.pi)
    for k in range(3):
        one, two = (corners[:, (k + j) % 3] - corners[:, k] for j in (1, 2))
        cosine = (one * two).sum(axis=1)
        cosine /= np.linalg.norm(one, axis=1) * np.linalg.norm(two, axis=1)
        angle = np.arccos(np.clip(cosine, -1.0, 1.0))
        np.subtract.at(lacking, mesh.triangles[:, k], angle)
    rim = np.zeros(len(mesh.paper), dtype=bool)
    alone = np.ones(len(mesh.edges), dtype=bool)
    alone[mesh.hinge_edges] = False
    rim[mesh.edges[alone].ravel()] = True
    inside = contains_xy(Polygon(zone.boundary).buffer(0), *mesh.paper.T)
    return float(np.degrees(lacking[inside & ~rim].sum()))


def _flow(form: Formed, strip: Strip, jumps: tuple[Jump, ...]) -> Flow:
    mesh = form.solution.mesh
    along = np.arange(FLOW_MM / 2, float(strip.reached[-1]), FLOW_MM)
    at, out = (
        np.column_stack([np.interp(along, strip.reached, each[:, axis]) for axis in (0, 1)])
        for each in (strip.path, strip.out)
    )
    width = np.interp(along, strip.along, strip.width)
    normals, _ = normals_of(form.solution.places, mesh.triangles)
    before = placed_on(mesh, at - BESIDE_MM * out)
    beyond = placed_on(mesh, at + (width + BESIDE_MM)[:, None] * out)
    cosine = (normals[before.triangle] * normals[beyond.triangle]).sum(axis=1)
    turned = np.degrees(np.arccos(np.clip(cosine, -1.0, 1.0)))
    turned[~(before.on & beyond.on)] = np.nan
    radius = np.interp(along, strip.along, strip.radius)
    start = next(band.start for band in form.pattern.bands if band.id == strip.band)
    return Flow(strip.band, start, along, radius, np.degrees(width / radius), turned, jumps)
