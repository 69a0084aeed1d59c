import numpy as np
import pytest
from shapely import LineString, Point, Polygon

from digitize.errors import BlankError, TrimOpen
from digitize.record import Pattern, mirrored
from digitize.shop.blank import STOCK_MM, blank_of, fits, smallest_box, stock_for
from digitize.shop.metal import sheet_of
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
    assert fits(blank, (351, 711), both=True) and not fits(blank, (351, 705), both=True)


def test_mass_goes_by_area_and_thickness():
    blank = blank_of(square(), 25.0)
    expected = blank.area / 100 * 0.12 * 7.85  # cm2, cm, g / cm3
    assert blank.mass_g(sheet_of("steel 1.2 mm")) == pytest.approx(expected)


@pytest.mark.parametrize("turn_deg", [27, 63, 117, 153])
def test_the_smallest_box_of_a_turned_rectangle(turn_deg):
    turn = np.radians(turn_deg)
    corners = np.array([[0, 0], [200, 0], [200, 80], [0, 80]]) @ np.array(
        [[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]]
    )
    size, turned = smallest_box(corners)
    assert size == (pytest.approx(200), pytest.approx(80))
    assert turned % 180 == pytest.approx(-turn_deg % 180)


def test_the_other_sides_blank_is_the_reflection(corner):
    here, there = blank_of(corner), blank_of(mirrored(corner))
    width = max(x for x, _ in corner.outline) + min(x for x, _ in corner.outline)
    flipped = Polygon(here.edge * [-1, 1] + [width, 0])
    assert flipped.hausdorff_distance(Polygon(there.edge)) < 0.1
    assert here.area == pytest.approx(there.area, rel=1e-4)


def trimmed(*corners, more=()):
    """A trim edge of straight lines from corner to corner, all round; and further lines."""
    ends = zip(corners, (*corners[1:], corners[0]), strict=True)
    lines = [line(f"L{k}", pair, "trim-edge") for k, pair in enumerate(ends, start=1)]
    sheet = ((0, 0), (400, 0), (400, 400), (0, 400))
    return Pattern(name="p", outline=sheet, lines=(*lines, *more))


def test_an_allowance_can_be_narrower_along_a_line():
    shape = Polygon(blank_of(square(), 25.0, {"L1": 10.0}).edge)
    # 10 mm below the square's lower side, 25 mm on its three others.
    assert shape.contains(Point(200, 50 - 9.9)) and not shape.contains(Point(200, 50 - 10.5))
    for x, y in ((-1, 0), (1, 0), (0, 1)):
        place = np.array([200, 200]) + np.array([x, y]) * 150
        assert shape.contains(Point(place + np.array([x, y]) * 24.9))
        assert not shape.contains(Point(place + np.array([x, y]) * 25.5))


def test_metal_is_spared_round_a_line_that_runs_out_past_the_allowance():
    out = square().model_copy(
        update={"lines": (*square().lines, line("L9", [(200, 200), (200, 390)]))}
    )
    edge = blank_of(out, 25.0).edge
    assert edge[:, 1].max() == pytest.approx(390 + 3, abs=0.2)
    assert edge[:, 1].min() == pytest.approx(50 - 25, abs=0.2)


def test_a_narrow_hollow_is_filled():
    # A notch 10 mm wide and 50 deep in the upper side: shears cannot follow it.
    notched = trimmed(
        (50, 50), (350, 50), (350, 350), (205, 350), (205, 300), (195, 300), (195, 350), (50, 350)
    )
    shape = Polygon(blank_of(notched, 1.0).edge)
    assert shape.contains(Point(200, 345))


@pytest.mark.parametrize(("gap", "closes"), [(55.0, True), (65.0, False)])
def test_a_trim_edge_with_a_side_missing_is_not_closed_across_it(gap, closes):
    if closes:
        assert blank_of(square(gap=gap)).area > 300**2
    else:
        with pytest.raises(TrimOpen):
            blank_of(square(gap=gap))


def test_of_two_areas_inside_trim_edges_the_larger_is_the_panel():
    small = line("L9", [(0, 0), (1, 1)], "trim-edge", [(370, 370), (390, 370), (390, 390)])
    small = small.model_copy(update={"closed": True})
    both = square().model_copy(update={"lines": (small, *square().lines)})
    assert blank_of(both, 5.0).area == pytest.approx(300**2 + 4 * 300 * 5 + np.pi * 25, rel=1e-3)


def test_a_trim_edge_of_one_closed_line_has_its_allowance_all_round():
    corners = [(50.0, 50.0), (350.0, 50.0), (350.0, 350.0), (50.0, 350.0)]
    ring = line("L1", [(0, 0), (1, 1)], "trim-edge", corners).model_copy(update={"closed": True})
    pattern = square().model_copy(update={"lines": (ring,)})
    shape = Polygon(blank_of(pattern, 25.0, {"L1": 60.0}).edge)
    for x, y in ((-1, 0), (1, 0), (0, -1), (0, 1)):
        assert shape.contains(Point(200 + 209.9 * x, 200 + 209.9 * y))


def test_an_aluminium_blank_weighs_a_third_of_a_steel_one():
    # (300^2 + 4 * 300 * 25 + 25^2 pi) mm2 of 1.6 mm: 195.1 cm3, of 2.70 and of 7.85 grams each.
    blank = blank_of(square(), 25.0)
    assert blank.mass_g(sheet_of("aluminium 1.6 mm")) == pytest.approx(526.9, rel=2e-3)
    assert blank.mass_g(sheet_of("steel 1.6 mm")) == pytest.approx(1531.8, rel=2e-3)


def test_the_smallest_sheet_in_area_is_chosen():
    blank = blank_of(square(), 25.0)
    # 36 x 96 inches are narrower than 1000 x 2000 mm, but 2.23 square metres.
    assert stock_for(blank, dict(reversed(STOCK_MM.items()))).one == "1000 x 2000 mm"
    long = blank_of(trimmed((0, 0), (2100, 0), (2100, 300), (0, 300)), 25.0)
    assert stock_for(long, STOCK_MM).one == "36 x 96 in"
    longer = blank_of(trimmed((0, 0), (4000, 0), (4000, 300), (0, 300)), 25.0)
    assert stock_for(longer, STOCK_MM).one is None


@pytest.mark.parametrize("turn_deg", [0, 30, -70])
def test_two_sides_lie_side_by_side_the_shorter_way(turn_deg):
    turn = np.radians(turn_deg)
    matrix = np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])
    corners = np.array([[0, 0], [300, 0], [300, 100], [0, 100]]) @ matrix
    blank = blank_of(trimmed(*corners), 5.0)
    # Each takes 310 by 110 mm, and 10 mm part them: 310 by 230, or 630 by 110.
    assert fits(blank, (231, 311), both=True) and fits(blank, (631, 111), both=True)
    assert not fits(blank, (229, 400), both=True) and not fits(blank, (625, 200), both=True)


def test_the_second_side_of_a_pair_is_a_mirror_image():
    """Two alike parallelograms leaning the same way would share 100 mm; mirrored ones do not."""
    blank = blank_of(trimmed((0, 0), (200, 0), (300, 100), (100, 100)), 5.0)
    assert max(blank.size) == pytest.approx(310, abs=3)
    assert not fits(blank, (120, 580), both=True)
    assert fits(blank, (120, 632), both=True)


def test_bent_blanks_lie_one_in_the_other():
    # A roof 300 mm wide, 160 high and 60 thick from top to bottom: the second lies 60 mm above the
    # first, with 5 mm of allowance on either slope (2 * 5 / cos 33.7 = 12 mm) and 10 mm between:
    # 82 mm more than its own 170, where one clear of the other would take 180 more.
    roof = trimmed((0, 0), (150, 100), (300, 0), (300, 60), (150, 160), (0, 60))
    blank = blank_of(roof, 5.0)
    assert fits(blank, (256, 312), both=True)
    assert not fits(blank, (245, 312), both=True)


def test_a_line_that_was_struck_out_outside_the_trim_edge_needs_no_metal():
    far = line("L9", [(345, 100), (390, 200)], "unknown")
    lines = square().lines
    blanks = []
    for more in ((), (far,), (far.model_copy(update={"withdrawn": True}),)):
        blanks.append(blank_of(square().model_copy(update={"lines": (*lines, *more)}), 5.0).area)
    assert blanks[1] > blanks[0] + 100 and blanks[2] == blanks[0]
