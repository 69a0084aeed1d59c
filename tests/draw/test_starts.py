"""The mark at a line's first point, from which places along it are told."""

import io

import ezdxf.recover as recover
import numpy as np
import pytest
import svgelements

from digitize.draw.dxf import pattern_dxf
from digitize.draw.style import start_marks
from digitize.draw.svg import MARGIN_MM, pattern_svg
from digitize.record import Line, Pattern

SHEET = ((0, 0), (200, 0), (200, 100), (0, 100))


def line(points, role="form", identifier="L1"):
    seen = {"role_confidence": 1.0, "width": 0.5, "sigma": 0.05}
    return Line(id=identifier, role=role, points=points, **seen)


def test_the_head_points_the_way_the_line_runs():
    # From (20, 10) to (20, 90) it runs up the paper: the head's tip is 4 mm above its first point,
    # its foot 2 x 0.35 x 4 = 2.8 mm wide.
    tip, left, right = start_marks([line(((20, 10), (20, 90)))], 4.0)[0]
    assert tip == pytest.approx((20, 14))
    assert left == pytest.approx((18.6, 10)) and right == pytest.approx((21.4, 10))
    back, *_ = start_marks([line(((20, 90), (20, 10)))], 4.0)[0]
    assert back == pytest.approx((20, 86))


def test_every_line_of_the_metal_has_one_in_svg_and_dxf_and_no_slit_has():
    lines = (line(((20, 10), (120, 10))), line(((60, 20), (60, 90)), "slit", "L2"))
    pattern = Pattern(name="p", outline=SHEET, lines=lines)
    svg = svgelements.SVG.parse(io.StringIO(pattern_svg(pattern)))
    heads = {e.id: e for e in svg.elements() if (getattr(e, "id", None) or "").endswith("-start")}
    assert list(heads) == ["L1-start"]
    tip = np.array(heads["L1-start"].points[0]) / svgelements.Length("1mm").value(ppi=96)
    assert tip == pytest.approx([MARGIN_MM + 24, MARGIN_MM + 100 - 10], abs=1e-3)
    document, _ = recover.read(io.BytesIO(pattern_dxf(pattern)))
    (head,) = document.modelspace().query('LWPOLYLINE[layer=="line-starts"]')
    assert head[0][:2] == pytest.approx((24, 10))
