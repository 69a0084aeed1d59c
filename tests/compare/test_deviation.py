"""How far lines are off and how surely, on lines along the axes where it can be worked out."""

import numpy as np
import pytest

from digitize.compare.deviation import compared
from digitize.record import Pattern, PrintCorrection, Scale
from tests.compare.test_compare import line, off, panel, turned


def straight(start, end):
    a, b = np.array(start, float), np.array(end, float)
    return a + np.linspace(0, 1, 101)[:, None] * (b - a)


def ladder(sigma, accuracy_mm=None):
    """Two lines along x and one between that stands on neither."""
    scale = accuracy_mm and Scale(
        cards=(),
        reprojection_px=0.1,
        print_correction=PrintCorrection(),
        accuracy_mm=accuracy_mm,
        accuracy_cards_mm=accuracy_mm,
        accuracy_print_mm=0.0,
        accuracy_flatness_mm=0.0,
    )
    return Pattern(
        name="ladder",
        outline=((-10, -10), (210, -10), (210, 110), (-10, 110)),
        scale=scale,
        lines=(
            line("L1", "form", straight((0, 0), (200, 0)), sigma),
            line("L2", "form", straight((0, 100), (200, 100)), sigma),
            line("L3", "form", straight((100, 20), (100, 80)), sigma),
        ),
    )


def test_a_deviation_is_as_sure_as_both_readings_and_the_fit():
    found = off(compared(ladder(0.03), ladder(0.04)), "L1")
    # 0.03 and 0.04 make 0.05. Of the fit: a mark weighs 1.03 / 0.0025 and one in ten counts. It
    # shifts up and down by 202 marks: a variance of 0.025 / 1.03 / 202 = 1.2016e-4 mm^2; it turns
    # by 2 x 343 400 + 9920 mm^2 (each rung's squares, the post's): 3.4837e-8, over 100 mm
    # 3.4837e-4 mm^2 at the ends and nothing in the middle.
    assert found.points[[0, 50]] == pytest.approx(np.array([[0, 0], [100, 0]]))
    assert found.sigma[50] == pytest.approx(np.sqrt(0.0025 + 1.2016e-4), rel=1e-3)
    assert found.sigma[[0, 100]] == pytest.approx(
        np.sqrt(0.0025 + 1.2016e-4 + 3.4837e-4) * np.ones(2), rel=1e-3
    )


def test_both_scales_accuracies_come_together():
    assert compared(ladder(0.05, 0.3), ladder(0.05, 0.4)).accuracy_mm == pytest.approx(0.5)
    assert compared(ladder(0.05, 0.3), ladder(0.05)).accuracy_mm == pytest.approx(0.3)


def with_form(*parts):
    bare = panel(tuck=False)
    forms = [line(f"L{number}", "form", part) for number, part in enumerate(parts, 3)]
    return bare.model_copy(update={"lines": (*bare.lines[:2], *forms)})


@pytest.mark.parametrize("backwards", [False, True])
def test_a_line_that_lies_further_out_does_so_whichever_way_it_was_drawn(backwards):
    ours = with_form(straight((100, 60), (300, 60)))
    way = [(100, 58.8), (300, 58.8)]
    theirs = with_form(straight(*way[:: -1 if backwards else 1]))
    found = off(compared(ours, turned(theirs)), "L3")
    assert found.normals == pytest.approx(np.tile([0.0, -1.0], (101, 1)), abs=1e-9)
    assert found.off == pytest.approx(1.2 * np.ones(101), abs=0.05)


def test_a_deviation_beside_a_hole_is_what_it_is_elsewhere():
    theirs = with_form(straight((100, 58.8), (180, 58.8)), straight((230, 58.8), (300, 58.8)))
    found = off(compared(with_form(straight((100, 60), (300, 60))), theirs), "L3")
    there = np.isfinite(found.off)
    assert found.off[there] == pytest.approx(1.2 * np.ones(there.sum()), abs=0.05)
    # 50 mm without a counterpart, but that a line is met up to 1.5 mm past its end.
    assert found.gap.length_mm == pytest.approx(50, abs=4)
    assert found.gap.at == pytest.approx((205, 60), abs=2)
    assert found.other == "L3"


def test_what_the_other_has_alone_is_told_where_it_lies_on_ours():
    theirs = turned(with_form(straight((100, 60), (300, 60)), straight((250, 150), (250, 190))))
    comparison = compared(with_form(straight((100, 60), (300, 60))), theirs)
    (gap,) = [each for each in comparison.gaps if each.line == "L4"]
    # 40 mm have 21 places.
    assert gap.length_mm == 42
    assert gap.at == pytest.approx((250, 170), abs=0.1)


def test_a_bend_whose_lines_were_named_the_wrong_way_round_is_compared():
    other = panel()
    lines = [
        each.model_copy(update={"role": "radius-end"}) if each.role == "radius-start" else each
        for each in other.lines
    ]
    comparison = compared(panel(), turned(other.model_copy(update={"lines": tuple(lines)})))
    assert np.isfinite(off(comparison, "L2").off).all()


def test_a_slit_cut_elsewhere_does_not_pull_the_lines_along():
    other = panel()
    slit = line("L8", "slit", straight((400, 64), (480, 24)))
    other = other.model_copy(update={"lines": (*other.lines[:3], slit)})
    comparison = compared(panel(), other)
    assert max(np.nanmax(np.abs(each.off)) for each in comparison.deviations) < 0.02


def test_a_tuck_that_the_other_has_alone_leaves_its_place_on_ours_open():
    trim = off(compared(panel(tuck=False), turned(panel())), "L1")
    inside = (trim.points > [380, 20]).all(axis=1) & (trim.points < [480, 110]).all(axis=1)
    assert inside.any() and not trim.judged[inside].any() and trim.judged[~inside].mean() > 0.99


def test_a_line_that_was_struck_out_is_compared_with_none():
    plain = ladder(0.03)
    moved = line("L4", "unknown", straight((20, 50), (180, 50)), 0.03)
    struck = plain.model_copy(
        update={"lines": (*plain.lines, moved.model_copy(update={"withdrawn": True}))}
    )
    named = [deviation.line for deviation in compared(struck, plain).deviations]
    assert "L4" not in named and set(named) == {"L1", "L2", "L3"}
