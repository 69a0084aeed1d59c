import numpy as np
import svgwrite

from digitize.draw.runs import ClosedRun, OpenRun


def test_points_are_written_as_an_svg_has_them_in_as_few_digits_as_tell_them():
    drawing = svgwrite.Drawing(debug=False)
    points = np.array([[0.1, -2.0], [12.3456, 1000.0]])
    run = OpenRun(points, id="L1", factory=drawing)
    assert run.tostring() == '<polyline id="L1" points="0.1,-2.0 12.3456,1000.0" />'
    ring = ClosedRun(points, fill="none", factory=drawing)
    assert ring.tostring() == '<polygon fill="none" points="0.1,-2.0 12.3456,1000.0" />'
