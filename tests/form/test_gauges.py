"""Gauges: sections of a form, what they may be off by, and their templates."""

from dataclasses import replace

import numpy as np
import pytest

from digitize.form import formed, gauges_of, templates_of
from digitize.form.gauges import stations_of
from digitize.form.section import section_of, square_off
from digitize.form.strips import strips_of
from digitize.plane import running_length
from tests.form.bent import straight_bend

WIDTH, RADIUS = 60.0, 50.0


@pytest.fixture(scope="module")
def bend():
    return formed(straight_bend(WIDTH, RADIUS), 6.0)


@pytest.fixture(scope="module")
def gauge(bend):
    return gauges_of(bend)[1]


def circle_through(points):
    """Centre and radius of the circle that lies best on points (I. Kasa, 1976)."""
    design = np.column_stack([2 * points, np.ones(len(points))])
    x, y, rest = np.linalg.lstsq(design, np.square(points).sum(axis=1), rcond=None)[0]
    return np.array([x, y]), np.sqrt(rest + x * x + y * y)


def test_a_gauge_across_a_bend_is_an_arc_between_two_straight_arms(gauge):
    along = running_length(gauge.profile)
    start, end = (mark.along for mark in gauge.marks)
    assert end - start == pytest.approx(WIDTH, abs=0.5)
    bent = gauge.profile[(along > start + 3) & (along < end - 3)]
    centre, radius = circle_through(bent)
    assert radius == pytest.approx(RADIUS, abs=0.5)
    assert centre[1] < 0  # proud: the arc's middle lies below the marked face
    before, beyond = (gauge.profile[part] for part in (along < start - 6, along > end + 6))
    ways = [part[-1] - part[0] for part in (before, beyond)]
    turned = np.subtract(*(np.arctan2(way[1], way[0]) for way in ways))
    assert turned == pytest.approx(WIDTH / RADIUS, abs=0.02)
    assert (gauge.radius, gauge.angle_deg) == pytest.approx((RADIUS, 68.75), abs=0.05)
    assert "B1" in gauge.where and "L2" in gauge.where


def test_a_gauge_is_as_much_in_doubt_as_its_radius(gauge):
    # Of two arms of 45 mm, turned by 0.03 x 1.2 rad more: the same that far off at a sigma.
    assert 0.5 < gauge.tolerance < 2.0
    assert not gauge.doubtful
    assert replace(gauge, within_95=gauge.within_95 + 2.0).doubtful


def test_gauges_stand_every_hundred_mm_and_where_the_radius_has_changed():
    (strip,) = strips_of(straight_bend(WIDTH, RADIUS))
    assert stations_of(strip) == pytest.approx([12.0, 112.0, 148.0])
    steep = replace(strip, along=np.array([0.0, 160.0]), radius=np.array([50.0, 82.0]))
    steep = replace(steep, width=np.array([WIDTH, WIDTH]))
    # 52.4 mm at the first, and a tenth more 26.2 mm further on; of that 28.8 mm on.
    found = stations_of(steep)
    assert found[:3] == pytest.approx([12.0, 39.0, 68.0], abs=1.0)


def test_a_rigid_motion_is_none_and_a_bump_is_one():
    x = np.linspace(0, 100, 101)
    profile = np.column_stack([x, -((x - 50) ** 2) / 200])
    turned = np.stack([profile @ [[0, 1e-3], [-1e-3, 0]] + [0.3, -0.2]])
    assert np.abs(square_off(profile, turned)).max() < 1e-9
    bump = np.zeros((1, 101, 2))
    bump[0, 50, 1] = 1.0
    assert square_off(profile, bump)[0, 50] == pytest.approx(1.0, abs=0.05)


def test_a_section_follows_the_metal_from_edge_to_edge(bend):
    places = bend.solution.places
    middle = int(np.argmin(np.abs(bend.solution.mesh.paper - [60.0, 100.0]).sum(axis=1)))
    up = np.array([0.0, 0.0, 1.0])
    ahead = np.linalg.svd(places - places.mean(axis=0))[2][0]
    ahead -= (ahead @ up) * up
    ahead /= np.linalg.norm(ahead)
    section = section_of(bend, places[middle], ahead, up)
    off = (section.of(places) - places[middle]) @ np.cross(ahead, up)
    assert np.abs(off).max() < 1e-6
    assert (np.diff(running_length(section.profile)) > 0).all()
    assert section_of(bend, places[middle] + 1e4 * np.cross(ahead, up), ahead, up) is None


@pytest.mark.parametrize("face", ["outer", "inner"])
def test_a_template_is_cut_to_the_face_that_it_is_held_to(gauge, face):
    outside, inside = templates_of(gauge, 2.0, face, mirror=False)
    sizes = {}
    for template in (outside, inside):
        along = running_length(template.edge)
        starts = [
            along[int(np.argmin(np.linalg.norm(template.edge - place[0], axis=1)))]
            for place, _ in template.marks
        ]
        bent = template.edge[(along > starts[0] + 4) & (along < starts[1] - 4)]
        sizes[template.side] = circle_through(bent)[1]
    # Proud towards the marked face: the outer face is the rounder one.
    marked = {"outer": "outside", "inner": "inside"}[face]
    assert sizes[marked] == pytest.approx(RADIUS, abs=0.6)
    other = {"outer": ("inside", RADIUS - 2.0), "inner": ("outside", RADIUS - 2.0)}[face]
    assert sizes[other[0]] == pytest.approx(other[1], abs=0.6)
    assert (outside.outline.min(axis=0) == 0).all()


def test_the_other_sides_template_is_the_same_turned_over(gauge):
    one, other = (templates_of(gauge, 0.0, "outer", mirror)[0] for mirror in (False, True))
    width = one.outline[:, 0].max()
    flipped = other.edge[::-1] * [-1.0, 1.0] + [width, 0.0]
    assert flipped == pytest.approx(one.edge, abs=0.05)
    at = [template.marks[0][0][0][0] for template in (one, other)]
    assert at[0] + at[1] == pytest.approx(width, abs=0.3)


def test_a_gauge_between_two_places_goes_from_one_to_the_other(bend):
    found = gauges_of(bend, [((40.0, 60.0), (60.0, 150.0))])[-1]
    assert found.hollow < 0.2  # on the flat part
    assert running_length(found.profile)[-1] == pytest.approx(np.hypot(20, 90), abs=1.0)
    assert found.where == "from 40,60 to 60,150"
    assert len(gauges_of(bend, [((40.0, 60.0), (900.0, 150.0))])) == len(gauges_of(bend))


def test_a_gauge_over_metal_that_is_not_determined_says_so():
    untold = formed(straight_bend(WIDTH, None), 12.0)
    gauge = gauges_of(untold)[0]
    assert gauge.open and gauge.doubtful and gauge.radius is None
