"""Two patterns compared, made of a few exact lines."""

from itertools import pairwise

import numpy as np
import pytest

from digitize.compare.deviation import compared
from digitize.compare.verdict import doubt, standing, verdict_on
from digitize.draw.compared import compared_svg
from digitize.errors import CompareError
from digitize.record import LapAt, Line, Pattern, Tuck, Zone, mirrored

TRIM = [[30, 30], [470, 30], [470, 330], [30, 330]]


def run_along(corners):
    """A closed run along corners, with points about every mm."""
    path = np.array([*corners, corners[0]], float)
    parts = [
        a + np.linspace(0, 1, int(np.linalg.norm(b - a)), endpoint=False)[:, None] * (b - a)
        for a, b in pairwise(path)
    ]
    return np.concatenate(parts)


def bend(x=0.0):
    """An arc across the panel."""
    turn = np.linspace(0.1, 1.4, 300)
    return np.column_stack([60 + x + 330 * np.cos(turn), 20 + 330 * np.sin(turn)])


def line(identifier, role, points, sigma=0.05, closed=False):
    return Line(
        id=identifier,
        role=role,
        role_confidence=0.9,
        points=tuple(map(tuple, np.round(points, 4).tolist())),
        closed=closed,
        width=0.5,
        sigma=sigma,
    )


def panel(trim=None, arc=None, lap=6.0, tuck=True, names=("L1", "L2", "L3"), sigma=0.05):
    trim = run_along(TRIM) if trim is None else trim
    arc = bend() if arc is None else arc
    form = np.array([100, 60]) + np.linspace(0, 1, 90)[:, None] * [60, 180]
    slit = np.linspace([400, 60], [480, 20], 80)
    return Pattern(
        name="door",
        side="left",
        outline=((0, 0), (500, 0), (500, 360), (0, 360)),
        lines=(
            line(names[0], "trim-edge", trim, sigma, closed=True),
            line(names[1], "radius-start", arc, sigma),
            line(names[2], "form", form, sigma),
            *([line("L8", "slit", slit)] if tuck else []),
        ),
        tucks=(
            Tuck(
                id="T1",
                kind="slit",
                tip=(400, 60),
                slit="L8",
                lap_line=None,
                stations=(),
                profile=(LapAt(depth=80, lap=lap, sigma=0.1),),
                depth_at_trim=80,
                lap_at_trim=lap,
            ),
        )
        if tuck
        else (),
        zones=(
            Zone(
                id="Z1",
                kind="shrink",
                boundary=((380, 20), (480, 20), (480, 110), (380, 110)),
                tucks=("T1",),
                stations=(),
                peak_shrink=0.05,
            ),
        )
        if tuck
        else (),
    )


def turned(pattern, degrees=70.0, shift=(40, -300)):
    c, s = np.cos(np.radians(degrees)), np.sin(np.radians(degrees))

    def at(points):
        return tuple(map(tuple, (np.array(points) @ [[c, s], [-s, c]] + shift).tolist()))

    return pattern.model_copy(
        update={
            "outline": at(pattern.outline),
            "lines": tuple(
                each.model_copy(update={"points": at(each.points)}) for each in pattern.lines
            ),
            "tucks": tuple(
                each.model_copy(update={"tip": at([each.tip])[0]}) for each in pattern.tucks
            ),
            "zones": tuple(
                each.model_copy(update={"boundary": at(each.boundary)}) for each in pattern.zones
            ),
        }
    )


def off(comparison, name):
    (found,) = [each for each in comparison.deviations if each.line == name]
    return found


def bulged(by, at=(250, 30), width=40):
    trim = run_along(TRIM)
    share = np.exp(-((trim - at) ** 2).sum(axis=1) / (2 * width**2))
    return trim - np.outer(by * share, [0, 1])  # downwards is outwards there


def test_the_same_part_lying_otherwise_and_named_otherwise_is_the_same():
    comparison = compared(panel(), turned(panel(names=("L5", "L9", "L7"))))
    assert off(comparison, "L1").other == "L5"
    assert max(np.nanmax(np.abs(each.off)) for each in comparison.deviations) < 0.02
    assert verdict_on(comparison).says == "same"


def test_the_other_side_is_the_same_if_it_is_flipped_over():
    other = mirrored(turned(panel()))
    assert verdict_on(compared(panel(), other, mirror=True)).says == "same"
    flipped = compared(panel(), other)
    assert max(np.nanmax(np.abs(each.off), initial=0.0) for each in flipped.deviations) > 5


def test_a_bulge_is_where_it_is_and_as_large_and_outwards():
    comparison = compared(panel(), turned(panel(trim=bulged(2.5))))
    trim = off(comparison, "L1")
    worst = int(np.nanargmax(np.abs(trim.off)))
    assert trim.off[worst] == pytest.approx(2.5, abs=0.1)
    assert np.linalg.norm(trim.points[worst] - [250, 30]) < 8
    assert np.nanmax(np.abs(off(comparison, "L2").off)) < 0.05
    verdict = verdict_on(comparison)
    assert verdict.says == "different" and "L1 (trim-edge)" in verdict.reasons[0]
    assert "2.5 mm further out" in verdict.reasons[0] and "y 30" in verdict.reasons[0]
    inwards = verdict_on(compared(panel(), panel(trim=bulged(-2.5))))
    assert "further in" in inwards.reasons[0]


@pytest.mark.parametrize(
    ("by", "sigma", "says"),
    [
        (1.0, 0.05, "same"),
        (1.5, 0.05, "cannot tell"),
        (2.2, 0.05, "different"),
        (2.2, 0.3, "cannot tell"),
    ],
)
def test_what_is_said_depends_on_how_sure_the_readings_are(by, sigma, says):
    comparison = compared(panel(sigma=sigma), turned(panel(trim=bulged(by), sigma=sigma)))
    assert verdict_on(comparison, 1.6).says == says


def test_a_missing_line_does_not_pull_and_is_named():
    other = turned(panel())
    other = other.model_copy(update={"lines": (other.lines[0], *other.lines[2:])})
    comparison = compared(panel(), other)
    assert np.nanmax(np.abs(off(comparison, "L1").off)) < 0.02
    verdict = verdict_on(comparison)
    assert verdict.says == "cannot tell" and "L2 (radius-start)" in verdict.reasons[0]
    reverse = verdict_on(compared(other, panel()))
    assert reverse.says == "cannot tell" and "the other's L2 (radius-start)" in reverse.reasons[0]


def test_a_piece_that_is_gone_is_not_the_same_however_small_a_share_it_is():
    trim = run_along(TRIM)
    notched = trim.copy()
    there = (np.abs(trim[:, 0] - 250) < 20) & (trim[:, 1] < 31)
    notched[there, 1] += 25  # a step too steep and too deep to be the same line
    verdict = verdict_on(compared(panel(), turned(panel(trim=notched))))
    assert verdict.says == "cannot tell"
    assert "L1 (trim-edge) has no counterpart over" in verdict.reasons[0]


def test_a_form_line_that_only_one_has_is_named_but_does_not_count():
    other = turned(panel())
    other = other.model_copy(update={"lines": (*other.lines[:2], *other.lines[3:])})
    verdict = verdict_on(compared(panel(), other))
    assert verdict.says == "same" and "L3 (form) has no counterpart" in verdict.reasons[0]


def test_laps_are_compared_tuck_by_tuck():
    comparison = compared(panel(), turned(panel(lap=8.4)))
    (pair,) = comparison.tucks
    assert (pair.tuck, pair.other) == ("T1", "T1") and pair.off == pytest.approx(2.4)
    verdict = verdict_on(comparison)
    assert verdict.says == "different" and "T1 laps 2.4 mm more there" in verdict.reasons


def test_slits_in_other_places_leave_what_lies_there_open():
    comparison = compared(panel(), turned(panel(tuck=False)))
    trim = off(comparison, "L1")
    inside = (trim.points > [380, 20]).all(axis=1) & (trim.points < [480, 110]).all(axis=1)
    assert not trim.judged[inside].any() and trim.judged[~inside].mean() > 0.99
    verdict = verdict_on(comparison)
    assert verdict.says == "cannot tell"
    assert any("tuck T1 has no counterpart" in reason for reason in verdict.reasons)


def test_growth_is_told_apart_from_what_else_differs():
    way = np.array([np.cos(0.5), np.sin(0.5)])
    strain = 0.006 * np.outer(way, way) + 0.001 * (np.eye(2) - np.outer(way, way))

    def grown(points):
        return points + points @ strain

    other = panel(trim=grown(bulged(2.0)), arc=grown(bend()))
    form = np.array(other.line("L3").points)
    lines = [line("L3", "form", grown(form)) if each.id == "L3" else each for each in other.lines]
    other = turned(other.model_copy(update={"lines": tuple(lines)}))
    comparison = compared(panel(), other, growing=True)
    growth = comparison.growth
    assert growth.along == pytest.approx(0.006, abs=0.0004)
    assert growth.across == pytest.approx(0.001, abs=0.0004)
    assert growth.along_deg == pytest.approx(np.degrees(0.5), abs=4)
    assert growth.is_sure
    assert np.nanmax(off(comparison, "L1").off) == pytest.approx(2.0, abs=0.2)
    assert np.nanmax(np.abs(off(comparison, "L2").off)) < 0.15


def test_a_pattern_without_lines_is_refused():
    bare = panel().model_copy(update={"lines": ()})
    with pytest.raises(CompareError, match="digitize label"):
        compared(panel(), bare)


def test_the_picture_shows_each_line_and_a_scale():
    comparison = compared(panel(), turned(panel(trim=bulged(2.5))))
    verdict = verdict_on(comparison)
    svg = compared_svg(comparison, verdict, 1.6)
    for words in ('id="L1"', 'id="L2"', "different", "mm of difference", "times larger"):
        assert words in svg
    stands = standing(off(comparison, "L1"), 0.0, 1.6)
    assert set(stands.tolist()) >= {0, 2}
    assert (doubt(off(comparison, "L1"), 0.4) >= 0.4).all()
