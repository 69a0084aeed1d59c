"""Records of bent panels, made of marks alone."""

from functools import cache

import numpy as np

from digitize.record import Line
from digitize.take_up import derived
from tests.checks.test_shrink import ray_pattern
from tests.marks import curve_of, record_of
from tests.told import labelled, with_spread


def straight_bend(width, radius, start_x=100.0, end_sign=1.0):
    """A panel of 260 by 200 mm with one bend across it, whose radius ends to one side."""
    end_x = start_x + end_sign * width
    trim = [(20.0, 20.0), (240.0, 20.0), (240.0, 180.0), (20.0, 180.0), (20.0, 20.0)]
    outline = np.array([(0.0, 0.0), (260.0, 0.0), (260.0, 200.0), (0.0, 200.0)])
    bare = record_of([curve_of([(30.0, 30.0), (35.0, 30.0)])], outline)
    lines = (
        line("L1", "trim-edge", trim),
        line("L2", "radius-start", [(start_x, 20.0), (start_x, 180.0)], radius),
        line("L3", "radius-end", [(end_x, 20.0), (end_x, 180.0)]),
    )
    return derived(bare.model_copy(update={"lines": lines}))


def two_bends(radius, other_radius, onward):
    """A panel with two bends 40 mm wide across it: the second away from the first, or after it."""
    trim = [(20.0, 20.0), (300.0, 20.0), (300.0, 180.0), (20.0, 180.0), (20.0, 20.0)]
    outline = np.array([(0.0, 0.0), (320.0, 0.0), (320.0, 200.0), (0.0, 200.0)])
    bare = record_of([curve_of([(30.0, 30.0), (35.0, 30.0)])], outline)
    first = (60.0, 100.0) if onward else (100.0, 60.0)
    found = [line("L1", "trim-edge", trim)]
    for (start, end), size in ((first, radius), ((200.0, 240.0), other_radius)):
        for at, role in ((start, "radius-start"), (end, "radius-end")):
            told = size if role == "radius-start" else None
            name = f"L{len(found) + 1}"
            found.append(line(name, role, [(at, 20.0), (at, 180.0)], told))
    return derived(bare.model_copy(update={"lines": tuple(found)}))


def line(name, role, points, radius=None):
    """A line through points, 1 mm apart."""
    return Line(
        id=name,
        role=role,
        role_confidence=1.0,
        width=0.6,
        radius=radius,
        stroke="solid",
        sigma=0.1,
        points=tuple((float(x), float(y)) for x, y in curve_of(points).points),
    )


@cache
def round_panel(spreads):
    """A round panel of eight tucks whose laps are a sphere's cap's, or opened as much."""
    radius, reach = 300.0, 150.0
    record = ray_pattern(lambda r: 2 * np.pi * (r - radius * np.sin(r / radius)), 8, 8.0, reach)
    roles = {
        line.id: "trim-edge"
        for line in record.lines
        if abs(float(np.median(np.hypot(*np.array(line.points).T))) - reach) < 3
    }
    record = labelled(record, roles, {}, {})
    if spreads:
        for tuck in record.tucks:
            gaps = [(s.depth, s.lap) for s in tuck.stations if s.lap > 0.1]
            record = with_spread(record, tuck.id, gaps)
    return record
