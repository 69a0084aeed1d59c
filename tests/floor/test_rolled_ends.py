"""Ends of paper that roll up, by the bends of its straight sides in one photo."""

import numpy as np
import pytest

from digitize.floor.frame import Frame
from digitize.floor.rolled_ends import solve_rolled_ends
from digitize.plane import evenly, rigid_fit, rotation
from tests.floor.by_hand import camera_over

FOOT = (-100.0, -260.0, 1000.0)
HALF = np.array([350.0, 200.0])
FRAME = Frame(20.0, -10.0, 0.1)
NOISE_MM = 0.12


def ring():
    """The flat paper's edge, counter-clockwise from its lower left corner."""
    corners = HALF * np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]])
    return evenly(corners, 2.0, closed=True)[:-1]


def rolled(flat, high, width):
    """(N, 3) where points of a flat paper lie whose right end rises as high t² over ``width`` mm.

    Beyond the line where the roll begins, a place lies at its arc's length.
    """
    begins = HALF[0] - width
    run = np.linspace(0, 1.2 * width, 4001)
    slope = 2 * high / width**2 * run
    arc = np.concatenate(
        [[0], np.cumsum(np.hypot(np.diff(run), np.diff(high * (run / width) ** 2)))]
    )
    assert slope[-1] < 1
    along = np.interp(flat[:, 0] - begins, arc, run)
    x = np.where(flat[:, 0] > begins, begins + along, flat[:, 0])
    return np.column_stack(
        [x, flat[:, 1], np.where(flat[:, 0] > begins, high * (along / width) ** 2, 0)]
    )


def seen(solid, camera):
    """(N, 2) the frame's places at which the floor is seen where points (N, 3) cover it."""
    on_floor = camera.to_floor(camera.to_pixels(solid[:, :2], solid[:, 2]))
    rng = np.random.default_rng(5)
    return FRAME.from_floor(on_floor) + rng.normal(0, NOISE_MM, on_floor.shape)


def solve(outline, camera, doubt_mm=0.2):
    doubts = np.full(len(outline), doubt_mm)
    return solve_rolled_ends(camera, FRAME, outline, np.ones(len(outline), bool), doubts)


@pytest.mark.parametrize(("high", "width"), [(6.0, 120.0), (12.0, 160.0), (20.0, 200.0)])
def test_a_rolled_end_is_laid_flat_by_the_bend_of_its_sides(high, width):
    """The far side is seen at a slant of (200 + 260) / 1000, the near one of -60 / 1000."""
    camera = camera_over(FOOT)
    flat = ring()
    outline = seen(rolled(flat, high, width), camera)
    surface = solve(outline, camera)
    assert surface is not None
    below, height = surface.to_solid(flat_places := laid_out(surface, outline))
    at_end = flat[:, 0] > HALF[0] - 1
    far = at_end & (flat[:, 1] > 190)
    assert height[far] == pytest.approx(high, rel=0.1)
    half_way = (np.abs(flat[:, 0] - (HALF[0] - width / 2)) < 2) & (flat[:, 1] > 190)
    assert height[half_way] == pytest.approx(high / 4, rel=0.2, abs=0.4)
    assert np.abs(height[flat[:, 0] < 0]).max() < 0.1
    # What was up to 450 / 1000 * high aside lies where it does on the flat paper.
    turn, shift = rigid_fit(flat_places, flat)
    off = np.hypot(*(flat_places @ rotation(turn).T + shift - flat).T)
    turn, shift = rigid_fit(outline, flat)
    before = np.hypot(*(outline @ rotation(turn).T + shift - flat).T)
    assert off[far].max() < 0.3 * before[far].max()
    assert (off < 2 * surface.sigma_at(flat_places) * 0.7 + 0.5).all()
    assert below.shape == flat.shape


def laid_out(surface, outline):
    """(N, 2) the flat paper's places that cover the floor at the outline's."""
    foot = FRAME.from_floor(np.array([FOOT[:2]]))[0]
    places = outline.copy()
    for _ in range(8):
        below, height = surface.to_solid(places)
        covered = below + (below - foot) * (height / (FOOT[2] - height))[:, None]
        places += outline - covered
    return places


def test_flat_paper_stands_nowhere_up():
    camera = camera_over(FOOT)
    assert solve(seen(rolled(ring(), 0.0, 100.0), camera), camera) is None


def test_what_bends_inwards_was_cut_so():
    """A corner cut away in a curve, or torn, takes paper off and adds none."""
    flat = ring()
    flat[:, 1] -= np.where(flat[:, 1] > 150, 8 * np.clip(flat[:, 0] / 350 - 0.5, 0, None) ** 2, 0)
    camera = camera_over(FOOT)
    assert solve(seen(rolled(flat, 0.0, 100.0), camera), camera) is None


def test_a_side_that_is_an_arc_as_a_lens_bends_it_tells_nothing():
    flat = ring()
    flat[:, 1] += np.where(flat[:, 1] > 150, 3 * (flat[:, 0] / 350) ** 2, 0)
    camera = camera_over(FOOT)
    assert solve(seen(rolled(flat, 0.0, 100.0), camera), camera) is None


def test_a_bend_that_the_cards_leave_open_tells_nothing():
    """12 mm at a slant of 0.46 are 5.5 mm aside."""
    camera = camera_over(FOOT)
    outline = seen(rolled(ring(), 12.0, 160.0), camera)
    assert solve(outline, camera, doubt_mm=5.0) is not None
    assert solve(outline, camera, doubt_mm=6.0) is None


def test_a_side_looked_at_from_straight_above_tells_nothing():
    """25 mm at a slant of 350 / 4000 are 2.2 mm, but a tenth of a mm is one of height."""
    camera = camera_over((-100.0, -150.0, 4000.0), focal_px=5000.0)
    assert solve(seen(rolled(ring(), 25.0, 200.0), camera), camera) is None


def test_where_nothing_is_borne_out_nothing_is_told():
    """The far side's end, all that a roll could lift, lies under something; so does the near."""
    flat = ring()
    camera = camera_over(FOOT)
    outline = seen(rolled(flat, 12.0, 160.0), camera)
    doubts = np.full(len(outline), 0.2)
    assert solve_rolled_ends(camera, FRAME, outline, flat[:, 0] < 180, doubts) is None
    assert solve_rolled_ends(camera, FRAME, outline, flat[:, 0] < 345, doubts) is not None


def test_the_end_by_a_side_that_shows_nothing_is_left_open():
    """Of the near side, looked at from above, nothing tells: from nothing to the far side's."""
    camera = camera_over((-100.0, -200.0, 1000.0))
    outline = seen(rolled(ring(), 12.0, 160.0), camera)
    surface = solve(outline, camera)
    far, near = np.array([[345.0, 195.0]]), np.array([[345.0, -195.0]])
    places = [FRAME.from_floor(place) for place in (far, near)]
    high = [surface.to_solid(place)[1][0] for place in places]
    assert high[1] == pytest.approx(high[0] / 2, rel=0.3)
    assert surface.sigma_at(places[1])[0] > high[0] / 2
    assert surface.sigma_at(places[0])[0] < high[0] / 2
