"""What the shaper marked on the demo paper: strokes to draw, and the true record."""

from dataclasses import replace

import numpy as np
from corner import DEMO as DEMO_PANEL
from corner import MARGIN, Development, Floats
from drawn import Marking, Traces, moved, point
from flaps import Flaps
from shapely import LineString, Polygon, box
from strokes import Stroke, by_hand, in_pieces
from tucked import Habits, draw_tucks, line_of, zone_of

from digitize.record import Line, Note, Pattern, Role, Side

INSET = 26.0  # trim edge inside the paper's straight sides
BROAD_WIDTH = 2.6


DEMO = Habits()


def mark(development: Development, seed: int, side: Side, habits: Habits = DEMO) -> Marking:
    """Draw the left-hand pattern, or its mirror image for ``side="right"``."""
    rng = np.random.default_rng(seed)
    more = np.random.default_rng([seed, 1])  # for what the demo paper has none of
    d = development
    count = len(habits.tip_depths)
    flaps = Flaps(d, habits.upper_is_next)
    top, left = d.height - INSET, INSET

    # The paper's edge, cut with scissors: slow wobble.
    s = np.arange(0, d.s[-1], 2.0)
    wobble = np.sin(s / 37.0 + rng.random()) + 0.6 * np.sin(s / 17.0 + rng.random())
    edge = d.flat(s, d.trim_depth(s) + MARGIN + wobble)
    edge = edge[edge[:, 1] < d.height]
    x = np.linspace(edge[-1, 0], 0, 60)
    upper = np.stack([x, d.height + 0.8 * np.sin(x / 60)], axis=1)
    y = np.linspace(d.height, edge[0, 1], 60)[1:-1]
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
        lines.append(line_of(identifier, role, points, width, radius))
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
        trim_pieces.append(clipped(flaps.visible(flap, along, end + d.wall)))
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
    wide, high = d.width / DEMO_PANEL.width, d.height / DEMO_PANEL.height
    size = np.array([wide, high])
    low, middle = np.array([left, 330.0 * high]), np.array([330.0, 360.0]) * size
    crown = (1 - t) ** 2 * low + 2 * t * (1 - t) * middle + t**2 * [505.0 * wide, top]
    crown = by_hand(crown, rng)
    if habits.dashes is None:
        add(crown, "form", 0.5, 0.6)
    else:
        lines.append(line_of(f"L{len(lines) + 1}", "form", crown, 0.5, stroke="dashed"))
        dash, gap = habits.dashes
        starts = np.arange(0, len(crown) * 0.25, dash + gap)
        whole = Stroke(crown, 0.5 * habits.width, min(0.6 * habits.pressure, 1), ink=habits.ink)
        strokes += in_pieces(whole, [(start, start + dash) for start in starts])
    datum = np.array([[120.0, 590.0], [430.0, 240.0]]) * size
    add(by_hand(datum, rng, 0.1), "form", 0.6, 0.55)

    drawn = draw_tucks(d, flaps, habits, paper, lines, add, rng)

    notes = tuple((text, (x * wide, y * high)) for text, (x, y) in habits.notes)
    pattern = Pattern(
        name="caravan rear roof corner",
        side="left",
        outline=tuple(point(p) for p in outline),
        lines=tuple(lines),
        tucks=drawn.tucks,
        zones=(zone_of(d, flaps, habits.tip_depths),),
        notes=tuple(
            Note(id=f"N{i + 1}", box=(x, y, x + 9.0 * len(text), y + 14.0), text=text)
            for i, (text, (x, y)) in enumerate(notes)
        ),
    )
    marking = Marking(
        pattern,
        tuple(strokes),
        drawn.slits,
        drawn.creases,
        notes,
        shrink=d.shrink(),
        curvature_deg=float(np.degrees(d.total_curvature())),
        form=d.form(),
        radii=d.radii(),
    )
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
