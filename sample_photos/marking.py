"""What the shaper marked on the demo paper: strokes to draw, and the true record."""

from dataclasses import dataclass

import numpy as np
from corner import MARGIN, PAPER_HEIGHT, WALL, Development, Floats
from scipy.interpolate import RegularGridInterpolator
from shapely import LineString, Polygon, box

from digitize.pattern import Line, Note, Pattern, Role, Side, Station, Tuck, Zone, ZoneStation

TUCKS = 7
FOLD = 3
WITHOUT_LAP_LINE = 5
TIP_DEPTHS = (12.0, 9.0, 14.0, 10.0, 8.0, 13.0, 11.0)
UPPER_IS_NEXT = (True, True, False, True, False, True, True)
SMALLEST_DRAWN_LAP = 0.6
INSET = 26.0  # trim edge inside the paper's straight sides
BROAD_STRETCH = (0.56, 0.74)  # part of the left side that was rubbed with the side of the lead
BROAD_WIDTH = 2.6


@dataclass(frozen=True)
class Stroke:
    """A pencil stroke: (N, 2) points in mm, 0.25 mm apart; width (mm) and pressure (0 to 1).

    A broad stroke has its sharp side on the points and fades out over ``width`` to their left.
    Where a line crosses a lap the pencil runs on over the flap's edge, so it does not fade there.
    """

    points: Floats
    width: float
    pressure: float
    broad: bool = False
    fades: tuple[bool, bool] = (True, True)  # set down gently, lifted gently


@dataclass(frozen=True)
class Marking:
    """The drawn paper: its record, the strokes, slits as closed shapes, and crease lines."""

    pattern: Pattern
    strokes: tuple[Stroke, ...]
    slits: tuple[Floats, ...]
    creases: tuple[Floats, ...]
    notes: tuple[tuple[str, tuple[float, float]], ...]


class _Flaps:
    """Where a point of the surface comes to lie on each flap of the pinned paper."""

    def __init__(self, development: Development) -> None:
        self.d = development
        begin, end = development.zone
        self.pitch = (end - begin) / TUCKS
        self.seams = begin + self.pitch * (np.arange(TUCKS) + 0.5)
        self.centres = np.concatenate([[begin], begin + self.pitch * np.arange(1, TUCKS), [end]])
        surface = np.array([development.lengths(v)[1] for v in development.v])
        self.surface = RegularGridInterpolator((development.v, development.s), surface)
        self.heading = np.concatenate(
            [[0], np.cumsum(development.curvature[1:] * np.diff(development.s))]
        )

    def flat_length(self, s: Floats, v: Floats) -> Floats:
        return np.asarray(s + v * np.interp(s, self.d.s, self.heading))

    def flat_place(self, length: Floats, v: Floats) -> Floats:
        """The inverse of flat_length at each depth."""
        length, v = np.broadcast_arrays(np.atleast_1d(length), np.atleast_1d(v))
        return np.array(
            [
                np.interp(a, self.d.s + b * self.heading, self.d.s)
                for a, b in zip(length, v, strict=True)
            ]
        )

    def place(self, flap: int, s: Floats, v: Floats) -> Floats:
        """Where on the flap's paper the surface point (s, v) is pinned."""
        middle = np.full_like(v, self.centres[flap])
        along = self.surface((v, s)) - self.surface((v, middle))
        return self.flat_place(self.flat_length(middle, v) + along, v)

    def lap(self, tuck: int, v: Floats) -> Floats:
        """Take-up of a tuck at depth v: flat less surface length between the flaps' centres."""
        v = np.atleast_1d(v)
        a, b = np.full_like(v, self.centres[tuck]), np.full_like(v, self.centres[tuck + 1])
        flat = self.flat_length(b, v) - self.flat_length(a, v)
        return np.asarray(flat - (self.surface((v, b)) - self.surface((v, a))))

    def lap_place(self, tuck: int, v: Floats, share: float = 1.0) -> Floats:
        """Where the upper flap's edge lay on the lower flap, as s on the lower flap's paper."""
        v = np.atleast_1d(v)
        sign = -1.0 if UPPER_IS_NEXT[tuck] else 1.0
        seam = np.full_like(v, self.seams[tuck])
        return self.flat_place(self.flat_length(seam, v) + sign * share * self.lap(tuck, v), v)

    def visible(self, flap: int, s: Floats, v: Floats) -> Floats:
        """Pinned places of the surface points (s, v) on the flap's open side, covered ones cut."""
        at = self.place(flap, s, v)
        low, high = np.full_like(at, -np.inf), np.full_like(at, np.inf)
        if flap > 0:
            upper = UPPER_IS_NEXT[flap - 1]
            low = np.full_like(at, self.seams[flap - 1]) if upper else self.lap_place(flap - 1, v)
        if flap < TUCKS:
            lower = UPPER_IS_NEXT[flap]
            high = self.lap_place(flap, v) if lower else np.full_like(at, self.seams[flap])
        points = self.d.flat(at, v)
        first, last = np.flatnonzero((at >= low) & (at <= high))[[0, -1]]
        pieces = [points[first : last + 1]]
        for inside, outside, bound in ((first, first - 1, low), (last, last + 1, high)):
            if 0 <= outside < len(at):
                a, b = at[inside] - bound[inside], at[outside] - bound[outside]
                end = points[inside] + a / (a - b) * (points[outside] - points[inside])
                pieces.insert(0 if outside < inside else len(pieces), end[None])
        return np.concatenate(pieces)


def _resample(points: Floats, step: float) -> Floats:
    line = LineString(points)
    count = max(round(line.length / step), 1)
    return np.array(
        [line.interpolate(i / count, normalized=True).coords[0] for i in range(count + 1)]
    )


def _by_hand(points: Floats, rng: np.random.Generator, amplitude: float = 0.15) -> Floats:
    """The line as a slightly shaky hand draws it: slow sideways drift, nothing faster."""
    points = _resample(points, 0.25)
    along = np.arange(len(points)) * 0.25
    drift = np.zeros(len(points))
    for wavelength in rng.uniform(25, 120, 5):
        drift += np.sin(2 * np.pi * (along / wavelength + rng.random())) / np.sqrt(5)
    tangent = np.gradient(points, axis=0)
    tangent /= np.linalg.norm(tangent, axis=1, keepdims=True)
    normal = np.stack([-tangent[:, 1], tangent[:, 0]], axis=1)
    return np.asarray(points + amplitude * drift[:, None] * normal)


def mark(development: Development, seed: int, side: Side) -> Marking:
    """Draw the left-hand pattern, or its mirror image for ``side="right"``."""
    rng = np.random.default_rng(seed)
    d = development
    flaps = _Flaps(d)
    top, left = PAPER_HEIGHT - INSET, INSET

    # The paper's edge, cut with scissors: slow wobble.
    s = np.arange(0, d.s[-1], 2.0)
    wobble = np.sin(s / 37.0 + rng.random()) + 0.6 * np.sin(s / 17.0 + rng.random())
    edge = d.flat(s, d.trim_depth(s) + MARGIN + wobble)
    edge = edge[edge[:, 1] < PAPER_HEIGHT]
    x = np.linspace(edge[-1, 0], 0, 60)
    upper = np.stack([x, PAPER_HEIGHT + 0.8 * np.sin(x / 60)], axis=1)
    y = np.linspace(PAPER_HEIGHT, edge[0, 1], 60)[1:-1]
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
        strokes.append(Stroke(points if drawn is None else drawn, width, pressure, fades=fades))
        lines.append(_line(identifier, role, points, width, radius))
        return identifier

    inside = box(left, -100, 2000, top)

    def clipped(points: Floats) -> Floats:
        cut = LineString(points).intersection(inside)
        parts = [cut] if cut.geom_type == "LineString" else list(cut.geoms)
        return np.array(max(parts, key=lambda part: part.length).coords)

    # Bend lines, flap by flap; the trim edge's first and last pieces join across the roof.
    add(_by_hand(clipped(d.start), rng), "radius-start", 0.7, 0.75)
    trim_pieces = []
    for flap in range(TUCKS + 1):
        low = flaps.seams[flap - 1] - 40 if flap else 0.0
        high = flaps.seams[flap] + 40 if flap < TUCKS else d.s[-1] - 1
        along = np.arange(low, high, 0.5)
        end = np.interp(along, d.s, d.end_depth)
        piece = clipped(flaps.visible(flap, along, end))
        add(
            _by_hand(piece, rng, 0.12),
            "radius-end",
            rng.uniform(0.45, 0.8),
            rng.uniform(0.6, 0.9),
            fades=(flap == 0, flap == TUCKS),
        )
        trim_pieces.append(clipped(flaps.visible(flap, along, end + WALL)))
    for piece in trim_pieces[1:-1]:
        add(
            _by_hand(piece, rng, 0.12),
            "trim-edge",
            rng.uniform(0.7, 1.1),
            rng.uniform(0.7, 0.95),
            fades=(False, False),
        )
    roof = np.array([trim_pieces[-1][-1], [left, top], trim_pieces[0][0]])
    first, last = _by_hand(trim_pieces[0], rng), _by_hand(trim_pieces[-1], rng)
    roof_top, roof_left = _by_hand(roof[:2], rng), _by_hand(roof[1:], rng)
    whole = np.concatenate([last, roof_top[1:], roof_left[1:], first[1:]])
    a, b = (int(len(roof_left) * part) for part in BROAD_STRETCH)
    before = np.concatenate([last, roof_top[1:], roof_left[1:a]])
    add(whole, "trim-edge", 0.9, 0.85, drawn=before, fades=(False, False))
    strokes.append(
        Stroke(np.concatenate([roof_left[b:], first[1:]]), 0.9, 0.8, fades=(False, False))
    )
    strokes.append(Stroke(roof_left[a:b], BROAD_WIDTH, 0.75, broad=True))

    # A crown line over the roof and a straight datum across it.
    t = np.linspace(0, 1, 200)[:, None]
    crown = (1 - t) ** 2 * [left, 330.0] + 2 * t * (1 - t) * [330.0, 360.0] + t**2 * [505.0, top]
    add(_by_hand(crown, rng), "form", 0.5, 0.6)
    add(_by_hand(np.array([[120.0, 590.0], [430.0, 240.0]]), rng, 0.1), "form", 0.6, 0.55)

    # Tucks.
    tucks: list[Tuck] = []
    slit_shapes: list[Floats] = []
    creases: list[Floats] = []
    for index, seam in enumerate(flaps.seams):
        tip_depth = TIP_DEPTHS[index]
        trim = float(d.trim_depth(np.array([seam]))[0])
        v = np.arange(tip_depth, trim + MARGIN + 6, 0.25)
        mid = d.flat(np.full_like(v, seam), v)
        on_paper = np.array(LineString(mid).intersection(paper).coords)
        lap_line = None
        if index == FOLD:
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
            slit_shapes.append(_wedge(_resample(on_paper, 1.0), opening))
            laps = flaps.lap(index, v)
            if index != WITHOUT_LAP_LINE:
                drawn = v[laps > SMALLEST_DRAWN_LAP]
                points = d.flat(flaps.lap_place(index, drawn), drawn)
                points = np.array(LineString(points).intersection(paper).coords)
                lap_line = add(_by_hand(points, rng, 0.05), "lap", 0.5, 0.8)
        depths = np.append(np.arange(20.0, trim - tip_depth, 15.0), trim - tip_depth)
        laps = flaps.lap(index, tip_depth + depths)
        tucks.append(
            Tuck(
                id=f"T{index + 1}",
                kind="fold" if index == FOLD else "slit",
                tip=_point(mid[0]),
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

    notes = (("R60", (300.0, 150.0)), ("R100", (560.0, 430.0)), ("L.H. 1/2", (60.0, 500.0)))
    pattern = Pattern(
        name="caravan rear roof corner",
        side="left",
        outline=tuple(_point(p) for p in outline),
        lines=tuple(lines),
        tucks=tuple(tucks),
        zones=(_zone(d, flaps),),
        notes=tuple(
            Note(id=f"N{i + 1}", box=(x, y, x + 9.0 * len(text), y + 14.0), text=text)
            for i, (text, (x, y)) in enumerate(notes)
        ),
    )
    marking = Marking(pattern, tuple(strokes), tuple(slit_shapes), tuple(creases), notes)
    low, high = outline.min(axis=0), outline.max(axis=0)
    mirrored = side == "right"
    return _moved(marking, low, float(high[0] - low[0]) if mirrored else None)


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


def _point(point: Floats) -> tuple[float, float]:
    return round(float(point[0]), 4), round(float(point[1]), 4)


def _line(
    identifier: str, role: Role, points: Floats, width: float, radius: float | None = None
) -> Line:
    return Line(
        id=identifier,
        role=role,
        role_confidence=1.0,
        width=round(width, 3),
        radius=radius,
        sigma=0.0,
        points=tuple(_point(p) for p in _resample(points, 1.0)),
    )


def _zone(d: Development, flaps: _Flaps) -> Zone:
    begin, end = d.zone
    s = np.arange(begin, end, 2.0)
    tips = np.interp(s, flaps.seams, TIP_DEPTHS)
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
        boundary=tuple(_point(p) for p in boundary),
        tucks=tuple(f"T{i + 1}" for i in range(TUCKS)),
        stations=tuple(stations),
        peak_shrink=max(station.shrink for station in stations),
    )


def _moved(marking: Marking, low: Floats, width: float | None) -> Marking:
    """Into the pattern frame: origin at the outline's lower left; mirrored if a width is given."""

    def move(points: Floats) -> Floats:
        moved = np.asarray(points) - low
        if width is not None:
            moved = moved * [-1, 1] + [width, 0]
        return np.asarray(moved)

    def pairs(points: tuple[tuple[float, float], ...]) -> tuple[tuple[float, float], ...]:
        return tuple(_point(p) for p in move(np.array(points)))

    p = marking.pattern
    pattern = p.model_copy(
        update={
            "side": "left" if width is None else "right",
            "outline": pairs(p.outline),
            "lines": tuple(
                line.model_copy(update={"points": pairs(line.points)}) for line in p.lines
            ),
            "tucks": tuple(
                tuck.model_copy(update={"tip": pairs((tuck.tip,))[0]}) for tuck in p.tucks
            ),
            "zones": tuple(
                zone.model_copy(update={"boundary": pairs(zone.boundary)}) for zone in p.zones
            ),
            "notes": (),
        }
    )
    places = []
    for text, place in marking.notes:
        x, y = move(np.array(place))
        places.append((text, (float(x) - (0 if width is None else 9.0 * len(text)), float(y))))
    notes = tuple(
        Note(id=f"N{i + 1}", box=(x, y, x + 9.0 * len(text), y + 14.0), text=text)
        for i, (text, (x, y)) in enumerate(places)
    )
    flip = (lambda points: points[::-1]) if width is not None else (lambda points: points)
    return Marking(
        pattern.model_copy(update={"notes": notes}),
        # Reversed when mirrored, so that a broad stroke keeps its sharp side.
        tuple(
            Stroke(flip(move(k.points)), k.width, k.pressure, k.broad, flip(k.fades))
            for k in marking.strokes
        ),
        tuple(move(shape) for shape in marking.slits),
        tuple(move(crease) for crease in marking.creases),
        tuple(places),
    )


def enlarged(marking: Marking, factor: float) -> Marking:
    """The same panel so many times as large, drawn with the same pencils."""

    def grow(points: tuple[tuple[float, float], ...]) -> tuple[tuple[float, float], ...]:
        return tuple(_point(p) for p in np.array(points) * factor)

    p = marking.pattern
    pattern = p.model_copy(
        update={
            "outline": grow(p.outline),
            "lines": tuple(
                line.model_copy(update={"points": grow(line.points)}) for line in p.lines
            ),
            "tucks": tuple(
                tuck.model_copy(
                    update={
                        "tip": grow((tuck.tip,))[0],
                        "lap_at_trim": tuck.lap_at_trim * factor,
                        "stations": tuple(
                            station.model_copy(
                                update={
                                    "depth": station.depth * factor,
                                    "lap": station.lap * factor,
                                }
                            )
                            for station in tuck.stations
                        ),
                    }
                )
                for tuck in p.tucks
            ),
            "zones": tuple(
                zone.model_copy(update={"boundary": grow(zone.boundary)}) for zone in p.zones
            ),
            "notes": (),
        }
    )
    return Marking(
        pattern,
        tuple(
            Stroke(_resample(k.points * factor, 0.25), k.width, k.pressure, k.broad, k.fades)
            for k in marking.strokes
        ),
        tuple(shape * factor for shape in marking.slits),
        tuple(crease * factor for crease in marking.creases),
        tuple((text, (x * factor, y * factor)) for text, (x, y) in marking.notes),
    )
