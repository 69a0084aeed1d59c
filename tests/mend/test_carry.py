import numpy as np

from digitize.mend.carry import carried_over
from digitize.mend.labels import labelled
from digitize.record import Line, Pattern
from digitize.remarks import about_carried


def line(identifier, ends, role="form", points=None):
    """A line of a record: straight, a point every mm or so, or through given points."""
    a, b = np.array(ends, float)
    share = np.linspace(0, 1, max(int(np.linalg.norm(b - a)), 2))[:, None]
    dots = tuple(map(tuple, a + share * (b - a) if points is None else points))
    return Line(id=identifier, role=role, role_confidence=0.6, points=dots, width=0.5, sigma=0.05)


def pattern(turn_deg=0.0, shift=(0.0, 0.0), names=("L1", "L2", "L3")):
    """A lopsided sheet with three lines, turned and shifted."""
    c, s = np.cos(np.radians(turn_deg)), np.sin(np.radians(turn_deg))

    def moved(points):
        return np.array(points, float) @ np.array([[c, s], [-s, c]]) + shift

    outline = moved([[0, 0], [400, 0], [400, 180], [250, 300], [0, 300]])
    places = ([[30, 30], [370, 30]], [[30, 90], [370, 90]], [[60, 120], [200, 250]])
    roles = ("trim-edge", "radius-start", "form")
    lines = zip(names, places, roles, strict=True)
    return Pattern(
        name="p",
        outline=tuple(map(tuple, outline)),
        lines=tuple(line(n, moved(p), r) for n, p, r in lines),
    )


def test_what_was_told_goes_to_the_same_lines_whatever_they_are_called():
    old = labelled(
        pattern(),
        {"L3": "unknown"},
        {"L2": ((0.0, False, 50.0), (340.0, False, 90.0))},
        {"L3": "crown"},
    )
    carried = carried_over(old, pattern(turn_deg=40, shift=(9, 9), names=("L7", "L5", "L6")))
    new = carried.pattern
    assert new.line("L6").role == "unknown" and new.line("L6").role_by == "told"
    assert new.line("L6").note == "crown"
    assert [s.radius for s in new.line("L5").radii] == [50, 90]
    assert new.line("L7").role_by == "proposed" and not carried.lost


def test_a_line_that_is_gone_is_named():
    old = labelled(pattern(), {}, {}, {"L3": "crown"})
    new = pattern()
    new = new.model_copy(update={"lines": new.lines[:2]})
    (remark,) = about_carried(carried_over(old, new))
    assert "L3" in remark.words and "finds no line" in remark.words
