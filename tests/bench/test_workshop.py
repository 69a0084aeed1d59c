"""The measures of the workshop photos, on lines whose error is known."""

from dataclasses import replace

import cv2
import numpy as np
import pytest
from shapely import Polygon
from shapely.affinity import rotate

from digitize.card import find_cards
from tests.bench.workshop import Outcome, _line_errors, figures_of, pencil_seen
from tests.bench.workshop_photos import (
    _card_print,
    _covering,
    draw_scene,
    print_pixels,
    project,
)

RADIUS_MM = 300.0


def arcs(radius_mm: float, share: float, count: int = 6) -> list[np.ndarray]:
    """So many arcs round the origin, of which each covers a share of its part of the circle."""
    starts = 2 * np.pi * np.arange(count) / count
    angles = starts[:, None] + np.linspace(0, 2 * np.pi / count * share, 200)
    return list(radius_mm * np.stack([np.cos(angles), np.sin(angles)], axis=-1))


@pytest.fixture(name="circle")
def a_scene_with_one_round_line():
    """A scene whose only line is a circle."""
    return replace(draw_scene(1), lines=(np.concatenate(arcs(RADIUS_MM, 1.0)),))


@pytest.mark.parametrize("share", [1.0, 0.1])
def test_lines_a_hundredth_too_large_are_off_by_it_however_few_are_found(circle, share):
    # No turn or shift makes up for a size: 1 % of 300 mm is 3 mm all round.
    errors, found, _ = _line_errors(circle, arcs(1.01 * RADIUS_MM, share))
    assert np.percentile(errors, 95) == pytest.approx(3.0, abs=0.1)
    assert found == 0


def test_what_was_lost_neither_counts_as_off_nor_drags_the_rest(circle):
    # In a tenth of the circle, turned and shifted by less than a mm, all is where it should be.
    errors, found, distance = _line_errors(circle, [arc + 0.6 for arc in arcs(RADIUS_MM, 0.1)])
    assert np.percentile(errors, 95) < 0.3
    assert found == pytest.approx(0.1 + 6 * 2 * 2 / (2 * np.pi * RADIUS_MM), abs=0.02)
    assert distance.max() > 100


def test_one_line_that_is_none_does_not_drag_the_rest(circle):
    stray = np.stack([np.linspace(-20, 20, 50), np.full(50, 40.0)], axis=1)
    errors, _, _ = _line_errors(circle, [*arcs(RADIUS_MM, 0.3), stray])
    assert np.percentile(errors, 95) < 0.3


@pytest.mark.parametrize("pixels_per_mm", [2.3, 3.3])
def test_a_cards_print_is_laid_at_its_own_size(pixels_per_mm):
    # 297 mm at 3.3 pixels are 980.1 of the 981 rows: taken for all of them, 0.9 in a thousand.
    page = _card_print(1, pixels_per_mm)
    x, y = np.meshgrid(np.arange(-115, 115, 0.2), np.arange(-160, 160, 0.2))
    columns, rows = print_pixels(page, x.astype(np.float32), -y.astype(np.float32))
    laid = cv2.remap(page, columns, rows, cv2.INTER_LINEAR, borderValue=0.86)
    (card,) = find_cards(np.uint8(255 * laid))
    for axis, first in ((0, -115), (1, -160)):
        side = (-1 if axis else 1) * (first + 0.2 * card.pixels[:, axis])
        scale, _ = np.polyfit(card.corners_mm[:, axis], side, 1)
        assert scale == pytest.approx(1, abs=6e-4)


class Enlarged:
    """Three pixels a mm, and a third of a pixel aside."""

    pixels_per_mm = 3.0

    def pixels(self, floor):
        return 3.0 * np.asarray(floor) + 100 + 1 / 3


@pytest.mark.parametrize("turn_deg", [0.0, 20.0, 45.0])
def test_a_shape_covers_as_many_pixels_as_it_is_large(turn_deg):
    # 40 by 30 mm with a hole of 10 by 10 are 9 (1200 - 100) pixels; a tenth of one over its edge,
    # 3 (140 + 40) of them, were 54.
    hole = [(-5, -5), (-5, 5), (5, 5), (5, -5)]
    shape = rotate(Polygon([(-20, -15), (20, -15), (20, 15), (-20, 15)], [hole]), turn_deg)
    picture = np.zeros((200, 200), np.float32)
    _, alpha = _covering(shape, picture, picture, 0.0, Enlarged())
    assert alpha.sum() == pytest.approx(9900, abs=54)


@pytest.mark.slow
@pytest.mark.parametrize(("darker", "share"), [(60, 1.0), (1, 0.0)])
def test_pencil_is_seen_where_it_is_darker_than_the_paper_beside_it(darker, share):
    # 60 levels are 22 of L, and one is 0.4: less than a hundredth of all light.
    scene = draw_scene(4)
    width, height = scene.size_px
    picture = np.full((height, width, 3), 200, np.uint8)
    for line in scene.lines:
        at = np.round(project(scene, line) * 16).astype(np.int32)
        cv2.polylines(picture, [at], False, [200 - darker] * 3, 1, cv2.LINE_AA, 4)
    noise = np.random.default_rng(1).normal(0, 3, picture.shape)
    picture = np.clip(picture + noise, 0, 255).astype(np.uint8)
    assert pencil_seen(scene, picture) == pytest.approx(share, abs=0.05)


def test_refusals_of_papers_whose_pencil_is_gone_are_counted_apart_and_stay_wrong():
    outcomes = [
        Outcome(1, "exposure", True, "NoPaper", pencil_seen=0.0),
        Outcome(2, "plain", True, "NoPaper", pencil_seen=0.9),
        Outcome(3, "small", False, "TooSmall", pencil_seen=0.0),
        Outcome(4, "plain", True, worst_seen_mm=1.0, stated_mm=2.0, line_95_mm=1.0),
    ]
    figures = figures_of(outcomes)
    assert figures["refused wrongly"] == 2
    assert figures["of these, no pencil seen either"] == 1
    # Of three papers that a person sees one is read, and within 3 mm.
    assert figures["outline within 3 mm, of those seen"] == pytest.approx(1 / 3)
