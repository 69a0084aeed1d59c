import numpy as np
import pytest
from shapely import LineString, Point, Polygon

from digitize.errors import BlankError, TrimOpen
from digitize.record import Pattern, mirrored
from digitize.shop.blank import blank_of, fits, smallest_box
from digitize.shop.metal import sheet_of
from digitize.shop.punch import punch_points
from tests.marks import curve_of
from tests.mend.test_carry import line


def square(side=300.0, gap=0.0, role="trim-edge"):
    """A square trim edge of four lines; the last stops short by a gap."""
    a, b, c, d = (50, 50), (50 + side, 50), (50 + side, 50 + side), (50, 50 + side)
    ends = ((a, b), (b, c), (c, d), (d, (50, 50 + gap)))
    lines = [line(f"L{i + 1}", pair, role) for i, pair in enumerate(ends)]
    return Pattern(
        name="square", outline=((0, 0), (400, 0), (400, 400), (0, 400)), lines=tuple(lines)
    )


def test_a_blank_is_the_trim_edge_and_its_allowance():
    blank = blank_of(square(), 25.0)
    assert blank.area == pytest.approx(300**2 + 4 * 300 * 25 + np.pi * 25**2, rel=2e-3)
    assert blank.size == (pytest.approx(350, abs=0.3), pytest.approx(350, abs=0.3))
    assert Polygon(blank.edge).contains(Polygon(blank.trim).buffer(24.999))


def test_an_allowance_can_be_wider_along_a_line():
    blank = blank_of(square(), 25.0, {"L1": 60.0})
    assert blank.edge[:, 1].min() == pytest.approx(50 - 60, abs=0.2)
    assert blank.edge[:, 1].max() == pytest.approx(350 + 25, abs=0.2)


def test_a_trim_edge_broken_at_a_tuck_is_closed_across_it():
    assert blank_of(square(gap=12.0), 25.0).area == pytest.approx(
        blank_of(square(), 25.0).area, rel=1e-3
    )


def test_a_blank_is_never_inside_the_marks(corner):
    blank = blank_of(corner)
    shape = Polygon(blank.edge)
    for each in corner.lines:
        if each.role not in ("slit", "lap", "crease"):
            assert shape.contains(LineString(each.points))
    assert len(blank.edge) < 600


def test_what_does_not_fit_is_explained():
    with pytest.raises(BlankError, match="L9"):
        blank_of(square(), 25.0, {"L9": 40.0})
    with pytest.raises(TrimOpen, match="does not close"):
        blank_of(square(role="form"))


def test_two_sides_fit_where_they_fit():
    blank = blank_of(square(), 25.0)
    assert fits(blank, (350.5, 400), both=False) and not fits(blank, (340, 400), both=False)
    assert fits(blank, (351, 711), both=True) and not fits(blank, (351, 700), both=True)


def test_mass_goes_by_area_and_thickness():
    blank = blank_of(square(), 25.0)
    expected = blank.area / 100 * 0.12 * 7.85  # cm2, cm, g / cm3
    assert blank.mass_g(sheet_of("steel 1.2 mm")) == pytest.approx(expected)


def test_the_smallest_box_of_a_turned_rectangle():
    turn = np.radians(27)
    corners = np.array([[0, 0], [200, 0], [200, 80], [0, 80]]) @ np.array(
        [[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]]
    )
    size, turned = smallest_box(corners)
    assert size == (pytest.approx(200), pytest.approx(80))
    assert turned % 180 == pytest.approx(-27 % 180)


def test_the_other_sides_blank_is_the_reflection(corner):
    here, there = blank_of(corner), blank_of(mirrored(corner))
    width = max(x for x, _ in corner.outline) + min(x for x, _ in corner.outline)
    flipped = Polygon(here.edge * [-1, 1] + [width, 0])
    assert flipped.hausdorff_distance(Polygon(there.edge)) < 0.1
    assert here.area == pytest.approx(there.area, rel=1e-4)


@pytest.mark.parametrize("radius", [40.0, 150.0, 900.0])
def test_punch_points_keep_to_the_chord(radius):
    turn = np.linspace(0, 120.0 / radius, 600)
    arc = curve_of(radius * np.column_stack([np.cos(turn), np.sin(turn)])).points
    (found,) = punch_points(pattern_of_lines(line("L1", [(0, 0), (1, 1)], points=arc)))
    strays = [
        max(abs(radius - np.hypot(*(a + t * (b - a)))) for t in np.linspace(0, 1, 21))
        for a, b in zip(found.points[:-1], found.points[1:], strict=True)
    ]
    steps = np.linalg.norm(np.diff(found.points, axis=0), axis=1)
    assert max(strays) < 0.205 and steps.max() < 40.5
    assert found.points[[0, -1]] == pytest.approx(arc[[0, -1]], abs=1e-6)
    assert steps.min() > 5


def test_punch_points_stand_at_corners_and_crossings():
    bent = np.concatenate(
        [np.linspace((50, 50), (150, 50), 101), np.linspace((150, 51), (150, 150), 100)]
    )
    lines = (
        line("L1", [(0, 0), (1, 1)], points=bent),
        line("L2", [(93.0, 20.0), (93.0, 120.0)]),
    )
    corner, crossing = Point(150, 50), Point(93, 50)
    first, second = punch_points(pattern_of_lines(*lines))
    for place, found in ((corner, first), (crossing, first), (crossing, second)):
        assert min(place.distance(Point(p)) for p in found.points) < 0.6


def test_slits_and_lap_lines_are_not_punched(corner):
    punched = {found.line for found in punch_points(corner)}
    roles = {corner.line(name).role for name in punched}
    assert roles == {"trim-edge", "radius-start", "radius-end", "form"}


def pattern_of_lines(*lines):
    return Pattern(name="p", outline=((0, 0), (400, 0), (400, 400), (0, 400)), lines=lines)
