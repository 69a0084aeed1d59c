"""What the shaper marked on the demo paper: strokes to draw, and the true record."""

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from corner import DEMO as DEMO_PANEL
from corner import MARGIN, WALL, Development, Floats
from drawn import Marking, Traces, moved, point
from flaps import Flaps
from shapely import LineString, Polygon, box
from strokes import GRAPHITE, Ink, Stroke, by_hand, in_pieces, resample

from digitize.pattern import Line, Note, Pattern, Role, Side, Station, Tuck, Zone, ZoneStation

SMALLEST_DRAWN_LAP = 0.6
INSET = 26.0  # trim edge inside the paper's straight sides
BROAD_WIDTH = 2.6


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


DEMO = Habits()


def mark(development: Development, seed: int, side: Side, habits: Habits = DEMO) -> Marking:
    """Draw the left-hand pattern, or its mirror image for ``side="right"``."""
    rng = np.random.default_rng(seed)
    more = np.random.default_rng([seed, 1])  # for what the demo paper has none of
    d = development
    count = len(habits.tip_depths)
    flaps = Flaps(d, habits.upper_is_next)
    top, left = d.panel.height - INSET, INSET

    # The paper's edge, cut with scissors: slow wobble.
    s = np.arange(0, d.s[-1], 2.0)
    wobble = np.sin(s / 37.0 + rng.random()) + 0.6 * np.sin(s / 17.0 + rng.random())
    edge = d.flat(s, d.trim_depth(s) + MARGIN + wobble)
    edge = edge[edge[:, 1] < d.panel.height]
    x = np.linspace(edge[-1, 0], 0, 60)
    upper = np.stack([x, d.panel.height + 0.8 * np.sin(x / 60)], axis=1)
    y = np.linspace(d.panel.height, edge[0, 1], 60)[1:-1]
    outline = np.concatenate([edge, upper, np.stack([0.7 * np.sin(y / 45), y], axis=1)])
    paper = Polygon(outline)

    lines: list[Line] = []
    strokes: list[Stroke] = []

    def add(
        points: Floats,
        role: Role,
        width: float,
        pressure: float,
        radius: float | None = None,
        drawn: Floats | None = None,
        fades: tuple[bool, bool] = (True, True),
    ) -> str:
        identifier = f"L{len(lines) + 1}"
        lay(points if drawn is None else drawn, width, pressure, fades, role == "lap")
        lines.append(_line(identifier, role, points, width, radius))
        return identifier

    def lay(
        points: Floats, width: float, pressure: float, fades: tuple[bool, bool], lap: bool = False
    ) -> None:
        ink = habits.lap_ink if lap else habits.ink
        pressure = min(pressure * habits.pressure, 1.0)
        stroke = Stroke(points, width * habits.width, pressure, fades=fades, ink=ink)
        strokes.extend(_skipping(stroke, habits.skips, more))

    inside = box(left, -100, 2000, top)

    def clipped(points: Floats) -> Floats:
        cut = LineString(points).intersection(inside)
        parts = [cut] if cut.geom_type == "LineString" else list(cut.geoms)
        return np.array(max(parts, key=lambda part: part.length).coords)

    # Bend lines, flap by flap; the trim edge's first and last pieces join across the roof.
    begins = by_hand(clipped(d.start), rng)
    add(begins, "radius-start", 0.7, 0.75)
    if habits.doubled:
        begin, end = sorted(
            (more.uniform(0, len(begins) * 0.5), len(begins) * more.uniform(0.6, 1))
        )
        again = by_hand(begins[int(begin) : int(end)], more, 0.3)
        lay(again, 0.7, 0.6, (True, True))
    trim_pieces = []
    for flap in range(count + 1):
        low = flaps.seams[flap - 1] - 40 if flap else 0.0
        high = flaps.seams[flap] + 40 if flap < count else d.s[-1] - 1
        along = np.arange(low, high, 0.5)
        end = np.interp(along, d.s, d.end_depth)
        piece = clipped(flaps.visible(flap, along, end))
        add(
            by_hand(piece, rng, 0.12),
            "radius-end",
            rng.uniform(0.45, 0.8),
            rng.uniform(0.6, 0.9),
            fades=(flap == 0, flap == count),
        )
        trim_pieces.append(clipped(flaps.visible(flap, along, end + WALL)))
    for piece in trim_pieces[1:-1]:
        add(
            by_hand(piece, rng, 0.12),
            "trim-edge",
            rng.uniform(0.7, 1.1),
            rng.uniform(0.7, 0.95),
            fades=(False, False),
        )
    roof = np.array([trim_pieces[-1][-1], [left, top], trim_pieces[0][0]])
    first, last = by_hand(trim_pieces[0], rng), by_hand(trim_pieces[-1], rng)
    roof_top, roof_left = by_hand(roof[:2], rng), by_hand(roof[1:], rng)
    whole = np.concatenate([last, roof_top[1:], roof_left[1:], first[1:]])
    if habits.broad_stretch is None:
        add(whole, "trim-edge", 0.9, 0.85, fades=(False, False))
    else:
        a, b = (int(len(roof_left) * part) for part in habits.broad_stretch)
        before = np.concatenate([last, roof_top[1:], roof_left[1:a]])
        add(whole, "trim-edge", 0.9, 0.85, drawn=before, fades=(False, False))
        lay(np.concatenate([roof_left[b:], first[1:]]), 0.9, 0.8, (False, False))
        broad = roof_left[a:b]
        strokes.append(Stroke(broad, BROAD_WIDTH, 0.75 * habits.pressure, True, ink=habits.ink))

    # A crown line over the roof and a straight datum across it.
    t = np.linspace(0, 1, 200)[:, None]
    wide, high = d.panel.width / DEMO_PANEL.width, d.panel.height / DEMO_PANEL.height
    size = np.array([wide, high])
    low, middle = np.array([left, 330.0 * high]), np.array([330.0, 360.0]) * size
    crown = (1 - t) ** 2 * low + 2 * t * (1 - t) * middle + t**2 * [505.0 * wide, top]
    crown = by_hand(crown, rng)
    if habits.dashes is None:
        add(crown, "form", 0.5, 0.6)
    else:
        lines.append(_line(f"L{len(lines) + 1}", "form", crown, 0.5, stroke="dashed"))
        dash, gap = habits.dashes
        starts = np.arange(0, len(crown) * 0.25, dash + gap)
        whole = Stroke(crown, 0.5 * habits.width, min(0.6 * habits.pressure, 1), ink=habits.ink)
        strokes += in_pieces(whole, [(start, start + dash) for start in starts])
    datum = np.array([[120.0, 590.0], [430.0, 240.0]]) * size
    add(by_hand(datum, rng, 0.1), "form", 0.6, 0.55)

    # Tucks.
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
            lines.append(_line(slit, "crease", on_paper, 0.3))
            lines.append(_line(f"L{len(lines) + 1}", "crease", hidden, 0.3))
            creases += [on_paper, hidden]
        else:
            slit = f"L{len(lines) + 1}"
            opening = rng.uniform(0.25, 0.5)
            lines.append(_line(slit, "slit", on_paper, opening))
            slit_shapes.append(_wedge(resample(on_paper, 1.0), opening))
            laps = flaps.lap(index, v)
            if index != habits.without_lap_line:
                drawn = v[laps > SMALLEST_DRAWN_LAP]
                points = d.flat(flaps.lap_place(index, drawn), drawn)
                points = np.array(LineString(points).intersection(paper).coords)
                lap_line = add(by_hand(points, rng, 0.05), "lap", 0.5, 0.8)
        depths = np.append(np.arange(20.0, trim - tip_depth, 15.0), trim - tip_depth)
        laps = flaps.lap(index, tip_depth + depths)
        tucks.append(
            Tuck(
                id=f"T{index + 1}",
                kind="fold" if index == habits.fold else "slit",
                tip=point(mid[0]),
                slit=slit,
                lap_line=lap_line,
                stations=tuple(
                    Station(
                        depth=round(float(depth), 3),
                        lap=round(float(lap), 4),
                        sigma=0.0,
                        evidence="lap-line" if lap_line else "line-break",
                    )
                    for depth, lap in zip(depths, laps, strict=True)
                ),
                deficit_deg=float(np.degrees(2 * np.arcsin(laps[-1] / (2 * depths[-1])))),
                lap_at_trim=float(laps[-1]),
            )
        )

    notes = tuple((text, (x * wide, y * high)) for text, (x, y) in habits.notes)
    pattern = Pattern(
        name="caravan rear roof corner",
        side="left",
        outline=tuple(point(p) for p in outline),
        lines=tuple(lines),
        tucks=tuple(tucks),
        zones=(_zone(d, flaps, habits.tip_depths),),
        notes=tuple(
            Note(id=f"N{i + 1}", box=(x, y, x + 9.0 * len(text), y + 14.0), text=text)
            for i, (text, (x, y)) in enumerate(notes)
        ),
    )
    marking = Marking(pattern, tuple(strokes), tuple(slit_shapes), tuple(creases), notes)
    low, high = outline.min(axis=0), outline.max(axis=0)
    mirrored = side == "right"
    own = moved(marking, low, float(high[0] - low[0]) if mirrored else None)
    return replace(own, traces=_traces(float(high[0] - low[0]), size))


def _traces(width: float, size: Floats) -> Traces:
    """Traces of work at the same places on either side's paper, for a panel of such a size."""
    erased = np.stack([np.linspace(150, 300, 600), np.linspace(180, 225, 600)], axis=1) * size
    wide, high = size
    return Traces(
        erased=(erased,),
        smudges=((260.0 * wide, 210.0 * high),),
        tapes=(
            (10.0, 300.0 * high, 4.0),
            (width / 2, 640.0 * high, 92.0),
            (16.0, 560.0 * high, -8.0),
        ),
    )


def _skipping(stroke: Stroke, often: float, rng: np.random.Generator) -> list[Stroke]:
    """The stroke as a pencil leaves it that skips now and then, ``often`` a metre."""
    length = len(stroke.points) * 0.25
    skips = np.sort(rng.uniform(8, max(length - 8, 8), rng.poisson(often * length / 1000)))
    bounds = [0.0]
    for skip in skips:
        bounds += [skip, skip + rng.uniform(1.5, 5.0)]
    bounds.append(length)
    return in_pieces(stroke, list(zip(bounds[::2], bounds[1::2], strict=True)))


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


def _line(
    identifier: str,
    role: Role,
    points: Floats,
    width: float,
    radius: float | None = None,
    stroke: Literal["solid", "dashed"] = "solid",
) -> Line:
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


def _zone(d: Development, flaps: Flaps, tip_depths: tuple[float, ...]) -> Zone:
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
