"""Panels whose every length is known, and what is marked on their papers, by seed.

Corners as the demo panel's are, with radii that grow from one to another; corners that are parts of
a torus; flanges that are nearly cones; and round panels about a pole, with the metrics of a
sphere's cap (R sin(r / R)), a cone (r sin a) and a saddle (R sinh(r / R)) in geodesic polar
coordinates (M. do Carmo, Differential Geometry of Curves and Surfaces, 1976, section 4-6).
"""

from dataclasses import replace

import numpy as np
from corner import BEND_TURN, MARGIN, STEP, Development, Floats, Panel, develop
from drawn import Marking, Traces, moved, point
from flaps import Flaps
from marking import mark
from shapely import Polygon
from strokes import Stroke, by_hand
from tucked import Habits, draw_tucks, line_of, zone_of

from digitize.record import Line, Pattern, Role

KINDS = ("blend", "torus", "sphere", "flange", "blend", "sphere", "cone", "saddle")
PLAIN = Habits((), (), fold=None, without_lap_line=None, broad_stretch=None, notes=())
APEX = 0.05  # radius about a cone's point that stands for it
TURNS = 1440
WIDEST_LAP = 20.0


def kind_of(seed: int) -> str:
    """The kind of surface that a seed's panel has."""
    return KINDS[seed % len(KINDS)]


def draw_tucked(seed: int, rng: np.random.Generator, media: Habits) -> Marking:
    """A panel's marked paper; ``media`` says with what it is marked."""
    kind = kind_of(seed)
    if kind in ("sphere", "cone", "saddle"):
        return _round(kind, rng, media)
    panel = any_corner(rng)
    if kind == "torus":
        panel = replace(panel, ramp=12.0, radii=(panel.radii[0], panel.radii[0]))
    if kind == "flange":
        turn = float(rng.uniform(0.6, 0.95))
        panel = replace(panel, radii=(10.0, 10.0), bend_turn=turn, wall=float(rng.uniform(60, 90)))
    d = develop(panel)
    begin, end = d.zone
    count = int(np.clip((end - begin) / rng.uniform(42, 75), 3, 9))
    tips = rng.uniform(1, 4, count) if kind == "flange" else rng.uniform(6, 16, count)
    habits = _tucks(rng, tips, media)
    return mark(d, seed, "left" if rng.random() < 0.5 else "right", habits)


def _tucks(rng: np.random.Generator, tips: Floats, media: Habits) -> Habits:
    count = len(tips)
    return replace(
        media,
        tip_depths=tuple(float(tip) for tip in tips),
        upper_is_next=tuple(bool(up) for up in rng.random(count) < 0.6),
        fold=int(rng.integers(count)) if count > 2 and rng.random() < 0.4 else None,
        without_lap_line=int(rng.integers(count)) if count > 2 and rng.random() < 0.5 else None,
        skips=2.0 if rng.random() < 0.3 else 0.0,
    )


def any_corner(rng: np.random.Generator) -> Panel:
    """A panel whose corner fits on its paper."""
    while True:
        height = rng.uniform(480, 680)
        panel = Panel(
            width=rng.uniform(640, 950),
            height=height,
            corner_turn=float(np.radians(rng.uniform(76, 90))),
            corner_radius=rng.uniform(150, 240),
            ramp=rng.uniform(50, 90),
            radii=(rng.uniform(45, 105), rng.uniform(45, 105)),
            after=0.75 * height,
        )
        wide = panel.corner_radius + panel.ramp + BEND_TURN * panel.radii[1]
        high = panel.corner_radius + panel.ramp + BEND_TURN * panel.radii[0]
        if wide < panel.width - 250 and high < panel.height - 130:
            return panel


def _round(kind: str, rng: np.random.Generator, media: Habits) -> Marking:
    reach = float(rng.uniform(170, 250))
    inner = APEX if kind == "cone" else reach * float(rng.uniform(0.1, 0.16))
    v = np.arange(0, reach - inner + MARGIN + 12, STEP)
    r = inner + v
    if kind == "cone":
        count, lack = 1, float(rng.uniform(0.1, 0.2))
        across = r * (1 - lack / (2 * np.pi))
        fall: Floats | None = r * np.sqrt(1 - (across[0] / r[0]) ** 2)
    else:
        count = int(rng.integers(4, 10))
        # As much curvature as leaves laps that a shaper would make.
        most = min(WIDEST_LAP * count / (2 * np.pi * reach), 0.11)
        bend = np.sqrt(6 * most * rng.uniform(0.5, 1.0)) / reach
        across = np.sin(r * bend) / bend if kind == "sphere" else np.sinh(r * bend) / bend
        # Turned about its pole a saddle has more round it than there is in space.
        fall = (1 - np.cos(r * bend)) / bend if kind == "sphere" else None
    heading = np.linspace(0, 2 * np.pi, TURNS + 1)
    outward = np.column_stack([np.sin(heading), -np.cos(heading)])
    s = inner * heading
    ones = np.ones_like(s)
    d = Development(
        width=2 * (reach + MARGIN),
        height=2 * (reach + MARGIN),
        wall=0.0,
        s=s,
        v=v,
        start=inner * outward,
        outward=outward,
        curvature=ones / inner,
        stretch=np.outer(across / inner, ones),
        end_depth=(reach - inner) * ones,
        radius=reach * ones,
        zone=(0.0, float(s[-1])),
        places=None if fall is None else _turned(across, fall, heading),
    )
    tips = np.zeros(1) if kind == "cone" else rng.uniform(0, 8, count)
    habits = _tucks(rng, tips, media)
    if kind == "saddle":
        habits = replace(habits, fold=None)
    return _mark_round(d, habits, reach, rng)


def _turned(across: Floats, fall: Floats, heading: Floats) -> Floats:
    """(V, S, 3) a surface of revolution about the z axis, of such radii and depths under z = 0."""
    ring = np.stack([np.sin(heading), -np.cos(heading), np.zeros_like(heading)], axis=1)
    return np.asarray(across[:, None, None] * ring - fall[:, None, None] * [0.0, 0.0, 1.0])


def _mark_round(d: Development, habits: Habits, reach: float, rng: np.random.Generator) -> Marking:
    flaps = Flaps(d, habits.upper_is_next)
    turn = np.linspace(0, 2 * np.pi, 700, endpoint=False)
    wobble = np.sin(5 * turn + rng.uniform(0, 6)) + 0.6 * np.sin(11 * turn + rng.uniform(0, 6))
    edge = (reach + MARGIN + wobble)[:, None] * np.column_stack([np.cos(turn), np.sin(turn)])
    lines: list[Line] = []
    strokes: list[Stroke] = []

    def add(
        points: Floats,
        role: Role,
        width: float,
        pressure: float,
        fades: tuple[bool, bool] = (True, True),
    ) -> str:
        ink = habits.lap_ink if role == "lap" else habits.ink
        pressure = min(pressure * habits.pressure, 1.0)
        strokes.append(Stroke(points, width * habits.width, pressure, fades=fades, ink=ink))
        lines.append(line_of(f"L{len(lines) + 1}", role, points, width))
        return lines[-1].id

    trim = float(d.end_depth[0])
    for share, role, width in ((1.0, "trim-edge", 0.9), (rng.uniform(0.5, 0.75), "form", 0.6)):
        for piece in _ring(d, flaps, share * trim):
            drawn = by_hand(piece, rng, 0.12)
            add(drawn, role, width, rng.uniform(0.7, 0.9), (False, False))
    if d.s[-1] > 100:
        half = 0.6 * d.s[-1] / (2 * np.pi)
        way = rng.uniform(0, np.pi)
        ends = half * np.array([[np.cos(way), np.sin(way)], [-np.cos(way), -np.sin(way)]])
        add(by_hand(ends, rng, 0.1), "form", 0.6, 0.7)
    drawn = draw_tucks(d, flaps, habits, Polygon(edge), lines, add, rng)
    pattern = Pattern(
        name="round panel",
        outline=tuple(point(p) for p in edge),
        lines=tuple(lines),
        tucks=drawn.tucks,
        zones=(zone_of(d, flaps, habits.tip_depths),),
    )
    marking = Marking(
        pattern,
        tuple(strokes),
        drawn.slits,
        drawn.creases,
        (),
        shrink=d.shrink(),
        curvature_deg=float(np.degrees(d.total_curvature())),
        form=d.form(),
        radii=d.radii(),
    )
    own = moved(marking, edge.min(axis=0), None)
    traces = Traces(
        smudges=((0.7 * d.width, 0.45 * d.height),), tapes=((0.5 * d.width, 14.0, 3.0),)
    )
    return replace(own, traces=traces)


def _ring(d: Development, flaps: Flaps, depth: float) -> list[Floats]:
    """The pieces of a circle drawn at a depth over all laps, from slit to slit."""
    reach = 0.45 * flaps.pitch

    def piece(flap: int) -> Floats:
        low = flaps.seams[flap - 1] - reach if flap else 0.0
        high = flaps.seams[flap] + reach if flap < flaps.tucks else d.s[-1]
        along = np.linspace(low, high, 400)
        return flaps.visible(flap, along, np.full_like(along, depth))

    across = np.concatenate([piece(flaps.tucks)[:-1], piece(0)])
    return [across, *(piece(flap) for flap in range(1, flaps.tucks))]
