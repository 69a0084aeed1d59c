"""The DXF read back and audited by ezdxf's own reader."""

import io
import os
import subprocess
import sys

import ezdxf
import numpy as np
import pytest
from ezdxf import recover
from ezdxf.path import make_path
from scipy.spatial import cKDTree
from shapely import LineString

from digitize.draw.dxf import pattern_dxf
from digitize.record import CurvePiece, LineGroup, Pattern, mirrored
from digitize.shop.blank import blank_of
from digitize.shop.punch import punch_points
from tests.draw.lopsided import LEFT_TURN, RIGHT_TURN, line


@pytest.fixture(scope="module")
def drawn(corner):
    blank, punched = blank_of(corner), punch_points(corner)
    content = pattern_dxf(corner, blank, punched)
    document, auditor = recover.read(io.BytesIO(content))
    return content, document, auditor, blank, punched


def places_on(document, layer):
    """(N, 2) points close together on all curves of a layer."""
    points = []
    for entity in document.modelspace().query(f'*[layer=="{layer}"]'):
        if entity.dxftype() in ("LINE", "ARC", "SPLINE", "LWPOLYLINE"):
            path = np.array([(v.x, v.y) for v in make_path(entity).flattening(0.001)])
            along = np.append(0, np.cumsum(np.linalg.norm(np.diff(path, axis=0), axis=1)))
            at = np.linspace(0, along[-1], max(int(along[-1] / 0.004), 2))
            points.append(np.column_stack([np.interp(at, along, path[:, k]) for k in (0, 1)]))
    return np.concatenate(points)


def test_no_audit_errors_and_the_units_are_mm(drawn):
    _, document, auditor, _, _ = drawn
    assert not auditor.errors and not auditor.fixes
    assert document.header["$INSUNITS"] == 4 and document.header["$MEASUREMENT"] == 1
    assert document.dxfversion == "AC1024"


def test_every_line_is_where_the_record_has_it(drawn, corner):
    _, document, _, _, _ = drawn
    for role in {each.role for each in corner.lines}:
        lines = [np.array(each.points) for each in corner.lines if each.role == role]
        away, _ = cKDTree(places_on(document, role)).query(np.concatenate(lines))
        # A kink of the points, at a corner or where an end was put on a line, the curve rounds off.
        assert away.max() < 0.02


def test_curves_stay_curves(drawn, corner):
    _, document, _, _, _ = drawn
    kinds = {entity.dxftype() for entity in document.modelspace().query('*[layer=="radius-start"]')}
    assert kinds & {"ARC", "SPLINE"} and "LWPOLYLINE" not in kinds


def test_punch_points_and_blank_are_layers_of_their_own(drawn):
    _, document, _, blank, punched = drawn
    space = document.modelspace()
    points = space.query('POINT[layer=="punch-points"]')
    assert len(points) == sum(len(line.points) for line in punched)
    (edge,) = space.query('LWPOLYLINE[layer=="blank"]')
    assert edge.closed and len(edge) == len(blank.edge)


def test_the_other_side_is_the_exact_reflection(drawn, corner):
    _, document, _, _, _ = drawn
    other, _ = recover.read(io.BytesIO(pattern_dxf(mirrored(corner))))
    xs = [x for x, _ in corner.outline]
    here, there = (places_on(each, "trim-edge") for each in (document, other))
    flipped = here * [-1, 1] + [max(xs) + min(xs), 0]
    assert cKDTree(there).query(flipped)[0].max() < 0.005
    texts = list(other.modelspace().query("TEXT"))
    assert texts and all(entity.dxf.get("text_generation_flag", 0) == 0 for entity in texts)


SCRIPT = """
import sys, hashlib
from digitize.draw.dxf import pattern_dxf
from digitize.record import Pattern
square = Pattern(name="p", outline=((0, 0), (9, 0), (9, 9)))
print(hashlib.sha256(pattern_dxf(square)).hexdigest())
"""


@pytest.mark.slow
def test_the_same_bytes_again_in_this_process_and_others(drawn, corner):
    content, _, _, blank, punched = drawn
    assert pattern_dxf(corner, blank, punched) == content
    prints = {
        subprocess.run(
            [sys.executable, "-c", SCRIPT],
            env={**os.environ, "PYTHONHASHSEED": seed},
            capture_output=True,
            check=True,
        ).stdout
        for seed in ("1", "2", "3")
    }
    assert len(prints) == 1


def test_the_trim_edge_is_one_polyline_for_each_stretch_that_no_tuck_parts(drawn, corner):
    _, document, _, _, _ = drawn
    lines = [each for each in corner.lines if each.role == "trim-edge"]
    edges = list(document.modelspace().query('*[layer=="trim-edge"]'))
    assert {edge.dxftype() for edge in edges} == {"LWPOLYLINE"}
    assert len(edges) == len(lines) < sum(len(each.pieces) for each in lines)
    lengths = sum(each.length for each in lines)
    drawn_lengths = [make_path(edge).flattening(0.001) for edge in edges]
    ran = sum(LineString([(v.x, v.y) for v in each]).length for each in drawn_lengths)
    assert ran == pytest.approx(lengths, abs=0.5)


def bulged(lines, groups=()):
    pattern = Pattern(
        name="p", outline=((0, 0), (300, 0), (300, 300)), lines=tuple(lines), groups=tuple(groups)
    )
    space = ezdxf.read(io.StringIO(pattern_dxf(pattern).decode())).modelspace()
    return [
        ([tuple(map(float, point)) for point in edge.get_points("xyb")], edge.closed)
        for edge in space.query('LWPOLYLINE[layer=="trim-edge"]')
    ]


# A quarter turn has a bulge of tan(90 / 4) = 0.41421, positive counter-clockwise (DXF reference,
# LWPOLYLINE, group code 42).
QUARTER = 0.41421


def test_an_arc_of_the_trim_edge_is_a_bulge_that_turns_its_way():
    there = line("L1", "trim-edge", LEFT_TURN.points, pieces=(LEFT_TURN,))
    back = line("L2", "trim-edge", RIGHT_TURN.points, pieces=(RIGHT_TURN,))
    (left, _), (right, _) = bulged([there, back])
    assert left[0] == pytest.approx((100, 60, QUARTER), abs=1e-4)
    assert left[1] == pytest.approx((130, 90, 0))
    assert right[0] == pytest.approx((200, 120, -QUARTER), abs=1e-4)


def test_pieces_that_meet_are_one_polyline_whichever_way_each_runs():
    straight = CurvePiece(kind="line", points=((130, 90), (130, 150)))
    turn = line("L1", "trim-edge", LEFT_TURN.points[::-1], pieces=(reversed_arc(LEFT_TURN),))
    up = line("L2", "trim-edge", straight.points, pieces=(straight,))
    far = line("L3", "trim-edge", [(130, 155), (0, 155)])
    group = LineGroup(
        id="E1",
        role="trim-edge",
        pieces=({"line": "L1", "reversed": True}, {"line": "L2"}, {"line": "L3"}),
    )
    (joined, closed), (after, _) = bulged([turn, up, far], [group])
    assert not closed
    assert joined == [
        pytest.approx((100, 60, QUARTER), abs=1e-4),
        pytest.approx((130, 90, 0)),
        pytest.approx((130, 150, 0)),
    ]
    assert [point[:2] for point in after] == [(130, 155), (0, 155)]


def reversed_arc(piece):
    return CurvePiece(kind="arc", points=piece.points[::-1])


def test_a_ring_of_pieces_is_closed_without_a_doubled_corner():
    corners = [(0, 0), (200, 0), (200, 200), (0, 200)]
    sides = [
        line(f"L{k}", "trim-edge", [a, b])
        for k, (a, b) in enumerate(zip(corners, corners[1:] + corners[:1], strict=True))
    ]
    group = LineGroup(
        id="E1", role="trim-edge", pieces=[{"line": s.id} for s in sides], closed=True
    )
    ((ring, closed),) = bulged(sides, [group])
    assert closed and [point[:2] for point in ring] == corners
