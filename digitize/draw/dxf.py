"""The pattern as DXF (R2010), in mm: layers by role, curves as lines, arcs and splines."""

import io
import itertools
import math
from collections.abc import Sequence

import ezdxf.filemanagement
from ezdxf import units
from ezdxf._options import options
from ezdxf.document import Drawing
from ezdxf.layouts.layout import Modelspace
from ezdxf.math import Bezier4P, ConstructionArc, Vec2, bulge_3_points

from digitize.draw.style import STYLES, start_marks
from digitize.record import CurvePiece, Line, Pattern
from digitize.shop import Blank, PunchedLine

HOLES, AREAS = "holes", "areas"
OUTLINE, BLANK, PUNCH, ZONES, STARTS, WORDS = (
    "outline",
    "blank",
    "punch-points",
    "zones",
    "line-starts",
    "words",
)
START_MM = 4.0
TEXT_MM = 4.5
MEET_MM, SAME_MM, FLAT_MM = 0.05, 1e-6, 0.005
Vertex = tuple[float, float, float]  # x, y, bulge
GREY = 8  # AutoCAD colour index
DASHES: dict[str, tuple[float, ...]] = {  # total, then strokes (+) and gaps (-), mm
    "DASHED": (10.0, 8.0, -2.0),
    "DASHDOT": (13.5, 8.0, -2.0, 1.5, -2.0),
    "DOTS": (2.5, 1.0, -1.5),
}
LINETYPES = {"radius-start": "DASHED", "radius-end": "DASHDOT", "crease": "DOTS", "lap": "DOTS"}
# Nearest AutoCAD colour index to each role's colour; published with the format.
COLOURS = {
    "trim-edge": 30,
    "radius-start": 5,
    "radius-end": 4,
    "form": 3,
    "lap": 6,
    "slit": 7,
    "crease": 8,
    "unknown": 42,
}


def pattern_dxf(
    pattern: Pattern, blank: Blank | None = None, punched: tuple[PunchedLine, ...] = ()
) -> bytes:
    """The drawing as the bytes of a DXF file; the same bytes for the same pattern."""
    options.write_fixed_meta_data_for_testing = True  # no clock, no random ids
    document = ezdxf.filemanagement.new("R2010", units=units.MM)
    document.header["$MEASUREMENT"] = 1
    for name, dashes in DASHES.items():
        if name not in document.linetypes:
            document.linetypes.add(name, list(dashes))
    for role in STYLES:
        document.layers.add(role, color=COLOURS[role], linetype=LINETYPES.get(role, "Continuous"))
    for name, colour in (
        (OUTLINE, 9),
        (BLANK, 1),
        (PUNCH, 7),
        (ZONES, 40),
        (STARTS, 8),
        (WORDS, 7),
        (HOLES, 7),
        (AREAS, 8),
    ):
        document.layers.add(name, color=colour)
    space = document.modelspace()
    space.add_lwpolyline(pattern.outline, close=True, dxfattribs={"layer": OUTLINE})
    for zone in pattern.zones:
        space.add_lwpolyline(zone.boundary, close=True, dxfattribs={"layer": ZONES})
    _trim_edges(space, pattern)
    for line in pattern.lines:
        if not _is_edge(line):
            _line(space, line)
    metal = [line for line in pattern.lines if line.is_of_metal]
    for head in start_marks(metal, START_MM).tolist():
        space.add_lwpolyline(head, close=True, dxfattribs={"layer": STARTS})
    if blank:
        space.add_lwpolyline(blank.edge.tolist(), close=True, dxfattribs={"layer": BLANK})
    for hole in pattern.holes:
        space.add_circle(hole.at, hole.diameter / 2, dxfattribs={"layer": HOLES})
    for area in pattern.areas:
        dots = {"linetype": "DOTS"} if area.use == "hatched" else {}
        space.add_lwpolyline(area.boundary, close=True, dxfattribs={"layer": AREAS, **dots})
    for each in punched:
        for x, y in each.points.tolist():
            space.add_point((x, y), dxfattribs={"layer": PUNCH})
    _words(space, pattern)
    return _bytes_of(document)


def _is_edge(line: Line) -> bool:
    return line.role == "trim-edge" and not line.withdrawn


def _trim_edges(space: Modelspace, pattern: Pattern) -> None:
    """The trim edge as a cutter follows it: one polyline for each stretch that no tuck parts."""
    grouped = {piece.line for group in pattern.groups for piece in group.pieces}
    runs: list[list[Vertex]] = []
    for group in pattern.groups:
        if group.role == "trim-edge":
            parts = [_vertices(pattern.line(piece.line), piece.reversed) for piece in group.pieces]
            runs += _joined(parts)
    runs += [
        _vertices(line, False)
        for line in pattern.lines
        if _is_edge(line) and line.id not in grouped
    ]
    for run in runs:
        closed = math.dist(run[0][:2], run[-1][:2]) < MEET_MM and len(run) > 2
        points = run[:-1] if closed else run
        space.add_lwpolyline(points, "xyb", close=closed, dxfattribs={"layer": "trim-edge"})


def _joined(parts: Sequence[list[Vertex]]) -> list[list[Vertex]]:
    """Runs of vertices, those together that meet end to start; of a ring, the last and first."""
    runs: list[list[Vertex]] = []
    for part in parts:
        if runs and math.dist(runs[-1][-1][:2], part[0][:2]) < MEET_MM:
            runs[-1] = runs[-1][:-1] + part
        else:
            runs.append(part)
    if len(runs) > 1 and math.dist(runs[-1][-1][:2], runs[0][0][:2]) < MEET_MM:
        runs[0] = runs.pop()[:-1] + runs[0]
    return runs


def _vertices(line: Line, backward: bool) -> list[Vertex]:
    """A line's corners from end to end, each with the bulge of the way to the next.

    A bulge is the tangent of a quarter of the arc's angle, positive counter-clockwise (DXF
    reference, group code 42). Cubics are flattened to FLAT_MM.
    """
    found: list[Vertex] = []
    for piece in line.pieces:
        if piece.kind == "arc":
            start, middle, end = piece.points
            found += [(*start, bulge_3_points(start, end, middle)), (*end, 0.0)]
        elif piece.kind == "cubic":
            curve = Bezier4P([Vec2(point) for point in piece.points])
            found += [(point.x, point.y, 0.0) for point in curve.flattening(FLAT_MM)]
        else:
            found += [(*piece.points[0], 0.0), (*piece.points[-1], 0.0)]
    found = found or [(x, y, 0.0) for x, y in line.path]
    whole = [
        here
        for here, after in itertools.pairwise(found)
        if math.dist(here[:2], after[:2]) > SAME_MM or here[2]
    ]
    whole.append(found[-1])
    if backward:
        bulges = [-bulge for _, _, bulge in whole[-2::-1]] + [0.0]
        whole = [(x, y, bulge) for (x, y, _), bulge in zip(whole[::-1], bulges, strict=True)]
    return whole


def _line(space: Modelspace, line: Line) -> None:
    attributes: dict[str, object] = {"layer": line.role}
    if line.withdrawn:
        attributes |= {"linetype": "DOTS", "color": GREY}
    if not line.pieces:
        space.add_lwpolyline(line.points, close=line.closed, dxfattribs=attributes)
        return
    for piece in line.pieces:
        _piece(space, piece, attributes)


def _piece(space: Modelspace, piece: CurvePiece, attributes: dict[str, object]) -> None:
    if piece.kind == "line":
        space.add_line(piece.points[0], piece.points[-1], dxfattribs=attributes)
    elif piece.kind == "arc":
        _arc(space, piece, attributes)
    else:
        space.add_open_spline(piece.points, degree=3, dxfattribs=attributes)


def _arc(space: Modelspace, piece: CurvePiece, attributes: dict[str, object]) -> None:
    start, middle, end = piece.points
    turn = (middle[0] - start[0]) * (end[1] - start[1])
    turn -= (middle[1] - start[1]) * (end[0] - start[0])
    if abs(turn) < 1e-9 * math.dist(start, end) ** 2:
        space.add_line(start, end, dxfattribs=attributes)
        return
    first, last = (start, end) if turn > 0 else (end, start)
    arc = ConstructionArc.from_3p(first, last, middle)
    space.add_arc(arc.center, arc.radius, arc.start_angle, arc.end_angle, dxfattribs=attributes)


def _words(space: Modelspace, pattern: Pattern) -> None:
    attributes = {"layer": WORDS, "height": TEXT_MM}
    for line in pattern.lines:
        if not line.is_tuck_mark:
            x, y = line.points[len(line.points) // 2]
            space.add_text(line.label, dxfattribs={**attributes, "insert": (x + 1.5, y + 1.5)})
    for area in pattern.areas:
        if area.use == "hatched":
            words = f"{area.id} {area.use}"
            space.add_text(words, dxfattribs={**attributes, "insert": area.boundary[0]})
    for tuck in pattern.tucks:
        space.add_text(
            tuck.label, dxfattribs={**attributes, "insert": (tuck.tip[0] + 3, tuck.tip[1])}
        )
    x = min(p[0] for p in pattern.outline)
    y = min(p[1] for p in pattern.outline) - 3 * TEXT_MM
    title = f"{pattern.name}, {pattern.side} side, mm"
    space.add_text(title, dxfattribs={**attributes, "insert": (x, y)})


def _bytes_of(document: Drawing) -> bytes:
    # The library registers these in the order of a set, which is another in each process.
    for name in sorted(document.entitydb.dxf_types_in_use()):
        document.classes.add_class(name)
    stream = io.StringIO()
    document.write(stream)
    return stream.getvalue().encode("utf-8")
