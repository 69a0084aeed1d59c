"""Tucks, shrink and curvature against closed forms and published tables.

Sources
-------
M. do Carmo, Differential Geometry of Curves and Surfaces (1976), sections 4-5 and 4-6: a geodesic
circle of radius r on a sphere of radius R measures 2 pi R sin(r / R); the Gauss-Bonnet theorem,
by which an octant of a sphere, a triangle of three right angles, has the total curvature pi / 2;
and a cone's flat pattern lacks the angle 2 pi (1 - sin(half apex angle)). A torus of tube radius
r has over a turn p, from the top of the tube down by an angle b, the total curvature
p (1 - cos b): the integral of its Gaussian curvature (the same, section 3-3, example 5).
"""

import numpy as np
import pytest

from digitize.remarks import with_remarks
from tests.marks import curve_of, record_of
from tests.told import labelled

# The pencil of 0.6 mm that was led along a flap's edge left its mark's middle so far beyond; lines
# are traced up to there.
BEYOND_MM = 0.3


def ray_pattern(take_up, count, tip, trim, span=2 * np.pi, inner=None):
    """Slits on rays about the origin, each taking up its share of ``take_up``, a span's excess.

    With the trim edge at one radius, and another line at ``inner``.
    """
    radius, share = 1.12 * trim, span / count
    marks = []
    angles = (np.arange(count) + 0.5) * share
    for angle in angles:
        r = np.arange(tip, radius, 1.0)
        marks.append(curve_of(polar(r, np.full_like(r, angle)), 0.7, width=0.4))
        lap = take_up(r) / count
        marks.append(curve_of(polar(r, angle + (lap + BEYOND_MM) / r)[lap > 0.6]))
    whole = span > 6
    for at in (trim, inner or 0.6 * trim):
        lap = (take_up(np.array([at]))[0] / count + BEYOND_MM) / at
        starts = [*(angles + lap)] if whole else [0.02, *(angles + lap)]
        stops = [*angles[1:], angles[0] + span] if whole else [*angles, span - 0.02]
        for start, stop in zip(starts, stops, strict=True):
            turn = np.linspace(start, stop, 200)
            marks.append(curve_of(polar(np.full(200, at), turn)))
    edge = polar(np.full(400, radius), np.linspace(0, span, 400, endpoint=not whole))
    outline = edge if whole else np.concatenate([edge, [[-20.0, -20.0]]])
    return record_of(marks, outline)


def polar(radius, angle):
    return np.stack([radius * np.cos(angle), radius * np.sin(angle)], axis=1)


def test_a_paper_cap_on_a_sphere_takes_up_the_missing_circumference():
    sphere, trim = 300.0, 180.0
    record = ray_pattern(lambda r: 2 * np.pi * (r - sphere * np.sin(r / sphere)), 8, 8.0, trim)
    missing = 2 * np.pi * (trim - sphere * np.sin(trim / sphere))
    (zone,) = record.zones
    assert zone.stations[-1].take_up == pytest.approx(missing, rel=0.02)
    assert zone.peak_shrink == pytest.approx(1 - sphere / trim * np.sin(trim / sphere), rel=0.02)
    turned = np.degrees(2 * np.pi * (1 - np.cos(trim / sphere)))
    assert zone.curvature.laps_deg == pytest.approx(turned, rel=0.03)


def test_a_cone_lacks_the_angle_of_its_apex():
    lacking = 2 * np.pi * (1 - np.sin(np.radians(80.0)))
    record = ray_pattern(lambda r: lacking * r, 1, 0.5, 160.0)
    (tuck,) = record.tucks
    assert tuck.deficit_deg == pytest.approx(np.degrees(lacking), abs=0.2)
    assert tuck.turn_deg == pytest.approx(np.degrees(lacking), abs=0.3)
    assert tuck.shape.tip == "sharp"
    (zone,) = record.zones
    assert zone.peak_shrink == pytest.approx(1 - np.sin(np.radians(80.0)), rel=0.02)


def test_an_octant_of_a_sphere_has_a_total_curvature_of_half_pi():
    sphere = 100.0
    record = ray_pattern(
        lambda r: np.pi / 2 * (r - sphere * np.sin(r / sphere)),
        4,
        20.0,
        np.pi / 2 * sphere,
        span=np.pi / 2,
    )
    (zone,) = record.zones
    assert zone.curvature.laps_deg == pytest.approx(90.0, rel=0.03)


@pytest.mark.parametrize(("radius", "wrong"), [(60.0, False), (90.0, True)])
def test_a_torus_patch_agrees_with_its_told_radius_and_with_no_other(radius, wrong):
    ring, tube, turn, bend = 200.0, 60.0, np.pi / 2, np.radians(75.0)
    end = bend * tube

    def take_up(r):
        v = np.maximum(r - ring, 0.0)
        arc = np.minimum(v, end)
        beyond = (v - arc) * np.cos(bend)
        return turn * (v - tube * np.sin(arc / tube) - beyond)

    record = ray_pattern(take_up, 5, ring + 8, ring + end + 24, span=turn, inner=ring + end)
    start = curve_of(polar(np.full(200, ring), np.linspace(0.02, turn - 0.02, 200)))
    start_line = record.lines[0].model_copy(
        update={
            "id": "L99",
            "role": "radius-start",
            "points": tuple((float(x), float(y)) for x, y in start.points),
        }
    )
    record = record.model_copy(update={"lines": (*record.lines, start_line)})
    roles = {line.id: "radius-end" for line in record.lines if near(line, ring + end)}
    roles |= {line.id: "trim-edge" for line in record.lines if near(line, ring + end + 24)}
    told = labelled(record, roles, {"L99": radius}, {})
    (zone,) = told.zones
    truth = np.degrees(turn * (1 - np.cos(bend)))
    assert zone.curvature.laps_deg == pytest.approx(truth, rel=0.03)
    if wrong:
        assert zone.curvature.radii_deg < 0.7 * truth
        assert any("total curvature" in words for words in warnings_of(told))
    else:
        assert zone.curvature.radii_deg == pytest.approx(truth, rel=0.04)
        assert not any("total curvature" in words for words in warnings_of(told))


def near(line, radius):
    away = np.hypot(*np.array(line.points).T)
    return line.role not in ("slit", "lap") and abs(float(np.median(away)) - radius) < 3


def warnings_of(record):
    return with_remarks(record).warnings


def test_facts_of_the_trade():
    """Common practice, no source: shrink only reaches as far as the slits do; beyond the outermost
    slits none is needed; a slit's lap tapers to nothing at its tip."""
    sphere, trim, count, tip = 300.0, 180.0, 6, 40.0

    def take_up(r):
        return np.pi * np.maximum((r - tip) ** 2 / sphere / 4, 0)

    record = ray_pattern(take_up, count, tip, trim, span=np.pi)
    (zone,) = record.zones
    away = np.hypot(*np.array(zone.boundary).T)
    assert away.min() == pytest.approx(tip, abs=3)
    turn = np.degrees(np.arctan2(*np.array(zone.boundary).T[::-1]))
    assert turn.min() > -4 and turn.max() < 184
    for tuck in record.tucks:
        laps = {station.depth: station.lap for station in tuck.profile}
        assert laps[5.0] == pytest.approx(0.0, abs=0.15)
    assert zone.stations[0].shrink < 0.25 * zone.stations[-1].shrink
