"""Rings that a wet cup left."""

from dataclasses import replace

import numpy as np
import pytest

from digitize.pencil.rings import set_rings_aside
from digitize.remarks import about_rings
from tests.marks import curve_of

LINES = [
    curve_of([[0, y], [300, y]]) for y in range(0, 140, 20)
]  # 0.6 mm wide, half as dark as black
MIDDLE = np.array([150.0, 250.0])


def arc(radius, from_deg, to_deg, weight=0.3, width=2.0):
    turn = np.radians(np.arange(from_deg, to_deg, 2.0))
    wobble = 0.4 * np.sin(9 * turn)
    points = np.column_stack([np.cos(turn), np.sin(turn)]) * (radius + wobble)[:, None]
    return curve_of(points + MIDDLE, weight, width)


def test_a_ring_in_parts_is_left_out_and_told_where_and_how_large():
    parts = [arc(40, 0, 200), arc(40, 220, 240), arc(40, 250, 330)]
    rest, (ring,) = set_rings_aside([*LINES, *parts])
    assert rest == tuple(LINES)
    assert ring.middle == pytest.approx((150, 250), abs=0.5)
    assert ring.radius == pytest.approx(40, abs=0.5)
    (remark,) = about_rings([(ring.middle, ring.radius)])
    assert "80 mm" in remark.words and remark.severity == "note"


@pytest.mark.parametrize(
    "marks",
    [
        [arc(40, 0, 150)],  # less than half of it is there
        [arc(40, 0, 330, width=0.6)],  # as fine as pencil
        [arc(40, 0, 330, weight=1.0)],  # as dark as pencil: a felt pen's
        [arc(90, 0, 330)],  # no cup is so large
        [arc(12, 0, 330)],
        [
            replace(arc(40, 0, 330), points=arc(40, 0, 330).points * np.array([1.0, 0.8]))
        ],  # not round
    ],
)
def test_what_is_not_broad_pale_and_round_stays(marks):
    rest, rings = set_rings_aside([*LINES, *marks])
    assert len(rest) == len(LINES) + len(marks) and not rings


def test_a_ring_as_fine_as_pencil_is_told_by_being_rounder_than_a_hand_draws():
    turn = np.radians(np.arange(0.0, 250.0, 2.0))
    round_ = np.column_stack([np.cos(turn), np.sin(turn)]) * 40 + MIDDLE
    for weight, told in ((0.1, True), (0.3, False)):  # as dark as the lines: drawn round a tin
        rest, rings = set_rings_aside([*LINES, curve_of(round_, weight, 0.6)])
        assert bool(rings) is told and len(rest) == len(LINES) + (not told)


@pytest.mark.parametrize(
    ("off_mm", "width", "told"),
    [(0.0, 1.0, True), (0.0, 0.8, False), (0.3, 1.0, False)],
)
def test_a_ring_nearly_as_dark_as_pencil_is_one_if_it_is_both_rounder_and_broader(
    off_mm, width, told
):
    """Lines are 0.6 mm wide; what strays by 0.3 mm nine times round is 0.2 mm off (RMS)."""
    turn = np.radians(np.arange(0.0, 360.0, 2.0))
    radius = 40 + off_mm * np.sin(9 * turn)
    round_ = np.column_stack([np.cos(turn), np.sin(turn)]) * radius[:, None] + MIDDLE
    ring = curve_of(round_, 0.45 * width, width)  # nine tenths as dark as the lines
    rest, rings = set_rings_aside([*LINES, ring])
    assert bool(rings) is told and len(rest) == len(LINES) + (not told)


def test_pencil_along_a_ring_stays():
    pencil = arc(40, 330, 355, weight=0.3, width=0.6)
    rest, rings = set_rings_aside([*LINES, arc(40, 0, 320), pencil])
    assert rest == (*LINES, pencil) and len(rings) == 1


def test_a_ring_of_another_hue_need_not_be_as_pale():
    turn = np.radians(np.arange(0.0, 250.0, 2.0))
    round_ = np.column_stack([np.cos(turn), np.sin(turn)]) * 40 + MIDDLE
    for weight, told in ((0.25, True), (0.35, False)):  # the lines' is 0.3
        stain = replace(curve_of(round_, weight, 0.6), ink="red")
        rest, rings = set_rings_aside([*LINES, stain])
        assert bool(rings) is told and len(rest) == len(LINES) + (not told)
