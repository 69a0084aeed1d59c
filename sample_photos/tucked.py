"""A pinned paper's tucks: what is cut, folded and pencilled there, and the true record of them."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

import numpy as np
from corner import MARGIN, Development, Floats
from drawn import point
from flaps import Flaps
from shapely import LineString, Polygon
from strokes import GRAPHITE, Ink, by_hand, resample

from digitize.record import Line, Role, Station, Tuck, Zone, ZoneStation

SMALLEST_DRAWN_LAP = 0.6
LAP_WIDTH = 0.5  # of a lap line, mm
STATION_STEP = 5.0
Add = Callable[[Floats, Role, float, float], str]


@dataclass(frozen=True)
class Habits:
    """How a shaper tucks and marks; as they stand, those of the demo paper's.

    Attributes
    ----------
    tip_depths, upper_is_next : one for each tuck: how far its tip lies past the bend's start, and
        whether the flap that follows lies on top.
    fold, without_lap_line : which tuck is folded, and which was left without a lap line.
    broad_stretch : part of the left side that was rubbed with the side of the lead.
    width, pressure : factors on those of each kind of line.
    ink, lap_ink : of the lines, and of the lap lines.
    dashes : (dash, gap) of the crown line, mm; none if it is drawn through.
    doubled : the bend's start is gone over a second time, up to half a mm aside.
    skips : how often the pencil skips, for a few mm, on a line of a metre.
    notes : what is written, and where.
    """

    tip_depths: tuple[float, ...] = (12.0, 9.0, 14.0, 10.0, 8.0, 13.0, 11.0)
    upper_is_next: tuple[bool, ...] = (True, True, False, True, False, True, True)
    fold: int | None = 3
    without_lap_line: int | None = 5
    broad_stretch: tuple[float, float] | None = (0.56, 0.74)
    width: float = 1.0
    pressure: float = 1.0
    ink: Ink = GRAPHITE
    lap_ink: Ink = GRAPHITE
    dashes: tuple[float, float] | None = None
    doubled: bool = False
    skips: float = 0.0
    notes: tuple[tuple[str, tuple[float, float]], ...] = (
        ("R60", (300.0, 150.0)),
        ("R100", (560.0, 430.0)),
        ("L.H. 1/2", (60.0, 500.0)),
    )


@dataclass(frozen=True)
class DrawnTucks:
    """Tucks as the record has them, slits as closed shapes, and crease lines."""

    tucks: tuple[Tuck, ...]
    slits: tuple[Floats, ...]
    creases: tuple[Floats, ...]


def draw_tucks(
    d: Development,
    flaps: Flaps,
    habits: Habits,
    paper: Polygon,
    lines: list[Line],
    add: Add,
    rng: np.random.Generator,
) -> DrawnTucks:
    """Cut or fold each tuck and run the pencil along its lap; its lines are added to ``lines``.

    ``add`` draws a line and adds it.
    """
    tucks: list[Tuck] = []
    slit_shapes: list[Floats] = []
    creases: list[Floats] = []
    for index, seam in enumerate(flaps.seams):
        tip_depth = habits.tip_depths[index]
        trim = float(d.trim_depth(np.array([seam]))[0])
        v = np.arange(tip_depth, trim + MARGIN + 6, 0.25)
        mid = d.flat(np.full_like(v, seam), v)
        on_paper = np.array(LineString(mid).intersection(paper).coords)
        lap_line = None
        if index == habits.fold:
            hidden = d.flat(flaps.lap_place(index, v, 0.5), v)
            hidden = np.array(LineString(hidden).intersection(paper).coords)
            slit = f"L{len(lines) + 1}"
            lines.append(line_of(slit, "crease", on_paper, 0.3))
            lines.append(line_of(f"L{len(lines) + 1}", "crease", hidden, 0.3))
            creases += [on_paper, hidden]
        else:
            slit = f"L{len(lines) + 1}"
            opening = rng.uniform(0.25, 0.5)
            lines.append(line_of(slit, "slit", on_paper, opening))
            slit_shapes.append(_wedge(resample(on_paper, 1.0), opening))
            drawn = v[flaps.lap(index, v) > SMALLEST_DRAWN_LAP]
            if index != habits.without_lap_line and len(drawn):
                points = d.flat(flaps.lap_place(index, drawn), drawn)
                away = points - d.flat(np.full_like(drawn, seam), drawn)
                away /= np.linalg.norm(away, axis=1, keepdims=True)
                # The flap covers the paper up to its edge: the mark begins there.
                points = points + LAP_WIDTH * habits.width / 2 * away
                points = np.array(LineString(points).intersection(paper).coords)
                lap_line = add(by_hand(points, rng, 0.05), "lap", LAP_WIDTH, 0.8)
        tucks.append(_tuck_of(flaps, index, habits, (slit, lap_line), mid[0], (tip_depth, trim)))
    return DrawnTucks(tuple(tucks), tuple(slit_shapes), tuple(creases))


def _tuck_of(
    flaps: Flaps,
    index: int,
    habits: Habits,
    names: tuple[str, str | None],
    tip: Floats,
    between: tuple[float, float],
) -> Tuck:
    """The true record of a tuck, with stations out to the paper's edge."""
    tip_depth, trim = between
    at_trim = trim - tip_depth
    depths = np.unique(np.append(np.arange(STATION_STEP, at_trim + MARGIN, STATION_STEP), at_trim))
    laps = flaps.chord(index, tip_depth + depths)
    lap = float(np.interp(at_trim, depths, laps))
    slope = np.diff(flaps.lap(index, np.array([trim - 0.5, trim + 0.5])))
    kind = "fold" if index == habits.fold else "slit"
    evidence = "lap-line" if names[1] else "line-break"
    return Tuck(
        id=f"T{index + 1}",
        kind="spread" if lap < 0 else kind,
        tip=point(tip),
        slit=names[0],
        lap_line=names[1],
        stations=tuple(
            Station(depth=round(float(d), 3), lap=round(float(w), 4), sigma=0.0, evidence=evidence)
            for d, w in zip(depths, laps, strict=True)
        ),
        depth_at_trim=at_trim,
        lap_at_trim=lap,
        deficit_deg=float(np.degrees(2 * np.arcsin(lap / (2 * at_trim)))),
        turn_deg=float(np.degrees(slope[0])),
    )


def _wedge(points: Floats, opening: float) -> Floats:
    tangent = np.gradient(points, axis=0)
    tangent /= np.linalg.norm(tangent, axis=1, keepdims=True)
    normal = np.stack([-tangent[:, 1], tangent[:, 0]], axis=1)
    half = np.linspace(0.06, opening / 2, len(points))[:, None]
    beyond = points[-1] + 5 * tangent[-1]
    left, right = points + half * normal, points - half * normal
    return np.concatenate(
        [left, [beyond + half[-1] * normal[-1], beyond - half[-1] * normal[-1]], right[::-1]]
    )


def line_of(
    identifier: str,
    role: Role,
    points: Floats,
    width: float,
    radius: float | None = None,
    stroke: Literal["solid", "dashed"] = "solid",
) -> Line:
    """A line as the record has it, its points 1 mm apart."""
    return Line(
        id=identifier,
        role=role,
        role_confidence=1.0,
        width=round(width, 3),
        radius=radius,
        stroke=stroke,
        sigma=0.0,
        points=tuple(point(p) for p in resample(points, 1.0)),
    )


def zone_of(d: Development, flaps: Flaps, tip_depths: tuple[float, ...]) -> Zone:
    """The true zone: as deep as its tucks, from where the corner begins to where it ends."""
    begin, end = d.zone
    s = np.arange(begin, end, 2.0)
    tips = np.interp(s, flaps.seams, tip_depths)
    boundary = np.concatenate([d.flat(s, tips), d.flat(s, d.trim_depth(s))[::-1]])
    stations = []
    for depth in np.arange(20.0, float(d.trim_depth(flaps.seams).min()) - 10.0, 15.0):
        low, high = np.searchsorted(d.s, [begin, end])
        flat, surface = d.lengths(depth + 10.0)
        length, take_up = flat[high] - flat[low], (flat - surface)[high] - (flat - surface)[low]
        stations.append(
            ZoneStation(depth=depth, flat_length=length, take_up=take_up, shrink=take_up / length)
        )
    return Zone(
        id="Z1",
        kind="shrink",
        boundary=tuple(point(p) for p in boundary),
        tucks=tuple(f"T{i + 1}" for i in range(len(flaps.seams))),
        stations=tuple(stations),
        peak_shrink=max(station.shrink for station in stations),
    )
