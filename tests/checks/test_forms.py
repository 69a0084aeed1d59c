"""The form in space against surfaces of closed form.

Source: M. do Carmo, Differential Geometry of Curves and Surfaces (1976). Section 4-2: cones and
cylinders are laid flat without strain, and helicoid and catenoid have the same lengths. Section
3-3, example 5 has a torus's curvature K = cos u / (r (a + r cos u)); section 4-6 a sphere's
geodesic polar coordinates; by section 4-3 (O. Bonnet) lengths and second form fix a surface but for
its place. A sphere's cap of arc a is R (1 - cos(a / R)) high.
"""

from dataclasses import replace

import numpy as np
import pytest

from digitize.form import form_of, formed, mesh_of, saddles_of, solved
from tests.checks.test_shrink import ray_pattern
from tests.form import exact
from tests.marks import curve_of, record_of
from tests.told import labelled, with_spread

EDGE_MM = 12.0
NEAR_MM = 0.1  # RMS; the net's own, by the square of its edges
HEIGHT_MM = 0.2
SURFACES = {
    "flat": exact.flat(),
    "cylinder": exact.cylinder(150.0),
    "cone": exact.cone(0.6),
    "sphere": exact.sphere(300.0, 180.0),
    "torus": exact.torus_corner(240.0, 80.0),
    "torus, curvature across alone": exact.torus_corner(240.0, 80.0, open_along=5e-3),
    "helicoid": exact.soap_film(150.0, twisted=True),
    "catenoid": exact.soap_film(150.0, twisted=False),
}


def off_at(surface, edge_mm):
    mesh = mesh_of(surface.inside, edge_mm)
    found = solved(mesh, surface.shape)
    assert found.holds
    return exact.rms(exact.off_by(found.places, surface.places(mesh.paper)))


@pytest.mark.parametrize("name", SURFACES)
def test_lengths_and_bending_give_the_surface(name):
    fine = off_at(SURFACES[name], EDGE_MM)
    assert fine < NEAR_MM
    # Half the edges: a quarter of the error, but for those at the trim edge and at a bend's start.
    assert fine < 0.52 * off_at(SURFACES[name], 2 * EDGE_MM) + 1e-6


def test_a_cap_is_as_high_as_its_closed_form_says_and_proud():
    radius, reach = 300.0, 180.0
    cap = exact.sphere(radius, reach)
    mesh = mesh_of(cap.inside, EDGE_MM)
    places = solved(mesh, cap.shape).places
    away = np.linalg.norm(mesh.paper, axis=1)
    rim, pole = np.flatnonzero(away > reach - 0.5), int(np.argmin(away))
    ways = places[rim] - places[rim].mean(axis=0)
    up = np.linalg.svd(ways)[2][-1]
    up *= np.sign(up @ _normals(places, mesh).sum(axis=0))
    height = (places[pole] - places[rim].mean(axis=0)) @ up
    dropped = radius * (1 - np.cos(away[pole] / radius))
    assert height + dropped == pytest.approx(radius * (1 - np.cos(reach / radius)), abs=HEIGHT_MM)


def _normals(places, mesh):
    a, b, c = (places[mesh.triangles[:, k]] for k in range(3))
    return np.cross(b - a, c - a)


def test_the_same_lengths_bent_otherwise_are_another_surface():
    helicoid, catenoid = SURFACES["helicoid"], SURFACES["catenoid"]
    mesh = mesh_of(helicoid.inside, EDGE_MM)
    bent = replace(helicoid.shape, bend=catenoid.shape.bend)
    found = solved(mesh, bent).places
    assert exact.rms(exact.off_by(found, catenoid.places(mesh.paper))) < NEAR_MM
    assert exact.rms(exact.off_by(found, helicoid.places(mesh.paper))) > 10.0


@pytest.mark.parametrize("name", ["sphere", "torus"])
def test_lengths_that_contradict_the_bending_do_not_hold(name):
    surface = SURFACES[name]
    mesh = mesh_of(surface.inside, EDGE_MM)
    flat = replace(surface.shape, bend=lambda p: np.zeros((len(p), 3)))
    assert not solved(mesh, flat).holds


def test_a_cap_from_its_marks_alone_is_as_high_as_its_sphere_says():
    radius, trim = 300.0, 180.0
    record = ray_pattern(lambda r: 2 * np.pi * (r - radius * np.sin(r / radius)), 8, 8.0, trim)
    roles = {
        line.id: "trim-edge"
        for line in record.lines
        if abs(float(np.median(np.hypot(*np.array(line.points).T))) - trim) < 3
    }
    found = form_of(labelled(record, roles, {}, {}), EDGE_MM)
    assert found.holds
    true = exact.sphere(radius, trim).places(found.mesh.paper)
    # Laps that are 0.2 mm off all round tell its depth of 52 mm to a hundredth.
    assert exact.rms(exact.off_by(found.places, true)) < 0.5


def test_a_cone_from_its_marks_alone_is_as_high_as_its_apex_says():
    half_apex, trim = np.radians(72.0), 160.0
    record = ray_pattern(lambda r: 2 * np.pi * r * (1 - np.sin(half_apex)), 1, 0.5, trim)
    roles = {
        line.id: "trim-edge"
        for line in record.lines
        if abs(float(np.median(np.hypot(*np.array(line.points).T))) - trim) < 3
    }
    found = form_of(labelled(record, roles, {}, {}), EDGE_MM)
    assert found.holds
    away, turn = (f(*found.mesh.paper.T[::-1]) for f in (np.hypot, np.arctan2))
    ring = away * np.sin(half_apex)
    true = np.column_stack([ring * np.cos(turn), ring * np.sin(turn), -away * np.cos(half_apex)])
    # Its point is blunt by a few edges.
    assert exact.rms(exact.off_by(found.places, true)) < 0.8


def test_a_flange_that_had_to_stretch_is_the_inside_of_a_torus():
    """A flat part round a hole, whose edge is rolled down: negative curvature, by spreads told."""
    hole, tube, width, edge, span, count = 200.0, 50.0, 60.0, 90.0, 1.3, 5

    def rolled(r):
        depth = hole - r
        turn, past = np.clip(depth, 0, width) / tube, np.maximum(depth - width, 0)
        near = hole - tube * np.sin(turn) - past * np.cos(turn)
        down = tube * (1 - np.cos(turn)) + past * np.sin(turn)
        return np.where(depth < 0, r, near), np.where(depth < 0, 0.0, down)

    def polar(r, angle):
        return np.column_stack([r * np.cos(angle), r * np.sin(angle)])

    def arc(r, spare=0.04):
        return polar(r, np.linspace(spare, span - spare, 300))

    marks = [curve_of(arc(r)) for r in (hole, hole - width, hole + 70, hole - edge)]
    side = np.linspace(hole - edge, hole + 70, 200)
    marks += [curve_of(polar(side, angle)) for angle in (0.04, span - 0.04)]
    slit = np.arange(hole - 5, hole - edge - 15, -1.0)
    angles = (np.arange(count) + 0.5) * span / count
    marks += [curve_of(polar(slit, angle), 0.7, width=0.4) for angle in angles]
    outline = np.concatenate([arc(hole + 85, 0.0), arc(hole - edge - 15, 0.0)[::-1]])
    record = record_of(marks, outline)
    start = next(line for line in record.lines if line.role == "radius-start")
    record = labelled(record, {}, {start.id: [(20.0, False, tube), (220.0, False, tube)]}, {})
    depths = np.arange(5.0, 86.0, 5.0)
    at = hole - 5 - depths
    gaps = (rolled(at)[0] - at) * span / count
    for tuck in record.tucks:
        told = [(float(d), float(g)) for d, g in zip(depths, gaps, strict=True) if g > 0.05]
        record = with_spread(record, tuck.id, told)
    assert record.zones[0].curvature.laps_deg < -30
    assert not saddles_of(record)  # its bend says which way
    form = formed(record, EDGE_MM)
    assert form.solution.holds
    away, turn = (f(*form.solution.mesh.paper.T[::-1]) for f in (np.hypot, np.arctan2))
    near, down = rolled(away)
    off = exact.off_by(form.solution.places, np.column_stack([polar(near, turn), -down]))
    assert exact.rms(off) < 0.4
    assert (off <= form.doubt.within_95).mean() > 0.93
